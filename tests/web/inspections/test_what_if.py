"""Evaluate without storing: the same sentences through the command line, the API and the page."""

import copy
import json
import re
from html import unescape
from pathlib import Path
from typing import Any

import httpx
import pytest
from click.testing import Result
from sqlalchemy import func, select
from typer.testing import CliRunner

from app.__main__ import app
from app.audit import LogEntry
from app.inspections.models import Inspection, Verdict
from app.inspections.whatif import EXAMPLES
from app.metrology.assessment import assess, assessment_to_data, inputs_from_data
from tests.conftest import Logbook

FIELDS: dict[str, Any] = {
    "engine.bore": "101.60",
    "engine.stroke": "88.39",
    "engine.cylinders": "4",
    "observations.instrument.resolution": "0.01",
    "observations.instrument.stated_accuracy": "0.10",
    "observations.instrument.accuracy_meaning": "limits",
    "observations.settings.displacement": "2866",
    "observations.settings.cylinders": "4",
    "observations.settings.gas_temperature": "22.0",
    "observations.conditions.gas_temperature": "24.5",
    "observations.conditions.temperature_source": "thermometer_in_chamber",
    "observations.readings": "1: 10.31 10.32\n2: 10.28 10.30\n\n3: 10.35 10.34\n4: 10.30 10.29\n",
    "rule.kind": "maximum",
    "rule.limit": "10.50",
    "rule.tolerance": "0.10",
    "rule.applies_to": "every_cylinder",
    "rule.decision_rule": "three_zones",
    "rule.confidence": "95",
    "rule.inconclusive_action": "measure_again",
}

NOT_A_NUMBER = "is not a number. Use digits and one point or comma, such as 12.5."
WRONG = {  # what is typed, where, and the sentence
    "not a number": ("engine.bore", "NaN", f"“NaN” {NOT_A_NUMBER}"),
    "infinity": ("engine.stroke", "Infinity", f"“Infinity” {NOT_A_NUMBER}"),
    "far too many digits": (
        "rule.limit", "1" * 300_000, "This number has far too many digits. Check it and write it again.",
    ),
    "kelvin with its unit": (
        "observations.conditions.gas_temperature", "297 K",
        "“K” is not a unit of temperature known here. Write °C or °F.",
    ),
    "kelvin for Celsius": (
        "observations.settings.gas_temperature", "297.65",
        "The gas temperature set on the instrument is given as 297.65 °C; it lies between -40 °C and 200 °C. "
        "Was it typed in kelvin? 297.65 K are 24.5 °C.",
    ),
    "a ratio of one as the limit": (
        "rule.limit", "1", "A limit of 1 is no compression ratio: it lies above 1 and below 100.",
    ),
    "a negative volume": (
        "observations.settings.displacement", "-2866 cm³",
        "The instrument cannot have been set to -2866 cm³. Enter the whole displacement that was dialled.",
    ),
    "a negative length": (
        "engine.bore", "-4.000 in", "A bore of -101.6 mm cannot be: it lies between 10 mm and 2500 mm.",
    ),
    "an infrared thermometer": (
        "observations.conditions.temperature_source", "infrared_surface",
        "An infrared thermometer reads the metal's surface, not the gas inside. "
        "Measure in the chamber, or take the coolant gauge.",
    ),
}  # fmt: skip


def changed(place: str, value: object) -> dict[str, Any]:
    whole = copy.deepcopy(EXAMPLES["metric"])
    *outer, last = place.split(".")
    inner: Any = whole
    for part in outer:
        inner = inner[int(part)] if isinstance(inner, list) else inner[part]
    inner[int(last) if isinstance(inner, list) else last] = value
    return whole


def command(*arguments: str, pipe: str = "") -> Result:
    return CliRunner().invoke(app, ["evaluate", *arguments], input=pipe)


def evaluated_by_api(book: Logbook, body: object) -> httpx.Response:
    given = json.dumps(body, ensure_ascii=False).encode()
    return book.client("official").post("/api/evaluate", content=given, headers={"content-type": "application/json"})


