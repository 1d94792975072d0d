"""The second opinion on a sheet: the deciding result simulated whole, and what is said of it."""

import subprocess
import sys
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from app.metrology.assessment import assess
from app.metrology.evaluation import evaluate
from app.metrology.inputs import AssessmentInputs, Conditions
from app.metrology.measurement import DISPLACEMENT, Measured, Measurement, Source
from app.metrology.methods import liquid_volume
from app.metrology.monte_carlo.adaptive import run_fixed
from app.metrology.monte_carlo.budgets import linear_model
from app.metrology.monte_carlo.engine import MAXIMUM, EngineSimulation
from app.metrology.second_opinion import (
    LEAST_SEQUENCES,
    SEED,
    SecondOpinion,
    model_of,
    second_opinion,
    simulated_conformance_probability,
)
from tests.unit.metrology.builders import a_rule, an_instrument, readings, some_inputs
from tests.unit.metrology.volumetry_builders import ENGINE, a_pouring, fills, poured_cylinders, some_liquid

HISTORY = (0.011, 24.0)
STUDIED = an_instrument(
    airflow_tolerance_l_min=2.0, airflow_sensitivity=-0.02, airflow_sensitivity_standard_uncertainty=0.02
)


def opinion_on(rule: dict[str, Any] | None = None, **changes: Any) -> tuple[SecondOpinion, AssessmentInputs]:
    inputs = some_inputs(rule, **changes)
    return second_opinion(inputs, evaluate(inputs)), inputs


@pytest.mark.parametrize(
    "changes",
    [
        {},
        {"repeatability": HISTORY},
        {"rule": {"applies_to": "mean_of_cylinders"}},
        {"rule": {"applies_to": "mean_of_cylinders"}, "repeatability": HISTORY},
        {"rule": {"applies_to": "designated_cylinder", "designated_cylinder": 3}},
        {"conditions": Conditions(80.0, 6.0, "coolant_gauge")},
        {"conditions": Conditions(20.0, 1.0, "thermometer_in_chamber", 6.0, 1.6)},
        {"instrument": an_instrument(airflow_tolerance_l_min=2.0, airflow_sensitivity=-0.05)},
        {"instrument": an_instrument(accuracy_meaning="expanded_k2")},
        {"instrument": STUDIED},
        {"reproducibility": (0.05, 60.0)},
        {"instrument": STUDIED, "reproducibility": (0.05, 60.0), "rule": {"applies_to": "mean_of_cylinders"}},
        {"coverage_probability": 0.99},
    ],
    ids=[
        "plain",
        "history",
        "mean",
        "mean-history",
        "designated",
        "coolant",
        "crank",
        "airflow",
        "bell",
        "slope",
        "inspectors",
        "slope-inspectors-mean",
        "99",
    ],
)
def test_simulation_bears_out_the_budget_of_a_usual_sheet(changes: dict[str, Any]) -> None:
    found, inputs = opinion_on(**changes)
    evaluation = evaluate(inputs)
    decided = evaluation.decided
    value, u = decided.measured.value, decided.combined.standard_uncertainty
    assert found.validated
    assert found.steady
    assert found.cylinder == decided.measured.cylinder
    assert found.mean == pytest.approx(value, abs=found.tolerance)
    assert found.standard_uncertainty == pytest.approx(u, rel=0.02)
    assert found.symmetric_low == pytest.approx(value - decided.coverage_factor * u, abs=found.tolerance)
    assert found.symmetric_high == pytest.approx(value + decided.coverage_factor * u, abs=found.tolerance)
    assert found.shortest_high - found.shortest_low <= found.symmetric_high - found.symmetric_low
    assert (found.d_low, found.d_high) == (
        abs(value - decided.coverage_factor * u - found.symmetric_low),
        abs(value + decided.coverage_factor * u - found.symmetric_high),
    )
    assert found.trials >= LEAST_SEQUENCES * 10_000
    assert (found.seed, found.coverage_probability) == (SEED, inputs.coverage_probability)


