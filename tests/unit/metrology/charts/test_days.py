"""Checks of one day taken together, and what the days differ by."""

import pytest

from app.metrology.charts.check_standard import CheckPoint
from app.metrology.charts.days import DayMean, day_means, day_to_day_sigma
from app.metrology.charts.individuals import baseline_limits


def at(*checks: tuple[float, float]) -> list[CheckPoint]:
    return [CheckPoint(day, mean, 0.01, 3) for day, mean in checks]


def test_a_day_ends_before_the_next_whole_number_and_may_stand_before_nought() -> None:
    assert day_means(at((-0.5, 11.0), (0.0, 12.0), (0.5, 13.0), (1.0, 14.0))) == (
        DayMean(-0.5, 11.0),
        DayMean(0.25, 12.5),
        DayMean(1.0, 14.0),
    )
    assert day_means([]) == ()


def test_one_check_a_day_stays_what_it_is_to_the_last_digit() -> None:
    checks = at(*[(7.1 * week, 11.2 + 0.013 * week) for week in range(9)])
    assert [(day.moment, day.mean) for day in day_means(checks)] == [(check.day, check.mean) for check in checks]
    means = [check.mean for check in checks]
    assert baseline_limits(means, day_to_day_sigma=day_to_day_sigma(checks)) == baseline_limits(means)


def test_three_days_show_what_they_differ_by_and_two_do_not() -> None:
    """Means 11.25, 11.27, 11.24: ranges 0.02 and 0.03, mean 0.025 over d₂ = 1.1284."""
    three = at((0.1, 11.24), (0.2, 11.26), (5.0, 11.27), (9.0, 11.24))
    assert day_to_day_sigma(three) == pytest.approx(0.025 / 1.1283792)
    assert day_to_day_sigma(three[:3]) == 0.0
    assert day_to_day_sigma([]) == 0.0


def test_the_greatest_standard_deviation_is_taken_and_named() -> None:
    values = [11.25, 11.26] * 5  # every range 0.01: σ = 0.00886
    own = 0.01 / 1.1283792
    for least, of_days, sigma, least_taken, days_taken in (
        (0.0, 0.0, own, False, False),
        (0.0, 0.02, 0.02, False, True),
        (0.0, 0.008, own, False, False),
        (0.02, 0.01, 0.02, True, False),
        (0.02, 0.03, 0.03, False, True),
        (0.02, 0.02, 0.02, False, False),
    ):
        found = baseline_limits(values, least, of_days)
        assert found.individuals.sigma == pytest.approx(sigma)
        assert (found.least_sigma_taken, found.day_to_day_sigma_taken) == (least_taken, days_taken)
