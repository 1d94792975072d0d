"""Limits, single values and moving ranges by hand, and what no chart can be made of."""

import math

import pytest

from app.metrology.charts.constants import chart_constants
from app.metrology.charts.individuals import FEWEST, FIRM, baseline_limits, moving_range_limits, moving_ranges
from app.metrology.charts.limits import Limits, all_finite, check_sigma, limits_about
from app.metrology.errors import MeasurementError

D2 = 2.0 / math.sqrt(math.pi)
UP_AND_DOWN = [10.0, 10.2, 10.0, 10.2, 10.0, 10.2, 10.0, 10.2]


def test_a_value_on_a_limit_is_not_beyond_it() -> None:
    limits = Limits(10.0, 9.7, 10.3, 0.1)
    assert [limits.side(value) for value in (9.7, 10.3, 9.7 - 2e-10, 10.3 + 2e-10)] == [0, 0, 0, 0]
    assert [limits.side(value) for value in (9.7 - 2e-9, 10.3 + 2e-9)] == [-1, 1]
    assert limits.beyond([10.4, 10.0, 9.6, 10.3]) == (0, 2)


def test_limits_stand_three_standard_deviations_off_unless_told_otherwise() -> None:
    assert limits_about(10.0, 0.1) == Limits(10.0, pytest.approx(9.7), pytest.approx(10.3), 0.1)
    assert limits_about(10.0, 0.1, 2.0) == Limits(10.0, 9.8, 10.2, 0.1)


def test_moving_ranges_are_one_fewer_than_the_values() -> None:
    assert moving_ranges([1.0, 3.0, 2.5]) == (2.0, 0.5)
    assert moving_ranges([1.0]) == ()
    assert moving_ranges([]) == ()


def test_limits_of_a_baseline_by_hand() -> None:
    """Every step is 0.2, so σ = 0.2/d₂ = 0.1772; the mean is 10.1; D₄ = 1 + 3·√(π/2 − 1)."""
    chart = baseline_limits(UP_AND_DOWN)
    assert chart.count == 8
    assert chart.individuals.centre == pytest.approx(10.1)
    assert chart.individuals.sigma == pytest.approx(0.2 / D2)
    assert chart.individuals.upper == pytest.approx(10.1 + 0.6 / D2)
    assert chart.individuals.lower == pytest.approx(10.1 - 0.6 / D2)
    assert chart.moving_range.centre == pytest.approx(0.2)
    assert chart.moving_range.lower == 0.0
    assert chart.moving_range.upper == pytest.approx(0.2 * (1.0 + 3.0 * math.sqrt(math.pi / 2.0 - 1.0)))
    assert chart.moving_range.sigma == pytest.approx(0.2 / D2 * math.sqrt(2.0 - 4.0 / math.pi))
    assert not chart.least_sigma_taken
    assert (chart.beyond, chart.ranges_beyond) == ((), ())


def test_a_drift_in_the_baseline_hardly_widens_its_limits() -> None:
    """Steps of 0.01 make σ 0.0089, where the standard deviation of all 20 values would be 0.0592."""
    chart = baseline_limits([10.0 + 0.01 * turn for turn in range(20)])
    assert chart.individuals.sigma == pytest.approx(0.01 / D2)
    assert chart.beyond == (*range(7), *range(13, 20))


def test_limits_are_provisional_below_twenty_values() -> None:
    values = [10.0 + 0.01 * (turn % 3) for turn in range(20)]
    assert (FEWEST, FIRM) == (8, 20)
    assert baseline_limits(values[:8]).provisional
    assert baseline_limits(values[:19]).provisional
    assert not baseline_limits(values).provisional


def test_eight_values_know_sigma_to_a_third_and_twenty_to_a_fifth() -> None:
    """Neighbouring ranges share a value; for normal ones with correlation −1/2, E|ab| = (4/π)·(√3/2 + π/12)."""
    variance = 2.0 - 4.0 / math.pi
    covariance = 4.0 / math.pi * (math.sqrt(3.0) / 2.0 + math.pi / 12.0) - 4.0 / math.pi
    for count, known_to in ((FEWEST, 0.336), (FIRM, 0.207)):
        ranges = count - 1
        of_mean = (ranges * variance + 2.0 * (ranges - 1) * covariance) / ranges**2
        assert math.sqrt(of_mean) / D2 == pytest.approx(known_to, abs=5e-4)


def test_values_of_the_baseline_beyond_its_limits_are_reported_and_kept() -> None:
    values = [10.0, 10.01] * 6 + [10.3] + [10.0, 10.01] * 6
    chart = baseline_limits(values)
    assert chart.beyond == (12,)
    assert chart.ranges_beyond == (12, 13)
    assert chart.individuals.centre == pytest.approx(sum(values) / 25)


def test_the_least_sigma_stands_in_where_the_values_agree_too_closely() -> None:
    alike = baseline_limits([11.25] * 8, least_sigma=0.003)
    assert alike.least_sigma_taken
    assert alike.individuals == limits_about(11.25, 0.003)
    assert alike.moving_range == moving_range_limits(0.003)
    assert not baseline_limits(UP_AND_DOWN, least_sigma=0.2 / D2 * 0.999).least_sigma_taken
    assert baseline_limits(UP_AND_DOWN, least_sigma=0.2 / D2 * 1.001).least_sigma_taken


@pytest.mark.parametrize(
    ("values", "field", "words"),
    [
        ([10.0] * 7, "values", "at least 8 values, and 7 are there"),
        ([10.0] * 8, "values", "All values are alike"),
        ([10.0, math.nan, *[10.0] * 8], "values.1", "A chart is of numbers"),
        ([10.0, 10.0, -math.inf, *[10.0] * 8], "values.2", "A chart is of numbers"),
    ],
)
def test_values_that_set_no_limits_are_refused(values: list[float], field: str, words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        baseline_limits(values)
    assert refused.value.field == field


def test_the_field_of_a_refusal_is_the_callers() -> None:
    with pytest.raises(MeasurementError) as refused:
        all_finite([1.0, math.inf], "days")
    assert refused.value.field == "days.1"


@pytest.mark.parametrize("sigma", [0.0, -0.1, math.inf, math.nan])
def test_a_standard_deviation_without_width_is_refused(sigma: float) -> None:
    with pytest.raises(MeasurementError, match="above 0") as refused:
        check_sigma(sigma)
    assert refused.value.field == "sigma"


@pytest.mark.parametrize("size", [1, 0, 26])
def test_there_are_no_factors_for_other_sizes(size: int) -> None:
    with pytest.raises(MeasurementError, match=f"2 to 25 values; {size} were given") as refused:
        chart_constants(size)
    assert refused.value.field == "size"


@pytest.mark.parametrize("size", [2, 25])
def test_there_are_factors_for_the_smallest_and_the_greatest_size(size: int) -> None:
    assert chart_constants(size).size == size
