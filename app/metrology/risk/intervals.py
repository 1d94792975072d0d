"""Tolerance, acceptance and rejection limits, one- and two-sided, as plain intervals. JCGM 106:2012, 3.3."""

import math
from dataclasses import dataclass

from app.metrology.errors import MeasurementError


@dataclass(frozen=True, slots=True)
class Interval:
    """All values from `lower` to `upper`; one-sided limits leave the other end infinite."""

    lower: float = -math.inf
    upper: float = math.inf

    def __post_init__(self) -> None:
        if not self.lower < self.upper:
            raise MeasurementError(
                "lower", f"The lower limit, {self.lower:g}, must lie below the upper one, {self.upper:g}."
            )

    def contains(self, value: float) -> bool:
        return self.lower <= value <= self.upper

    @property
    def ends(self) -> tuple[float, ...]:
        """The limits that there are."""
        return tuple(end for end in (self.lower, self.upper) if math.isfinite(end))


@dataclass(frozen=True, slots=True)
class DecisionLimits:
    """Accepted inside `acceptance`, rejected outside `rejection`, inconclusive between the two."""

    acceptance: Interval
    rejection: Interval

    def __post_init__(self) -> None:
        if self.rejection.lower > self.acceptance.lower or self.rejection.upper < self.acceptance.upper:
            raise MeasurementError("rejection", "A value cannot be accepted and rejected at once: mend the limits.")

    @property
    def ends(self) -> tuple[float, ...]:
        return (*self.acceptance.ends, *self.rejection.ends)


def decision_limits(
    decision_rule: str, tolerance: Interval, acceptance_guard: float, rejection_guard: float
) -> DecisionLimits:
    """What is accepted and rejected by a key of DECISION_RULES; guard bands never negative, same unit as the limits.

    Guarded acceptance rejects whatever it does not accept, guarded rejection the other way round: JCGM 106:2012, 8.3.
    """
    inwards = Interval(tolerance.lower + acceptance_guard, tolerance.upper - acceptance_guard)
    outwards = Interval(tolerance.lower - rejection_guard, tolerance.upper + rejection_guard)
    match decision_rule:
        case "simple_acceptance":
            return DecisionLimits(tolerance, tolerance)
        case "guarded_acceptance":
            return DecisionLimits(inwards, inwards)
        case "guarded_rejection":
            return DecisionLimits(outwards, outwards)
        case _:
            return DecisionLimits(inwards, outwards)
