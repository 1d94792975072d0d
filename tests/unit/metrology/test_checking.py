"""What cannot be is refused with a sentence, beside its field."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.assessment import (
    AssessmentInputs,
    Calibration,
    CylinderCheck,
    CylinderReading,
    MeasurementError,
    assess,
)
from tests.unit.metrology.builders import HEALTHY, flat, sheets, some_inputs, with_changes

NAN, INF = float("nan"), float("inf")


def changed(place: str, value: object) -> AssessmentInputs:
    inputs = some_inputs()
    part, _, name = place.rpartition(".")
    given: Mapping[str, Any] = {name: value}
    if not part:
        return with_changes(inputs, **given)
    return with_changes(inputs, **{part: replace(flat(inputs)[part], **given)})


REFUSED = [
    *[("engine.bore_mm", value, "cannot be") for value in (NAN, INF, -INF, -101.6, 0.0, 9.99, 2501.0, 1e9)],
    ("engine.bore_mm", 4.0, "typed in inches? 4 in are 101.6 mm"),
    *[("engine.stroke_mm", value, "cannot be") for value in (NAN, INF, -88.0, 0.0)],
    ("engine.stroke_mm", 3.48, "typed in inches? 3.48 in are 88.392 mm"),
    *[("engine.bore_standard_uncertainty_mm", value, "not negative") for value in (NAN, INF, -0.01, 10.2)],
    *[("engine.stroke_standard_uncertainty_mm", value, "not negative") for value in (NAN, -0.01, 9.0)],
    *[("engine.cylinders", value, "1 to 48") for value in (0, -8, 49, 10**9)],
    ("method", "guesswork", "Known are acoustic_resonance"),
    *[("instrument.airflow_tolerance_l_min", value, "tolerance of the airflow") for value in (NAN, INF, -0.1, 101.0)],
    *[("instrument.airflow_sensitivity", value, "litre per minute more") for value in (NAN, INF, -5.1, 5.1)],
    *[
        ("instrument.airflow_sensitivity_standard_uncertainty", value, "lies between 0 and 5, for example 0.005")
        for value in (NAN, INF, -0.001, 5.1)
    ],
    ("instrument.airflow_sensitivity_standard_uncertainty", 0.01, "has an uncertainty here but no value"),
    *[("conditions.crank_step_degrees", value, "turned smoothly") for value in (NAN, INF, -1.0, 20.5)],
    *[("conditions.rod_ratio", value, "rod length over stroke") for value in (NAN, 0.9, 3.1)],
    *[("checks", (CylinderCheck(number, "refitted"),), "no cylinder") for number in (0, 9)],
    ("checks", (CylinderCheck(1, "glanced_at"),), "leak_down, refitted"),
    ("checks", (CylinderCheck(1, "leak_down"),), "has its percentage"),
    ("checks", (CylinderCheck(1, "refitted", 5.0),), "any other check has none"),
    *[("checks", (CylinderCheck(1, "leak_down", value),), "leak-down percentage") for value in (NAN, -1.0, 101.0)],
    *[("instrument.resolution", value, "No instrument is exact") for value in (NAN, INF, 0.0, -0.01, 1.5)],
    *[("instrument.stated_accuracy", value, "No instrument is exact") for value in (NAN, INF, 0.0, -0.1, 6.0)],
    ("instrument.accuracy_meaning", "roughly", "limits, expanded_k2, standard"),
    *[("instrument.calibration", Calibration("C", value, 0.04, 2.0), "deviation of the") for value in (NAN, INF, 5.1)],
    *[
        ("instrument.calibration", Calibration("C", 0.0, value, 2.0), "uncertainty of the")
        for value in (NAN, -0.1, 6.0)
    ],
    *[("instrument.calibration", Calibration("C", 0.0, 0.04, value), "coverage factor") for value in (NAN, 0.0, 11.0)],
    *[("settings.displacement_cm3", value, "cannot have been set") for value in (NAN, INF, -1.0, 0.0, 1e7)],
    ("settings.displacement_cm3", 349.85, "cubic inches and cm³ mixed up? 349.85 in³ are 5733.0 cm³"),
    ("settings.displacement_cm3", 93945.0, "cubic inches and cm³ mixed up"),
    *[("settings.cylinders", value, "1 to 48") for value in (0, -1, 49)],
    *[("settings.gas_temperature_c", value, "between -40 °C and 200 °C") for value in (NAN, INF, -41.0, 201.0)],
    ("settings.gas_temperature_c", 293.15, "typed in kelvin? 293.15 K are 20.0 °C"),
    *[("conditions.gas_temperature_c", value, "between -40 °C") for value in (NAN, -INF, -273.15, 201.0, 1e9)],
    ("conditions.gas_temperature_c", 363.15, "typed in kelvin? 363.15 K are 90.0 °C"),
    *[("conditions.gas_temperature_standard_uncertainty_k", value, "between 0 and 50") for value in (NAN, -1.0, 51.0)],
    *[("conditions.temperature_source", value, "how the gas temperature was known") for value in ("", "  ")],
    ("rule.kind", "about", "maximum, minimum, range"),
    ("rule.lower_limit", 9.0, "a lower limit beside"),
    *[("rule.lower_limit", value, "no compression ratio") for value in (NAN, INF, 1.0, 100.0)],
    ("rule.quantity", "beauty", "compression_ratio, displacement"),
    ("rule.designated_cylinder", 1, "and only then"),
    ("rule.applies_to", "some", "every_cylinder, mean_of_cylinders"),
    ("rule.decision_rule", "coin", "three_zones"),
    ("rule.inconclusive_action", "shrug", "measure_again, teardown, benefit_of_doubt"),
    *[("rule.limit", value, "no compression ratio") for value in (NAN, INF, -10.5, 0.0, 1.0, 100.0, 1050.0)],
    *[("rule.tolerance", value, "cannot be granted") for value in (NAN, INF, -0.1, 9.5, 10.5)],
    *[("rule.confidence", value, "between 0.5 and 0.9999") for value in (NAN, 0.0, 0.49, 1.0, 95.0)],
    *[("repeatability", value, "standard deviation") for value in ((NAN, 5.0), (-0.1, 5.0), (6.0, 5.0), (INF, 5.0))],
    *[("repeatability", value, "degree of freedom") for value in ((0.02, NAN), (0.02, 0.0), (0.02, 0.5), (0.02, -1.0))],
    *[("reproducibility", value, "from the gauge study, is given") for value in ((NAN, 5.0), (-0.1, 5.0), (5.1, 5.0))],
    *[("reproducibility", value, "have more of them measure") for value in ((0.02, NAN), (0.02, 0.99), (0.02, -INF))],
    *[("coverage_probability", value, "between 0.5 and 0.9999") for value in (NAN, 0.0, 1.0, 95.0)],
]


@pytest.mark.parametrize(("field", "value", "says"), REFUSED)
def test_what_cannot_be_is_refused_beside_its_field(field: str, value: object, says: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        assess(changed(field, value))
    assert refused.value.field.startswith(field)
    assert says in refused.value.sentence
    assert "invalid" not in refused.value.sentence.lower()
    assert refused.value.sentence.endswith((".", "?"))


@pytest.mark.parametrize(
    ("rule", "field", "says"),
    [
        ({"kind": "range"}, "rule.lower_limit", "a lower limit beside"),
        ({"kind": "range", "lower_limit": 10.6}, "rule.lower_limit", "above the upper one, 10.5. Swap them"),
        ({"kind": "range", "lower_limit": 9.0, "tolerance": 8.0}, "rule.tolerance", "on a limit of 9."),
        ({"tolerance_covers_uncertainty": True}, "rule.decision_rule", "simple acceptance then"),
        ({"applies_to": "whole_engine"}, "rule.applies_to", "displacement is the engine's as a whole"),
        ({"quantity": "displacement", "limit": 5700.0}, "rule.applies_to", "displacement is the engine's as a whole"),
        ({"quantity": "displacement", "limit": 1.0}, "rule.limit", "no displacement in cm³"),
        ({"quantity": "displacement", "limit": 5700.0, "tolerance": -1.0}, "rule.tolerance", "Enter 0 or a few cm³"),
        (
            {"quantity": "displacement", "limit": 5700.0, "applies_to": "whole_engine"},
            "rule.quantity",
            "the method acoustic resonance measures the static compression ratio",
        ),
        ({"applies_to": "designated_cylinder"}, "rule.designated_cylinder", "and only then"),
        ({"applies_to": "designated_cylinder", "designated_cylinder": 9}, "rule.designated_cylinder", "engine has 8"),
        ({"applies_to": "designated_cylinder", "designated_cylinder": 0}, "rule.designated_cylinder", "cylinder 0;"),
    ],
)
def test_a_rule_that_does_not_fit_together_is_refused(rule: dict[str, Any], field: str, says: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        assess(some_inputs(rule))
    assert refused.value.field == field
    assert says in refused.value.sentence


TAKEN = [
    ("engine.bore_standard_uncertainty_mm", 0.0),
    ("engine.bore_standard_uncertainty_mm", 10.16),
    ("conditions.gas_temperature_standard_uncertainty_k", 0.0),
    ("conditions.gas_temperature_c", -40.0),
    ("conditions.gas_temperature_c", 200.0),
    ("conditions.temperature_source", "probe borrowed from the next pit"),
    ("settings.cylinders", 1),
    ("rule.tolerance", 0.0),
    ("rule.confidence", 0.5),
    ("instrument.airflow_sensitivity", -5.0),
    ("conditions.crank_step_degrees", 20.0),
    ("conditions.rod_ratio", 1.0),
    ("checks", (CylinderCheck(8, "leak_down", 0.0), CylinderCheck(1, "refitted"))),
    ("repeatability", (0.0, 1.0)),
    ("repeatability", (0.02, INF)),
    ("instrument.airflow_sensitivity_standard_uncertainty", 0.0),
    ("reproducibility", (0.0, 1.0)),
    ("reproducibility", (5.0, INF)),
    ("coverage_probability", 0.9999),
]


@pytest.mark.parametrize(("field", "value"), TAKEN)
def test_the_ends_of_what_can_be_are_taken(field: str, value: object) -> None:
    assert assess(changed(field, value)).results


def test_an_inch_hint_comes_only_where_inches_would_make_sense() -> None:
    with pytest.raises(MeasurementError) as refused:
        assess(changed("engine.bore_mm", 0.5))
    assert "inches" not in refused.value.sentence


@pytest.mark.parametrize(
    ("readings", "field", "says"),
    [
        ((CylinderReading(0, ("10.2",)),), "readings.0", "no cylinder 0"),
        ((CylinderReading(9, ("10.2",)),), "readings.9", "from 1 to 8"),
        ((*HEALTHY, CylinderReading(3, ("10.2",))), "readings.3", "appears twice"),
        ((CylinderReading(1, ("10.2",) * 100),), "readings.1", "at most 99"),
    ],
)
def test_readings_that_cannot_be_are_named(readings: tuple[CylinderReading, ...], field: str, says: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        assess(with_changes(some_inputs(), readings=readings))
    assert refused.value.field == field
    assert says in refused.value.sentence


@given(sheets(), st.sampled_from([NAN, INF, -INF, -1000.0, 1e300, -1e300]), st.data())
def test_no_number_however_odd_is_ever_an_unexplained_failure(
    inputs: AssessmentInputs, odd: float, data: st.DataObject
) -> None:
    places = ["engine.bore_mm", "engine.stroke_mm", "instrument.resolution", "instrument.stated_accuracy",
              "settings.displacement_cm3", "settings.gas_temperature_c", "conditions.gas_temperature_c",
              "rule.limit", "rule.tolerance", "rule.confidence"]  # fmt: skip
    part, _, name = data.draw(st.sampled_from(places)).partition(".")
    given: Mapping[str, Any] = {part: replace(flat(inputs)[part], **{name: odd})}
    with pytest.raises(MeasurementError) as refused:
        assess(with_changes(inputs, **given))
    assert refused.value.field.startswith((part, "settings"))