def test_each_source_is_seen_by_the_simulation() -> None:
    """Widening any one of them widens the simulated result by what the budget says."""
    narrow = an_instrument(stated_accuracy=0.02)
    sheets: list[dict[str, Any]] = [
        {"instrument": an_instrument(stated_accuracy=0.3)},
        {"instrument": replace(narrow, airflow_tolerance_l_min=5.0, airflow_sensitivity=0.05)},
        {"instrument": replace(STUDIED, stated_accuracy=0.02, airflow_tolerance_l_min=7.0)},
        {"instrument": narrow, "reproducibility": (0.09, 60.0)},
        {"instrument": replace(narrow, resolution=0.3)},
        {"instrument": narrow, "conditions": Conditions(20.0, 8.0, "coolant_gauge")},
        {"instrument": narrow, "conditions": Conditions(20.0, 0.1, "thermometer_in_chamber", 12.0)},
        {"instrument": narrow, "repeatability": (0.2, 30.0)},
    ]
    wide = []
    for sheet in sheets:
        inputs = some_inputs(**sheet)
        decided = evaluate(inputs).decided
        outcome = run_fixed(EngineSimulation(model_of(inputs, evaluate(inputs).measurement), (0,), 3), 100_000)
        first = evaluate(inputs).results[0].combined
        assert outcome.summaries[0].standard_uncertainty == pytest.approx(first.standard_uncertainty, rel=0.05)
        wide.append(decided.combined.standard_uncertainty)
    assert min(wide) > 0.08


def test_bore_and_stroke_are_seen_by_the_simulation() -> None:
    engine = replace(some_inputs().engine, bore_standard_uncertainty_mm=1.0, stroke_standard_uncertainty_mm=1.5)
    inputs = some_inputs(engine=engine, instrument=an_instrument(stated_accuracy=0.02))
    found = second_opinion(inputs, evaluate(inputs))
    above = evaluate(inputs).decided.measured.value - 1.0
    expected = above * np.hypot(2.0 / engine.bore_mm, 1.5 / engine.stroke_mm)
    assert found.standard_uncertainty == pytest.approx(expected, rel=0.02)
    assert expected > 0.2


def test_the_page_is_told_how_often_and_with_what_seed() -> None:
    found, _ = opinion_on()
    assert found.sentences == (
        "100,000 times every source was drawn at random (seed 101) and the result worked out anew, "
        "until the figures stood still.",
        "The budget gives 10.114 to 10.356, the simulation 10.114 to 10.357.",
        "The ends differ by 0.000 below and 0.001 above, within 0.005: the simulation bears the budget out.",
    )


def test_the_same_sheet_gets_the_same_opinion_and_another_seed_another() -> None:
    inputs = some_inputs()
    found = evaluate(inputs)
    assert second_opinion(inputs, found) == second_opinion(inputs, found)
    other = second_opinion(inputs, found, seed=5)
    assert other.seed == 5
    assert other.mean != second_opinion(inputs, found).mean


def test_three_repeats_and_no_history_are_trusted_less_by_the_simulation_than_by_the_budget() -> None:
    """t on 2 degrees of freedom beside other sources: Welch and Satterthwaite claim a factor that is too small."""
    found, _ = opinion_on(
        readings=readings(("10.21", "10.31", "10.25")), instrument=an_instrument(stated_accuracy=0.01)
    )
    assert not found.validated
    assert found.steady
    assert found.standard_uncertainty is None
    assert found.mean == pytest.approx(10.2567, abs=0.001)
    assert found.d_low == pytest.approx(0.039, abs=0.002)
    assert found.sentences[-1] == "The simulated interval is wider at both ends: the budget claims more than it can."


def test_two_repeats_and_no_history_validate_nothing() -> None:
    """t on 1 degree of freedom has no mean, and its ends do not stand still within a million trials."""
    found, _ = opinion_on(readings=readings(("10.21", "10.31")), instrument=an_instrument(stated_accuracy=0.01))
    assert not found.steady
    assert not found.validated
    assert (found.mean, found.standard_uncertainty) == (None, None)
    assert found.trials == 1_000_000
    assert len(found.sentences) == 2
    assert found.sentences[0].endswith("even so the figures did not stand still, and bear nothing out.")