def page_of(book: Logbook, **form: str) -> httpx.Response:
    return book.client("official").post("/what-if", data=form)


def beside(page: str, name: str) -> str:
    """The sentence that stands at one field."""
    found = re.search(rf'id="f-{re.escape(name)}-error">(.*?)</p>', page, re.DOTALL)
    assert found, name
    return unescape(re.sub(r"<[^>]+>", "", found[1])).removeprefix("Problem:").strip()


@pytest.mark.parametrize("what", WRONG)
def test_what_cannot_be_gets_the_same_sentence_everywhere(logbook: Logbook, tmp_path: Path, what: str) -> None:
    place, typed, sentence = WRONG[what]
    body = changed(place, typed)
    file = tmp_path / "engine.json"
    file.write_text(json.dumps(body))
    said = command(str(file))
    assert (said.exit_code, said.stdout, said.stderr) == (2, "", f"{place}: {sentence}\n")
    answer = evaluated_by_api(logbook, body)
    assert answer.status_code == 422
    assert answer.json()["errors"] == {place: sentence}
    shown = page_of(logbook, **{**FIELDS, place: typed})
    assert shown.status_code == 422
    assert beside(shown.text, place) == sentence
    assert "Traceback" not in said.stderr + answer.text + shown.text
    in_json = page_of(logbook, json=json.dumps(body))
    assert beside(in_json.text, "json") == f"{place}: {sentence}"


@pytest.mark.parametrize("shown", ["0.98", "1.00", "-3.2"])
def test_a_reading_of_one_or_less_is_refused_everywhere(logbook: Logbook, shown: str) -> None:
    place = "observations.readings.2.indications.1"
    sentence = evaluated_by_api(logbook, changed(place, shown)).json()["errors"][place]
    assert sentence.startswith((f"{shown} cannot be a compression ratio", f"“{shown}” cannot be read"))
    said = command("-", pipe=json.dumps(changed(place, shown)))
    assert (said.exit_code, said.stderr) == (2, f"{place}: {sentence}\n")
    lines = f"1: 10.31 10.32\n2: 10.28 10.30\n3: 10.35 {shown}\n4: 10.30"
    page = page_of(logbook, **{**FIELDS, "observations.readings": lines})
    assert beside(page.text, "observations.readings") == sentence


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "1" * 300_000])
def test_bare_json_numbers_are_read_as_written_not_as_floats(logbook: Logbook, number: str) -> None:
    text = json.dumps(changed("engine.bore", 0)).replace('"bore": 0', f'"bore": {number}')
    answer = logbook.client("official").post(
        "/api/evaluate", content=text, headers={"content-type": "application/json"}
    )
    assert answer.status_code == 422
    (sentence,) = answer.json()["errors"].values()
    assert NOT_A_NUMBER in sentence or "far too many digits" in sentence
    assert command("-", pipe=text).stderr == f"engine.bore: {sentence}\n"


@pytest.mark.parametrize("system", EXAMPLES)
def test_each_example_evaluates_alike_by_command_api_and_page(logbook: Logbook, tmp_path: Path, system: str) -> None:
    file = tmp_path / "example.json"
    file.write_text(command("--example", system).stdout)
    said = command(str(file))
    assert (said.exit_code, said.stderr) == (0, "")
    found = json.loads(said.stdout)
    again = assessment_to_data(assess(inputs_from_data(found["inputs"])))
    assert found["result"] == again
    assert len(found["result"]["decided"]["budget"]["components"]) == 6
    answer = evaluated_by_api(logbook, json.loads(file.read_text()))
    assert answer.status_code == 200
    assert answer.json() == found
    page = page_of(logbook, json=file.read_text())
    assert page.status_code == 200
    assert unescape(page.text).count(found["result"]["reason"]) == 1


