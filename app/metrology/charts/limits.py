"""What every chart has: a centre, a limit on either side, and what lies beyond."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.errors import MeasurementError
from app.metrology.rules import ARITHMETIC_NOISE

SIGMAS = 3.0  # ISO 7870-2: limits three standard deviations off, by which 0.27 % of normal values lie outside


@dataclass(frozen=True, slots=True)
class Limits:
    """Centre line and limits, with the standard deviation of what is charted; all in the unit of the values."""

    centre: float
    lower: float
    upper: float
    sigma: float

    def side(self, value: float) -> int:
        """1 above the upper limit, −1 below the lower one, else 0. A value on a limit is not beyond it."""
        return (value > self.upper + ARITHMETIC_NOISE) - (value < self.lower - ARITHMETIC_NOISE)

    def beyond(self, values: Sequence[float]) -> tuple[int, ...]:
        """Places of the values that lie beyond a limit."""
        return tuple(place for place, value in enumerate(values) if self.side(value))


def limits_about(centre: float, sigma: float, factor: float = SIGMAS) -> Limits:
    """Limits `factor` standard deviations to either side of the centre, as where σ is known from elsewhere."""
    return Limits(centre, centre - factor * sigma, centre + factor * sigma, sigma)


def all_finite(values: Sequence[float], field: str = "values") -> None:
    """Raises MeasurementError(field.place) for the first that is no number."""
    for place, value in enumerate(values):
        if not math.isfinite(value):
            raise MeasurementError(f"{field}.{place}", "A chart is of numbers. Give the figure that was measured.")


def check_sigma(sigma: float) -> None:
    """Raises MeasurementError where a standard deviation gives no width to a chart."""
    if not 0.0 < sigma < math.inf:
        raise MeasurementError(
            "sigma",
            f"The standard deviation is given as {sigma:g}; a chart needs one above 0. Where all values are alike, "
            "take what the display's resolution leaves open.",
        )
