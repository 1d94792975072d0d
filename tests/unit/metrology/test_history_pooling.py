"""An instrument's history: which of its runs are pooled, and when one run scatters wider than it. Worked by hand."""

import math

import pytest

from app.metrology.repeatability import cochran_share, pooled_history, pooled_scatter, scatters_wider

# sums of squares about the mean, in 1e-4: 2, 8, 8/3, 2
LIKE = [[11.24, 11.25, 11.26], [11.23, 11.25, 11.27], [11.24, 11.24, 11.26], [11.25, 11.26, 11.24]]
WILD = [9.90, 10.50, 11.10]
POOLED = math.sqrt((2.0 + 8.0 + 8.0 / 3.0 + 2.0) * 1e-4 / 8.0)


def symmetric(half_range: float) -> list[float]:
    """Three figures whose sum of squares about their mean is 2 half_range²."""
    return [10.0 - half_range, 10.0, 10.0 + half_range]


def test_runs_that_scatter_alike_are_all_pooled() -> None:
    found = pooled_history(LIKE)
    assert found is not None
    assert found == pytest.approx((POOLED, 8.0), rel=1e-9)
    assert found == pooled_scatter(LIKE)


@pytest.mark.parametrize("place", range(5))
def test_a_wild_run_is_left_out_wherever_it_stands(place: int) -> None:
    runs = [*LIKE[:place], WILD, *LIKE[place:]]
    assert pooled_history(runs) == pytest.approx((POOLED, 8.0), rel=1e-9)
    whole = pooled_scatter(runs)
    assert whole == pytest.approx((math.sqrt((8.0 * POOLED**2 + 0.72) / 10.0), 10.0), rel=1e-9)


def test_one_wild_run_after_the_other_is_left_out_but_two_runs_stay() -> None:
    wilder = symmetric(30.0)
    assert pooled_history([*LIKE, WILD, wilder]) == pytest.approx((POOLED, 8.0), rel=1e-9)
    left = pooled_history([LIKE[0], WILD, wilder])
    assert left == pytest.approx((math.sqrt((2e-4 + 0.72) / 4.0), 4.0), rel=1e-9)


def test_of_fewer_than_three_runs_none_is_left_out() -> None:
    assert pooled_history([LIKE[0], WILD]) == pytest.approx((math.sqrt((2e-4 + 0.72) / 4.0), 4.0), rel=1e-9)
    assert pooled_history([WILD]) == pytest.approx((0.6, 2.0), rel=1e-9)
    assert pooled_history([LIKE[0], WILD, [11.0], [11.1]]) == pooled_history([LIKE[0], WILD])
    assert pooled_history([[11.0], []]) is None


@pytest.mark.parametrize(("beside", "dof"), [(0.999, 6.0), (1.001, 4.0)])
def test_the_share_from_which_a_run_is_left_out_is_cochran_s_at_1_percent(beside: float, dof: float) -> None:
    """Three runs of three: ISO 5725-2, Table 4 has 0.942 for p = 3, n = 3 at 1 %. From memory."""
    critical = cochran_share(2, 4, 3, 0.01)
    assert critical == pytest.approx(0.942, abs=5e-4)
    widest = math.sqrt(beside * critical / (1.0 - critical) * 2.0)  # its squares over those of two with half range 1
    found = pooled_history([symmetric(1.0), symmetric(widest), symmetric(1.0)])
    assert found is not None
    assert found[1] == dof


def test_none_is_left_out_where_the_step_hides_the_scatter_of_the_rest() -> None:
    still = [11.25, 11.25, 11.25]
    found = pooled_history([still, still, still, [11.25, 11.25, 11.26]])
    assert found == pytest.approx((math.sqrt(2e-4 / 3.0 / 8.0), 8.0), rel=1e-9)


@pytest.mark.parametrize(("beside", "wider"), [(0.999, False), (1.001, True)])
def test_a_run_is_wider_than_the_history_beyond_f_at_1_percent(beside: float, wider: bool) -> None:
    """F(0.99; 2, 8) = 8.65, any table of F. From memory."""
    values = symmetric(math.sqrt(beside * 8.649110640673515))
    assert scatters_wider(values, (1.0, 8.0), 0.01) is wider


@pytest.mark.parametrize(("beside", "wider"), [(0.999, False), (1.001, True)])
def test_a_history_is_no_narrower_than_the_step_of_the_display(beside: float, wider: bool) -> None:
    """JCGM 100:2008, F.2.2.1: a step of 0.1 has the variance 0.01/12. Found."""
    values = symmetric(math.sqrt(beside * 8.649110640673515 * 0.01 / 12.0))
    assert scatters_wider(values, (0.0, 8.0), 0.1) is wider
    assert not scatters_wider([11.25, 11.25, 11.26], (0.0, 8.0), 0.01)


def test_nothing_is_wider_without_a_history_or_without_a_repeat() -> None:
    assert not scatters_wider(WILD, None, 0.01)
    assert not scatters_wider([9.9], (0.001, 8.0), 0.01)
    assert scatters_wider(WILD[:2], (0.001, 8.0), 0.01)
