"""The work sheet: what it takes, what it refuses and in which words, and what it never forgets."""

from uuid import UUID

import pytest

from app.metrology.rounding import percent, rounded
from tests import builders
from tests.conftest import Logbook, an_id

EIGHT = [["10.31"], ["10.28"], ["10.30"], ["10.33"], ["10.29"], ["10.30"], ["10.32"], ["10.31"]]


@pytest.fixture
def sheet(logbook: Logbook) -> UUID:
    return builders.a_whole_season(logbook)


def test_a_reading_sent_twice_is_one_reading_and_another_body_is_a_conflict(logbook: Logbook, sheet: UUID) -> None:
    inspector = logbook.client("inspector")
    address = f"/api/inspections/{sheet}/readings/{an_id('r1')}"
    first = inspector.put(address, json={"cylinder": 1, "indications": ["10.31"]})
    again = inspector.put(address, json={"cylinder": 1, "indications": ["10.31"]})
    other = inspector.put(address, json={"cylinder": 1, "indications": ["10.32"]})
    assert (first.status_code, again.status_code, other.status_code) == (200, 200, 409)
    assert first.json() == again.json()
    kept = inspector.get(f"/api/inspections/{sheet}").json()["rows"][0]["reading"]
    assert kept["indications"] == ["10.31"]


def test_a_second_reading_of_a_cylinder_must_name_the_one_it_replaces_and_why(logbook: Logbook, sheet: UUID) -> None:
    builders.readings(logbook, sheet, EIGHT)
    inspector = logbook.client("inspector")
    address = f"/api/inspections/{sheet}/readings/{an_id('again')}"
    body = {"cylinder": 5, "indications": ["10.35"]}
    assert inspector.put(address, json=body).status_code == 409
    body["replaces_id"] = str(an_id(f"reading {sheet} 5"))
    unreasoned = inspector.put(address, json=body)
    assert "Say why the reading of cylinder 5 is corrected" in unreasoned.json()["errors"]["reason"]
    row = builders.put(inspector, f"/inspections/{sheet}/readings/{an_id('again')}", {**body, "reason": "Hose kinked"})[
        "rows"
    ][4]
    assert row["reading"]["indications"] == ["10.35"]
    assert [old["indications"] for old in row["set_aside"]] == [["10.29"]]
    assert row["set_aside_reasons"] == ["Hose kinked"]


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("10,5a", "10,5a"),
        ("", "no reading"),
        ("0.8", "lies above 1"),
        ("1e3", "1e3"),
        ("nan", "nan"),
        ("9" * 12, "9999"),
    ],
)
def test_an_impossible_reading_gets_its_sentence_and_nothing_is_kept(
    logbook: Logbook, sheet: UUID, typed: str, words: str
) -> None:
    rows = [
        {"id": str(an_id("good")), "cylinder": 1, "indications": ["10.31"]},
        {"id": str(an_id("bad")), "cylinder": 2, "indications": [typed] if typed else []},
    ]
    answer = logbook.client("inspector").put(f"/api/inspections/{sheet}/readings", json={"readings": rows})
    assert answer.status_code == 422
    (sentence,) = answer.json()["errors"].values()
    assert words in sentence
    assert len(logbook.client("inspector").get(f"/api/inspections/{sheet}").json()["missing"]) == 8


def test_the_page_keeps_all_that_was_typed_and_puts_the_sentence_beside_its_field(
    logbook: Logbook, sheet: UUID
) -> None:
    typed = {"c1-id": str(an_id("a")), "c1-1": "10.31", "c1-2": "10,3x", "c2-id": str(an_id("b")), "c2-1": "10.4"}
    answer = logbook.client("inspector").post(f"/inspections/{sheet}/readings", data=typed)
    assert answer.status_code == 422
    for text in typed.values():
        assert f'value="{text}"' in answer.text
    assert "“10,3x” cannot be read" in answer.text
    assert 'href="#f-c1-2"' in answer.text


