"""What the sheet says of crank, airflow and gas, and that it reaches the verdict."""

from decimal import Decimal
from typing import Any
from uuid import UUID

import pytest

from app.inspections.gas_effects import gas_sentences
from app.inspections.models import Conditions
from app.inspections.wording import NOT_MEASURED, SET_ASIDE, check_words, crank_words, set_aside_words
from app.metrology.assessment import inputs_from_data
from app.metrology.inputs import AcousticObservations
from app.metrology.physics.crank import peak_bias
from tests import builders
from tests.conftest import Logbook, an_id

EIGHT = [["10.31"], ["10.28"], ["10.30"], ["10.33"], ["10.29"], ["10.30"], ["10.32"], ["10.31"]]


@pytest.fixture
def shed(logbook: Logbook) -> UUID:
    """The entry of an eight-cylinder engine, in a shed that is open."""
    builders.a_class(logbook)
    builders.an_instrument(logbook)
    builders.verify(logbook)
    return builders.an_entry(logbook)


def observed(book: Logbook, sheet: UUID) -> AcousticObservations:
    """As it was frozen at sign-off."""
    builders.signed(book, sheet)
    record = book.client("inspector").get(f"/api/slips/{an_id(f'slip {sheet}')}/record").json()
    found = inputs_from_data(record["inputs"]).observations
    assert isinstance(found, AcousticObservations)
    return found


def value(view: dict[str, Any]) -> float:
    return float(view["assessment"]["decided"]["value"])


# ---- crank -------------------------------------------------------------------------------------------------------


def test_a_crank_turned_in_steps_is_corrected_for_and_the_sheet_says_so(logbook: Logbook, shed: UUID) -> None:
    smooth = builders.a_sheet(logbook, shed, "smooth")
    stepped = builders.a_sheet(logbook, shed, "stepped", crank_step="6", rod_ratio="1.6")
    before, after = builders.readings(logbook, smooth, EIGHT), builders.readings(logbook, stepped, EIGHT)
    bias = peak_bias(101.60, 88.39, 1.6, 6.0, value(before)).bias
    assert value(after) - value(before) == pytest.approx(bias, abs=1e-9)
    assert bias > 0.02
    assert before["conditions"]["crank_words"] == "turned smoothly through top dead centre"
    assert after["conditions"]["crank_words"] == "turned in steps of 6°, rod ratio 1.6"
    shown = logbook.client("inspector").get(f"/inspections/{stepped}").text
    assert "turned in steps of 6°, rod ratio 1.6" in shown
    assert "The crank was turned in steps of 6°" in shown
    assert "crank position" in logbook.client("inspector").get(f"/inspections/{stepped}/verdict").text


def test_an_unknown_rod_ratio_is_assumed_and_said(logbook: Logbook, shed: UUID) -> None:
    sheet = builders.a_sheet(logbook, shed, crank_step="2.0")
    view = builders.readings(logbook, sheet, EIGHT)
    assert view["conditions"]["crank_words"] == "turned in steps of 2°, rod ratio 1.75, assumed"
    conditions = observed(logbook, sheet).conditions
    assert (conditions.crank_step_degrees, conditions.rod_ratio) == (2.0, 1.75)


def test_a_corrected_step_moves_the_result_and_the_form_starts_from_what_stands(logbook: Logbook, shed: UUID) -> None:
    sheet = builders.a_sheet(logbook, shed, crank_step="4", rod_ratio="1.9")
    first = builders.readings(logbook, sheet, EIGHT)
    page = logbook.client("inspector").get(f"/inspections/{sheet}/conditions").text
    assert 'name="crank_step" value="4"' in page
    assert 'name="rod_ratio" value="1.9"' in page
    body = {**builders.conditions(), "replaces_id": first["conditions"]["id"], "reason": "Turned smoothly after all"}
    builders.put(logbook.client("inspector"), f"/inspections/{sheet}/conditions/{an_id('smooth')}", body)
    conditions = observed(logbook, sheet).conditions
    assert (conditions.crank_step_degrees, conditions.rod_ratio) == (0.0, 1.75)


def test_step_and_rod_of_another_engine_are_not_carried_over(logbook: Logbook, shed: UUID) -> None:
    builders.a_sheet(logbook, shed, crank_step="4", rod_ratio="1.9")
    page = logbook.client("inspector").get(f"/entries/{builders.an_entry(logbook, '42')}/start").text
    assert 'name="crank_step" value="0"' in page
    assert 'name="rod_ratio" value=""' in page
    assert "Temperatures and air are carried over" in page