def test_what_a_study_found_is_answered_alike_by_command_api_and_page(logbook: Logbook) -> None:
    body = changed("observations.reproducibility", ["0.03", "2.4"])
    body["observations"]["instrument"] |= {
        "airflow_tolerance": "0.3 L/min",
        "airflow_sensitivity": "0.05",
        "airflow_sensitivity_standard_uncertainty": "0.02",
    }
    found = json.loads(command("-", pipe=json.dumps(body)).stdout)
    names = [part["name"] for part in found["result"]["decided"]["budget"]["components"]]
    assert names[3] == "reproducibility"
    assert names[5:7] == ["airflow", "airflow_sensitivity"]
    assert evaluated_by_api(logbook, body).json() == found
    shown = unescape(page_of(logbook, json=json.dumps(body)).text)
    for words in ("reproducibility (between inspectors)", "the gauge study adopted for this instrument", "0.02 min/L"):
        assert words in shown
    few = changed("observations.reproducibility", ["0.03", "0.5"])
    sentence = evaluated_by_api(logbook, few).json()["errors"]["observations.reproducibility"]
    assert command("-", pipe=json.dumps(few)).stderr == f"observations.reproducibility: {sentence}\n"
    assert "at least one degree of freedom between inspectors" in sentence


def test_inches_and_degrees_fahrenheit_are_the_same_engine() -> None:
    body = changed("engine.bore", "4.000 in")
    body["observations"]["settings"]["gas_temperature"] = "71.6 °F"
    body["observations"]["conditions"]["gas_temperature_standard_uncertainty"] = "1.8 °F"
    inch, metric = (json.loads(command("-", pipe=json.dumps(one)).stdout) for one in (body, EXAMPLES["metric"]))
    assert inch["inputs"] == metric["inputs"]


def test_the_form_gives_the_figures_of_the_operation_and_keeps_what_was_typed(logbook: Logbook) -> None:
    result = evaluated_by_api(logbook, EXAMPLES["metric"]).json()["result"]
    shown = page_of(logbook, **FIELDS)
    assert shown.status_code == 200
    assert result["reason"] in unescape(shown.text)
    assert 'value="101.60"' in shown.text
    assert "3: 10.35 10.34" in shown.text


def test_everything_typed_is_kept_beside_a_sentence(logbook: Logbook) -> None:
    shown = page_of(logbook, **{**FIELDS, "engine.stroke": "long", "rule.limit": ""})
    assert beside(shown.text, "engine.stroke") == f"“long” {NOT_A_NUMBER}"
    assert beside(shown.text, "rule.limit") == "Limit is needed. Fill it in."
    assert 'value="long"' in shown.text
    assert 'value="2866"' in shown.text
    assert "1: 10.31 10.32" in shown.text


def test_a_line_without_its_cylinder_is_named(logbook: Logbook) -> None:
    shown = page_of(logbook, **{**FIELDS, "observations.readings": "1: 10.31\n10.28 10.30"})
    said = "Line 2 does not say its cylinder. Write it as 1: 10.50 10.52."
    assert beside(shown.text, "observations.readings") == said


def test_bare_numbers_of_the_form_are_in_the_units_of_whoever_is_signed_in(logbook: Logbook) -> None:
    logbook.client("official").put("/api/me/preferences", json={"units": "inch", "pad_side": "right"})
    inch = {"engine.bore": "4.000", "engine.stroke": "3.480", "observations.settings.displacement": "174.9"}
    warm = {"observations.settings.gas_temperature": "72", "observations.conditions.gas_temperature": "76"}
    shown = page_of(logbook, **{**FIELDS, **inch, **warm})
    assert shown.status_code == 200
    body = changed("engine", {"bore": "4.000 in", "stroke": "3.480 in", "cylinders": 4})
    body["observations"]["settings"].update(displacement="174.9 in³", gas_temperature="72 °F")
    body["observations"]["conditions"]["gas_temperature"] = "76 °F"
    assert evaluated_by_api(logbook, body).json()["result"]["reason"] in unescape(shown.text)


