"""Checks of one day taken together: they share the day's air, warming up and hands, so they are not independent.

A day is what lies between two whole numbers on the scale of the checks.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from app.metrology.charts.check_standard import CheckPoint
from app.metrology.charts.constants import chart_constants
from app.metrology.charts.individuals import moving_ranges

FEWEST_DAYS = 3  # two moving ranges; a single one says next to nothing


@dataclass(frozen=True, slots=True)
class DayMean:
    """The means, in ratio, and the moments of one day's checks, averaged; with one check they are the check's own."""

    moment: float
    mean: float


def day_means(points: Sequence[CheckPoint]) -> tuple[DayMean, ...]:
    """One for each day on which something was checked; `points` in the order of time."""
    found = []
    for _, of_day in groupby(points, key=lambda point: math.floor(point.day)):
        checks = list(of_day)
        moment = math.fsum(check.day for check in checks) / len(checks)
        found.append(DayMean(moment, math.fsum(check.mean for check in checks) / len(checks)))
    return tuple(found)


def day_to_day_sigma(points: Sequence[CheckPoint]) -> float:
    """Mean moving range of the days' means over d₂, in ratio; 0 with fewer than three days, which do not show it.

    Where the checks of one day agree better than those of different days, the ranges between neighbours are mostly
    those within a day and fall short: NIST/SEMATECH e-Handbook, 2.2.3.1, keeps the two kinds of scatter apart.
    """
    means = [day.mean for day in day_means(points)]
    if len(means) < FEWEST_DAYS:
        return 0.0
    return math.fsum(moving_ranges(means)) / (len(means) - 1) / chart_constants(2).d2
