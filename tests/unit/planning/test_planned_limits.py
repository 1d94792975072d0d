"""A plan takes its errors and its limits from the core: a sheet that turns out as planned is judged by the same."""

import pytest

from app.metrology.assessment import (
    AcousticObservations,
    AssessmentInputs,
    Conditions,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
    assess,
)
from app.metrology.geometry import swept_volume_cm3
from app.metrology.risk.intervals import DecisionLimits
from app.planning import budget

ENGINE = Engine(101.6, 88.39, 6)
HISTORY = (0.02, 12.0)


def rule(kind: str = "maximum", applies_to: str = "every_cylinder", decision_rule: str = "three_zones") -> Rule:
    return Rule(kind, 10.5, 0.1, applies_to, decision_rule, 0.95, "measure_again")


def planned(
    instrument: Instrument, asked: Rule, between: tuple[float, float] | None
) -> tuple[budget.Parts, DecisionLimits]:
    limit = 10.6 if asked.kind == "maximum" else 10.4
    parts, dof = budget.planned_parts(ENGINE, instrument, "coolant_gauge", 3, HISTORY, limit, between)
    return parts, budget.limits_by(asked, dof)(parts, ENGINE.cylinders)


@pytest.mark.parametrize("between", [None, (0.03, 2.4)])
@pytest.mark.parametrize("accuracy_meaning", ["limits", "expanded_k2", "standard"])
@pytest.mark.parametrize("kind", ["maximum", "minimum"])
@pytest.mark.parametrize("applies_to", ["every_cylinder", "mean_of_cylinders"])
@pytest.mark.parametrize(
    "decision_rule", ["simple_acceptance", "guarded_acceptance", "guarded_rejection", "three_zones"]
)
def test_a_sheet_that_scatters_as_its_history_is_judged_by_the_limits_planned(
    between: tuple[float, float] | None, accuracy_meaning: str, kind: str, applies_to: str, decision_rule: str
) -> None:
    """Three indications with a standard deviation of 0.02, as the history has it, about the tolerance limit."""
    asked, instrument = (
        rule(kind, applies_to, decision_rule),
        Instrument("acoustic_resonance", 0.01, 0.05, accuracy_meaning),
    )
    middle = 10.6 if kind == "maximum" else 10.4
    shown = tuple(f"{middle + step:.2f}" for step in (-0.02, 0.0, 0.02))
    swept = swept_volume_cm3(ENGINE.bore_mm, ENGINE.stroke_mm)
    observations = AcousticObservations(
        instrument,
        Settings(swept * ENGINE.cylinders, ENGINE.cylinders, 20.0),
        Conditions(20.0, 6.0, "coolant_gauge"),
        tuple(CylinderReading(number, shown) for number in range(1, ENGINE.cylinders + 1)),
        HISTORY,
        reproducibility=between,
    )
    sheet = assess(AssessmentInputs("acoustic_resonance", ENGINE, observations, asked))
    parts, limits = planned(instrument, asked, between)
    one = sheet.results[0].budget.components
    assert [part.name for part in parts] == [component.name for component in one]
    assert [part.standard_uncertainty for part in parts] == pytest.approx([component.contribution for component in one])
    upper = kind == "maximum"
    accept = limits.acceptance.upper if upper else limits.acceptance.lower
    reject = limits.rejection.upper if upper else limits.rejection.lower
    # for the mean the core counts the cylinders' own degrees of freedom together, the plan those of one
    within = 1e-9 if applies_to == "every_cylinder" else 2e-5
    if sheet.acceptance_limit is not None:
        assert accept == pytest.approx(sheet.acceptance_limit, abs=within)
    if sheet.rejection_limit is not None:
        assert reject == pytest.approx(sheet.rejection_limit, abs=within)
    assert (sheet.acceptance_limit is None) == (decision_rule == "guarded_rejection")


def test_more_indications_divide_the_repeatability_alone() -> None:
    instrument = Instrument("acoustic_resonance", 0.01, 0.05, "limits")
    one, dof = budget.planned_parts(ENGINE, instrument, "coolant_gauge", 1, HISTORY, 10.6)
    four, more = budget.planned_parts(ENGINE, instrument, "coolant_gauge", 4, HISTORY, 10.6)
    assert (dof["repeatability"], more["repeatability"]) == (12.0, 15.0)
    by_name = {part.name: part.standard_uncertainty for part in one}
    expected = {**by_name, "repeatability": by_name["repeatability"] / 2.0}
    assert {part.name: part.standard_uncertainty for part in four} == pytest.approx(expected)
    assert budget.with_repeats(one, 1, 4) == four


def test_a_temperature_better_known_and_another_accuracy_change_their_own_part() -> None:
    instrument = Instrument("acoustic_resonance", 0.01, 0.05, "limits")
    parts, _ = budget.planned_parts(ENGINE, instrument, "coolant_gauge", 1, HISTORY, 10.6)
    settled, _ = budget.planned_parts(ENGINE, instrument, "thermometer_in_chamber", 1, HISTORY, 10.6)
    assert [
        part.standard_uncertainty for part in budget.with_temperature(parts, "coolant_gauge", "thermometer_in_chamber")
    ] == pytest.approx([part.standard_uncertainty for part in settled])
    assert budget.accuracy_of(parts) == (pytest.approx(0.05 / 3.0**0.5), True)
    assert budget.accuracy_of(budget.with_accuracy(parts, 0.01, rectangular=False)) == (0.01, False)


def test_the_rule_says_how_many_values_are_judged() -> None:
    assert budget.judged_count(rule(), 8) == 8
    assert budget.judged_count(rule(applies_to="mean_of_cylinders"), 8) == 1
    assert budget.judged_count(rule(applies_to="designated_cylinder"), 8) == 1
    assert budget.tolerance_of(rule("minimum")).lower == 10.4
    assert budget.tolerance_of(rule()).ends == (10.6,)
