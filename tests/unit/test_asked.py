"""The core's records as people write them: every method can be asked for, and comes out as the core has it."""

from dataclasses import fields
from typing import Any

import pytest

from app.errors import Invalid
from app.inspections.asked import asked_name, asked_of, core_of
from app.inspections.whatif import OBSERVED, asked, asked_place, evaluated, nested
from app.metrology.inputs import Conditions, Instrument, Rule
from app.metrology.methods import METHODS

RATIO_RULE = {
    "kind": "maximum", "limit": "10.5", "tolerance": "0", "applies_to": "every_cylinder",
    "decision_rule": "three_zones", "confidence": "95 %", "inconclusive_action": "teardown",
}  # fmt: skip
POURING = {
    "burette": {"nominal": "100 cm³", "tolerance_class": "a", "graduation": "0.2"},
    "liquid": "isopropanol",
    "liquid_temperature": "20",
    "liquid_temperature_standard_uncertainty": "0.5 K",
    "metal_temperature": "68 °F",
    "metal_temperature_standard_uncertainty": "1.8 °F",
    "metal": "cast_iron",
    "loss": "0.05",
    "loss_standard_uncertainty": "0.05",
    "trapped_air_at_most": "0.1",
}
DIMENSIONAL = {
    "method": "dimensional",
    "engine": {"bore": "4.000 in", "stroke": "3.480 in", "cylinders": 2},
    "observations": {
        "bore_instrument": {"name": "bore gauge set in a ring", "error_limit": "0.005"},
        "stroke_instrument": {"name": "depth micrometer", "error_limit": "0.0004 in"},
        "metal_temperature": "68 °F",
        "metal_temperature_standard_uncertainty": "1",
        "instrument_temperature": "20",
        "instrument_temperature_standard_uncertainty": "1 K",
        "block_metal": "cast_iron",
        "crank_metal": "steel",
        "cylinders": [
            {"cylinder": 1, "diameters": ["101.60", "101.61"], "strokes": ["88.39", "88.40"]},
            {"cylinder": 2, "diameters": ["101.61", "101.60"], "strokes": ["88.39", "88.39"]},
        ],
    },
    "rule": {**RATIO_RULE, "quantity": "displacement", "limit": "90 in³", "tolerance": "5 cm³",
             "applies_to": "whole_engine"},
}  # fmt: skip


def units_of(given: Any) -> set[str]:
    """Every name of a field in it."""
    if isinstance(given, dict):
        return set(given) | {name for inner in given.values() for name in units_of(inner)}
    return {name for inner in given for name in units_of(inner)} if isinstance(given, list) else set()


@pytest.mark.parametrize("method", METHODS)
def test_every_method_can_be_asked_for_without_a_unit_in_any_name(method: str) -> None:
    record = METHODS[method].observations
    model = OBSERVED[method]
    expected = {asked_name(one.name) for one in fields(record)}
    assert set(model.model_fields) == expected
    schema = model.model_json_schema()
    assert not [name for name in units_of(schema) if name.endswith(("_mm", "_cm3", "_l_min"))]


def test_a_displacement_is_evaluated_from_inches_and_millimetres() -> None:
    found = evaluated(asked(DIMENSIONAL))
    assert found.inputs["rule"]["limit"] == "1474.83576"
    assert found.inputs["rule"]["tolerance"] == "5.0"
    assert found.inputs["observations"]["stroke_instrument"]["error_limit_mm"] == "0.01016"
    assert found.inputs["observations"]["metal_temperature_c"] == "20.0"
    assert found.result["quantity"] == "displacement"
    assert found.result["verdict"] == "conforming"


def test_a_poured_chamber_is_evaluated() -> None:
    body = {
        "method": "liquid_volume",
        "engine": {"bore": "101.6", "stroke": "88.39", "cylinders": 1},
        "observations": {
            "pouring": POURING,
            "plug_hole": "0.8",
            "plug_hole_standard_uncertainty": "0.05",
            "crank_within": "0.5",
            "cylinders": [{"cylinder": 1, "fills": [{"start": "0.0", "end": "78.2"}, {"start": "0.2", "end": "78.6"}]}],
            "repeatability": ["0.1", "5"],
        },
        "rule": RATIO_RULE,
    }
    found = evaluated(asked(body))
    assert found.inputs["observations"]["repeatability"] == ["0.1", "5.0"]
    assert found.inputs["observations"]["pouring"]["metal_temperature_standard_uncertainty_k"] == "1.0"
    assert 10.0 < float(found.result["decided"]["value"]) < 10.6


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("bore_mm", "bore"), ("airflow_tolerance_l_min", "airflow_tolerance"), ("crank_step_degrees", "crank_step"),
        ("expansion_per_k", "expansion_per_k"), ("rod_ratio", "rod_ratio"), ("gas_temperature_c", "gas_temperature"),
    ],
)  # fmt: skip
def test_a_field_loses_its_unit_and_nothing_else(name: str, expected: str) -> None:
    assert asked_name(name) == expected


