"""Averages and ranges by hand, and the constants where they are known in closed form."""

import math

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.studies.design import Cells, Plan
from app.metrology.studies.range_constants import d2_star, range_moments
from app.metrology.studies.range_method import analyse_ranges

SMALL = Plan(("1", "2"), ("A", "B"), 2)


def test_moments_of_a_range_in_closed_form() -> None:
    """Two values: 2/√π and √(2 − 4/π). Three: 3/√π and √(2 + 3√3/… ) = 0.8883680 by E[R²] = 2 + 3·√3/π."""
    assert range_moments(2) == pytest.approx((2.0 / math.sqrt(math.pi), math.sqrt(2.0 - 4.0 / math.pi)), abs=1e-10)
    of_square = 2.0 + 3.0 * math.sqrt(3.0) / math.pi
    assert range_moments(3) == pytest.approx(
        (3.0 / math.sqrt(math.pi), math.sqrt(of_square - 9.0 / math.pi)), abs=1e-10
    )


def test_moments_for_many_values_agree_with_a_quadrature_of_their_own() -> None:
    """d₂ = ∫(1 − Φ^m − (1 − Φ)^m) dx, by the trapezoidal rule, which is exact for what dies away at both ends."""
    for values in (5, 20, 50):
        step = 0.01
        total = 0.0
        for place in range(-1000, 1001):
            below = 0.5 * math.erfc(-place * step / math.sqrt(2.0))
            above = 0.5 * math.erfc(place * step / math.sqrt(2.0))
            total += step * (1.0 - below**values - above**values)
        assert range_moments(values)[0] == pytest.approx(total, abs=1e-9)


def test_one_range_is_held_against_the_root_of_its_mean_square() -> None:
    assert d2_star(2, 1) == pytest.approx(math.sqrt(2.0), abs=1e-10)
    assert d2_star(3, 1) == pytest.approx(math.sqrt(2.0 + 3.0 * math.sqrt(3.0) / math.pi), abs=1e-10)


def test_more_ranges_bring_the_constant_to_that_of_very_many() -> None:
    d2, d3 = range_moments(3)
    assert d2_star(3, 4) == pytest.approx(math.sqrt(d2**2 + d3**2 / 4.0))
    assert d2_star(3, 15) == pytest.approx(math.sqrt(d2**2 + d3**2 / 15.0))
    assert d2_star(3, 15) > d2
    assert d2_star(3, 16) == d2


@pytest.mark.parametrize("values", [1, 0, 51])
def test_a_range_is_taken_of_two_values_or_more(values: int) -> None:
    with pytest.raises(MeasurementError, match="of 2 to 50 values") as refused:
        d2_star(values, 1)
    assert refused.value.field == "values"


def test_a_mean_range_is_over_one_range_at_the_least() -> None:
    with pytest.raises(MeasurementError, match="one range at the least") as refused:
        d2_star(2, 0)
    assert refused.value.field == "ranges"


def test_the_method_by_hand() -> None:
    """All ranges 2; inspectors 16 and 20, parts 13 and 23; K₁ = 1/√(d₂² + d₃²/4), K₂ = K₃ = 1/√2.

    EV² = 4/(4/π + (2 − 4/π)/4), AV² = 8 − EV²/4, PV² = 50.
    """
    found = analyse_ranges(Cells(SMALL, (((10.0, 12.0), (20.0, 22.0)), ((14.0, 16.0), (24.0, 26.0)))))
    ev = 4.0 / (4.0 / math.pi + (2.0 - 4.0 / math.pi) / 4.0)
    assert (found.mean_range, found.inspector_difference, found.part_range) == (2.0, 4.0, 10.0)
    assert found.repeatability == pytest.approx(math.sqrt(ev))
    assert found.reproducibility == pytest.approx(math.sqrt(8.0 - ev / 4.0))
    assert found.gauge == pytest.approx(math.sqrt(8.0 + 0.75 * ev))
    assert found.part == pytest.approx(math.sqrt(50.0))
    assert found.total == pytest.approx(math.sqrt(58.0 + 0.75 * ev))
    assert found.share_of_total(found.gauge) == pytest.approx(found.gauge / found.total)
    assert found.k1 == pytest.approx(math.sqrt(ev) / 2.0)
    assert found.k2 == found.k3 == pytest.approx(1.0 / math.sqrt(2.0))
    assert not found.below_zero
    assert found.distinct_categories == 3


def test_inspectors_closer_than_the_scatter_explains_are_set_to_zero() -> None:
    found = analyse_ranges(Cells(SMALL, (((10.0, 12.0), (20.0, 22.0)), ((10.0, 12.0), (20.0, 22.0)))))
    assert found.below_zero
    assert found.reproducibility == 0.0
    assert found.gauge == found.repeatability


def test_parts_alone_tell_no_number_of_categories() -> None:
    found = analyse_ranges(Cells(SMALL, (((1.0, 1.0), (2.0, 2.0)), ((1.0, 1.0), (2.0, 2.0)))))
    assert found.distinct_categories is None
    assert not found.below_zero


def test_readings_that_are_all_the_same_tell_nothing() -> None:
    with pytest.raises(MeasurementError, match="All readings are the same"):
        analyse_ranges(Cells(SMALL, (((0.1, 0.1), (0.1, 0.1)), ((0.1, 0.1), (0.1, 0.1)))))
