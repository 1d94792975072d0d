"""Whether the first-order result stands up to the simulation. JCGM 101:2008, clause 8 (from memory)."""

import math
from dataclasses import dataclass

from app.metrology.monte_carlo.adaptive import numerical_tolerance
from app.metrology.monte_carlo.intervals import Interval

OF_VALIDATION = 5.0  # the simulation itself must be good to a fifth of the tolerance it judges by (8.2)


@dataclass(frozen=True, slots=True)
class Validation:
    """How far the ends of y ± U lie from the simulated ones, the tolerance, and what it means in sentences."""

    d_low: float
    d_high: float
    tolerance: float  # δ, of the first-order standard uncertainty to the significant digits asked for
    validated: bool
    sentences: tuple[str, ...]


def validate(
    value: float,
    standard_uncertainty: float,
    expanded_uncertainty: float,
    simulated: Interval,
    significant_digits: int = 1,
) -> Validation:
    """d_low = |y − U − y_low|, d_high = |y + U − y_high|, validated where both are within δ. JCGM 101:2008, 8.1."""
    tolerance = numerical_tolerance(standard_uncertainty, significant_digits)
    low, high = value - expanded_uncertainty, value + expanded_uncertainty
    d_low, d_high = abs(low - simulated.low), abs(high - simulated.high)
    validated = d_low <= tolerance and d_high <= tolerance
    places = max(0, -math.floor(math.log10(tolerance)))
    found = (
        f"First order gives {low:.{places}f} to {high:.{places}f}, "
        f"simulation {simulated.low:.{places}f} to {simulated.high:.{places}f}."
    )
    ends = f"{d_low:.{places}f} at the lower end and {d_high:.{places}f} at the upper"
    if validated:
        return Validation(
            d_low,
            d_high,
            tolerance,
            True,
            (found, f"They differ by {ends}, within {tolerance:.{places}f}: the first-order result is validated."),
        )
    return Validation(
        d_low,
        d_high,
        tolerance,
        False,
        (
            found,
            f"They differ by {ends}, more than {tolerance:.{places}f}: the first-order result is not validated.",
            _meaning(low, high, simulated),
        ),
    )


def _meaning(low: float, high: float, simulated: Interval) -> str:
    if low <= simulated.low and high >= simulated.high:
        return "The first-order interval holds the simulated one: it claims less than it could, and errs on no side."
    if low > simulated.low and high < simulated.high:
        return "The simulated interval is wider at both ends: first order claims more than it can."
    side, by = ("below", low - simulated.low) if low > simulated.low else ("above", simulated.high - high)
    return f"The simulated interval reaches further {side}, by {by:.2g}: first order claims too much on that side."
