"""The error's own distribution, the factor of a whole engine, and the probability that all of it conforms."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import integrate, stats

from app.metrology import rejection, spread
from app.metrology.distributions import INFINITE, hermite_nodes, legendre_nodes
from app.metrology.joint import Figure, joint_conformance_probability
from app.metrology.rejection import Parts, rejection_factor, shared_out
from app.metrology.spread import Spread, bell_density, bell_height, bell_probability
from tests.unit.metrology.builders import a_rule

DOF = st.sampled_from([1.0, 2.0, 5.0, 40.0, 3000.0, INFINITE])
SPREADS = st.builds(Spread, st.floats(0.01, 0.5), st.floats(0.01, 0.5), DOF)


def by_quadrature(x: float, one: Spread) -> float:
    """P(error ≤ x) by another way: the mean of the bell's distribution function over the rectangle."""
    bell = stats.norm if math.isinf(one.dof) else stats.t(one.dof)
    edges = [point for point in (x - 6 * one.scale, x, x + 6 * one.scale) if abs(point) < one.half_width]
    area, _ = integrate.quad(
        lambda r: bell.cdf((x - r) / one.scale), -one.half_width, one.half_width, points=edges or None, limit=200
    )
    return float(area) / (2.0 * one.half_width)


@given(SPREADS, st.floats(-2.0, 2.0))
def test_the_convolution_is_that_of_its_parts(one: Spread, x: float) -> None:
    """Independent: scipy's adaptive quadrature over scipy.stats' distributions."""
    assert one.probability(x) == pytest.approx(by_quadrature(x, one), abs=1e-8)


@given(SPREADS, st.floats(-1.0, 1.0))
def test_the_density_is_the_slope_and_the_distribution_symmetric(one: Spread, x: float) -> None:
    step = 1e-5
    slope = (one.probability(x + step) - one.probability(x - step)) / (2 * step)
    assert one.probability_and_density(x)[1] == pytest.approx(slope, rel=2e-4, abs=2e-6)
    assert one.probability(x) + one.probability(-x) == pytest.approx(1.0, abs=1e-14)
    assert one.probability(0.0) == 0.5


@given(SPREADS, st.floats(0.5, 0.9999), st.sampled_from([0.0, 0.05, 0.5, 3.0]))
def test_quantile_and_probability_undo_each_other_from_any_guess(one: Spread, probability: float, start: float) -> None:
    assert one.probability(one.quantile(probability, start)) == pytest.approx(probability, abs=1e-10)


def test_a_part_too_small_to_count_leaves_the_other_alone() -> None:
    assert Spread(0.1, 0.0, INFINITE).quantile(0.95) == pytest.approx(0.09)
    assert [Spread(0.1, 0.0, INFINITE).probability(x) for x in (-0.2, -0.05, 0.0, 0.2)] == [0.0, 0.25, 0.5, 1.0]
    assert Spread(0.1, 0.0, INFINITE).probability_and_density(0.05)[1] == pytest.approx(5.0)
    assert Spread(0.1, 0.0, INFINITE).probability_and_density(0.15)[1] == 0.0
    assert Spread(0.0, 0.1, 4.0).quantile(0.95) == pytest.approx(0.1 * 2.1318, abs=1e-5)
    assert Spread(0.0, 0.1, 4.0).probability(0.21318) == pytest.approx(0.95, abs=1e-5)
    assert Spread(0.0, 0.1, INFINITE).probability_and_density(0.0)[1] == pytest.approx(3.98942, abs=1e-5)
    nearly = Spread(1e-5, 0.1, 4.0), Spread(1.2e-5, 0.1, 4.0)  # on either side of what counts as a rectangle
    assert nearly[0].quantile(0.95) == pytest.approx(nearly[1].quantile(0.95), rel=1e-6)


def test_the_standard_uncertainty_is_that_of_both_parts() -> None:
    assert Spread(0.3, 0.4, 5.0).standard_uncertainty == pytest.approx((0.03 + 0.16) ** 0.5)


