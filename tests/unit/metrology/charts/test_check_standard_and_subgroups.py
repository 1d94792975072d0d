"""A check standard and subgroups by hand, tolerance factors at their bounds, and what is refused."""

import math

import pytest

from app.metrology.charts.check_standard import CheckPoint, check_points, check_standard
from app.metrology.charts.constants import chart_constants
from app.metrology.charts.limits import limits_about
from app.metrology.charts.subgroups import means_and_deviations, means_and_ranges
from app.metrology.charts.tolerance_interval import (
    one_sided_factor,
    one_sided_factor_approximate,
    two_sided_factor,
    two_sided_factor_approximate,
)
from app.metrology.distributions import coverage_factor, variance_ratio_quantile
from app.metrology.errors import MeasurementError


def test_short_term_scatters_are_pooled_by_their_degrees_of_freedom() -> None:
    """Counts 3, 5 and 1: s₁² = (2·0.01² + 4·0.02²)/6 = 0.0003; means 10.0, 10.1, 10.2 with s₂ = 0.1."""
    found = check_standard([CheckPoint(0, 10.0, 0.01, 3), CheckPoint(1, 10.1, 0.02, 5), CheckPoint(2, 10.2, 0.0, 1)])
    assert found.occasions == 3
    assert found.mean == pytest.approx(10.1)
    assert found.long_term == pytest.approx(0.1)
    assert found.long_term_dof == 2.0
    assert found.short_term == pytest.approx(math.sqrt(0.0003))
    assert found.short_term_dof == 6.0
    assert found.limits() == limits_about(found.mean, found.long_term, 2.0)
    assert found.limits(3.0) == limits_about(found.mean, found.long_term, 3.0)
    assert found.limits_covering() == limits_about(found.mean, found.long_term, coverage_factor(0.95, 2.0))
    assert found.limits_covering(0.5) == limits_about(found.mean, found.long_term, coverage_factor(0.5, 2.0))


def test_the_limit_of_a_scatter_knows_how_many_repeats_it_is_of() -> None:
    found = check_standard([CheckPoint(0, 10.0, 0.01, 3), CheckPoint(1, 10.1, 0.01, 5)])
    for count in (2, 4):
        limit = 0.01 * math.sqrt(variance_ratio_quantile(0.95, count - 1, 6.0))
        assert found.scatter_limit(count) == pytest.approx(limit, rel=1e-12)
    assert found.scatter_limit(4, 0.99) == pytest.approx(0.01 * math.sqrt(variance_ratio_quantile(0.99, 3, 6.0)))
    assert found.scatter_limit(4, least=0.02) == pytest.approx(0.02 * math.sqrt(variance_ratio_quantile(0.95, 3, 6.0)))
    assert found.scatter_limit(4, least=0.005) == found.scatter_limit(4)
    assert found.scatter_limit(1) is None


def test_without_repeats_there_is_no_short_term_scatter() -> None:
    found = check_standard([CheckPoint(0, 10.0, 0.0, 1), CheckPoint(1, 10.1, 0.0, 1)])
    assert found.short_term is None
    assert found.short_term_dof == 0.0
    assert found.scatter_limit(3) is None


GOOD = CheckPoint(5.0, 10.0, 0.01, 3)


