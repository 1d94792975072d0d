"""A straight line by hand, its predictions, and points that are no line."""

import math

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.line_fit import fit_line


def test_a_line_through_four_points_by_hand() -> None:
    """x 0 … 3, y 1, 3, 2, 4: slope 4/5, mean 2.5 at 1.5; residuals −0.3, 0.9, −0.9, 0.3; s² = 1.8/2."""
    line = fit_line([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 2.0, 4.0])
    assert line.slope == pytest.approx(0.8)
    assert line.intercept == pytest.approx(1.3)
    assert line.residual_standard_deviation == pytest.approx(math.sqrt(0.9))
    assert line.degrees_of_freedom == 2.0
    assert line.slope_standard_uncertainty == pytest.approx(math.sqrt(0.9 / 5.0))
    assert line.intercept_standard_uncertainty == pytest.approx(math.sqrt(0.9 * (0.25 + 2.25 / 5.0)))
    assert line.covariance == pytest.approx(-0.9 * 1.5 / 5.0)
    assert line.correlation == pytest.approx(-1.5 / 5.0 / math.sqrt((0.25 + 0.45) / 5.0))
    assert line.origin == 0.0


def test_a_prediction_is_surest_in_the_middle_of_the_points() -> None:
    line = fit_line([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 2.0, 4.0])
    assert line.predict(1.5).value == pytest.approx(2.5)
    assert line.predict(1.5).standard_uncertainty == pytest.approx(math.sqrt(0.9 / 4.0))
    assert line.predict(5.5).value == pytest.approx(5.7)
    assert line.predict(5.5).standard_uncertainty == pytest.approx(math.sqrt(0.9 * (0.25 + 16.0 / 5.0)))
    assert line.predict(-2.5).standard_uncertainty == pytest.approx(line.predict(5.5).standard_uncertainty)
    assert line.predict(1.5).degrees_of_freedom == 2.0


def test_the_origin_changes_the_intercept_and_not_the_line() -> None:
    x, y = [20.0, 21.0, 23.0, 24.0], [0.1, 0.4, 0.5, 0.9]
    here, there = fit_line(x, y), fit_line(x, y, origin=22.0)
    assert there.origin == 22.0
    assert there.slope == here.slope
    assert there.correlation == pytest.approx(0.0, abs=1e-12)
    assert here.correlation < -0.99
    for place in (0.0, 22.0, 30.0):
        assert there.predict(place).value == pytest.approx(here.predict(place).value)
        assert there.predict(place).standard_uncertainty == pytest.approx(here.predict(place).standard_uncertainty)
    assert there.intercept == there.predict(22.0).value


def test_points_that_lie_on_a_line_leave_no_uncertainty() -> None:
    line = fit_line([0.0, 1.0, 2.0], [1.0, 3.0, 5.0])
    assert (line.intercept, line.slope, line.residual_standard_deviation) == (1.0, 2.0, 0.0)
    assert line.correlation == 0.0
    assert line.predict(10.0).standard_uncertainty == 0.0
    assert line.predict(10.0).value == 21.0


def test_a_prediction_where_the_parts_cancel_is_no_error() -> None:
    """Two places, so that the line is surest, in the middle, by exactly cancelling parts."""
    line = fit_line([1e8, 1e8, 1e8 + 1.0, 1e8 + 1.0], [0.0, 1e-9, 0.0, 1e-9])
    assert line.predict(1e8 + 0.5).standard_uncertainty >= 0.0


@pytest.mark.parametrize(
    ("x", "y", "origin", "field", "words"),
    [
        ([0.0, 1.0, 2.0], [0.0, 1.0], 0.0, "y", "one y"),
        ([0.0, 1.0], [0.0, 1.0], 0.0, "x", "Three points"),
        ([1.0, 1.0, 1.0], [0.0, 1.0, 2.0], 0.0, "x", "at one place"),
        ([0.0, 1.0, math.nan], [0.0, 1.0, 2.0], 0.0, "x", "finite"),
        ([0.0, 1.0, 2.0], [0.0, 1.0, math.inf], 0.0, "x", "finite"),
        ([0.0, 1.0, 2.0], [0.0, 1.0, 2.0], math.nan, "x", "finite"),
    ],
)
def test_points_that_are_no_line_are_refused(
    x: list[float], y: list[float], origin: float, field: str, words: str
) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        fit_line(x, y, origin)
    assert refused.value.field == field
