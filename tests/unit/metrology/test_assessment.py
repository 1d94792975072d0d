"""The verdict on an engine."""

from dataclasses import replace
from itertools import pairwise

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from app.metrology import CORE_VERSION
from app.metrology.assessment import (
    Assessment,
    AssessmentInputs,
    CylinderReading,
    MeasurementError,
    Settings,
    assess,
)
from app.metrology.conformity import VERDICTS
from app.metrology.inputs import TEMPERATURE_SOURCES
from app.metrology.methods.accuracy import bears_out
from app.metrology.rules import SIDES
from app.metrology.temperature import STANDARD_UNCERTAINTY_K
from tests.unit.metrology.builders import (
    HEALTHY,
    ORDER,
    assessed,
    readings,
    sheets,
    some_inputs,
    with_changes,
)

NOT_MEASURED = (*HEALTHY[:3], CylinderReading(4, (), "plug seized"), *HEALTHY[4:])
LEAKING = (*HEALTHY[:3], CylinderReading(4, ("9.10", "9.12")), *HEALTHY[4:])
MIDDLING = tuple(CylinderReading(n, ("10.55", "10.56")) for n in range(1, 9))
FAILING = (*HEALTHY[:3], CylinderReading(4, ("11.30", "11.31")), *HEALTHY[4:])


def test_an_engine_well_inside_its_limit_conforms() -> None:
    found = assessed()
    assert (found.verdict, found.action) == ("conforming", "")
    assert found.deciding == "Cylinder 2"  # the highest of them
    assert found.decided == found.results[1]
    assert found.decided.value == pytest.approx(10.235)
    assert found.core_version == CORE_VERSION
    assert (found.limit, found.tolerance_limit) == (10.5, 10.6)
    assert found.acceptance_limit == pytest.approx(10.4938, abs=5e-5)
    assert found.corrections == ()
    assert found.temperature_effect_per_kelvin == pytest.approx(-(10.235 - 1.0) / 293.15)


def test_one_cylinder_too_high_fails_the_engine() -> None:
    found = assessed(readings=FAILING)
    assert (found.verdict, found.action, found.decided.cylinder) == ("nonconforming", "", 4)
    assert found.reason == (
        "Cylinder 4: 11.30 ± 0.13 (k = 1.85, 95 %) is above the rejection limit 10.72; the rule allows at most 10.60 "
        "(10.50 with 0.10 granted), kept with a probability of less than 0.1 %."
    )


def test_an_engine_near_its_limit_is_inconclusive_and_the_edition_names_what_follows() -> None:
    found = assessed({"inconclusive_action": "teardown"}, readings=MIDDLING)
    assert (found.verdict, found.action) == ("inconclusive", "teardown")
    assert "lies between the acceptance limit 10.49 and the rejection limit 10.72" in found.reason
    assert found.reason.endswith("What follows: teardown.")


def test_the_benefit_of_the_doubt_is_an_action_and_the_verdict_stays_inconclusive() -> None:
    found = assessed({"inconclusive_action": "benefit_of_doubt"}, readings=MIDDLING)
    assert (found.verdict, found.action) == ("inconclusive", "benefit_of_doubt")


def test_a_cylinder_that_was_not_measured_keeps_the_engine_from_conforming() -> None:
    found = assessed(readings=NOT_MEASURED)
    assert (found.verdict, found.not_measured) == ("inconclusive", (4,))
    assert found.reason.startswith("Cylinder 4 (plug seized) was not measured")
    assert [result.cylinder for result in found.results] == [1, 2, 3, 5, 6, 7, 8]


def test_cylinders_nobody_entered_count_as_not_measured() -> None:
    found = assess(with_changes(some_inputs(), readings=HEALTHY[2:]))
    assert (found.verdict, found.not_measured) == ("inconclusive", (1, 2))
    assert found.reason.startswith("Cylinders 1 and 2 were not measured")


def test_a_cylinder_too_high_fails_the_engine_even_where_others_were_not_measured() -> None:
    found = assessed(readings=(*FAILING[:7], CylinderReading(8, ())))
    assert (found.verdict, found.not_measured) == ("nonconforming", (8,))


def test_a_suspected_leak_keeps_the_engine_from_conforming() -> None:
    found = assessed(readings=LEAKING)
    assert found.verdict == "inconclusive"
    assert {suspicion.cylinder for suspicion in found.suspicions} == {4}
    assert "leak in cylinder 4" in found.reason
    assert "a low figure from a leaking cylinder proves nothing" in found.reason


