"""Drift and forecast by hand: lines whose bands are straight, so that their crossings can be written down."""

import math

import pytest

from app.metrology.charts.drift import (
    COMING_BACK,
    HAS_PASSED,
    STEADY,
    STEADY_OUTSIDE,
    WILL_REACH,
    Drift,
    drift_of,
    forecast,
)
from app.metrology.distributions import coverage_factor, t_probability
from app.metrology.errors import MeasurementError


def a_drift(slope: float, of_slope: float = 0.0002, of_level: float = 0.0, level: float = 11.25) -> Drift:
    """About day 100, with k = 2."""
    return Drift(100.0, level, of_level, slope, of_slope, 20.0, 0.95, 2.0, 0.5)


def test_a_line_through_four_checks_by_hand() -> None:
    """x 0 … 3, y 1, 3, 2, 4: slope 4/5, mean 2.5 at 1.5, s² = 0.9 with 2 dof."""
    found = drift_of([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 2.0, 4.0])
    assert (found.middle, found.level) == (1.5, 2.5)
    assert found.slope == pytest.approx(0.8)
    assert found.slope_standard_uncertainty == pytest.approx(math.sqrt(0.9 / 5.0))
    assert found.level_standard_uncertainty == pytest.approx(math.sqrt(0.9 / 4.0))
    assert found.degrees_of_freedom == 2.0
    assert found.confidence == 0.95
    assert found.factor == coverage_factor(0.95, 2.0)
    assert found.lowest == pytest.approx(0.8 - found.factor * math.sqrt(0.18))
    assert found.highest == pytest.approx(0.8 + found.factor * math.sqrt(0.18))
    assert found.chance == pytest.approx(2.0 * t_probability(-0.8 / math.sqrt(0.18), 2.0))
    assert not found.differs_from_zero
    assert found.at(3.5) == pytest.approx(4.1)
    assert found.standard_uncertainty_at(3.5) == pytest.approx(math.sqrt(0.9 / 4.0 + 4.0 * 0.18))
    assert drift_of([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 2.0, 4.0], confidence=0.5).differs_from_zero


def test_a_falling_line_is_as_improbable_as_a_rising_one() -> None:
    rising = drift_of([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 2.0, 4.0])
    falling = drift_of([0.0, 1.0, 2.0, 3.0], [4.0, 2.0, 3.0, 1.0])
    assert falling.slope == pytest.approx(-rising.slope)
    assert falling.chance == pytest.approx(rising.chance)
    assert 0.0 < rising.chance < 1.0


def test_checks_closer_to_the_line_than_they_can_be_known_to_get_the_least_scatter() -> None:
    days, values = [0.0, 10.0, 20.0], [11.0, 11.1, 11.2]
    without = drift_of(days, values)
    assert without.slope_standard_uncertainty == pytest.approx(0.0, abs=1e-15)
    with_least = drift_of(days, values, least_scatter=0.03)
    assert with_least.slope == without.slope
    assert with_least.slope_standard_uncertainty == pytest.approx(0.03 / math.sqrt(200.0))
    assert with_least.level_standard_uncertainty == pytest.approx(0.03 / math.sqrt(3.0))
    plenty = drift_of(days, [11.0, 11.3, 11.2], least_scatter=0.001)
    assert plenty == drift_of(days, [11.0, 11.3, 11.2])


def test_a_level_line_is_no_drift_and_a_line_without_any_scatter_is_one() -> None:
    level = drift_of([0.0, 1.0, 2.0], [11.0, 11.0, 11.0])
    assert (level.slope, level.chance, level.differs_from_zero) == (0.0, 1.0, False)
    sloping = drift_of([0.0, 1.0, 2.0], [1.0, 2.0, 3.0])
    assert (sloping.slope, sloping.chance, sloping.differs_from_zero) == (1.0, 0.0, True)


def test_an_interval_that_only_just_holds_zero_shows_no_drift() -> None:
    assert not a_drift(0.0004).differs_from_zero
    assert a_drift(0.00040001).differs_from_zero
    assert a_drift(-0.00040001).differs_from_zero


