"""Budgets: what combines how, and how many degrees of freedom are left."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.distributions import INFINITE, coverage_factor, t_probability, t_quantile
from app.metrology.uncertainty import (
    Component,
    combine,
    combine_mean,
    effective_degrees_of_freedom,
    truncated_degrees_of_freedom,
)


def a_component(standard_uncertainty: float = 0.05, **changes: object) -> Component:
    given = {
        "name": "stated_accuracy",
        "label": "stated accuracy",
        "source": "the maker",
        "distribution": "normal",
        "standard_uncertainty": standard_uncertainty,
        "unit": "1",
        "sensitivity": 1.0,
        "degrees_of_freedom": INFINITE,
        "shared": True,
    }
    return Component(**{**given, **changes})  # type: ignore[arg-type]


def test_contributions_add_by_root_sum_of_squares() -> None:
    budget = combine([a_component(0.03, sensitivity=-1.0), a_component(0.02, sensitivity=2.0)])
    assert budget.standard_uncertainty == pytest.approx(0.05)
    assert [part.contribution for part in budget.components] == pytest.approx([0.03, 0.04])
    assert [part.percent_of_variance for part in budget.components] == pytest.approx([36.0, 64.0])
    assert math.isinf(budget.effective_degrees_of_freedom)


def test_a_budget_of_nothing_is_zero_and_certain() -> None:
    budget = combine([a_component(0.0)])
    assert budget.standard_uncertainty == 0.0
    assert budget.components[0].percent_of_variance == 0.0
    assert math.isinf(budget.degrees_of_freedom_used)


def test_one_estimated_source_alone_keeps_its_own_degrees_of_freedom() -> None:
    assert combine([a_component(0.05, degrees_of_freedom=4.0)]).degrees_of_freedom_used == 4.0


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
    one = combine([a_component(0.06), a_component(0.04, name="repeatability", shared=False, degrees_of_freedom=2.0)])
    mean = combine_mean([one, one, one, one])
    assert [part.contribution for part in mean.components] == pytest.approx([0.06, 0.04 / 2.0])
    assert mean.components[1].degrees_of_freedom == pytest.approx(8.0)
    assert "4 cylinders" in mean.components[1].source


@pytest.mark.parametrize(
    ("cylinders", "own", "history", "together"), [(8, 0, 4, 4.0), (8, 1, 6, 8.0), (4, 2, 10, 13.714), (12, 0, 20, 20.0)]
)
def test_degrees_of_freedom_of_one_history_are_counted_once(
    cylinders: int, own: int, history: int, together: float
) -> None:
    """By hand: ν = (Σu²)²/(Σ(u²·own/ν)²/own + (Σu²·c/ν)²/c). Simulated: 4.01, 8.00, 13.75, 19.93."""
    one = combine(
        [
            a_component(
                0.04,
                shared=False,
                degrees_of_freedom=float(own + history),
                degrees_of_freedom_in_common=float(history),
            )
        ]
    )
    assert combine_mean([one] * cylinders).effective_degrees_of_freedom == pytest.approx(together, abs=5e-4)


def test_shared_sources_of_opposite_effect_cancel_in_a_mean() -> None:
    up, down = combine([a_component(0.06)]), combine([a_component(0.06, sensitivity=-1.0)])
    assert combine_mean([up, down]).standard_uncertainty == 0.0


def test_the_own_part_leaves_shared_sources_out() -> None:
    budget = combine([a_component(0.06), a_component(0.04, shared=False)])
    assert budget.own_part.standard_uncertainty == pytest.approx(0.04)


@given(st.floats(0.5, 0.9999), st.sampled_from([1.0, 2.0, 5.0, 30.0, 1e5, INFINITE]))
def test_quantile_and_probability_undo_each_other(probability: float, dof: float) -> None:
    assert t_probability(t_quantile(probability, dof), dof) == pytest.approx(probability, rel=1e-9)


def test_many_degrees_of_freedom_join_the_normal_distribution_without_a_step() -> None:
    assert coverage_factor(0.95, 1e6) == pytest.approx(coverage_factor(0.95, INFINITE), rel=2e-6)
    assert coverage_factor(0.9999, 1e6) == pytest.approx(coverage_factor(0.9999, 2e6), rel=1e-5)


@given(st.floats(0.5, 0.999), st.floats(1.0, 1e7), st.floats(1.0, 10.0))
def test_more_degrees_of_freedom_never_widen_the_interval(probability: float, dof: float, times: float) -> None:
    assert coverage_factor(probability, dof * times) <= coverage_factor(probability, dof) * (1 + 1e-12)