@pytest.mark.parametrize(
    ("typed", "units", "kelvin"),
    [
        ("1 K", "metric", 1.0),
        ("2", "metric", 2.0),
        ("1.8 °F", "metric", 1.0),
        ("1.8", "inch", 1.0),
        ("1 °C", "inch", 1),
    ],
)
def test_a_temperature_difference_knows_no_zero_of_the_scale(typed: str, units: str, kelvin: float) -> None:
    given = {"gas_temperature": "20 °C", "temperature_source": "mine", "gas_temperature_standard_uncertainty": typed}
    found = core_of(Conditions, asked_of(Conditions).model_validate(given, context={"units": units}))
    assert found.gas_temperature_standard_uncertainty_k == pytest.approx(kelvin)


def test_what_is_left_out_takes_what_holds_for_the_core() -> None:
    given = {"resolution": "0.01", "stated_accuracy": "0.1", "accuracy_meaning": "limits"}
    found = core_of(Instrument, asked_of(Instrument).model_validate(given))
    assert found == Instrument("acoustic_resonance", 0.01, 0.1, "limits")
    source = {"gas_temperature": "20", "temperature_source": "coolant_gauge"}
    assert core_of(Conditions, asked_of(Conditions).model_validate(source)) == Conditions(20.0, 6.0, "coolant_gauge")
    assert core_of(Rule, asked_of(Rule).model_validate(RATIO_RULE)).confidence == 0.95


@pytest.mark.parametrize(
    ("change", "place", "sentence"),
    [
        ({"metal_temperature_standard_uncertainty": "1 m"}, "metal_temperature_standard_uncertainty",
         "“m” is not a unit of a temperature difference known here. Write K or °F."),
        ({"cylinders": [{"cylinder": 2, "diameters": ["101.6", "far"]}, {"cylinder": 1, "diameters": ["101.6"] * 2,
          "strokes": ["88.39"]}]}, "cylinders.0.diameters", "“far”"),
        ({"bore_instrument": {"name": "x" * 401, "error_limit": "1"}}, "bore_instrument.name",
         "Name takes at most 400 characters. Shorten it."),
    ],
)  # fmt: skip
def test_a_place_is_named_as_it_was_asked_for(change: dict[str, Any], place: str, sentence: str) -> None:
    observed: Any = DIMENSIONAL["observations"]
    with pytest.raises(Invalid) as caught:
        evaluated(asked({**DIMENSIONAL, "observations": {**observed, **change}}))
    ((where, said),) = caught.value.errors.items()
    assert where.startswith(f"observations.{place}")
    assert sentence in said


STUDIED: dict[str, Any] = {
    "instrument": {"resolution": "0.01", "stated_accuracy": "0.10", "accuracy_meaning": "limits",
                   "airflow_tolerance": "0.3 L/min", "airflow_sensitivity": "-0.05",
                   "airflow_sensitivity_standard_uncertainty": "0.02"},
    "settings": {"displacement": "716.6 cm³", "cylinders": 1, "gas_temperature": "22"},
    "conditions": {"gas_temperature": "22", "temperature_source": "coolant_gauge"},
    "readings": [{"cylinder": 1, "indications": ["10.31", "10.32"]}],
    "repeatability": ["0.02", "8"],
    "reproducibility": ["0.03", "2.4"],
}  # fmt: skip


def studied(**changes: Any) -> dict[str, Any]:
    """What adopted studies found, asked for with the rest of a sheet by acoustic resonance; `instrument__…` inside."""
    inside = {name.partition("__")[2]: changes.pop(name) for name in list(changes) if name.startswith("instrument__")}
    observed = {**STUDIED, "instrument": {**STUDIED["instrument"], **inside}, **changes}
    engine = {"bore": "101.6", "stroke": "88.39", "cylinders": 1}
    return {"method": "acoustic_resonance", "engine": engine, "observations": observed, "rule": RATIO_RULE}


