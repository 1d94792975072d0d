"""A check standard, which here is a reference volume: its baseline, and the limits for its mean and for its scatter.

NIST/SEMATECH e-Handbook, 2.2.3.1 (limits) and 2.6.2 (worked example). Two kinds of scatter are kept apart: the
short-term one among repeats of one occasion, and the long-term one of the occasions' means, which holds besides what
changes from day to day.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.charts.limits import Limits, limits_about
from app.metrology.distributions import coverage_factor, variance_ratio_quantile
from app.metrology.errors import MeasurementError
from app.metrology.repeatability import scatter

FACTOR = 2.0  # e-Handbook 2.2.3.1: two long-term standard deviations
PROBABILITY = 0.95


@dataclass(frozen=True, slots=True)
class CheckPoint:
    """One occasion on the reference volume: its day on a scale of the caller's, and what the repeats showed, in ratio.

    `scatter` is the standard deviation of one repeat; of a single one it is 0 and counts for nothing.
    """

    day: float
    mean: float
    scatter: float
    count: int


@dataclass(frozen=True, slots=True)
class CheckStandard:
    """The baseline in figures, in ratio; no short-term scatter where nothing was repeated."""

    occasions: int
    mean: float
    long_term: float
    long_term_dof: float
    short_term: float | None
    short_term_dof: float

    def limits(self, factor: float = FACTOR) -> Limits:
        """Of an occasion's mean, with the factor of 2.2.3.1 unless given."""
        return limits_about(self.mean, self.long_term, factor)

    def limits_covering(self, probability: float = PROBABILITY) -> Limits:
        """The same with Student's t, which knows how few occasions there were."""
        return self.limits(coverage_factor(probability, self.long_term_dof))

    def scatter_limit(self, count: int, probability: float = PROBABILITY, least: float = 0.0) -> float | None:
        """What the scatter of `count` repeats exceeds with one minus this probability: s₁·√F, as in 2.2.3.1.

        `least`, in ratio, stands in for a smaller s₁. None where nothing was repeated, here or in the baseline.
        """
        if self.short_term is None or count < 2:
            return None
        ratio = variance_ratio_quantile(probability, count - 1, self.short_term_dof)
        return max(self.short_term, least) * math.sqrt(ratio)


def check_standard(points: Sequence[CheckPoint]) -> CheckStandard:
    """The baseline of at least two occasions. Raises MeasurementError."""
    check_points(points)
    if len(points) < 2:
        raise MeasurementError("points", "One occasion shows no scatter. Measure the reference volume again.")
    means = [point.mean for point in points]
    dof = sum(point.count - 1 for point in points)
    squares = math.fsum((point.count - 1) * point.scatter**2 for point in points)
    return CheckStandard(
        occasions=len(points),
        mean=math.fsum(means) / len(means),
        long_term=scatter(means),
        long_term_dof=float(len(points) - 1),
        short_term=math.sqrt(squares / dof) if dof else None,
        short_term_dof=float(dof),
    )


def check_points(points: Sequence[CheckPoint]) -> None:
    """Raises MeasurementError for what no occasion can have shown, and where they do not stand in the order of time."""
    for place, point in enumerate(points):
        if not (math.isfinite(point.day) and math.isfinite(point.mean)):
            raise MeasurementError(f"points.{place}.mean", "A check has a day and a mean. Give the figures.")
        if point.count < 1:
            raise MeasurementError(f"points.{place}.count", "A check has at least one indication. Count those it has.")
        if not 0.0 <= point.scatter < math.inf:
            raise MeasurementError(f"points.{place}.scatter", "A standard deviation is 0 or more.")
        if place and point.day < points[place - 1].day:
            raise MeasurementError(f"points.{place}.day", "A chart needs its checks in the order of time. Sort them.")