def test_how_the_crank_was_turned_in_words() -> None:
    assert crank_words(Decimal("0.0"), Decimal("1.6")) == "turned smoothly through top dead centre"
    assert crank_words(Decimal("2.50"), Decimal("1.60")) == "turned in steps of 2.5°, rod ratio 1.6"
    assert crank_words(Decimal("10"), None) == "turned in steps of 10°, rod ratio 1.75, assumed"


# ---- airflow -----------------------------------------------------------------------------------------------------


def an_instrument_with_a_study(book: Logbook, typed: str) -> dict[str, Any]:
    official = book.client("official")
    known = official.get(f"/api/instruments/{builders.INSTRUMENT}").json()["instrument"]
    kept = ("method", "resolution", "stated_accuracy", "accuracy_meaning", "settable_cylinders")
    flow = {"airflow_set_point": "4.72", "airflow_tolerance": "0.10", "airflow_sensitivity": typed}
    named = {"name": "Studied", "serial": "AR-9", "displacement_min": "1000", "displacement_max": "9000"}
    return {**{name: known[name] for name in kept}, **flow, **named}


def test_a_flow_study_is_kept_shown_and_becomes_a_line_of_the_budget(logbook: Logbook, shed: UUID) -> None:
    studied, volume, official = an_id("studied"), an_id("volume 9"), logbook.client("official")
    view = builders.put(official, f"/instruments/{studied}", an_instrument_with_a_study(logbook, "-0.20"))
    assert view["airflow_sensitivity"] == "-0.20"
    assert view["airflow_sensitivity_words"] == "−0.20 for each L/min more (−0.0944 for each SCFH)"
    assert "−0.20 for each L/min more" in official.get(f"/instruments/{studied}").text
    mark = {"serial": "RV-9", "mark_low": "11.20", "mark_high": "11.30", "permitted_deviation": "0.05"}
    held = {"mark_displacement": "5733", "mark_cylinders": 8}
    builders.put(official, f"/instruments/{studied}/reference-volumes/{volume}", {**mark, **held})
    builders.a_calibration(logbook, studied, " 9")
    named = {"instrument_id": str(studied), "reference_volume_id": str(volume)}
    builders.verify(logbook, name="studied", **named)
    sheet = builders.a_sheet(logbook, shed, instrument_id=str(studied))
    lines = builders.readings(logbook, sheet, EIGHT)["assessment"]["decided"]["budget"]["components"]
    (airflow,) = [line for line in lines if line["name"] == "airflow"]
    assert float(airflow["standard_uncertainty"]) == pytest.approx(0.10 / 3**0.5)
    assert float(airflow["sensitivity"]) == pytest.approx(-0.20, rel=1e-3)
    assert observed(logbook, sheet).instrument.airflow_sensitivity == -0.20


def test_without_a_flow_study_the_page_says_what_holds_instead(logbook: Logbook, shed: UUID) -> None:
    page = logbook.client("official").get(f"/instruments/{builders.INSTRUMENT}").text
    assert "none recorded" in page
    assert "what the airflow does counts as part of the stated accuracy" in page
    sheet = builders.a_sheet(logbook, shed)
    builders.readings(logbook, sheet, EIGHT)
    assert observed(logbook, sheet).instrument.airflow_sensitivity is None


@pytest.mark.parametrize(("typed", "words"), [("6", "outside -5 to 5"), ("nan", "not a number"), ("0.2 L", "a number")])
def test_a_flow_study_that_cannot_be_is_refused_beside_its_field(
    logbook: Logbook, shed: UUID, typed: str, words: str
) -> None:
    body = an_instrument_with_a_study(logbook, typed)
    answer = logbook.client("official").put(f"/api/instruments/{an_id('odd')}", json=body)
    assert words in answer.json()["errors"]["airflow_sensitivity"]
    page = logbook.client("official").post(
        f"/instruments/{an_id('odd')}", data={**body, "settable_cylinders": "4, 6, 8"}
    )
    assert page.status_code == 422
    assert 'href="#f-airflow_sensitivity"' in page.text
    assert f'value="{typed}"' in page.text


# ---- gas ---------------------------------------------------------------------------------------------------------


def air(**known: str) -> Conditions:
    given = {name: Decimal(text) for name, text in {"gas_temperature_c": "24", **known}.items()}
    nothing = dict.fromkeys(("ambient_temperature_c", "pressure_kpa", "humidity_percent"))
    return Conditions(**{**nothing, **given})


def test_what_the_gas_does_to_an_engine_of_ten_and_a_half() -> None:
    damp, vapour = gas_sentences(10.5, air())
    assert damp == (
        "The damp of the air, 50 %, which nobody recorded, at 24 °C (75.2 °F), makes this engine read 0.045 higher "
        "than dry air would; the stated accuracy is taken to cover that."
    )
    assert vapour == (
        "Fuel vapour makes it read low: 1 % of petrol vapour in the chamber by 0.46, the 6.2 % that the gas can hold "
        "at 24 °C (75.2 °F) by 2.20. Purge it with air before measuring."
    )