@pytest.mark.parametrize(
    ("second", "field", "words"),
    [
        (CheckPoint(math.nan, 10.0, 0.01, 3), "points.1.mean", "a day and a mean"),
        (CheckPoint(6.0, math.inf, 0.01, 3), "points.1.mean", "a day and a mean"),
        (CheckPoint(6.0, 10.0, 0.01, 0), "points.1.count", "at least one indication"),
        (CheckPoint(6.0, 10.0, -0.01, 3), "points.1.scatter", "0 or more"),
        (CheckPoint(6.0, 10.0, math.inf, 3), "points.1.scatter", "0 or more"),
        (CheckPoint(6.0, 10.0, math.nan, 3), "points.1.scatter", "0 or more"),
        (CheckPoint(4.9, 10.0, 0.01, 3), "points.1.day", "in the order of time"),
    ],
)
def test_a_check_that_cannot_be_is_refused(second: CheckPoint, field: str, words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        check_points([GOOD, second])
    assert refused.value.field == field


def test_two_checks_of_one_moment_and_a_single_one_are_accepted() -> None:
    check_points([GOOD, CheckPoint(5.0, 10.1, 0.0, 1)])
    check_points([CheckPoint(-1e6, 10.1, 0.0, 1)])


def test_one_occasion_is_no_baseline() -> None:
    with pytest.raises(MeasurementError, match="One occasion shows no scatter") as refused:
        check_standard([GOOD])
    assert refused.value.field == "points"


def test_subgroups_by_hand() -> None:
    """Ranges 2 and 4, means 2 and 3; s = 1 and 2."""
    groups = [[1.0, 2.0, 3.0], [1.0, 3.0, 5.0]]
    factors = chart_constants(3)
    ranges, deviations = means_and_ranges(groups), means_and_deviations(groups)
    assert ranges.size == deviations.size == 3
    assert ranges.means.centre == deviations.means.centre == 2.5
    assert (ranges.spreads.centre, deviations.spreads.centre) == (3.0, 1.5)
    assert ranges.sigma == pytest.approx(3.0 / factors.d2)
    assert deviations.sigma == pytest.approx(1.5 / factors.c4)
    assert ranges.means.upper == pytest.approx(2.5 + factors.A2 * 3.0)
    assert deviations.means.lower == pytest.approx(2.5 - factors.A3 * 1.5)
    assert ranges.means.sigma == pytest.approx(ranges.sigma / math.sqrt(3.0))
    assert (ranges.spreads.lower, ranges.spreads.upper) == (0.0, pytest.approx(factors.D4 * 3.0))
    assert ranges.spreads.sigma == pytest.approx(factors.d3 * ranges.sigma)
    assert (deviations.spreads.lower, deviations.spreads.upper) == (0.0, pytest.approx(factors.B4 * 1.5))
    assert deviations.spreads.upper - 1.5 == pytest.approx(3.0 * deviations.spreads.sigma)


def test_large_subgroups_have_lower_limits_of_their_spread() -> None:
    groups = [[float(value) for value in range(10)], [float(value) for value in range(10)]]
    factors = chart_constants(10)
    assert means_and_ranges(groups).spreads.lower == pytest.approx(9.0 * factors.D3)
    assert means_and_deviations(groups).spreads.lower == pytest.approx(math.sqrt(55.0 / 6.0) * factors.B3)


@pytest.mark.parametrize(
    ("groups", "field", "words"),
    [
        ([[1.0, 2.0]], "subgroups", "at least two"),
        ([], "subgroups", "at least two"),
        ([[1.0, 2.0], [1.0, 2.0], [1.0]], "subgroups.2", "has 1 values and the first 2"),
        ([[1.0, 2.0], [1.0, math.nan]], "subgroups.1.1", "A chart is of numbers"),
        ([[1.0], [1.0]], "size", "2 to 25 values"),
    ],
)
def test_subgroups_that_make_no_chart_are_refused(groups: list[list[float]], field: str, words: str) -> None:
    for chart in (means_and_ranges, means_and_deviations):
        with pytest.raises(MeasurementError, match=words) as refused:
            chart(groups)
        assert refused.value.field == field


@pytest.mark.parametrize(
    "factor", [one_sided_factor, one_sided_factor_approximate, two_sided_factor, two_sided_factor_approximate]
)
def test_tolerance_factors_ask_for_two_values_and_for_shares(factor: object) -> None:
    assert callable(factor)
    for given, field in (
        ((1, 0.9, 0.95), "count"),
        ((10, 0.0, 0.95), "content"),
        ((10, 1.0, 0.95), "content"),
        ((10, 0.9, 0.0), "confidence"),
        ((10, 0.9, 1.0), "confidence"),
    ):
        with pytest.raises(MeasurementError) as refused:
            factor(*given)
        assert refused.value.field == field
        assert refused.value.sentence.endswith(".")


def test_the_approximation_says_where_it_has_no_answer() -> None:
    """At 99 % confidence z² = 5.41: a = 1 − 5.41/(2(n − 1)) turns positive with 4 values."""
    for count in (2, 3):
        with pytest.raises(MeasurementError, match=f"does not hold for {count} values") as refused:
            one_sided_factor_approximate(count, 0.9, 0.99)
        assert refused.value.field == "count"
    assert one_sided_factor_approximate(4, 0.9, 0.99) > one_sided_factor_approximate(5, 0.9, 0.99) > 3.0


def test_the_approximation_of_the_median_by_hand() -> None:
    """Content 0.5 means z = 0: what is left is √(z²/n/a), z² = 2.70554 at 95 %, a = 1 − z²/18."""
    assert one_sided_factor_approximate(10, 0.5, 0.95) == pytest.approx(
        math.sqrt(0.270554345 / (1.0 - 2.70554345 / 18.0)), rel=1e-8
    )


def test_the_factors_come_together_with_many_values() -> None:
    assert one_sided_factor(100_000, 0.9, 0.5) == pytest.approx(1.281552, abs=1e-4)
    assert two_sided_factor_approximate(100_000, 0.9, 0.5) == pytest.approx(1.644854, abs=1e-4)
    assert two_sided_factor(100_000, 0.9, 0.5) == pytest.approx(1.644854, abs=1e-4)
