"""Risks over a class and behind one value, against closed forms, an independent library and simulation."""

import math

import numpy as np
import pytest
from scipy import stats

from app.metrology.errors import MeasurementError
from app.metrology.risk.global_risk import global_risk, measured_engine, measured_once, specific_risk
from app.metrology.risk.intervals import DecisionLimits, Interval, decision_limits
from app.metrology.risk.operating_characteristic import Errors, Odds
from app.metrology.risk.processes import Gamma, Normal, RectangularAndNormal, Uniform

MAXIMUM = Interval(upper=10.6)


@pytest.mark.parametrize("rule", ["simple_acceptance", "guarded_acceptance", "guarded_rejection", "three_zones"])
def test_normal_engines_and_errors_agree_with_an_independent_bivariate_normal(rule: str) -> None:
    mean, spread, u = 10.45, 0.12, 0.06
    limits = decision_limits(rule, MAXIMUM, 0.08, 0.11)
    accept, reject = limits.acceptance.upper, limits.rejection.upper
    together = stats.multivariate_normal([mean, mean], [[spread**2, spread**2], [spread**2, spread**2 + u**2]])
    risk = measured_once(Normal(mean, spread), MAXIMUM, limits, Normal(0.0, u))
    measured = stats.norm(mean, math.hypot(spread, u))
    assert risk.nonconforming == pytest.approx(stats.norm.sf(10.6, mean, spread), rel=1e-12)
    assert risk.accepted == pytest.approx(measured.cdf(accept), abs=1e-9)
    assert risk.rejected == pytest.approx(measured.sf(reject), abs=1e-9)
    assert risk.inconclusive == pytest.approx(measured.cdf(reject) - measured.cdf(accept), abs=2e-9)
    both = together.cdf([10.6, accept])
    assert risk.consumers_risk == pytest.approx(measured.cdf(accept) - both, abs=2e-6)
    producers = stats.norm.cdf(10.6, mean, spread) - together.cdf([10.6, reject])
    assert risk.producers_risk == pytest.approx(producers, abs=2e-6)
    assert risk.nonconforming_among_accepted == pytest.approx(risk.consumers_risk / risk.accepted, rel=1e-12)
    assert risk.conforming_among_rejected == pytest.approx(risk.producers_risk / risk.rejected, rel=1e-12)
    assert risk.accepted_among_nonconforming == pytest.approx(risk.consumers_risk / risk.nonconforming, rel=1e-12)
    assert risk.rejected_among_conforming == pytest.approx(risk.producers_risk / (1 - risk.nonconforming), rel=1e-12)
    assert risk.error_bound < 1e-9


def test_a_minimum_mirrors_a_maximum() -> None:
    error = RectangularAndNormal(0.05, 0.02)
    most = measured_once(Normal(10.5, 0.1), MAXIMUM, decision_limits("three_zones", MAXIMUM, 0.05, 0.07), error)
    minimum = Interval(lower=10.6)
    least = measured_once(Normal(10.7, 0.1), minimum, decision_limits("three_zones", minimum, 0.05, 0.07), error)
    for name in ("nonconforming", "accepted", "rejected", "consumers_risk", "producers_risk"):
        assert getattr(least, name) == pytest.approx(getattr(most, name), abs=1e-10)


def test_a_simulated_season_stays_within_its_statistical_bounds() -> None:
    """Eight cylinders alike, limits of error and own scatter. 5 standard deviations of a share of 200 000 each."""
    rng, trials = np.random.default_rng(20261126), 200_000
    true = rng.normal(10.5, 0.1, trials)
    shared = rng.uniform(-0.08, 0.08, trials) + rng.normal(0.0, 0.02, trials)
    worst = true + shared + rng.normal(0.0, 0.03, (8, trials)).max(axis=0)
    limits = decision_limits("three_zones", MAXIMUM, 0.09, 0.14)
    errors = Errors(RectangularAndNormal(0.08, 0.02), Normal(0.0, 0.03))
    risk = measured_engine(Normal(10.5, 0.1), MAXIMUM, limits, errors, 8)
    accepted, rejected, wrong = worst <= 10.51, worst > 10.74, true > 10.6
    seen = {
        "nonconforming": wrong,
        "accepted": accepted,
        "rejected": rejected,
        "inconclusive": ~accepted & ~rejected,
        "consumers_risk": accepted & wrong,
        "producers_risk": rejected & ~wrong,
    }
    for name, happened in seen.items():
        expected = getattr(risk, name)
        assert abs(happened.mean() - expected) < 5.0 * math.sqrt(expected * (1.0 - expected) / trials), name