def test_a_rising_line_reaches_the_upper_edge() -> None:
    """0.1 to go at 0.0010 a day; between 0.0014 and 0.0006 a day at the band's ends."""
    found = forecast(a_drift(0.001), 11.15, 11.35, as_of=120.0)
    assert found.standing == WILL_REACH
    assert found.as_of == 120.0
    assert found.level == pytest.approx(11.27)
    assert found.edge == 11.35
    assert found.value == pytest.approx(100.0 + 0.1 / 0.0010)
    assert found.earliest == pytest.approx(100.0 + 0.1 / 0.0014)
    assert found.latest == pytest.approx(100.0 + 0.1 / 0.0006)
    assert found.not_before is None


def test_a_falling_line_reaches_the_lower_edge() -> None:
    found = forecast(a_drift(-0.001), 11.05, 11.35, as_of=120.0)
    assert found.standing == WILL_REACH
    assert found.edge == 11.05
    assert found.value == pytest.approx(100.0 + 0.2 / 0.0010)
    assert found.earliest == pytest.approx(100.0 + 0.2 / 0.0014)
    assert found.latest == pytest.approx(100.0 + 0.2 / 0.0006)


def test_how_well_the_level_is_known_widens_the_interval() -> None:
    """With the slope known exactly the day is known to 2·0.005/0.001 = 10 days."""
    found = forecast(a_drift(0.001, of_slope=0.0, of_level=0.005), 11.15, 11.35, as_of=100.0)
    assert found.value == pytest.approx(200.0)
    assert found.earliest == pytest.approx(190.0)
    assert found.latest == pytest.approx(210.0)


def test_an_edge_that_is_passed_has_its_day_in_the_past() -> None:
    found = forecast(a_drift(0.001), 11.15, 11.35, as_of=250.0)
    assert found.standing == HAS_PASSED
    assert (found.value, found.earliest) == (pytest.approx(200.0), pytest.approx(100.0 + 0.1 / 0.0014))
    assert found.latest == pytest.approx(100.0 + 0.1 / 0.0006)  # not sure yet that it is past
    before_the_checks = forecast(a_drift(0.001, level=11.45), 11.15, 11.35, as_of=100.0)
    assert before_the_checks.standing == HAS_PASSED
    assert before_the_checks.value == pytest.approx(0.0)
    assert before_the_checks.earliest == pytest.approx(100.0 - 0.1 / 0.0006)
    assert before_the_checks.latest == pytest.approx(100.0 - 0.1 / 0.0014)


def test_a_line_on_its_edge_has_reached_it() -> None:
    assert forecast(a_drift(0.5, 0.0, level=11.0), 10.0, 11.5, as_of=101.0).standing == HAS_PASSED
    assert forecast(a_drift(0.5, 0.0, level=11.0), 10.0, 11.5, as_of=100.99).standing == WILL_REACH
    assert forecast(a_drift(-0.5, 0.0, level=11.0), 10.5, 12.0, as_of=101.0).standing == HAS_PASSED


def test_a_line_that_comes_back_from_beyond_the_other_edge_says_so() -> None:
    rising = forecast(a_drift(0.5, 0.0, level=11.0), 11.0, 12.0, as_of=99.0)
    assert rising.standing == COMING_BACK
    assert rising.edge == 12.0
    assert rising.value == pytest.approx(102.0)
    assert forecast(a_drift(0.5, 0.0, level=11.0), 11.0, 12.0, as_of=100.0).standing == WILL_REACH
    falling = forecast(a_drift(-0.5, 0.0, level=11.0), 10.0, 11.0, as_of=99.0)
    assert falling.standing == COMING_BACK
    assert falling.edge == 10.0


def test_a_line_without_scatter_has_one_day() -> None:
    found = forecast(a_drift(0.0007, 0.0), 11.15, 11.35, as_of=100.0)
    assert found.earliest == found.value == found.latest == pytest.approx(100.0 + 0.1 / 0.0007)


def test_without_a_drift_there_is_no_latest_day() -> None:
    """The slope may be 0.0005 at most, −0.0003 at least: 0.1 up takes 200 days, 0.1 down takes 333."""
    found = forecast(a_drift(0.0001), 11.15, 11.35, as_of=110.0)
    assert found.standing == STEADY
    assert (found.edge, found.value, found.latest) == (None, None, None)
    assert found.earliest == found.not_before == pytest.approx(300.0)
    mirrored = forecast(a_drift(-0.0001), 11.15, 11.35, as_of=110.0)
    assert mirrored.not_before == pytest.approx(300.0)