def test_what_does_not_stand_still_is_not_validated_however_near_it_lies() -> None:
    inputs = some_inputs(coverage_probability=0.999)
    found = second_opinion(inputs, evaluate(inputs))
    assert found.d_low < found.tolerance
    assert found.d_high < found.tolerance
    assert not found.steady
    assert not found.validated


@pytest.mark.parametrize(
    "changes",
    [
        {"rule": {"limit": 10.15, "tolerance": 0.1}},
        {"rule": {"limit": 10.15, "tolerance": 0.1}, "repeatability": (0.05, 100.0)},
        {"rule": {"kind": "minimum", "limit": 10.3, "tolerance": 0.1}},
        {"rule": {"kind": "range", "limit": 10.2, "lower_limit": 10.2, "tolerance": 0.1}},
        {"rule": {"limit": 10.15, "tolerance": 0.1, "applies_to": "mean_of_cylinders"}},
        {
            "rule": {
                "limit": 10.15,
                "tolerance": 0.1,
                "applies_to": "designated_cylinder",
                "designated_cylinder": 2,
            }
        },
        {"rule": {"limit": 10.15, "tolerance": 0.1}, "readings": readings(("10.24", "10.25"), (), ("10.20", "10.22"))},
        {"rule": {"limit": 10.2, "tolerance": 0.1}, "reproducibility": (0.08, 2.0)},
    ],
    ids=["maximum", "own-errors", "minimum", "range", "mean", "designated", "one-not-measured", "few-inspectors"],
)
def test_the_probability_that_the_engine_conforms_comes_out_as_the_core_integrates_it(changes: dict[str, Any]) -> None:
    inputs = some_inputs(**changes)
    simulated = simulated_conformance_probability(inputs, evaluate(inputs), trials=200_000)
    expected = assess(inputs).engine_conformance_probability
    assert 0.02 < expected < 0.98
    assert simulated == pytest.approx(expected, abs=0.006)
    opinion = second_opinion(inputs, evaluate(inputs))
    assert opinion.engine_conformance_probability == pytest.approx(simulated, abs=0.006)


def test_a_short_history_in_common_makes_cylinders_fail_together_a_little_more_often() -> None:
    """The simulation draws one history for all; the core's integral takes each cylinder's t by itself."""
    inputs = some_inputs({"limit": 10.15, "tolerance": 0.1}, repeatability=(0.05, 10.0))
    simulated = simulated_conformance_probability(inputs, evaluate(inputs), trials=200_000)
    expected = assess(inputs).engine_conformance_probability
    assert 0.002 < simulated - expected < 0.012


def test_the_greatest_of_eight_cylinders_stays_below_the_rejection_factor_at_the_stated_risk() -> None:
    """By simulation of the whole function: every cylinder at one value, 95 % for the engine."""
    inputs = some_inputs(readings=readings(*([("10.50",)] * 8)), repeatability=(0.08, 40.0))
    found = evaluate(inputs)
    decided = found.decided
    maximum = EngineSimulation(model_of(inputs, found.measurement), (MAXIMUM,), 9).next(200_000)[0]
    assert decided.judged is not None
    decision = decided.judged.decision
    assert decision.rejection_limit is not None
    bound = decided.measured.value + decision.rejection_limit - decision.tolerance_limit
    assert np.mean(maximum > bound) == pytest.approx(0.05, abs=0.004)


# ——— methods that come with a budget of volumes or lengths


def a_liquid_sheet(**changes: Any) -> AssessmentInputs:
    observed = some_liquid(
        pouring=a_pouring(loss_cm3=0.1, loss_standard_uncertainty_cm3=0.1, trapped_air_at_most_cm3=0.2),
        plug_hole_cm3=0.8,
        plug_hole_standard_uncertainty_cm3=0.05,
        crank_within_deg=1.0,
        cylinders=poured_cylinders(fills("74.80", "74.90", "74.85"), fills("75.00", "74.90", "75.05")),
        **changes,
    )
    return AssessmentInputs("liquid_volume", replace(ENGINE, cylinders=2), observed, a_rule())