def test_the_benefit_of_the_doubt_does_not_reach_a_leak_or_a_missing_cylinder() -> None:
    for sheet in (LEAKING, NOT_MEASURED):
        found = assessed({"inconclusive_action": "benefit_of_doubt"}, readings=sheet)
        assert (found.verdict, found.action) == ("inconclusive", "measure_again")
        assert "does not reach so far" in found.reason


@given(
    st.sampled_from(["every_cylinder", "mean_of_cylinders"]),
    st.sampled_from(["simple_acceptance", "guarded_acceptance", "guarded_rejection", "three_zones"]),
    st.floats(9.6, 14.0).map(lambda limit: round(limit, 2)),
    st.sampled_from(["measure_again", "teardown", "benefit_of_doubt"]),
    st.integers(600, 950),
)
def test_a_leaking_engine_never_conforms_under_any_maximum(
    applies_to: str, decision_rule: str, limit: float, action: str, leaking_hundredths: int
) -> None:
    low = f"{leaking_hundredths // 100}.{leaking_hundredths % 100:02d}"
    sheet = (*HEALTHY[:3], CylinderReading(4, (low, low)), *HEALTHY[4:])
    rule = {"applies_to": applies_to, "decision_rule": decision_rule, "limit": limit, "inconclusive_action": action}
    found = assessed(rule, readings=sheet)
    assert found.suspicions
    assert found.verdict != "conforming"
    assert found.action != "benefit_of_doubt"


@given(st.sampled_from(["every_cylinder", "mean_of_cylinders"]), st.integers(4, 30))
def test_sinking_repeats_never_conform_under_a_maximum(applies_to: str, step: int) -> None:
    sinking = tuple(f"{(1020 - n * step) / 100:.2f}" for n in range(4))
    found = assessed({"applies_to": applies_to, "limit": 13.0}, readings=(CylinderReading(1, sinking), *HEALTHY[1:]))
    assert found.verdict == "inconclusive"


def test_under_a_minimum_a_low_figure_that_may_be_a_leak_fails_nobody() -> None:
    for applies_to, limit in (("every_cylinder", 10.0), ("mean_of_cylinders", 10.4)):
        rule = {"kind": "minimum", "limit": limit, "applies_to": applies_to, "inconclusive_action": "teardown"}
        found = assessed(rule, readings=LEAKING)
        assert (found.verdict, found.action) == ("inconclusive", "teardown")
        assert "the engine cannot be called nonconforming" in found.reason


def test_under_a_minimum_a_high_enough_figure_stands_with_or_without_a_leak() -> None:
    for applies_to in ("every_cylinder", "mean_of_cylinders"):
        found = assessed({"kind": "minimum", "limit": 8.5, "applies_to": applies_to}, readings=LEAKING)
        assert found.suspicions
        assert found.verdict == "conforming"


def test_under_a_minimum_a_tight_cylinder_too_low_fails_the_engine_beside_a_leaking_one() -> None:
    found = assessed({"kind": "minimum", "limit": 10.5, "tolerance": 0.0}, readings=LEAKING)
    assert {suspicion.cylinder for suspicion in found.suspicions} == {4}
    assert found.verdict == "nonconforming"
    assert found.decided.cylinder != 4


def test_a_rule_for_the_mean_judges_the_mean_and_no_cylinder_by_itself() -> None:
    found = assessed({"applies_to": "mean_of_cylinders"})
    assert found.verdict == "conforming"
    assert found.deciding == "The mean of the cylinders"
    assert (found.decided.cylinder, found.decided.indications) == (0, ())
    assert found.decided.value == pytest.approx(sum(result.value for result in found.results) / 8)
    assert {result.verdict for result in found.results} == {""}
    assert {result.acceptance_limit for result in found.results} == {None}


def test_a_mean_of_some_cylinders_neither_passes_nor_fails_the_engine() -> None:
    high = tuple(CylinderReading(n, ("11.50", "11.51")) for n in range(1, 8))
    for sheet in (high, HEALTHY[:7]):
        found = assess(with_changes(some_inputs({"applies_to": "mean_of_cylinders"}), readings=sheet))
        assert (found.verdict, found.not_measured) == ("inconclusive", (8,))


def test_shared_errors_do_not_average_out_but_own_ones_do() -> None:
    found = assessed({"applies_to": "mean_of_cylinders"})

    def shares(of: Assessment, shared: bool) -> list[float]:
        parts = of.decided.budget.components
        return [part.contribution for part in parts if part.shared is shared]

    single = assessed()
    assert shares(found, True) == pytest.approx(shares(single, True), rel=0.01)
    assert all(
        mean < 0.5 * one or mean == one == 0.0
        for mean, one in zip(shares(found, False)[1:], shares(single, False)[1:], strict=True)
    )