def test_either_edge_may_come_first() -> None:
    assert forecast(a_drift(0.0001), 11.15, 11.40, 110.0).not_before == pytest.approx(100.0 + 0.15 / 0.0005)
    assert forecast(a_drift(0.0001), 11.15, 11.55, 110.0).not_before == pytest.approx(100.0 + 0.1 / 0.0003)
    assert forecast(a_drift(-0.0001), 10.95, 11.35, 110.0).not_before == pytest.approx(100.0 + 0.1 / 0.0003)


def test_an_edge_within_the_band_may_be_reached_already() -> None:
    assert forecast(a_drift(0.0001), 11.15, 11.35, as_of=299.9).not_before == pytest.approx(300.0)
    found = forecast(a_drift(0.0001), 11.15, 11.35, as_of=300.1)
    assert found.standing == STEADY
    assert (found.earliest, found.latest) == (None, None)
    near = forecast(a_drift(0.0, of_slope=0.0, of_level=0.05), 11.15, 11.35, as_of=100.0)
    assert near.not_before is None
    assert forecast(a_drift(0.0, 0.0, 0.0499), 11.15, 11.35, 100.0).not_before == math.inf


def test_a_steady_line_outside_says_so() -> None:
    for level in (11.4, 11.1):
        assert forecast(a_drift(0.0, level=level), 11.15, 11.35, as_of=100.0).standing == STEADY_OUTSIDE
    for level in (11.15, 11.35):
        assert forecast(a_drift(0.0, level=level), 11.15, 11.35, as_of=100.0).standing == STEADY


def test_a_slope_just_at_its_own_uncertainty_can_be_level_but_cannot_rise() -> None:
    """−0.0004 ± 0.0004: the upper edge is never reached, the lower one at 0.0008 a day at the soonest."""
    found = forecast(a_drift(-0.0004), 11.15, 11.35, as_of=100.0)
    assert found.not_before == pytest.approx(100.0 + 0.1 / 0.0008)
    assert forecast(a_drift(-0.0004), 9.65, 11.26, as_of=100.0).not_before == pytest.approx(100.0 + 1.6 / 0.0008)
    assert forecast(a_drift(0.0004), 11.24, 12.85, as_of=100.0).not_before == pytest.approx(100.0 + 1.6 / 0.0008)


def test_the_day_from_which_one_looks_may_lie_before_the_checks() -> None:
    """Backwards the band is as wide: from 200 days before on the edge is left out, until it is touched again."""
    assert forecast(a_drift(0.0001), 11.15, 11.35, as_of=-90.0).not_before == pytest.approx(300.0)
    assert forecast(a_drift(0.0001), 11.15, 11.35, as_of=-101.0).not_before is None


def test_one_edge_may_be_the_other() -> None:
    assert forecast(a_drift(0.001), 11.35, 11.35, as_of=100.0).edge == 11.35


@pytest.mark.parametrize(
    ("lower", "upper", "as_of", "field", "words"),
    [
        (11.35, 11.15, 100.0, "lowest_accepted", "11.35, lies above the highest, 11.15"),
        (math.nan, 11.15, 100.0, "lowest_accepted", "Exchange the two"),
        (11.15, 11.35, math.nan, "as_of.0", "A chart is of numbers"),
    ],
)
def test_a_forecast_that_cannot_be_is_refused(lower: float, upper: float, as_of: float, field: str, words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        forecast(a_drift(0.001), lower, upper, as_of)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("days", "values", "confidence", "field"),
    [
        ([0.0, 1.0], [1.0, 2.0], 0.95, "x"),
        ([], [], 0.95, "x"),
        ([0.0, 1.0, 2.0], [1.0, 2.0], 0.95, "y"),
        ([1.0, 1.0, 1.0], [1.0, 2.0, 3.0], 0.95, "x"),
        ([0.0, math.nan, 2.0], [1.0, 2.0, 3.0], 0.95, "days.1"),
        ([0.0, 1.0, 2.0], [1.0, 2.0, math.inf], 0.95, "values.2"),
        ([0.0, 1.0, 2.0], [1.0, 2.0, 3.0], 0.0, "confidence"),
        ([0.0, 1.0, 2.0], [1.0, 2.0, 3.0], 1.0, "confidence"),
    ],
)
def test_checks_that_make_no_line_are_refused(
    days: list[float], values: list[float], confidence: float, field: str
) -> None:
    with pytest.raises(MeasurementError) as refused:
        drift_of(days, values, confidence)
    assert refused.value.field == field
