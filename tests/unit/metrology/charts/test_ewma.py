"""The weighted average by hand, and what its weight can be."""

import math

import pytest

from app.metrology.charts.ewma import ewma
from app.metrology.charts.limits import limits_about
from app.metrology.errors import MeasurementError


def test_three_values_by_hand() -> None:
    """λ = 1/2: averages 10.1, 10.25, 10.025 about 10; variances 1/4, 5/16, 21/64 of σ², steady 1/3."""
    chart = ewma([10.2, 10.4, 9.8], 10.0, 0.1, weight=0.5, factor=2.0)
    assert chart.values == (pytest.approx(10.1), pytest.approx(10.25), pytest.approx(10.025))
    for limits, share in zip(chart.limits, (1 / 4, 5 / 16, 21 / 64), strict=True):
        assert limits.sigma == pytest.approx(0.1 * math.sqrt(share))
        assert limits.upper == pytest.approx(10.0 + 0.2 * math.sqrt(share))
        assert limits.lower == pytest.approx(10.0 - 0.2 * math.sqrt(share))
    assert chart.steady.upper == pytest.approx(10.0 + 0.2 / math.sqrt(3.0))
    assert (chart.weight, chart.factor) == (0.5, 2.0)


def test_the_sides_are_those_of_the_limits_of_each_point() -> None:
    """λ = 1/2 and two σ: limits ±0.1, then ±0.1118, at last ±0.1155; the averages 10.105, 9.895 and 9.8875."""
    assert ewma([10.21, 10.02], 10.0, 0.1, weight=0.5, factor=2.0).sides == (1, 0)
    assert ewma([9.79, 9.88], 10.0, 0.1, weight=0.5, factor=2.0).sides == (-1, -1)
    assert ewma([10.2], 10.0, 0.1, weight=0.5, factor=2.0).sides == (0,)


def test_with_all_the_weight_on_the_newest_it_is_the_chart_of_single_values() -> None:
    chart = ewma([10.2, 10.4], 10.0, 0.1, weight=1.0, factor=3.0)
    assert chart.values == (pytest.approx(10.2), pytest.approx(10.4))
    assert chart.limits == (limits_about(10.0, 0.1), limits_about(10.0, 0.1))
    assert chart.steady == limits_about(10.0, 0.1)
    assert chart.sides == (0, 1)


def test_the_weight_and_the_factor_unless_told_otherwise() -> None:
    chart = ewma([11.0], 10.0, 3.0)
    assert (chart.weight, chart.factor) == (0.2, 2.962)
    assert chart.values == (pytest.approx(10.2),)
    assert chart.steady.upper == pytest.approx(10.0 + 2.962)


@pytest.mark.parametrize("weight", [0.0, -0.2, 1.0001, math.nan])
def test_a_weight_that_is_no_share_is_refused(weight: float) -> None:
    with pytest.raises(MeasurementError, match="above 0, up to 1") as refused:
        ewma([10.0], 10.0, 0.1, weight=weight)
    assert refused.value.field == "weight"


def test_what_is_no_number_and_no_scatter_is_refused() -> None:
    with pytest.raises(MeasurementError) as refused:
        ewma([10.0, math.nan], 10.0, 0.1)
    assert refused.value.field == "values.1"
    with pytest.raises(MeasurementError) as refused:
        ewma([10.0], 10.0, 0.0)
    assert refused.value.field == "sigma"