def test_of_two_cylinders_beyond_all_doubt_the_farther_decides() -> None:
    """Both probabilities are 0 to the last digit of a float, so the distance has to tell."""
    for far, farther in (("15.00", "16.00"), ("16.00", "15.00")):
        found = assessed(readings=readings((far, far), (farther, farther)))
        assert [result.conformance_probability for result in found.results] == [0.0, 0.0]
        assert found.decided.value == pytest.approx(16.0)


def test_readings_may_come_in_any_order() -> None:
    assert assessed(readings=tuple(reversed(HEALTHY))) == assessed()


def test_a_sheet_without_any_indication_has_nothing_to_judge() -> None:
    for empty in ((), (CylinderReading(1, ()),)):
        with pytest.raises(MeasurementError, match="No cylinder") as refused:
            assess(with_changes(some_inputs(), readings=empty))
        assert refused.value.field == "readings"


def test_bad_digits_are_named_by_cylinder_and_place() -> None:
    with pytest.raises(MeasurementError, match="1e9") as refused:
        assessed(readings=readings(("10.2",), ("10.2", "1e9")))
    assert refused.value.field == "readings.2.indications.1"


@given(sheets(), st.floats(0.0, 3.0))
def test_a_higher_limit_never_worsens_a_maximum_verdict(inputs: AssessmentInputs, kinder: float) -> None:
    rule = replace(inputs.rule, kind="maximum")
    before = assess(with_changes(inputs, rule=rule))
    after = assess(with_changes(inputs, rule=replace(rule, limit=rule.limit + kinder)))
    assert ORDER[after.verdict] >= ORDER[before.verdict]


@given(sheets(), st.floats(0.0, 3.0))
def test_a_lower_limit_never_worsens_a_minimum_verdict(inputs: AssessmentInputs, kinder: float) -> None:
    rule = replace(inputs.rule, kind="minimum")
    before = assess(with_changes(inputs, rule=rule))
    after = assess(with_changes(inputs, rule=replace(rule, limit=rule.limit - kinder)))
    assert ORDER[after.verdict] >= ORDER[before.verdict]


@given(sheets())
def test_every_sheet_gets_one_coherent_verdict(inputs: AssessmentInputs) -> None:
    found = assess(inputs)
    assert found.verdict in VERDICTS
    assert bool(found.action) == (found.verdict == "inconclusive")
    assert found.deciding == found.decided.label
    assert found.reason.startswith((found.deciding, "There is an open suspicion"))
    assert found.reason.endswith(".")
    for result in found.results:
        assert 0.0 <= result.conformance_probability <= 1.0
        assert result.expanded_uncertainty == result.coverage_factor * result.standard_uncertainty
        assert result.clearance_volume_cm3 > 0.0
        assert sum(part.percent_of_variance for part in result.budget.components) == pytest.approx(100.0)
    margins = [SIDES[inputs.rule.kind].margin(one.value, found.tolerance_limit) for one in found.results]
    if inputs.rule.decision_rule == "simple_acceptance" and inputs.rule.applies_to == "every_cylinder":
        assert (found.verdict == "nonconforming") <= (min(margins) < 0.0)


@given(sheets(), st.sampled_from([0.5, 2.0, 3.0]))
def test_other_settings_for_the_same_chambers_give_the_same_ratios(inputs: AssessmentInputs, factor: float) -> None:
    """Settings twice as large make the instrument show q twice as large; the corrected values stay."""
    typed = [reading.indications[0] for reading in inputs.observations.readings]
    shown = [1.0 + factor * (float(text) - 1.0) for text in typed]
    assume(all(1.0 < value < 99.0 for value in shown))
    settings = inputs.observations.settings
    once = assess(with_changes(inputs, readings=readings(*[(text,) for text in typed])))
    again = assess(
        with_changes(
            inputs,
            settings=Settings(settings.displacement_cm3 * factor, settings.cylinders, settings.gas_temperature_c),
            readings=readings(*[(f"{value:.6f}",) for value in shown]),
        )
    )
    for first, second in zip(once.results, again.results, strict=True):
        assert second.value == pytest.approx(first.value, rel=1e-9)
        assert second.clearance_volume_cm3 == pytest.approx(first.clearance_volume_cm3, rel=1e-9)


