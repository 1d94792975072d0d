"""Where an instrument is drifting to: a line through its checks, and when that line reaches the permitted edge.

The line is that of JCGM 100:2008, H.3. The day on which it reaches an edge is found by inverse regression: all days on
which the edge lies within the confidence band of the line, E. C. Fieller, J. R. Statist. Soc. B 16 (1954); N. R. Draper
and H. Smith, Applied Regression Analysis (from memory). That set is an interval exactly when the slope differs from
zero at that confidence; otherwise no latest day can be given, and none is made up.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from app.metrology.charts.limits import all_finite
from app.metrology.distributions import coverage_factor, t_probability
from app.metrology.errors import MeasurementError
from app.metrology.line_fit import fit_line

CONFIDENCE = 0.95
STEADY, STEADY_OUTSIDE = "steady", "steady_outside"  # no drift shown, and the line between the edges or past one
WILL_REACH, HAS_PASSED, COMING_BACK = "will_reach", "has_passed", "coming_back"


@dataclass(frozen=True, slots=True)
class Drift:
    """The line through the checks: ratios against days, its slope in ratio per day."""

    middle: float  # mean of the days; there the line is surest
    level: float  # the line at that day, in ratio
    level_standard_uncertainty: float
    slope: float
    slope_standard_uncertainty: float
    degrees_of_freedom: float
    confidence: float
    factor: float  # k of Student's t for that confidence
    chance: float  # how probable so steep a slope, to either side, were without any drift

    @property
    def lowest(self) -> float:
        """Lower end of the slope's interval at `confidence`."""
        return self.slope - self.factor * self.slope_standard_uncertainty

    @property
    def highest(self) -> float:
        return self.slope + self.factor * self.slope_standard_uncertainty

    @property
    def differs_from_zero(self) -> bool:
        """Whether the slope's interval leaves zero out."""
        return self.slope**2 > (self.factor * self.slope_standard_uncertainty) ** 2

    def at(self, day: float) -> float:
        """The line, in ratio."""
        return self.level + self.slope * (day - self.middle)

    def standard_uncertainty_at(self, day: float) -> float:
        """Of the line at that day, in ratio. JCGM 100:2008, H.3.4, with the origin where nothing correlates."""
        return math.hypot(self.level_standard_uncertainty, (day - self.middle) * self.slope_standard_uncertainty)


class Crossing(NamedTuple):
    """The line reaches an edge (ratio) on `day`, which lies between the other two at the drift's confidence."""

    edge: float
    day: float
    earliest: float
    latest: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """When the line reaches the edge it runs to, in days on the scale of the checks.

    With a drift there is a `crossing`, and all of it may have passed. Without one no day and no latest day can be
    given; `not_before` is the first day from `as_of` on for which the band of the line does not leave out that an edge
    is reached: None where that is so already, infinite where the line is known to be level.
    """

    standing: str
    as_of: float
    level: float  # the line at `as_of`, in ratio
    crossing: Crossing | None
    not_before: float | None

    @property
    def edge(self) -> float | None:
        """In ratio; the one on the side to which the line runs."""
        return self.crossing.edge if self.crossing else None

    @property
    def value(self) -> float | None:
        return self.crossing.day if self.crossing else None

    @property
    def earliest(self) -> float | None:
        """None where the interval is open on that side: the edge may be reached already."""
        return self.crossing.earliest if self.crossing else self.not_before

    @property
    def latest(self) -> float | None:
        """None where the interval is open on that side."""
        return self.crossing.latest if self.crossing else None


