"""The exponentially weighted moving average, which shows a small lasting shift sooner than single values do.

    z₀ = centre,   zₜ = λ·xₜ + (1 − λ)·zₜ₋₁,   var(zₜ) = σ²·λ/(2 − λ)·[1 − (1 − λ)²ᵗ]

S. W. Roberts, Technometrics 1 (1959); NIST/SEMATECH e-Handbook, 6.3.2.4, which gives the limits for t → ∞ alone.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.charts.limits import Limits, all_finite, check_sigma, limits_about
from app.metrology.errors import MeasurementError

WEIGHT = 0.2
FACTOR = 2.962  # with λ = 0.2 a false signal in 500 points: Lucas and Saccucci, Technometrics 32 (1990), Table 3


@dataclass(frozen=True, slots=True)
class EwmaChart:
    """The average at every point and its limits there, and the steady ones that these run up to; unit of the values."""

    weight: float
    factor: float
    values: tuple[float, ...]
    limits: tuple[Limits, ...]
    steady: Limits

    @property
    def sides(self) -> tuple[int, ...]:
        """At every point 1 above its limits, −1 below, else 0."""
        return tuple(limits.side(value) for value, limits in zip(self.values, self.limits, strict=True))


def ewma(
    values: Sequence[float], centre: float, sigma: float, weight: float = WEIGHT, factor: float = FACTOR
) -> EwmaChart:
    """The chart of values in the order of time, about a centre with the standard deviation of single values.

    0 < weight ≤ 1, the share of the newest value; limits `factor` standard deviations of the average off. Raises
    MeasurementError.
    """
    all_finite(values)
    check_sigma(sigma)
    if not 0.0 < weight <= 1.0:
        raise MeasurementError("weight", f"The newest value's weight is given as {weight:g}; it is above 0, up to 1.")
    steady = sigma * math.sqrt(weight / (2.0 - weight))
    average, fading = centre, 1.0
    averages: list[float] = []
    limits: list[Limits] = []
    for value in values:
        average += weight * (value - average)
        fading *= (1.0 - weight) ** 2
        averages.append(average)
        limits.append(limits_about(centre, steady * math.sqrt(1.0 - fading), factor))
    return EwmaChart(weight, factor, tuple(averages), tuple(limits), limits_about(centre, steady, factor))
