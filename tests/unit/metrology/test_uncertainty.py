"""Budgets: what combines how, and how many degrees of freedom are left."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.distributions import INFINITE, coverage_factor, t_probability, t_quantile
from app.metrology.measurement import Measurement, Source
from app.metrology.uncertainty import (
    budget_of,
    combine,
    effective_degrees_of_freedom,
    mean_of,
    own_part,
    truncated_degrees_of_freedom,
)
from tests.unit.metrology.builders import parts_of

SHARED, OWN = 1.0, 0.0


def test_contributions_add_by_root_sum_of_squares() -> None:
    sources, measured = parts_of((0.03, -1.0), (0.02, 2.0))
    combined = combine(sources, measured)
    assert combined.standard_uncertainty == pytest.approx(0.05)
    assert combined.contributions == pytest.approx((0.03, 0.04))
    assert math.isinf(combined.effective_dof)
    assert math.isinf(combined.spread.dof)
    budget = budget_of(sources, measured, combined, ["first", "second"])
    assert [part.percent_of_variance for part in budget.components] == pytest.approx([36.0, 64.0])
    assert [part.source for part in budget.components] == ["first", "second"]
    assert [part.contribution for part in budget.components] == list(combined.contributions)
    assert (budget.standard_uncertainty, budget.half_width) == (combined.standard_uncertainty, 0.0)


def test_one_estimated_source_alone_keeps_its_own_degrees_of_freedom() -> None:
    combined = combine(*parts_of((0.05, 1.0, 4.0)))
    assert (combined.effective_dof, combined.spread.dof, combined.parts.own_dof) == (pytest.approx(4.0), 4.0, 4.0)


@pytest.mark.parametrize("order", [(0, 1, 2, 3), (3, 2, 1, 0), (1, 3, 0, 2)])
def test_the_greatest_source_with_mere_limits_stays_rectangular_and_the_rest_is_one_bell(
    order: tuple[int, ...],
) -> None:
    _, measured = parts_of((0.05,), (0.03,), (0.02, 1.0, 4.0), (0.01,))
    described = [
        Source("accuracy", "", "1", "rectangular", True),
        Source("flow", "", "1", "rectangular", True),
        Source("repeats", "", "1", "t", False),
        Source("resolution", "", "1", "rectangular", False),
    ]
    mixed = measured._replace(
        u=tuple(measured.u[place] for place in order), dof=tuple(measured.dof[place] for place in order)
    )
    combined = combine([described[place] for place in order], mixed)
    assert combined.standard_uncertainty == pytest.approx((0.05**2 + 0.03**2 + 0.02**2 + 0.01**2) ** 0.5)
    assert combined.spread.half_width == pytest.approx(0.05 * 3**0.5)
    bell = (0.03**2 + 0.02**2 + 0.01**2) ** 0.5
    assert combined.spread.scale == pytest.approx(bell)
    assert combined.spread.dof == math.floor(bell**4 / (0.02**4 / 4.0))
    assert combined.effective_dof == pytest.approx(combined.standard_uncertainty**4 / (0.02**4 / 4.0))
    assert combined.parts.shared_half_width == pytest.approx(0.05 * 3**0.5)
    assert combined.parts.shared_scale == pytest.approx(0.03)
    assert combined.parts.own_scale == pytest.approx((0.02**2 + 0.01**2) ** 0.5)
    assert combined.parts.own_dof == math.floor((0.02**2 + 0.01**2) ** 2 / (0.02**4 / 4.0) + 0.01)
    assert combined.parts.own_share == pytest.approx(0.0005 / 0.0039)


def test_an_own_rectangle_is_part_of_the_own_bell() -> None:
    sources, measured = parts_of((0.05,), (0.03, 1.0, math.inf, SHARED))
    sources[0] = Source("resolution", "", "1", "rectangular", False)
    combined = combine(sources, measured)
    assert combined.spread.half_width == pytest.approx(0.05 * 3**0.5)
    assert combined.parts == pytest.approx((0.0, 0.03, 0.05, math.inf, math.inf))


def test_a_greater_rectangle_sends_an_own_one_to_the_own_part() -> None:
    sources, measured = parts_of((0.03,), (0.05,))
    sources = [Source("resolution", "", "1", "rectangular", False), Source("accuracy", "", "1", "rectangular", True)]
    combined = combine(sources, measured)
    assert combined.parts == pytest.approx((0.05 * 3**0.5, 0.0, 0.03, math.inf, math.inf))


def test_tiny_and_huge_contributions_neither_vanish_nor_overflow() -> None:
    for scale in (1e-120, 1e120):
        assert effective_degrees_of_freedom([(scale, 3.0), (scale, 5.0)]) == pytest.approx(7.5)


@pytest.mark.parametrize(
    ("computed", "used"), [(16.75, 16.0), (18.9987, 19.0), (18.98, 18.0), (1.0, 1.0), (0.4, 1.0), (INFINITE, INFINITE)]
)
def test_degrees_of_freedom_are_truncated_but_for_a_hundredth(computed: float, used: float) -> None:
    assert truncated_degrees_of_freedom(computed) == used


@given(st.lists(st.tuples(st.floats(1e-6, 1e3), st.floats(1.0, 1e3)), min_size=1, max_size=8))
def test_effective_degrees_of_freedom_lie_between_the_fewest_and_the_sum(parts: list[tuple[float, float]]) -> None:
    effective = effective_degrees_of_freedom(parts)
    assert min(dof for _, dof in parts) * (1 - 1e-9) <= effective <= sum(dof for _, dof in parts) * (1 + 1e-9)


def test_in_a_mean_shared_sources_stay_whole_and_own_ones_shrink() -> None:
    sources, one = parts_of((0.06, 1.0, math.inf, SHARED), (0.04, 1.0, 2.0, OWN))
    mean = mean_of(Measurement(tuple(sources), (one._replace(value=10.0), one, one, one._replace(value=11.0))))
    assert combine(sources, mean).contributions == pytest.approx((0.06, 0.04 / 2.0))
    assert mean.dof[1] == pytest.approx(8.0)
    assert (mean.cylinder, mean.value, mean.mean_indication) == (0, 10.25, None)


def test_a_mean_has_the_mean_of_the_indications() -> None:
    sources, one = parts_of((0.06,))
    both = (one._replace(mean_indication=10.0), one._replace(mean_indication=10.5))
    assert mean_of(Measurement(tuple(sources), both)).mean_indication == 10.25


@pytest.mark.parametrize(
    ("cylinders", "own", "history", "together"), [(8, 0, 4, 4.0), (8, 1, 6, 8.0), (4, 2, 10, 13.714), (12, 0, 20, 20.0)]
)
def test_degrees_of_freedom_of_one_history_are_counted_once(
    cylinders: int, own: int, history: int, together: float
) -> None:
    """By hand: ν = (Σu²)²/(Σ(u²·own/ν)²/own + (Σu²·c/ν)²/c). Simulated: 4.01, 8.00, 13.75, 19.93."""
    sources, one = parts_of((0.04, 1.0, float(own + history), OWN, float(history)))
    mean = mean_of(Measurement(tuple(sources), (one,) * cylinders))
    assert mean.dof[0] == pytest.approx(together, abs=5e-4)


def test_shared_sources_of_opposite_effect_cancel_in_a_mean() -> None:
    sources, up = parts_of((0.06, 1.0, math.inf, SHARED), (0.01,))
    mean = mean_of(Measurement(tuple(sources), (up, up._replace(sensitivity=(-1.0, 1.0)))))
    assert mean.sensitivity[0] == 0.0


def test_the_own_part_leaves_shared_sources_out() -> None:
    sources, measured = parts_of((0.06, 1.0, math.inf, SHARED), (0.04, -1.0, 5.0, OWN))
    assert own_part(sources, measured) == (pytest.approx(0.04), pytest.approx(5.0))


@given(st.floats(0.5, 0.9999), st.sampled_from([1.0, 2.0, 5.0, 30.0, 1e5, INFINITE]))
def test_quantile_and_probability_undo_each_other(probability: float, dof: float) -> None:
    assert t_probability(t_quantile(probability, dof), dof) == pytest.approx(probability, rel=1e-9)


def test_many_degrees_of_freedom_join_the_normal_distribution_without_a_step() -> None:
    assert coverage_factor(0.95, 1e6) == pytest.approx(coverage_factor(0.95, INFINITE), rel=2e-6)
    assert coverage_factor(0.9999, 1e6) == pytest.approx(coverage_factor(0.9999, 2e6), rel=1e-5)


@given(st.floats(0.5, 0.999), st.floats(1.0, 1e7), st.floats(1.0, 10.0))
def test_more_degrees_of_freedom_never_widen_the_interval(probability: float, dof: float, times: float) -> None:
    assert coverage_factor(probability, dof * times) <= coverage_factor(probability, dof) * (1 + 1e-12)


def test_a_shared_source_may_be_an_estimate_too() -> None:
    sources, measured = parts_of((0.03, 1.0, 6.0, SHARED), (0.04, 1.0, 3.0, OWN))
    combined = combine(sources, measured)
    assert combined.effective_dof == pytest.approx(0.05**4 / (0.03**4 / 6.0 + 0.04**4 / 3.0))
    assert combined.parts == pytest.approx((0.0, 0.03, 0.04, 3.0, 6.0))


def test_the_shared_part_has_the_degrees_of_freedom_of_all_that_is_shared_and_no_rectangle() -> None:
    """By hand: bell 0.03² + 0.02² = 0.0013, ν = 0.0013²/(0.03⁴/4) = 8.345…, truncated; the rectangle stays apart."""
    described = [
        Source("accuracy", "", "1", "rectangular", True),
        Source("inspectors", "", "1", "t", True),
        Source("temperature", "", "1", "normal", True),
        Source("repeats", "", "1", "t", False),
    ]
    _, measured = parts_of((0.06,), (0.03, 1.0, 4.0), (0.02,), (0.05, 1.0, 12.0))
    parts = combine(described, measured).parts
    assert parts == pytest.approx((0.06 * 3**0.5, 0.0013**0.5, 0.05, 12.0, 8.0))


def test_the_degrees_of_freedom_of_a_shared_estimate_are_counted_once_in_a_mean() -> None:
    """By hand: four cylinders keep the 4 degrees of freedom of the one study; own ones have 4 · 6 of their own.

    u² = 0.03² + 0.04²/4, ν = u⁴/(0.03⁴/4 + 0.02⁴/24).
    """
    sources, one = parts_of((0.03, 1.0, 4.0, SHARED), (0.04, -1.0, 6.0, OWN))
    combined = combine(sources, mean_of(Measurement(tuple(sources), (one,) * 4)))
    assert combined.contributions == pytest.approx((0.03, 0.02))
    assert combined.effective_dof == pytest.approx(0.0013**2 / (0.03**4 / 4.0 + 0.02**4 / 24.0))
    assert combined.parts.shared_dof == 4.0
    alone = combine(sources, one)
    assert alone.effective_dof == pytest.approx(0.0025**2 / (0.03**4 / 4.0 + 0.04**4 / 6.0))
