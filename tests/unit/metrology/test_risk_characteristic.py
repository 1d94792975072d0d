"""The odds of each verdict, against closed forms, an independent library and simulation with honest bounds."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from app.metrology.errors import MeasurementError
from app.metrology.risk.intervals import DecisionLimits, Interval, decision_limits
from app.metrology.risk.operating_characteristic import Errors, Odds, alike, curve, engine_odds
from app.metrology.risk.processes import Normal, RectangularAndNormal, Uniform

MAXIMUM = Interval(upper=10.6)
THREE_ZONES = decision_limits("three_zones", MAXIMUM, 0.1, 0.15)
SHARED, OWN = 0.06, 0.03


def errors(shared: float = SHARED, own: float = OWN) -> Errors:
    return Errors(Normal(0.0, shared), Normal(0.0, own))


@pytest.mark.parametrize("value", [10.3, 10.5, 10.6, 10.72, 10.9])
def test_one_cylinder_with_normal_errors_has_the_odds_of_a_normal_distribution(value: float) -> None:
    spread = math.hypot(SHARED, OWN)
    odds = engine_odds([value], errors(), THREE_ZONES)
    assert odds.accepted == pytest.approx(stats.norm.cdf(10.5, value, spread), abs=1e-10)
    assert odds.rejected == pytest.approx(stats.norm.sf(10.75, value, spread), abs=1e-10)
    assert odds.inconclusive == pytest.approx(1.0 - odds.accepted - odds.rejected, abs=1e-15)
    assert odds.error_bound < 1e-9


@given(
    st.lists(st.floats(min_value=10.3, max_value=10.8), min_size=2, max_size=5),
    st.floats(min_value=0.01, max_value=0.2),
    st.floats(min_value=0.01, max_value=0.2),
)
@settings(max_examples=25, deadline=None)
def test_correlated_cylinders_agree_with_an_independent_multivariate_normal(
    values: list[float], shared: float, own: float
) -> None:
    count = len(values)
    covariance = np.full((count, count), shared**2) + np.eye(count) * own**2
    together = stats.multivariate_normal(values, covariance, abseps=1e-6, maxpts=2_000_000, seed=7)
    odds = engine_odds(values, errors(shared, own), THREE_ZONES)
    assert odds.accepted == pytest.approx(together.cdf(np.full(count, 10.5)), abs=5e-5)
    assert odds.rejected == pytest.approx(1.0 - together.cdf(np.full(count, 10.75)), abs=5e-5)


@pytest.mark.parametrize("count", [2, 4])
def test_two_sided_limits_agree_with_an_independent_multivariate_normal(count: int) -> None:
    limits = decision_limits("three_zones", Interval(10.4, 10.6), 0.02, 0.05)
    covariance = np.full((count, count), SHARED**2) + np.eye(count) * OWN**2
    values = [10.45 + 0.02 * index for index in range(count)]
    together = stats.multivariate_normal(values, covariance, abseps=1e-6, maxpts=2_000_000, seed=7)
    odds = engine_odds(values, errors(), limits)
    inside = together.cdf(np.full(count, 10.58), lower_limit=np.full(count, 10.42))
    kept = together.cdf(np.full(count, 10.65), lower_limit=np.full(count, 10.35))
    assert odds.accepted == pytest.approx(inside, abs=5e-5)
    assert odds.rejected == pytest.approx(1.0 - kept, abs=5e-5)


@pytest.mark.parametrize("cylinders", [1, 4, 8, 12])
def test_a_simulation_of_instruments_with_limits_of_error_stays_within_its_statistical_bounds(cylinders: int) -> None:
    """5 standard deviations of a share of 200 000: missed by chance less than once in a million."""
    rng, trials = np.random.default_rng(20261125 + cylinders), 200_000
    shared = rng.uniform(-0.1, 0.1, trials) + rng.normal(0.0, 0.03, trials)
    values = np.linspace(10.5, 10.6, cylinders)
    measured = values + shared[:, None] + rng.normal(0.0, OWN, (trials, cylinders))
    odds = engine_odds(list(values), Errors(RectangularAndNormal(0.1, 0.03), Normal(0.0, OWN)), THREE_ZONES)
    worst = measured.max(axis=1)
    seen = {"accepted": worst <= 10.5, "rejected": worst > 10.75, "inconclusive": (worst > 10.5) & (worst <= 10.75)}
    for verdict, happened in seen.items():
        expected = getattr(odds, verdict)
        assert abs(happened.mean() - expected) < 5.0 * math.sqrt(expected * (1.0 - expected) / trials), verdict


def test_an_engine_at_the_limit_is_wrongly_rejected_more_often_the_more_cylinders_it_has() -> None:
    """Own errors alone, and the factor of one cylinder: 1 − 0.95ᴺ."""
    guard = float(stats.norm.ppf(0.95)) * OWN
    limits = decision_limits("guarded_rejection", MAXIMUM, 0.0, guard)
    for cylinders, printed in [(1, 0.05), (4, 0.18549375), (8, 0.3365795687)]:
        odds = engine_odds([10.6] * cylinders, Errors(None, Normal(0.0, OWN)), limits)
        assert odds.rejected == pytest.approx(printed, abs=1e-9)
        assert odds.accepted == pytest.approx(1.0 - printed, abs=1e-9)
        assert odds.inconclusive == 0.0
        assert odds.error_bound == 0.0


def test_with_a_common_error_alone_the_greatest_and_the_least_cylinder_decide() -> None:
    limits = DecisionLimits(Interval(10.4, 10.6), Interval(10.3, 10.7))
    shared = Normal(0.0, 0.05)
    odds = engine_odds([10.45, 10.5, 10.52], Errors(shared, None), limits)
    assert odds.accepted == pytest.approx(shared.cdf(0.08) - shared.cdf(-0.05), abs=1e-12)
    assert odds.rejected == pytest.approx(1.0 - shared.cdf(0.18) + shared.cdf(-0.15), abs=1e-12)
    apart = engine_odds([10.3, 10.6], Errors(shared, None), limits)
    assert apart.accepted == 0.0  # cylinders further apart than the limits are never both inside


def test_without_any_error_the_true_values_decide_and_the_limits_count_as_inside() -> None:
    limits = DecisionLimits(Interval(10.4, 10.6), Interval(10.3, 10.7))
    certain = Errors(None, None)
    assert engine_odds([10.4, 10.6], certain, limits) == Odds(1.0, 0.0, 0.0, 0.0)
    assert engine_odds([10.39, 10.6], certain, limits) == Odds(0.0, 0.0, 1.0, 0.0)
    assert engine_odds([10.4, 10.61], certain, limits) == Odds(0.0, 0.0, 1.0, 0.0)
    assert engine_odds([10.4, 10.71], certain, limits) == Odds(0.0, 1.0, 0.0, 0.0)
    assert engine_odds([10.29, 10.5], certain, limits) == Odds(0.0, 1.0, 0.0, 0.0)


def test_a_common_error_with_a_kink_is_integrated_over_its_whole_width_only() -> None:
    odds = engine_odds([10.5], Errors(Uniform(-0.2, 0.2), Normal(0.0, 1e-4)), THREE_ZONES)
    assert odds.accepted == pytest.approx(0.5, abs=1e-9)
    assert odds.rejected == pytest.approx(0.0, abs=1e-9)
    odds = engine_odds([10.7], Errors(Uniform(-0.2, 0.2), Normal(0.0, 1e-4)), THREE_ZONES)
    assert odds.rejected == pytest.approx(0.375, abs=1e-9)


def test_an_engine_without_cylinders_is_refused() -> None:
    with pytest.raises(MeasurementError, match="at least one cylinder") as raised:
        engine_odds([], errors(), THREE_ZONES)
    assert raised.value.field == "true_values"


def test_the_characteristic_is_drawn_from_one_end_to_the_other() -> None:
    drawn = curve(alike(4, errors(), THREE_ZONES), 10.2, 11.0, 5)
    assert [value for value, _ in drawn] == pytest.approx([10.2, 10.4, 10.6, 10.8, 11.0])
    assert drawn[-1][0] == 11.0
    assert [odds.accepted for _, odds in drawn] == sorted((odds.accepted for _, odds in drawn), reverse=True)
    assert [odds.rejected for _, odds in drawn] == sorted(odds.rejected for _, odds in drawn)
    assert drawn[2][1] == engine_odds([drawn[2][0]] * 4, errors(), THREE_ZONES)


def test_where_nothing_lies_between_acceptance_and_rejection_nothing_is_inconclusive() -> None:
    simple = DecisionLimits(Interval(10.4, 10.6), Interval(10.4, 10.6))
    odds = engine_odds([10.45, 10.58], errors(), simple)
    assert odds.inconclusive == 0.0
    assert odds.accepted + odds.rejected == 1.0
    zones = DecisionLimits(Interval(10.4, 10.6), Interval(10.4, 10.6000001))
    assert odds.accepted == pytest.approx(engine_odds([10.45, 10.58], errors(), zones).accepted, abs=1e-9)


@pytest.mark.parametrize("limits", [Interval(upper=10.6), Interval(lower=10.6), Interval(10.4, 10.6), Interval()])
def test_a_limit_that_there_is_not_keeps_nothing_out(limits: Interval) -> None:
    odds = engine_odds([10.55], Errors(None, Normal(0.0, 0.05)), DecisionLimits(limits, limits))
    assert odds.accepted == pytest.approx(
        stats.norm.cdf(limits.upper, 10.55, 0.05) - stats.norm.cdf(limits.lower, 10.55, 0.05), abs=1e-14
    )


def test_what_is_certain_is_neither_less_nor_more() -> None:
    for value in (9.8, 9.85, 9.9, 9.95, 10.0):
        odds = engine_odds([value] * 8, Errors(RectangularAndNormal(0.1, 0.03), Normal(0.0, OWN)), THREE_ZONES)
        assert odds.rejected >= 0.0
        assert odds.accepted <= 1.0
        assert odds.accepted == pytest.approx(1.0, abs=1e-9)