def test_nothing_is_stored_and_nothing_logged(logbook: Logbook) -> None:
    def kept() -> list[int | None]:
        with logbook.database.read() as session:
            tables = (LogEntry.seq, Inspection.id, Verdict.id)
            return [session.scalar(select(func.count(column))) for column in tables]

    before = kept()
    assert evaluated_by_api(logbook, EXAMPLES["metric"]).status_code == 200
    assert page_of(logbook, **FIELDS).status_code == 200
    assert kept() == before


@pytest.mark.parametrize("text", ["", "{", '{"method": "acoustic_resonance",}', "[" * 100_000, "nil"])
def test_what_is_no_json_is_said_so(logbook: Logbook, text: str) -> None:
    said = command("-", pipe=text)
    assert said.exit_code == 2
    assert said.stderr.startswith("This is not readable as JSON")
    if text:
        assert beside(page_of(logbook, json=text).text, "json") == said.stderr.strip()
    answer = logbook.client("official").post(
        "/api/evaluate", content=text, headers={"content-type": "application/json"}
    )
    assert answer.status_code == 422


def test_json_that_is_no_record_is_said_so(logbook: Logbook) -> None:
    for body in ([], "acoustic_resonance", 7, None):
        assert command("-", pipe=json.dumps(body)).exit_code == 2
        assert evaluated_by_api(logbook, body).status_code == 422


def test_a_file_of_a_thousand_million_digits_is_refused_unread(tmp_path: Path) -> None:
    file = tmp_path / "large.json"
    with file.open("wb") as opened:
        opened.truncate(1_000_000_000)  # a hole: takes no room on the disk
    said = command(str(file))
    assert (said.exit_code, said.stderr) == (2, "This is longer than 1 MB. One engine takes far less; check it.\n")


def test_an_unknown_method_and_what_is_not_asked_for_are_named(logbook: Logbook) -> None:
    said = evaluated_by_api(logbook, changed("method", "guess")).json()["errors"]
    assert said["method"].startswith("The measuring method “guess” is not known here. Known are acoustic_resonance, ")
    said = evaluated_by_api(logbook, changed("engine.colour", "red")).json()["errors"]
    assert said == {"engine.colour": "Colour is not asked for here. Leave it out."}


def test_the_command_says_how_to_begin(tmp_path: Path) -> None:
    nothing, nowhere = command(), command(str(tmp_path / "nowhere.json"))
    assert nothing.exit_code == nowhere.exit_code == 2
    assert nothing.stderr == "Name the file to evaluate; --example metric prints one to begin with.\n"
    assert nowhere.stderr.startswith(f"There is no file {tmp_path}/nowhere.json. Check the name;")
    other = command("--example", "cubits")
    assert (other.exit_code, other.stderr) == (2, "There is an example for metric and for inch. Choose one.\n")


def test_the_schema_names_every_method_and_how_numbers_are_written(logbook: Logbook) -> None:
    schema = json.loads(command("--schema").stdout)
    assert "acoustic_resonance" in schema["properties"]["method"]["enum"]
    assert schema["examples"] == list(EXAMPLES.values())
    bore = schema["$defs"]["AskedEngine"]["properties"]["bore"]
    assert bore["examples"] == ["101.6 mm", "4.000 in"]
    published = logbook.client("official").get("/api/openapi.json").json()
    assert "AskedEngine" in published["components"]["schemas"]
    body = published["paths"]["/api/evaluate"]["post"]["requestBody"]["content"]["application/json"]["schema"]
    assert body == {"$ref": "#/components/schemas/EvaluateIn"}


def test_a_competitor_and_a_stranger_learn_nothing(logbook: Logbook) -> None:
    assert logbook.client("competitor").post("/api/evaluate", json=EXAMPLES["metric"]).status_code == 404
    assert logbook.client().post("/api/evaluate", json=EXAMPLES["metric"]).status_code == 401


def test_the_rule_book_leads_there(logbook: Logbook) -> None:
    assert 'href="/what-if"' in logbook.client("official").get("/rule-book").text
    assert logbook.client("inspector").get("/what-if").status_code == 200