def test_a_chamber_poured_out_is_simulated_with_its_ratio_whole() -> None:
    inputs = a_liquid_sheet(repeatability=(0.1, 20.0))
    measurement = liquid_volume.measure(inputs.engine, inputs.observations)
    model = model_of(inputs, measurement)
    summaries = run_fixed(EngineSimulation(model, (0, 1), 4), 400_000).summaries
    for one, summary in zip(measurement.results, summaries, strict=True):
        u = np.sqrt(sum((c * u) ** 2 for c, u in zip(one.sensitivity, one.u, strict=True)))
        # q ∝ 1/Vc: to second order the mean of q rises by the relative variance of Vc
        assert summary.mean == pytest.approx(one.value + u**2 / (one.value - 1.0), abs=5.0 * u / 400_000**0.5)
        assert summary.standard_uncertainty == pytest.approx(u, rel=0.01)


def test_a_wrong_chamber_is_simulated_by_the_volumes_and_not_by_the_slope() -> None:
    """Half the chamber missing doubles q; the slope would add half of it."""
    sources = (Source("volume", "volume", "cm³", "normal", True), Source("bore", "bore", "mm", "normal", True))
    inputs = a_liquid_sheet()
    q = 9.0
    slopes = (-q / 80.0, 2.0 * q / inputs.engine.bore_mm)  # Vc = 80 cm³, of which the bore is no part
    one = Measured(1, 1.0 + q, (1.0, 1.0), slopes, (np.inf, np.inf), (0.0, 0.0))
    function = model_of(inputs, Measurement(sources, (one,))).function
    errors = np.array([[0.0, -40.0, 0.0], [0.0, 0.0, 0.1 * inputs.engine.bore_mm]])
    assert function(errors, np.empty((1, 0, 3))) == pytest.approx(np.array([[1.0 + q, 1.0 + 2.0 * q, 1.0 + 1.21 * q]]))


def test_a_stroke_changes_the_swept_volume_once() -> None:
    inputs = a_liquid_sheet()
    sources = (Source("stroke", "stroke", "mm", "normal", True),)
    one = Measured(1, 10.0, (1.0,), (9.0 / inputs.engine.stroke_mm,), (np.inf,), (0.0,))
    function = model_of(inputs, Measurement(sources, (one,))).function
    errors = np.array([[0.1 * inputs.engine.stroke_mm]])
    assert function(errors, np.empty((1, 0, 1))) == pytest.approx(np.array([[1.0 + 1.1 * 9.0]]))


def test_a_displacement_is_simulated_as_the_sum_of_its_parts() -> None:
    sources = (
        Source("diameters", "diameters", "mm", "t", False),
        Source("gauge", "gauge", "mm", "rectangular", True),
        Source("reading", "reading", "mm", "u-shaped", False),
    )
    results = (Measured(0, 5733.0, (0.01, 0.02, 0.03), (100.0, -50.0, 20.0), (8.0, np.inf, np.inf), (0.0, 0.0, 0.0)),)
    rule = a_rule(quantity=DISPLACEMENT, limit=5735.0, tolerance=0.0, applies_to="whole_engine")
    inputs = AssessmentInputs("dimensional", ENGINE, None, rule)
    model = model_of(inputs, Measurement(sources, results))
    assert model.function(np.array([[0.5]]), np.array([[[0.1], [-0.2]]])) == pytest.approx(
        np.array([[5733.0 - 25.0 + 10.0 - 4.0]])
    )
    summary = run_fixed(EngineSimulation(model, (0,), 4), 200_000).summaries[0]
    assert summary.standard_uncertainty == pytest.approx(np.sqrt(8.0 / 6.0 + 1.0 + 0.36), rel=0.01)
    assert linear_model(Measurement(sources, results)).own == model.own


def test_the_core_loads_no_generator_until_something_is_simulated() -> None:
    code = "import sys, app.metrology.second_opinion; print('app.metrology.monte_carlo.draws' in sys.modules)"
    found = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert found.stdout.strip() == "False"