@pytest.mark.parametrize("dof", [1.0, 3.0, 50.0, INFINITE])
def test_the_bell_is_that_of_scipy(dof: float) -> None:
    reference = stats.norm if math.isinf(dof) else stats.t(dof)
    for z in (-5.0, -1.0, 0.0, 0.3, 2.5):
        assert bell_density(z, dof) == pytest.approx(reference.pdf(z), rel=1e-12)
        assert bell_probability(z, dof) == pytest.approx(reference.cdf(z), rel=1e-12)
    assert bell_height(3.0) == pytest.approx(stats.t(3).pdf(0.0))


def test_a_search_that_runs_out_of_steps_gives_its_last_guess(monkeypatch: pytest.MonkeyPatch) -> None:
    one = Spread(0.1, 0.05, 4.0)
    exact = one.quantile(0.975)
    factor = rejection_factor(Parts(0.1, 0.03, 0.04, 24.0), one, 8, 0.95)
    monkeypatch.setattr(spread, "MOST_STEPS", 2)
    assert one.quantile(0.975) == pytest.approx(exact, rel=0.2)
    monkeypatch.setattr(rejection, "MOST_STEPS", 1)
    assert rejection_factor(Parts(0.1, 0.03, 0.04, 24.0), one, 8, 0.95) == pytest.approx(factor, rel=0.2)


def test_nodes_integrate_what_they_should() -> None:
    nodes, weights = legendre_nodes(8)
    assert sum(w * x**4 for x, w in zip(nodes, weights, strict=True)) == pytest.approx(0.4)
    nodes, weights = hermite_nodes(8)
    assert sum(weights) == pytest.approx(1.0)
    assert sum(w * x**4 for x, w in zip(nodes, weights, strict=True)) == pytest.approx(3.0)


# ---- the factor of a whole engine ---------------------------------------------------------------------------------


def spread_of(parts: Parts) -> Spread:
    return Spread(parts.shared_half_width, math.hypot(parts.shared_scale, parts.own_scale), INFINITE)


@pytest.mark.parametrize("cylinders", [2, 8])
@pytest.mark.parametrize("own_share", [0.02, 0.4, 0.95])
@pytest.mark.parametrize("confidence", [0.80, 0.95])
def test_the_factor_is_that_of_the_multivariate_normal(cylinders: int, own_share: float, confidence: float) -> None:
    """Independent: scipy's multivariate normal distribution with equal correlations, by quasi Monte Carlo."""
    parts = Parts(0.0, (1.0 - own_share) ** 0.5, own_share**0.5, INFINITE)
    factor = rejection_factor(parts, spread_of(parts), cylinders, confidence)
    covariance = np.full((cylinders, cylinders), 1.0 - own_share) + np.eye(cylinders) * own_share
    theirs = stats.multivariate_normal(cov=covariance, seed=1, abseps=1e-4, releps=1e-4)
    assert theirs.cdf(np.full(cylinders, factor)) == pytest.approx(confidence, abs=5e-4)


@pytest.mark.parametrize(
    "parts",
    [
        Parts(0.1, 0.03, 0.02, INFINITE),
        Parts(0.1, 0.03, 0.02, 24.0),
        Parts(0.02, 0.01, 0.1, 24.0),
        Parts(0.0, 0.0, 0.1, 10.0),
        Parts(0.1, 0.0, 0.0, INFINITE),
        Parts(0.0, 0.05, 0.03, 24.0, 3.0),  # inspectors known from a small study, wider than what is own
        Parts(0.1, 0.03, 0.02, INFINITE, 2.0),
        Parts(0.0, 0.03, 0.05, 24.0, 3.0),  # and narrower
        Parts(0.02, 0.02, 0.1, INFINITE, 5.0),
    ],
)
def test_the_greatest_of_simulated_errors_stays_below_the_factor_as_often_as_stated(parts: Parts) -> None:
    """A fixed seed, 200,000 engines of eight: four standard deviations of the count are 0.2 points."""
    chance = np.random.default_rng(7)
    trials = 200_000
    bell_of_all = (
        chance.normal(size=trials) if math.isinf(parts.shared_dof) else chance.standard_t(parts.shared_dof, trials)
    )
    shared = parts.shared_half_width * chance.uniform(-1, 1, trials) + parts.shared_scale * bell_of_all
    bells = (
        chance.normal(size=(8, trials)) if math.isinf(parts.own_dof) else chance.standard_t(parts.own_dof, (8, trials))
    )
    greatest = shared + (parts.own_scale * bells).max(axis=0)
    u = math.hypot(parts.shared_half_width / 3**0.5, parts.shared_scale, parts.own_scale)
    dof = INFINITE if math.isinf(parts.own_dof) else parts.own_dof
    bell = math.hypot(parts.shared_scale, parts.own_scale)
    one = Spread(parts.shared_half_width, bell, dof if parts.shared_scale == 0.0 else INFINITE)
    factor = rejection_factor(parts, one, 8, 0.95)
    assert np.mean(greatest > factor * u) == pytest.approx(0.05, abs=0.002)


