"""A straight line through points by least squares, with the covariance of its two parameters. JCGM 100:2008, H.3."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.errors import MeasurementError


@dataclass(frozen=True, slots=True)
class Prediction:
    """What the line says at one place; value and standard uncertainty in the unit of y."""

    value: float
    standard_uncertainty: float
    degrees_of_freedom: float


@dataclass(frozen=True, slots=True)
class LineFit:
    """y = intercept + slope·(x − origin); the intercept in the unit of y, the slope in that per unit of x."""

    origin: float
    intercept: float
    slope: float
    intercept_standard_uncertainty: float
    slope_standard_uncertainty: float
    covariance: float  # of intercept and slope
    residual_standard_deviation: float
    degrees_of_freedom: float

    @property
    def correlation(self) -> float:
        """r of intercept and slope; 0 where all points lie on the line and both are without uncertainty."""
        product = self.intercept_standard_uncertainty * self.slope_standard_uncertainty
        return self.covariance / product if product > 0.0 else 0.0

    def predict(self, x: float) -> Prediction:
        """The line at x, with the covariance. JCGM 100:2008, H.3.4."""
        away = x - self.origin
        variance = (
            self.intercept_standard_uncertainty**2
            + (away * self.slope_standard_uncertainty) ** 2
            + 2.0 * away * self.covariance
        )
        # where a line through points that lie on it exactly is told, the three cancel to noise of either sign
        return Prediction(self.intercept + self.slope * away, math.sqrt(max(variance, 0.0)), self.degrees_of_freedom)


def fit_line(x: Sequence[float], y: Sequence[float], origin: float = 0.0) -> LineFit:
    """The line through at least three points at two or more places x, all y equally uncertain and x exact.

    How uncertain they are is taken from their scatter about the line, n − 2 degrees of freedom. JCGM 100:2008, H.3.2.
    """
    count = len(x)
    if count != len(y):
        raise MeasurementError("y", "Every x needs one y.")
    if count < 3:
        raise MeasurementError("x", "Three points are the least that show how well a line fits.")
    if not all(math.isfinite(value) for value in (*x, *y, origin)):
        raise MeasurementError("x", "The points of a line are finite numbers.")
    mean_x, mean_y = math.fsum(x) / count, math.fsum(y) / count
    off_x, off_y = [value - mean_x for value in x], [value - mean_y for value in y]
    spread = math.fsum(value * value for value in off_x)
    if spread == 0.0:
        raise MeasurementError("x", "All points stand at one place: a line needs two or more.")
    slope = math.fsum(a * b for a, b in zip(off_x, off_y, strict=True)) / spread
    residuals = [b - slope * a for a, b in zip(off_x, off_y, strict=True)]
    variance = math.fsum(value * value for value in residuals) / (count - 2)
    away = origin - mean_x
    return LineFit(
        origin=origin,
        intercept=mean_y + slope * away,
        slope=slope,
        intercept_standard_uncertainty=math.sqrt(variance * (1.0 / count + away**2 / spread)),
        slope_standard_uncertainty=math.sqrt(variance / spread),
        covariance=variance * away / spread,
        residual_standard_deviation=math.sqrt(variance),
        degrees_of_freedom=float(count - 2),
    )
