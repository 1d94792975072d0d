"""One-way analysis of variance: what varies between groups (days, events, adapters) and what within them.

JCGM 100:2008, H.5, written for groups of any size; where all have the same, every figure is that of H.5.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.distributions import variance_ratio_quantile
from app.metrology.errors import MeasurementError
from app.metrology.repeatability import scatter


@dataclass(frozen=True, slots=True)
class Group:
    """What one group is told by: how many values, their mean, their experimental standard deviation (one value: 0)."""

    count: int
    mean: float
    standard_deviation: float


@dataclass(frozen=True, slots=True)
class OneWay:
    """The analysis; standard deviations and uncertainties in the unit of the values."""

    mean: float  # of the groups' means, each counted once
    between: float  # sₐ: of one value, estimated from the groups' means
    between_degrees_of_freedom: float
    within: float  # s_b: of one value about its group's mean
    within_degrees_of_freedom: float
    group_effect: float  # s_B: standard deviation of what distinguishes the groups; 0 where sₐ does not exceed s_b
    standard_uncertainty: float  # of `mean`, from the scatter of the groups' means: right whether or not they differ
    standard_uncertainty_without_effect: float  # of the mean of all values taken as one set: only if groups are alike

    @property
    def variance_ratio(self) -> float:
        """F = sₐ²/s_b²; infinite where only the groups differ, 1 where nothing varies."""
        if self.within == 0.0:
            return math.inf if self.between > 0.0 else 1.0
        return (self.between / self.within) ** 2

    def differs(self, significance: float = 0.05) -> bool:
        """Whether the groups differ by more than the values within them explain. JCGM 100:2008, H.5.2, F test."""
        return self.variance_ratio > variance_ratio_quantile(
            1.0 - significance, self.between_degrees_of_freedom, self.within_degrees_of_freedom
        )


def group_of(values: Sequence[float]) -> Group:
    """One group from its values, at least one."""
    if not values:
        raise MeasurementError("groups", "A group has at least one value: leave an empty one out.")
    deviation = scatter(values) if len(values) > 1 else 0.0
    return Group(len(values), math.fsum(values) / len(values), deviation)


def one_way(groups: Sequence[Group]) -> OneWay:
    """The analysis of at least two groups, one of which repeats at least. JCGM 100:2008, H.5.2."""
    number, total = len(groups), sum(group.count for group in groups)
    if number < 2 or total == number:
        raise MeasurementError("groups", "Two groups are the least to compare, and one of them has repeats.")
    weighted = math.fsum(group.count * group.mean for group in groups) / total
    squares_between = math.fsum(group.count * (group.mean - weighted) ** 2 for group in groups)
    squares_within = math.fsum((group.count - 1) * group.standard_deviation**2 for group in groups)
    between, within = squares_between / (number - 1), squares_within / (total - number)
    usual_count = (total - math.fsum(group.count**2 for group in groups) / total) / (number - 1)
    means = [group.mean for group in groups]
    return OneWay(
        mean=math.fsum(means) / number,
        between=math.sqrt(between),
        between_degrees_of_freedom=float(number - 1),
        within=math.sqrt(within),
        within_degrees_of_freedom=float(total - number),
        group_effect=math.sqrt(max(between - within, 0.0) / usual_count),
        standard_uncertainty=scatter(means) / math.sqrt(number),
        standard_uncertainty_without_effect=math.sqrt((squares_between + squares_within) / (total * (total - 1))),
    )
