"""What an adopted flow study and an adopted gauge study add to a budget by acoustic resonance, and what they leave."""

import math
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from app.metrology.assessment import MeasurementError, assess, assessment_to_data, inputs_from_data, inputs_to_data
from app.metrology.evaluation import evaluate
from app.metrology.inputs import AssessmentInputs, Conditions
from app.metrology.monte_carlo.engine import MAXIMUM, EngineSimulation
from app.metrology.results import CylinderResult
from app.metrology.second_opinion import model_of, second_opinion
from app.metrology.spread import Spread
from app.metrology.uncertainty import Component
from tests.unit.metrology.builders import an_instrument, readings, some_inputs, true_settings

SLOPE, SLOPE_U, FLOW = -0.05, 0.02, 0.3
FLOW_STUDY = an_instrument(
    airflow_tolerance_l_min=FLOW, airflow_sensitivity=SLOPE, airflow_sensitivity_standard_uncertainty=SLOPE_U
)
GAUGE_STUDY = (0.04, 3.5)


def lines(inputs: AssessmentInputs) -> dict[str, Component]:
    """The budget of the result that decided, by name."""
    return {part.name: part for part in assess(inputs).decided.budget.components}


def without(result: CylinderResult, *names: str) -> list[Component]:
    """The other lines; their shares of the variance shrink when one is added."""
    return [replace(part, percent_of_variance=0.0) for part in result.budget.components if part.name not in names]


# ---- the flow study -----------------------------------------------------------------------------------------------


def test_the_uncertainty_of_the_slope_is_a_line_of_its_own_beside_the_airflow() -> None:
    inputs = some_inputs(instrument=FLOW_STUDY)
    found = lines(inputs)
    flow, slope = found["airflow"], found["airflow_sensitivity"]
    assert (flow.sensitivity, flow.standard_uncertainty) == (pytest.approx(SLOPE), pytest.approx(FLOW / 3**0.5))
    assert (slope.standard_uncertainty, slope.unit, slope.distribution) == (SLOPE_U, "min/L", "normal")
    assert slope.sensitivity == pytest.approx(FLOW / 3**0.5)
    assert slope.shared
    assert math.isinf(slope.degrees_of_freedom)
    assert slope.label == "sensitivity to the airflow"
    assert slope.source == (
        "the flow study's figure for a litre per minute has a standard uncertainty of 0.02; it counts as far as the "
        "airflow may stray, ±0.3 L/min (second order: JCGM 100, 5.1.2, note)"
    )
    exact = replace(FLOW_STUDY, airflow_sensitivity_standard_uncertainty=0.0)
    assert without(assess(inputs).decided, "airflow_sensitivity") == without(
        assess(some_inputs(instrument=exact)).decided
    )


@pytest.mark.parametrize("slope", [-0.05, 0.0, 0.05])
def test_together_they_have_the_variance_of_the_product_whatever_the_sign_of_the_slope(slope: float) -> None:
    found = lines(some_inputs(instrument=replace(FLOW_STUDY, airflow_sensitivity=slope)))
    together = found["airflow"].contribution ** 2 + found["airflow_sensitivity"].contribution ** 2
    assert together == pytest.approx((slope**2 + SLOPE_U**2) * FLOW**2 / 3.0, rel=1e-12)


def test_both_lines_follow_what_was_dialled() -> None:
    """Of twice the displacement every litre per minute counts half."""
    inputs = some_inputs(instrument=FLOW_STUDY)
    doubled = replace(
        inputs.observations.settings, displacement_cm3=2.0 * true_settings(inputs.engine).displacement_cm3
    )
    found = lines(some_inputs(instrument=FLOW_STUDY, settings=doubled))
    assert found["airflow"].sensitivity == pytest.approx(SLOPE / 2.0)
    assert found["airflow_sensitivity"].sensitivity == pytest.approx(FLOW / 3**0.5 / 2.0)