def test_a_share_of_nothing_is_not_given() -> None:
    limits = DecisionLimits(MAXIMUM, MAXIMUM)
    inside = measured_once(Uniform(9.0, 9.5), MAXIMUM, limits, Normal(0.0, 0.01))
    assert inside.conforming_among_rejected is None
    assert inside.accepted_among_nonconforming is None
    assert inside.nonconforming_among_accepted == 0.0
    assert inside.rejected_among_conforming == 0.0
    past = measured_once(Uniform(11.0, 11.5), MAXIMUM, limits, Normal(0.0, 0.01))
    assert past.nonconforming_among_accepted is None
    assert past.rejected_among_conforming is None
    assert past.conforming_among_rejected == 0.0
    assert past.accepted_among_nonconforming == 0.0


def test_the_bound_of_the_risk_holds_that_of_the_odds_it_was_given() -> None:
    risk = global_risk(Uniform(10.0, 11.0), MAXIMUM, lambda value: Odds(0.25, 0.5, 0.25, 1e-3 if value > 10.9 else 0.0))
    assert risk.error_bound == pytest.approx(1e-3, rel=1e-6)
    assert risk.consumers_risk == pytest.approx(0.4 * 0.25, abs=1e-12)
    assert risk.producers_risk == pytest.approx(0.6 * 0.5, abs=1e-12)
    assert risk.inconclusive == pytest.approx(0.25, abs=1e-12)


@pytest.mark.parametrize(
    ("tolerance", "expected"),
    [
        (MAXIMUM, stats.norm.cdf(0.5)),
        (Interval(lower=10.6), stats.norm.sf(0.5)),
        (Interval(10.5, 10.6), stats.norm.cdf(0.5) - stats.norm.cdf(-1.5)),
    ],
)
def test_behind_one_value_the_error_alone_speaks_without_a_spread_of_the_class(
    tolerance: Interval, expected: float
) -> None:
    risk = specific_risk(10.575, Normal(0.0, 0.05), tolerance)
    assert risk.conforming == pytest.approx(expected, abs=1e-9)
    assert risk.nonconforming == pytest.approx(1.0 - expected, abs=1e-9)
    assert risk.error_bound == 0.0


def test_limits_of_error_speak_with_their_own_shape() -> None:
    error = RectangularAndNormal(0.1, 0.02)
    assert specific_risk(10.6, error, MAXIMUM).conforming == pytest.approx(0.5, abs=1e-12)
    assert specific_risk(10.65, error, MAXIMUM).conforming == pytest.approx(error.cdf(-0.05), abs=1e-12)
    assert specific_risk(10.65, error, Interval(lower=10.6)).conforming == pytest.approx(
        1 - error.cdf(-0.05), abs=1e-12
    )


@pytest.mark.parametrize("measured", [10.3, 10.58, 10.64, 10.75])
def test_with_a_normal_spread_of_the_class_the_posterior_is_the_normal_one(measured: float) -> None:
    """JCGM 106:2012, 7.2.2: mean (y/u² + m/s²)/(1/u² + 1/s²), variance 1/(1/u² + 1/s²). From memory."""
    mean, spread, u = 10.4, 0.1, 0.06
    precision = 1.0 / u**2 + 1.0 / spread**2
    posterior = stats.norm((measured / u**2 + mean / spread**2) / precision, math.sqrt(1.0 / precision))
    risk = specific_risk(measured, Normal(0.0, u), MAXIMUM, Normal(mean, spread))
    assert risk.conforming == pytest.approx(posterior.cdf(10.6), abs=1e-9)
    assert risk.nonconforming == pytest.approx(posterior.sf(10.6), abs=1e-9)
    assert 0.0 < risk.error_bound < 1e-9


def test_a_spread_that_ends_before_the_limit_leaves_no_doubt() -> None:
    risk = specific_risk(10.55, Normal(0.0, 0.05), MAXIMUM, Uniform(10.0, 10.58))
    assert risk.conforming == 1.0
    assert risk.nonconforming == 0.0
    skewed = specific_risk(1.9, Normal(0.0, 0.25), Interval(upper=2.0), Gamma(4.0, 4.0))
    beside = stats.gamma(4.0, scale=0.25)
    x = np.linspace(0.0, 4.5, 90_001)
    weight = beside.pdf(x) * stats.norm.pdf(1.9, x, 0.25)
    assert skewed.conforming == pytest.approx(weight[x <= 2.0].sum() / weight.sum(), abs=1e-4)


@pytest.mark.parametrize("process", [Uniform(9.0, 9.5), Normal(9.5, 0.1), Normal(10.4, 0.01)])
def test_a_value_that_the_spread_makes_impossible_is_refused(process: Uniform | Normal) -> None:
    with pytest.raises(MeasurementError, match="a measured value of 11 cannot come about") as raised:
        specific_risk(11.0, Normal(0.0, 0.05), MAXIMUM, process)
    assert raised.value.field == "measured"
    assert "take a wider spread" in raised.value.sentence
