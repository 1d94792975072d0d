"""Charts of subgroups of equal size: means and ranges, or means and standard deviations.

NIST/SEMATECH e-Handbook, 6.3.2.1; ISO 7870-2 (from memory). How capable the process is of keeping limits follows from
the chart's mean and σ by `risk.sampling.capability`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.charts.constants import chart_constants
from app.metrology.charts.limits import Limits, all_finite, limits_about
from app.metrology.errors import MeasurementError
from app.metrology.repeatability import scatter


@dataclass(frozen=True, slots=True)
class SubgroupChart:
    """Limits of the means and of what each subgroup's spread was taken as; σ is that of single values; their unit."""

    size: int
    means: Limits
    spreads: Limits
    sigma: float


def means_and_ranges(subgroups: Sequence[Sequence[float]]) -> SubgroupChart:
    """x̄ and R of at least two subgroups of 2 to 25 values each. Raises MeasurementError."""
    size = _size(subgroups)
    constants = chart_constants(size)
    mean_range = math.fsum(max(group) - min(group) for group in subgroups) / len(subgroups)
    sigma = mean_range / constants.d2
    spreads = Limits(mean_range, constants.D3 * mean_range, constants.D4 * mean_range, constants.d3 * sigma)
    return _chart(subgroups, size, sigma, spreads)


def means_and_deviations(subgroups: Sequence[Sequence[float]]) -> SubgroupChart:
    """x̄ and s of at least two subgroups of 2 to 25 values each. Raises MeasurementError."""
    size = _size(subgroups)
    constants = chart_constants(size)
    mean_s = math.fsum(scatter(group) for group in subgroups) / len(subgroups)
    sigma = mean_s / constants.c4
    of_s = sigma * math.sqrt(1.0 - constants.c4**2)
    return _chart(subgroups, size, sigma, Limits(mean_s, constants.B3 * mean_s, constants.B4 * mean_s, of_s))


def _chart(subgroups: Sequence[Sequence[float]], size: int, sigma: float, spreads: Limits) -> SubgroupChart:
    mean = math.fsum(value for group in subgroups for value in group) / (size * len(subgroups))
    return SubgroupChart(size, limits_about(mean, sigma / math.sqrt(size)), spreads, sigma)


def _size(subgroups: Sequence[Sequence[float]]) -> int:
    if len(subgroups) < 2:
        raise MeasurementError("subgroups", "A chart of subgroups needs at least two of them. Measure more.")
    size = len(subgroups[0])
    for place, group in enumerate(subgroups):
        if len(group) != size:
            raise MeasurementError(
                f"subgroups.{place}", f"This subgroup has {len(group)} values and the first {size}. Give all one size."
            )
        all_finite(group, f"subgroups.{place}")
    return size