@pytest.mark.parametrize(
    ("slope", "slope_u", "one_slope", "two_lines"),
    [
        (0.05, 0.0, 0.950, 0.950),
        (0.05, 0.005, 0.940, 0.942),
        (0.05, 0.02, 0.900, 0.926),
        (0.05, 0.035, 0.891, 0.926),
        (0.0, 0.02, 0.895, 0.932),
    ],
)
def test_two_lines_cover_more_of_the_product_than_one_effective_slope_within_limits(
    slope: float, slope_u: float, one_slope: float, two_lines: float
) -> None:
    """Intervals of 95 % where the airflow is all there is, the product drawn 400,000 times (fixed seed)."""
    chance = np.random.default_rng(51)
    drawn = (slope + slope_u * chance.normal(size=400_000)) * FLOW * chance.uniform(-1.0, 1.0, 400_000)
    within_limits = Spread(math.hypot(slope, slope_u) * FLOW, 0.0, math.inf)
    with_a_bell = Spread(slope * FLOW, slope_u * FLOW / 3**0.5, math.inf)
    covered = [np.mean(np.abs(drawn) <= one.quantile(0.975)) for one in (within_limits, with_a_bell)]
    assert covered == pytest.approx([one_slope, two_lines], abs=0.0015)


def test_the_simulation_draws_slope_and_airflow_and_bears_the_budget_out() -> None:
    inputs = some_inputs(
        instrument=replace(
            FLOW_STUDY, accuracy_meaning="expanded_k2", airflow_tolerance_l_min=2.0, airflow_sensitivity=0.02
        )
    )
    opinion, u = second_opinion(inputs, evaluate(inputs)), assess(inputs).decided.standard_uncertainty
    assert opinion.standard_uncertainty == pytest.approx(u, rel=0.01)
    assert opinion.validated
    slope_u = (SLOPE_U * 2.0) ** 2 / 3.0
    assert slope_u / u**2 > 0.08  # so it is seen whether the slope is drawn at all
    assert opinion.standard_uncertainty > math.sqrt(u**2 - slope_u / 2.0)


# ---- the gauge study ----------------------------------------------------------------------------------------------


def test_what_inspectors_differ_by_is_one_shared_line_with_the_degrees_of_freedom_of_the_study() -> None:
    inputs = some_inputs(reproducibility=GAUGE_STUDY)
    between = lines(inputs)["reproducibility"]
    assert (between.standard_uncertainty, between.degrees_of_freedom) == GAUGE_STUDY
    assert (between.sensitivity, between.contribution) == (pytest.approx(1.0), pytest.approx(0.04))
    assert (between.unit, between.distribution, between.shared) == ("1", "t", True)
    assert between.label == "reproducibility (between inspectors)"
    assert between.source == (
        "the gauge study adopted for this instrument: inspectors differ by a standard deviation of 0.04, from 3.5 "
        "degrees of freedom; one inspector measured all cylinders"
    )
    assert without(assess(inputs).decided, "reproducibility") == without(assess(some_inputs()).decided)


def test_a_difference_known_from_elsewhere_names_no_degrees_of_freedom() -> None:
    between = lines(some_inputs(reproducibility=(0.04, math.inf)))["reproducibility"]
    assert between.source == (
        "the gauge study adopted for this instrument: inspectors differ by a standard deviation of 0.04; "
        "one inspector measured all cylinders"
    )


def test_every_cylinder_has_it_and_only_the_first_line_and_this_one_are_estimates() -> None:
    inputs = some_inputs(
        instrument=FLOW_STUDY,
        reproducibility=GAUGE_STUDY,
        conditions=Conditions(20.0, 1.0, "thermometer_in_chamber", 2.0),
    )
    for result in assess(inputs).results:
        parts = result.budget.components
        assert [part.name for part in parts] == [
            "repeatability", "resolution", "stated_accuracy", "reproducibility", "gas_temperature", "airflow",
            "airflow_sensitivity", "crank_position", "bore", "stroke",
        ]  # fmt: skip
        estimates = {part.name for part in parts if not math.isinf(part.degrees_of_freedom)}
        assert estimates == {"repeatability", "reproducibility"}


def test_a_mean_of_cylinders_does_not_average_the_inspector_away_and_counts_the_study_once() -> None:
    """By hand: ν of the mean is u⁴/(0.04⁴/3.5) where nothing else is an estimate. Four or twelve: the same."""
    for cylinders in (4, 12):
        inputs = some_inputs(
            {"applies_to": "mean_of_cylinders"},
            readings=readings(*[("10.20",)] * cylinders),
            repeatability=(0.02, math.inf),
            reproducibility=GAUGE_STUDY,
        )
        decided = assess(inputs).decided
        between = next(part for part in decided.budget.components if part.name == "reproducibility")
        assert (between.contribution, between.degrees_of_freedom) == (pytest.approx(0.04), 3.5)
        assert decided.effective_degrees_of_freedom == pytest.approx(
            decided.standard_uncertainty**4 / (0.04**4 / 3.5), rel=1e-12
        )


