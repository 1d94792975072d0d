"""Summaries of draws: the order statistics that JCGM 101:2008, 7.7 asks for, without sorting all."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.intervals import Interval, covered, enough_trials, summarise


def by_sorting(values: list[float], p: float) -> tuple[tuple[float, float], float]:
    """Clause 7.7.2 word for word, ranks from 1: the symmetric interval, and the length of the shortest."""
    y, m = [math.nan, *sorted(values)], len(values)
    q = p * m if float(p * m).is_integer() else math.floor(p * m + 0.5)
    q = int(q)
    r = (m - q) // 2 if (m - q) % 2 == 0 else (m - q + 1) // 2
    shortest = min(y[rank + q] - y[rank] for rank in range(1, m - q + 1))
    return (y[r], y[r + q]), shortest


@given(
    st.lists(st.floats(-1e6, 1e6), min_size=20, max_size=300),
    st.sampled_from([0.1, 0.3, 0.5, 0.6827, 0.9, 0.95]),
)
def test_intervals_are_those_of_the_sorted_draws(values: list[float], p: float) -> None:
    symmetric, length = by_sorting(values, p)
    found = summarise(np.array(values), p)
    assert (found.symmetric.low, found.symmetric.high) == symmetric
    assert found.shortest.length == length
    assert found.trials == len(values)
    assert found.coverage_probability == p
    inside = [value for value in values if found.shortest.low <= value <= found.shortest.high]
    assert len(inside) > covered(len(values), p)


def test_figures_of_a_hundred_whole_numbers() -> None:
    """By hand: 1 … 100, p = 0.95: q = 95, r = 3 of (100 − 95 + 1)/2; mean 50.5, s² = 100·101/12."""
    draws = np.random.Generator(np.random.SFC64(3)).permutation(np.arange(1.0, 101.0))
    found = summarise(draws, 0.95)
    assert found.symmetric == Interval(3.0, 98.0)
    assert found.shortest == Interval(1.0, 96.0)
    assert found.mean == 50.5
    assert found.standard_uncertainty == pytest.approx(math.sqrt(100.0 * 101.0 / 12.0), rel=1e-14)


def test_even_number_outside_is_halved_exactly() -> None:
    """By hand: 1 … 200, p = 0.95: q = 190, r = (200 − 190)/2 = 5."""
    assert summarise(np.arange(200.0, 0.0, -1.0), 0.95).symmetric == Interval(5.0, 195.0)


def test_the_shortest_interval_leaves_the_long_tail_out() -> None:
    draws = np.square(np.arange(0.0, 100.0))
    found = summarise(draws, 0.90)
    assert found.shortest == Interval(0.0, 8100.0)
    assert found.symmetric == Interval(16.0, 94.0**2)


def test_the_first_of_equally_short_intervals_is_taken() -> None:
    assert summarise(np.arange(100.0), 0.5).shortest == Interval(0.0, 50.0)


@pytest.mark.parametrize(("moments", "mean", "deviation"), [(2, True, True), (1, True, False), (0, False, False)])
def test_moments_that_do_not_exist_are_not_told(moments: int, mean: bool, deviation: bool) -> None:
    found = summarise(np.arange(100.0), 0.95, moments)
    assert (found.mean is not None) is mean
    assert (found.standard_uncertainty is not None) is deviation
    assert found.symmetric == Interval(2.0, 97.0)


@pytest.mark.parametrize("wrong", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize("p", [0.3, 0.95])
def test_a_result_that_is_no_number_is_refused(wrong: float, p: float) -> None:
    draws = np.arange(100.0)
    draws[50] = wrong
    with pytest.raises(MeasurementError, match="no finite result") as refused:
        summarise(draws, p, moments=0)
    assert refused.value.field == "draws"


def test_so_many_draws_lie_within() -> None:
    """JCGM 101:2008, 7.7.2: q = pM where whole, else the whole part of pM + ½."""
    assert [covered(trials, 0.95) for trials in (100, 1_000_000, 30, 25, 11)] == [95, 950_000, 29, 24, 10]


def test_too_few_trials_are_refused_and_the_next_more_are_not() -> None:
    assert covered(11, 0.95) == 10
    assert covered(2, 0.5) == 1
    with pytest.raises(MeasurementError, match="take 2000 or more") as refused:
        covered(10, 0.95)
    assert refused.value.field == "trials"
    with pytest.raises(MeasurementError):
        covered(1, 0.1)


def test_a_hundred_trials_beyond_the_interval_are_enough() -> None:
    """JCGM 101:2008, 7.9.4 b: J is the least whole number that is not below 100/(1 − p)."""
    assert [enough_trials(p) for p in (0.95, 0.99, 0.9999, 0.6)] == [2000, 10_000, 1_000_000, 250]
    assert enough_trials(0.3) == 143


@pytest.mark.parametrize("p", [0.0, 1.0, -0.1, 95.0, math.nan])
def test_a_probability_that_is_none_is_refused(p: float) -> None:
    with pytest.raises(MeasurementError, match="between 0 and 1") as refused:
        covered(1000, p)
    assert refused.value.field == "coverage_probability"
