"""What an edition may ask besides a limit for every cylinder, by whatever method, and what the verdict says of it."""

import pytest

from app.metrology.assessment import AssessmentInputs, CylinderReading, Engine, MeasurementError, assess
from tests.unit.metrology.builders import HEALTHY, a_rule, assessed, some_inputs, with_changes
from tests.unit.metrology.volumetry_builders import ENGINE, a_teardown, some_lengths

LEAKING = (*HEALTHY[:3], CylinderReading(4, ("9.10", "9.12")), *HEALTHY[4:])
MIDDLING = tuple(CylinderReading(n, ("10.55", "10.56")) for n in range(1, 9))
FAILING = (*HEALTHY[:3], CylinderReading(4, ("11.30", "11.31")), *HEALTHY[4:])


def test_a_designated_cylinder_is_judged_alone() -> None:
    rule = {"applies_to": "designated_cylinder", "designated_cylinder": 2}
    beside = assessed(rule, readings=FAILING)  # cylinder 4 is far beyond
    assert (beside.verdict, beside.decided.cylinder, beside.judged) == ("conforming", 2, 1)
    assert beside.not_measured == ()
    assert {result.verdict for result in beside.results if result.cylinder != 2} == {""}
    with pytest.raises(MeasurementError, match="judges cylinder 2, which has no figure yet") as refused:
        assess(with_changes(some_inputs(rule), readings=HEALTHY[2:]))
    assert refused.value.field == "readings"


def test_a_tolerance_that_covers_the_uncertainty_says_when_it_does_not() -> None:
    rule = {"decision_rule": "simple_acceptance", "tolerance_covers_uncertainty": True}
    said = "The edition lets its tolerance of 0.05 cover the uncertainty; here U is 0.12, which is more."
    assert said in assessed({**rule, "tolerance": 0.05}).reason
    assert "cover the uncertainty" not in assessed({**rule, "tolerance": 0.2}).reason
    assert said.split(";", maxsplit=1)[0] not in assessed({"tolerance": 0.05}).reason


def test_under_a_range_a_leak_proves_neither() -> None:
    rule = {"kind": "range", "limit": 10.6, "lower_limit": 9.5, "tolerance": 0.0}
    found = assessed(rule, readings=LEAKING)
    assert found.verdict == "inconclusive"
    assert "cannot be called conforming, nor nonconforming for it" in found.reason
    assert "the rule allows at most 10.60 and at least 9.50" in found.reason
    too_high = assessed({**rule, "limit": 10.0, "lower_limit": 8.0}, readings=LEAKING)
    assert (too_high.verdict, too_high.side) == ("nonconforming", "maximum")


def test_the_engine_is_less_likely_to_conform_than_its_worst_cylinder() -> None:
    found = assessed(readings=MIDDLING)
    assert found.engine_conformance_probability < found.decided.conformance_probability
    mean = assessed({"applies_to": "mean_of_cylinders"}, readings=MIDDLING)
    assert mean.engine_conformance_probability == mean.decided.conformance_probability


def test_the_factors_lead_from_the_tolerance_limit_to_the_limits() -> None:
    found = assessed(readings=MIDDLING)
    u = found.decided.standard_uncertainty
    assert found.acceptance_limit == pytest.approx(10.6 - found.acceptance_factor * u)
    assert found.rejection_limit == pytest.approx(10.6 + found.rejection_factor * u)
    assert found.rejection_factor > found.acceptance_factor > 1.5
    simple = assessed({"decision_rule": "simple_acceptance"})
    assert (simple.acceptance_factor, simple.rejection_factor) == (0.0, 0.0)


def test_an_inconclusive_teardown_has_no_readings_to_speak_of() -> None:
    observations = a_teardown()
    value = assess(AssessmentInputs("teardown", ENGINE, observations, a_rule())).decided.value
    rule = a_rule(limit=round(value, 2), tolerance=0.0)
    found = assess(AssessmentInputs("teardown", ENGINE, observations, rule))
    assert found.verdict == "inconclusive"
    assert (found.temperature_effect_per_kelvin, found.decided.indications) == (None, ())
    assert found.reason.startswith(("Cylinder 1: ", "Cylinders "))


def test_a_displacement_is_the_engines() -> None:
    rule = a_rule(quantity="displacement", limit=1640.0, tolerance=1.0, applies_to="whole_engine")
    found = assess(AssessmentInputs("dimensional", Engine(87.0, 69.0, 4), some_lengths(), rule))
    assert (found.deciding, found.unit, found.decided.clearance_volume_cm3) == ("The engine", "cm³", None)
    assert " cm³ (k = " in found.reason
    assert "at most 1641.00 cm³ (1640.00 with 1.00 granted)" in found.reason