def test_an_empty_page_of_readings_asks_for_one(logbook: Logbook, sheet: UUID) -> None:
    answer = logbook.client("inspector").post(f"/inspections/{sheet}/readings", data={"c1-id": str(an_id("a"))})
    assert answer.status_code == 422
    assert "No reading was typed" in answer.text


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"airflow": "5.5"}, "airflow", "reads true only at 4.72 L/min ± 0.1 L/min"),
        ({"set_cylinders": 12}, "set_cylinders", "it takes 4, 6, 8"),
        ({"set_displacement": "500"}, "set_displacement", "it takes 1000 cm³ to 9000 cm³"),
        ({"set_displacement": "5733 ft"}, "set_displacement", "is not a unit of volume"),
        ({"gas_temperature": "150"}, "gas_temperature", "outside -20 °C to 120 °C"),
        ({"gas_temperature": "warm"}, "gas_temperature", "“warm” is not a number"),
        ({"temperature_source": "infrared_surface"}, "temperature_source", "reads the metal's surface"),
        ({"cautions_confirmed": False}, "cautions_confirmed", "five cautions"),
        ({"humidity": "140"}, "humidity", "outside 0 to 100"),
    ],
)
def test_settings_and_conditions_that_cannot_be_are_refused_in_words(
    logbook: Logbook, changed: dict[str, object], field: str, words: str
) -> None:
    builders.a_class(logbook)
    builders.an_instrument(logbook)
    builders.verify(logbook)
    entry_id = builders.an_entry(logbook)
    body = {
        "entry_id": str(entry_id),
        "instrument_id": str(builders.INSTRUMENT),
        "conditions_id": str(an_id("c")),
        "cautions_confirmed": True,
        **builders.conditions(),
        **changed,
    }
    answer = logbook.client("inspector").put(f"/api/inspections/{an_id('refused')}", json=body)
    assert answer.status_code == 422
    assert words in answer.json()["errors"][field]
    page = logbook.client("inspector").post(f"/inspections/{an_id('refused')}", data={**body, "pressure": "99.7"})
    assert page.status_code == 422
    assert 'value="99.7"' in page.text


def test_inch_settings_mean_the_same_as_metric_ones(logbook: Logbook, sheet: UUID) -> None:
    metric = builders.readings(logbook, sheet, EIGHT)["assessment"]["decided"]["value"]
    other = builders.an_entry(logbook, car="42", bore="4.000 in", stroke="3.47992126 in")
    inch = builders.a_sheet(
        logbook, other, set_displacement="349.849125 in³", set_gas_temperature="75.2 °F", gas_temperature="75.2 F",
        airflow="10 SCFH",
    )  # fmt: skip
    value = builders.readings(logbook, inch, EIGHT)["assessment"]["decided"]["value"]
    assert float(value) == pytest.approx(float(metric), rel=1e-6)


def test_a_sheet_opens_only_with_an_instrument_that_met_its_mark(logbook: Logbook) -> None:
    builders.a_class(logbook)
    builders.an_instrument(logbook)
    body = {
        "entry_id": str(builders.an_entry(logbook)),
        "instrument_id": str(builders.INSTRUMENT),
        "conditions_id": str(an_id("c")),
        "cautions_confirmed": True,
        **builders.conditions(),
    }
    answer = logbook.client("inspector").put(f"/api/inspections/{an_id('x')}", json=body)
    assert "Instrument 2 is not open at this event" in answer.json()["errors"]["instrument_id"]
    builders.verify(logbook, "opening", "11.60", "11.61", "11.62")
    answer = logbook.client("inspector").put(f"/api/inspections/{an_id('x')}", json=body)
    assert "Instrument 2 missed its mark on 2 May 2026 at Round one." in answer.json()["errors"]["instrument_id"]