def test_one_cylinder_takes_its_own_quantile_and_more_never_take_less() -> None:
    parts = Parts(0.1, 0.03, 0.02, 24.0)
    one = Spread(0.1, math.hypot(0.03, 0.02), 250.0)
    factors = [rejection_factor(parts, one, cylinders, 0.95) for cylinders in range(1, 25)]
    assert factors[0] == pytest.approx(one.quantile(0.95) / one.standard_uncertainty, rel=1e-9)
    assert factors == sorted(factors)
    assert factors[-1] > factors[0]


def test_nothing_own_means_one_error_for_all() -> None:
    parts = Parts(0.1, 0.03, 0.0, INFINITE)
    assert rejection_factor(parts, spread_of(parts), 12, 0.95) == rejection_factor(parts, spread_of(parts), 1, 0.95)


def test_where_the_tails_reach_too_far_the_risk_is_shared_out() -> None:
    for own_dof, confidence in ((2.0, 0.95), (3.0, 0.9999)):
        parts = Parts(0.0, 0.05, 0.05, own_dof)
        one = Spread(0.0, math.hypot(0.05, 0.05), 4.0 * own_dof)
        factor = rejection_factor(parts, one, 12, confidence)
        assert factor == pytest.approx(shared_out(one, 12, confidence))
        assert factor * one.standard_uncertainty == pytest.approx(one.quantile(1.0 - (1.0 - confidence) / 12))


# ---- the probability that all of it conforms ----------------------------------------------------------------------


@pytest.mark.parametrize(
    "parts",
    [
        Parts(0.0, 0.05, 0.03, INFINITE),
        Parts(0.1, 0.03, 0.02, 12.0),
        Parts(0.1, 0.0, 0.02, INFINITE),
        Parts(0.0, 0.05, 0.03, INFINITE, 3.0),
        Parts(0.1, 0.03, 0.02, 12.0, 2.0),
        Parts(0.1, 0.03, 0.001, 12.0, 1.0),
    ],
)
@pytest.mark.parametrize("kind", ["maximum", "minimum", "range"])
def test_the_joint_probability_is_that_of_simulated_engines(parts: Parts, kind: str) -> None:
    rule = a_rule(kind=kind, limit=10.6, lower_limit=10.4 if kind == "range" else None, tolerance=0.0)
    values = [10.45, 10.5, 10.55, 10.58]
    chance = np.random.default_rng(11)
    trials = 200_000
    bell_of_all = (
        chance.normal(size=trials) if math.isinf(parts.shared_dof) else chance.standard_t(parts.shared_dof, trials)
    )
    shared = parts.shared_half_width * chance.uniform(-1, 1, trials) + parts.shared_scale * bell_of_all
    bells = (
        chance.normal(size=(4, trials)) if math.isinf(parts.own_dof) else chance.standard_t(parts.own_dof, (4, trials))
    )
    true = np.array(values)[:, None] - shared - parts.own_scale * bells
    inside = {"maximum": true <= 10.6, "minimum": true >= 10.6, "range": (true <= 10.6) & (true >= 10.4)}[kind]
    found = joint_conformance_probability(rule, [Figure(value, parts) for value in values])
    assert found == pytest.approx(float(inside.all(axis=0).mean()), abs=0.0045)


def test_without_a_shared_part_the_probabilities_multiply() -> None:
    rule = a_rule(limit=10.6, tolerance=0.0)
    parts = Parts(0.0, 0.0, 0.05, INFINITE)
    single = stats.norm.cdf(1.0)
    assert joint_conformance_probability(rule, [Figure(10.55, parts)] * 3) == pytest.approx(single**3, abs=1e-12)
    certain = joint_conformance_probability(rule, [Figure(10.55, Parts(0.0, 0.0, 0.0, INFINITE))])
    assert certain == 1.0