def drift_of(
    days: Sequence[float], values: Sequence[float], confidence: float = CONFIDENCE, least_scatter: float = 0.0
) -> Drift:
    """The line through at least three checks on two or more days. Raises MeasurementError.

    `least_scatter`, in ratio, stands in where the checks lie closer to the line than they can be known to, as those of
    a coarse display do.
    """
    all_finite(days, "days")
    all_finite(values)
    if not 0.0 < confidence < 1.0:
        raise MeasurementError("confidence", f"A confidence lies between 0 and 1, as 0.95; {confidence:g} was given.")
    line = fit_line(days, values)
    middle = math.fsum(days) / len(days)
    scatter = max(line.residual_standard_deviation, least_scatter)
    spread = math.fsum((day - middle) ** 2 for day in days)
    slope_uncertainty = scatter / math.sqrt(spread)
    return Drift(
        middle=middle,
        level=math.fsum(values) / len(values),
        level_standard_uncertainty=scatter / math.sqrt(len(days)),
        slope=line.slope,
        slope_standard_uncertainty=slope_uncertainty,
        degrees_of_freedom=line.degrees_of_freedom,
        confidence=confidence,
        factor=coverage_factor(confidence, line.degrees_of_freedom),
        chance=_chance(line.slope, slope_uncertainty, line.degrees_of_freedom),
    )


def _chance(slope: float, standard_uncertainty: float, degrees_of_freedom: float) -> float:
    if slope == 0.0:
        return 1.0
    if standard_uncertainty == 0.0:
        return 0.0
    return 2.0 * t_probability(-abs(slope) / standard_uncertainty, degrees_of_freedom)


def forecast(drift: Drift, lowest_accepted: float, highest_accepted: float, as_of: float) -> Forecast:
    """When the line reaches the edge towards which it runs, seen from the day `as_of`. Raises MeasurementError."""
    all_finite([as_of], "as_of")
    if not lowest_accepted <= highest_accepted:
        raise MeasurementError(
            "lowest_accepted",
            f"The lowest accepted ratio, {lowest_accepted:g}, lies above the highest, {highest_accepted:g}. "
            "Exchange the two.",
        )
    level = drift.at(as_of)
    if not drift.differs_from_zero:
        standing = STEADY if lowest_accepted <= level <= highest_accepted else STEADY_OUTSIDE
        touched = min(_first_touch(drift, edge, as_of) for edge in (lowest_accepted, highest_accepted))
        return Forecast(standing, as_of, level, None, touched if touched > as_of else None)
    rising = drift.slope > 0.0
    edge, opposite = (highest_accepted, lowest_accepted) if rising else (lowest_accepted, highest_accepted)
    side = 1.0 if rising else -1.0
    if side * (level - edge) >= 0.0:
        standing = HAS_PASSED
    else:
        standing = COMING_BACK if side * (level - opposite) < 0.0 else WILL_REACH
    return Forecast(standing, as_of, level, _crossing(drift, edge), None)


def _fieller(drift: Drift, edge: float) -> tuple[float, float, float, float]:
    """a, h, c and √(h² − ac) of a·d² − 2h·d + c ≤ 0, which holds on the days, from the middle, when the band touches.

    The root is written so that nothing cancels: h² − ac = k²·(u(slope)²·away² + a·u(level)²).
    """
    away = edge - drift.level
    slope_part = (drift.factor * drift.slope_standard_uncertainty) ** 2
    level_part = (drift.factor * drift.level_standard_uncertainty) ** 2
    a = drift.slope**2 - slope_part
    root = math.sqrt(max(slope_part * away**2 + a * level_part, 0.0))
    return a, drift.slope * away, away**2 - level_part, root


def _crossing(drift: Drift, edge: float) -> Crossing:
    """Of a slope that differs from zero, so that a > 0 and the days lie between the two roots."""
    a, h, _, root = _fieller(drift, edge)
    day = drift.middle + (edge - drift.level) / drift.slope
    earliest, latest = drift.middle + (h - root) / a, drift.middle + (h + root) / a
    return Crossing(edge, day, min(earliest, day), max(latest, day))  # of a line without scatter all three are one


def _first_touch(drift: Drift, edge: float, as_of: float) -> float:
    """The first day from `as_of` on at which the band touches the edge, of a slope that may be zero: a ≤ 0."""
    if abs(drift.at(as_of) - edge) <= drift.factor * drift.standard_uncertainty_at(as_of):
        return as_of
    a, h, c, root = _fieller(drift, edge)
    if h < 0.0:  # of the two ways to write the later root the one in which nothing cancels
        return drift.middle + (h - root) / a if a < 0.0 else math.inf
    return drift.middle + c / (h + root) if h + root > 0.0 else math.inf