def test_what_studies_found_is_asked_for_and_stands_in_the_budget() -> None:
    found = evaluated(asked(studied()))
    observed = found.inputs["observations"]
    assert observed["reproducibility"] == ["0.03", "2.4"]
    assert observed["instrument"]["airflow_sensitivity_standard_uncertainty"] == "0.02"
    parts = {part["name"]: part for part in found.result["decided"]["budget"]["components"]}
    assert parts["reproducibility"]["degrees_of_freedom"] == "2.4"
    assert parts["airflow_sensitivity"]["standard_uncertainty"] == "0.02"
    left_out = {name: value for name, value in STUDIED.items() if name != "reproducibility"}
    plain = {name: value for name, value in STUDIED["instrument"].items() if "sensitivity" not in name}
    without = evaluated(asked({**studied(), "observations": {**left_out, "instrument": plain}}))
    assert without.inputs["observations"]["reproducibility"] is None
    assert without.inputs["observations"]["instrument"]["airflow_sensitivity_standard_uncertainty"] == "0.0"
    assert len(without.result["decided"]["budget"]["components"]) == 6


def test_the_schema_says_in_what_units_a_study_is_given() -> None:
    schema = OBSERVED["acoustic_resonance"].model_json_schema()
    for name in ("repeatability", "reproducibility"):
        asked_for = schema["properties"][name]
        said = asked_for["anyOf"][0]["description"]
        assert asked_for["title"] == name.capitalize()
        assert said == "a standard deviation in units of ratio, and its degrees of freedom"
    instrument = schema["$defs"]["AskedInstrument"]["properties"]
    slope = instrument["airflow_sensitivity_standard_uncertainty"]
    assert (slope["title"], slope["description"]) == (
        "Airflow sensitivity standard uncertainty", "a ratio for each L/min",
    )  # fmt: skip
    assert instrument["airflow_sensitivity"]["anyOf"][0]["description"] == "a ratio for each L/min"


@pytest.mark.parametrize(
    ("changes", "place", "sentence"),
    [
        ({"reproducibility": ["0.03", "0.5"]}, "reproducibility",
         "The gauge study needs at least one degree of freedom between inspectors: have more of them measure."),
        ({"reproducibility": ["6", "2"]}, "reproducibility",
         "The standard deviation between inspectors, from the gauge study, is given as 6; it lies between 0 and 5, for "
         "example 0.03."),
        ({"instrument__airflow_sensitivity_standard_uncertainty": "-1"},
         "instrument.airflow_sensitivity_standard_uncertainty",
         "The standard uncertainty of what a litre per minute does is given as -1; it lies between 0 and 5, for "
         "example 0.005."),
        ({"instrument__airflow_sensitivity": None}, "instrument.airflow_sensitivity_standard_uncertainty",
         "What a litre per minute does has an uncertainty here but no value. Give both, or leave both out."),
    ],
)  # fmt: skip
def test_a_study_that_cannot_be_gets_its_sentence(changes: dict[str, Any], place: str, sentence: str) -> None:
    with pytest.raises(Invalid) as caught:
        evaluated(asked(studied(**changes)))
    assert caught.value.errors == {f"observations.{place}": sentence}


def test_a_limit_of_a_ratio_takes_no_volume_and_a_probability_no_unit() -> None:
    for rule, place in (({"limit": "350 in³"}, "rule.limit"), ({"confidence": "95 mm"}, "rule.confidence")):
        with pytest.raises(Invalid) as caught:
            asked({**DIMENSIONAL, "rule": {**RATIO_RULE, **rule}})
        assert list(caught.value.errors) == [place]


def test_places_of_the_core_become_places_of_the_question() -> None:
    observed = asked(DIMENSIONAL).observations
    assert asked_place("engine.bore_mm", observed) == "engine.bore"
    assert asked_place("settings.displacement_cm3", observed) == "observations.settings.displacement"
    assert asked_place("observations.cylinders.2.strokes.0", observed) == "observations.cylinders.1.strokes.0"
    assert asked_place("observations.cylinders.9", observed) == "observations.cylinders.9"
    assert asked_place("coverage_probability", observed) == "coverage_probability"


def test_dotted_names_of_a_form_become_records_inside_each_other() -> None:
    flat = {"engine.bore": "4 in", "engine.stroke": " ", "rule.kind": "maximum", "method": "x"}
    assert nested(flat) == {"engine": {"bore": "4 in"}, "rule": {"kind": "maximum"}, "method": "x"}