def test_recorded_air_is_taken_as_it_was_recorded() -> None:
    damp, vapour = gas_sentences(10.5, air(ambient_temperature_c="20", pressure_kpa="90", humidity_percent="80"))
    assert damp.startswith("The damp of the air, 80 % at 20 °C (68 °F), makes this engine read 0.06")
    assert "the 7 % that the gas can hold" in vapour


def test_a_warm_engine_does_not_make_the_air_beside_it_hot() -> None:
    damp, vapour = gas_sentences(10.5, air(gas_temperature_c="110"))
    assert "at 30 °C (86 °F)" in damp
    assert "the 100 % that the gas can hold at 110 °C (230 °F)" in vapour


def test_in_the_cold_there_is_no_whole_per_cent_of_vapour() -> None:
    _, vapour = gas_sentences(10.5, air(gas_temperature_c="-15"))
    assert "0.66 % of petrol vapour in the chamber by 0.29" in vapour
    assert "the 0.66 % that the gas can hold" in vapour


def test_the_sheet_says_what_the_gas_does_to_this_engine(logbook: Logbook, shed: UUID) -> None:
    sheet = builders.a_sheet(logbook, shed, humidity="80", pressure="99.7")
    inspector = logbook.client("inspector")
    assert inspector.get(f"/api/inspections/{sheet}").json()["gas"] == []
    gas = builders.readings(logbook, sheet, EIGHT)["gas"]
    shown = inspector.get(f"/inspections/{sheet}").text
    assert len(gas) == 2
    for sentence in gas:
        assert sentence in shown
    assert "The damp of the air, 80 % at 24 °C (75.2 °F)" in gas[0]


def test_the_form_says_that_only_air_will_do(logbook: Logbook, shed: UUID) -> None:
    assert "The figures hold for air only" in logbook.client("inspector").get(f"/entries/{shed}/start").text
    body = {**builders.conditions(), "gas": "nitrogen", "entry_id": str(shed), "cautions_confirmed": True}
    more = {"instrument_id": str(builders.INSTRUMENT), "conditions_id": str(an_id("c"))}
    answer = logbook.client("inspector").put(f"/api/inspections/{an_id('n2')}", json={**body, **more})
    assert "not asked for here" in answer.json()["errors"]["gas"]


# ---- the trade's reasons -----------------------------------------------------------------------------------------


def test_the_usual_reasons_are_offered_and_any_other_is_taken(logbook: Logbook, shed: UUID) -> None:
    sheet = builders.a_sheet(logbook, shed)
    inspector = logbook.client("inspector")
    empty = inspector.get(f"/inspections/{sheet}").text
    assert 'name="c1-why"' in empty
    assert empty.count('list="not-measured"') == 8
    for reason in NOT_MEASURED:
        assert f'<option value="{reason}">' in empty
    builders.readings(logbook, sheet, EIGHT)
    form = inspector.get(f"/inspections/{sheet}/cylinders/5/correct").text
    for reason in (*SET_ASIDE, *NOT_MEASURED):
        assert f'<option value="{reason}">' in form
    assert 'list="set-aside"' in form


def test_readings_set_aside_are_counted_on_the_sheet_with_their_reasons(logbook: Logbook, shed: UUID) -> None:
    sheet = builders.a_sheet(logbook, shed)
    view = builders.readings(logbook, sheet, EIGHT)
    assert view["set_aside_words"] == ""
    assert "set aside" not in logbook.client("inspector").get(f"/inspections/{sheet}").text
    last = view["rows"][4]["reading"]["id"]
    for number, reason in enumerate((SET_ASIDE[0], "A dog barked")):
        body = {"cylinder": 5, "indications": [f"10.3{number}"], "replaces_id": last, "reason": reason}
        last = str(an_id(f"again {number}"))
        view = builders.put(logbook.client("inspector"), f"/inspections/{sheet}/readings/{last}", body)
    assert view["set_aside_words"] == "2 readings set aside"
    shown = logbook.client("inspector").get(f"/inspections/{sheet}").text
    assert "<h2>2 readings set aside</h2>" in shown
    for words in ("10.29</span> Leak at the fitting", "10.30</span> A dog barked"):
        assert words in shown


def test_one_reading_is_one_reading() -> None:
    assert [set_aside_words(count) for count in (0, 1, 2)] == ["", "1 reading set aside", "2 readings set aside"]
    assert check_words("leak_down") == "Leak-down test"
    assert check_words("of_later_days") == "Of later days"