def test_few_inspectors_widen_the_interval_and_never_make_an_engine_conform() -> None:
    certain = assess(some_inputs({"limit": 10.4, "tolerance": 0.0}))
    many, few = (
        assess(some_inputs({"limit": 10.4, "tolerance": 0.0}, reproducibility=(0.06, dof))) for dof in (200.0, 2.0)
    )
    widths = [one.decided.expanded_uncertainty for one in (certain, many, few)]
    assert widths == sorted(widths)
    assert widths[2] > 1.15 * widths[1] > 1.3 * widths[0]
    assert (certain.verdict, few.verdict) == ("conforming", "inconclusive")


@pytest.mark.parametrize(("dof", "risk"), [(40.0, 0.050), (3.0, 0.060)])
def test_an_engine_is_rejected_at_about_its_stated_risk_however_small_the_study(dof: float, risk: float) -> None:
    """By simulation of the whole function, 200,000 engines of eight at one value: t of the study once for all.

    From few inspectors Welch and Satterthwaite claim a little less than draws of t do; with truth planted and studies
    drawn, the risk is kept (test_simulation).
    """
    inputs = some_inputs(
        readings=readings(*([("10.50",)] * 8)), repeatability=(0.05, 40.0), reproducibility=(0.06, dof)
    )
    found = evaluate(inputs)
    assert found.decided.judged is not None
    decision = found.decided.judged.decision
    assert decision.rejection_limit is not None
    bound = found.decided.measured.value + decision.rejection_limit - decision.tolerance_limit
    drawn = EngineSimulation(model_of(inputs, found.measurement), (MAXIMUM,), 9).next(200_000)[0]
    assert np.mean(drawn > bound) == pytest.approx(risk, abs=0.002)


# ---- kept for years -----------------------------------------------------------------------------------------------


def as_form_2(inputs: AssessmentInputs) -> dict[str, Any]:
    """As core 2.0 kept it."""
    data = inputs_to_data(inputs)
    del data["observations"]["reproducibility"]
    del data["observations"]["instrument"]["airflow_sensitivity_standard_uncertainty"]
    return {**data, "form": "2"}


def test_inputs_of_form_2_are_read_as_they_were_meant_and_give_the_same_result() -> None:
    inputs = some_inputs(instrument=an_instrument(airflow_tolerance_l_min=0.3, airflow_sensitivity=-0.05))
    read = inputs_from_data(as_form_2(inputs))
    assert read == inputs
    assert read.observations.reproducibility is None
    assert assessment_to_data(assess(read)) == assessment_to_data(assess(inputs))
    assert inputs_to_data(read)["form"] == "3"


def test_both_studies_come_back_exactly() -> None:
    inputs = some_inputs(instrument=FLOW_STUDY, reproducibility=(0.1 + 0.2, 2.4))
    data = inputs_to_data(inputs)
    assert data["observations"]["reproducibility"] == ["0.30000000000000004", "2.4"]
    assert inputs_from_data(data) == inputs


@pytest.mark.parametrize(
    ("place", "name", "value"),
    [
        ("inputs.observations", "reproducibility", ["0.04", "3.5"]),
        ("inputs.observations.instrument", "airflow_sensitivity_standard_uncertainty", "0.02"),
    ],
)
def test_what_only_the_new_form_knows_is_not_dropped_from_an_older_one_unseen(
    place: str, name: str, value: object
) -> None:
    data = as_form_2(some_inputs())
    where = data["observations"]["instrument"] if place.endswith("instrument") else data["observations"]
    where[name] = value
    with pytest.raises(MeasurementError) as refused:
        inputs_from_data(data)
    assert refused.value.field == place
    assert refused.value.sentence == f"{place} holds {name}, which only form 3 knows."


@pytest.mark.parametrize(
    ("entry", "field"),
    [({"observations": None}, "inputs.observations"), ({"method": "teardown"}, "inputs.observations")],
)
def test_an_older_form_without_its_observations_or_of_another_method_is_read_as_strictly(
    entry: dict[str, Any], field: str
) -> None:
    with pytest.raises(MeasurementError) as refused:
        inputs_from_data({**as_form_2(some_inputs()), **entry})
    assert refused.value.field == field


def test_an_older_form_without_an_instrument_is_named() -> None:
    data = as_form_2(some_inputs())
    data["observations"]["instrument"] = "borrowed"
    with pytest.raises(MeasurementError) as refused:
        inputs_from_data(data)
    assert refused.value.field == "inputs.observations.instrument"