def test_corrected_conditions_change_the_result_and_keep_the_earlier_ones(logbook: Logbook, sheet: UUID) -> None:
    before = builders.readings(logbook, sheet, EIGHT)
    inspector = logbook.client("inspector")
    body = {
        **builders.conditions(gas_temperature="60"),
        "replaces_id": before["conditions"]["id"],
        "reason": "Coolant warm",
    }
    after = builders.put(inspector, f"/inspections/{sheet}/conditions/{an_id('warmer')}", body)
    assert float(after["assessment"]["decided"]["value"]) < float(before["assessment"]["decided"]["value"])
    assert [old["id"] for old in after["earlier_conditions"]] == [before["conditions"]["id"]]
    stale = inspector.put(f"/api/inspections/{sheet}/conditions/{an_id('third')}", json=body)
    assert stale.status_code == 409


def test_a_signed_sheet_takes_nothing_more(logbook: Logbook, sheet: UUID) -> None:
    builders.readings(logbook, sheet, EIGHT)
    builders.signed(logbook, sheet)
    late = {
        "cylinder": 1,
        "indications": ["10.10"],
        "replaces_id": str(an_id(f"reading {sheet} 1")),
        "reason": "Second thoughts",
    }
    answer = logbook.client("inspector").put(f"/api/inspections/{sheet}/readings/{an_id('late')}", json=late)
    assert answer.status_code == 409
    assert "stays as it is" in answer.json()["detail"]


def test_page_and_api_show_the_same_figures_in_every_row(logbook: Logbook, sheet: UUID) -> None:
    view = builders.readings(logbook, sheet, [["10.55", "10.57"], *EIGHT[1:]])
    shown = logbook.client("inspector").get(f"/inspections/{sheet}/verdict").text
    for result in view["assessment"]["results"]:
        value, uncertainty = rounded(float(result["value"]), float(result["expanded_uncertainty"]))
        assert f'data-label="Measured value">{value}<' in shown
        assert f'data-label="± U">{uncertainty}<' in shown
        assert percent(float(result["conformance_probability"])) in shown
    assert view["assessment"]["reason"].replace("'", "&#39;") in shown


def test_a_competitor_sees_no_sheet(logbook: Logbook, sheet: UUID) -> None:
    for address in (f"/inspections/{sheet}", f"/inspections/{sheet}/verdict", f"/api/inspections/{sheet}"):
        assert logbook.client("competitor").get(address).status_code == 404
    assert logbook.client("").get(f"/api/inspections/{sheet}").status_code == 401
    assert logbook.client("official").put(
        f"/api/inspections/{sheet}/readings/{an_id('r')}", json={"cylinder": 1, "indications": ["10.3"]}
    ).status_code == 403  # fmt: skip


def test_the_waiting_list_shows_what_is_open_and_what_is_finished(logbook: Logbook, sheet: UUID) -> None:
    builders.an_entry(logbook, car="7")
    address = f"/events/{builders.EVENT}/waiting"
    lines = logbook.client("inspector").get(f"/api{address}").json()["entries"]
    assert {line["entry"]["car_number"]: line["state"] for line in lines} == {"41": "open", "7": "waiting"}
    builders.readings(logbook, sheet, EIGHT)
    builders.signed(logbook, sheet)
    page = logbook.client("inspector").get(address).text
    assert "INSIDE THE LIMIT" in page
    assert "1 of 2 still to be inspected" in page


def test_a_missing_cylinder_keeps_the_sheet_from_being_signed(logbook: Logbook, sheet: UUID) -> None:
    builders.readings(logbook, sheet, EIGHT[:7])
    body = {"pin": "270945", "acknowledgement_kind": "not_present"}
    answer = logbook.client("inspector").put(f"/api/inspections/{sheet}/sign-off/{an_id('s')}", json=body)
    assert answer.status_code == 403
    assert "no reading yet: 8" in answer.json()["detail"]


def test_a_cylinder_that_was_not_measured_keeps_the_engine_from_conforming(logbook: Logbook, sheet: UUID) -> None:
    view = builders.readings(logbook, sheet, [*EIGHT[:7], []])
    assert view["missing"] == []
    assert view["assessment"]["verdict"] == "inconclusive"