@given(sheets())
def test_a_wider_stated_accuracy_never_narrows_the_interval(inputs: AssessmentInputs) -> None:
    """Where the calibration bears the narrower one out: a refuted accuracy is replaced by limits, another kind."""
    inputs = inputs if bears_out(inputs.observations.instrument) else without_calibration(inputs)
    wider = with_changes(inputs, instrument=replace(inputs.observations.instrument, stated_accuracy=0.4))
    for narrow, wide in zip(assess(inputs).results, assess(wider).results, strict=True):
        assert wide.standard_uncertainty >= narrow.standard_uncertainty
        assert wide.degrees_of_freedom_used >= narrow.degrees_of_freedom_used


@given(sheets())
def test_a_calibration_never_narrows_the_interval(inputs: AssessmentInputs) -> None:
    for plain, calibrated in zip(assess(without_calibration(inputs)).results, assess(inputs).results, strict=True):
        assert calibrated.standard_uncertainty >= plain.standard_uncertainty


def without_calibration(inputs: AssessmentInputs) -> AssessmentInputs:
    return with_changes(inputs, instrument=replace(inputs.observations.instrument, calibration=None))


def test_a_stricter_confidence_widens_the_doubtful_zone() -> None:
    limits = [assessed({"confidence": level}).acceptance_limit or 0.0 for level in (0.5, 0.9, 0.95, 0.99)]
    assert all(stricter < kinder for kinder, stricter in pairwise(limits))
    assert limits[0] == pytest.approx(10.6)


def test_every_source_of_a_temperature_has_its_uncertainty() -> None:
    assert set(TEMPERATURE_SOURCES) == set(STANDARD_UNCERTAINTY_K)


@pytest.mark.parametrize("kind", ["maximum", "minimum"])
@pytest.mark.parametrize("repeats", [1, 2, 3, 5, 7, 9])
def test_a_value_exactly_at_the_limit_conforms_however_often_it_was_read(kind: str, repeats: int) -> None:
    """The mean of three times 10.77 comes out 10.770000000000001 in binary, which is no reason to fail an engine."""
    for hundredths in range(900, 1500):
        typed = f"{hundredths / 100:.2f}"
        rule = {"kind": kind, "limit": hundredths / 100, "tolerance": 0.0, "decision_rule": "simple_acceptance"}
        found = assessed(rule, readings=readings((typed,) * repeats))
        assert found.verdict == "conforming", typed
        assert found.decided.conformance_probability == 0.5
        assert f"Cylinder 1: {typed} ± " in found.reason


def test_a_scatter_that_the_history_does_not_know_is_not_drowned_by_it() -> None:
    """Two repeats a fifth of a ratio apart, a history of hundreds of calm ones: the engine's own scatter counts."""
    sheet = readings(("10.20", "10.40"))
    calm = assessed(readings=readings(("10.30", "10.31")), repeatability=(0.006, 200.0)).decided
    torn = assessed(readings=sheet, repeatability=(0.006, 200.0)).decided
    alone = assessed(readings=sheet).decided
    assert torn.standard_uncertainty == alone.standard_uncertainty
    assert torn.expanded_uncertainty > 3.0 * calm.expanded_uncertainty


def test_in_a_mean_one_history_counts_its_degrees_of_freedom_once() -> None:
    """Eight cylinders read once each: all that is known of the scatter are the four degrees of the history."""
    sheet = readings(*[("10.30",)] * 8)
    mean = assessed({"applies_to": "mean_of_cylinders"}, readings=sheet, repeatability=(0.02, 4.0)).decided
    part = next(part for part in mean.budget.components if part.name == "repeatability")
    assert part.degrees_of_freedom == pytest.approx(4.0)
    assert part.standard_uncertainty == pytest.approx(0.02 / 8**0.5)


def test_an_endless_history_is_taken_as_it_is() -> None:
    found = assessed(readings=readings(("10.30", "10.31")), repeatability=(0.01, float("inf"))).decided
    part = found.budget.components[0]
    assert part.standard_uncertainty == pytest.approx(0.01 / 2**0.5)
    assert found.conformance_probability > 0.99


def test_a_cylinder_that_repeats_badly_shields_none_of_its_siblings() -> None:
    """Its own factor is wide, as it must be; that of the others takes no more than an even part of the risk."""
    lists = [("10.90", "10.91")] * 8
    calm = assessed(readings=readings(*lists), repeatability=(0.006, 200.0))
    lists[0] = ("10.10", "10.45")
    torn = assessed(readings=readings(*lists), repeatability=(0.006, 200.0))
    assert calm.verdict == torn.verdict == "nonconforming"
    assert torn.decided.cylinder != 1
    assert (torn.rejection_limit or 0.0) < 10.78
    assert (torn.results[0].rejection_limit or 0.0) > 12.0
    assert torn.rejection_factor == pytest.approx(
        ((torn.rejection_limit or 0.0) - 10.6) / torn.decided.standard_uncertainty
    )
