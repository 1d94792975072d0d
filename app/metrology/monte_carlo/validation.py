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
    unit: str = "",
) -> Validation:
    """d_low = |y − U − y_low|, d_high = |y + U − y_high|, validated where both are within δ. JCGM 101:2008, 8.1.

    All in the result's unit, which the sentences name; "" for a ratio.
    """
    tolerance = numerical_tolerance(standard_uncertainty, significant_digits)
    low, high = value - expanded_uncertainty, value + expanded_uncertainty
    d_low, d_high = abs(low - simulated.low), abs(high - simulated.high)
    validated = d_low <= tolerance and d_high <= tolerance
    places = max(0, -math.floor(math.log10(tolerance)))

    def written(figure: float) -> str:
        return f"{figure:.{places}f} {unit}".rstrip()

    ends = f"The ends differ by {written(d_low)} below and {written(d_high)} above"
    sentences = [
        f"The budget gives {low:.{places}f} to {written(high)}, "
        f"the simulation {simulated.low:.{places}f} to {written(simulated.high)}."
    ]
    if validated:
        sentences.append(f"{ends}, within {written(tolerance)}: the simulation bears the budget out.")
    else:
        sentences.append(f"{ends}, more than {written(tolerance)}: the simulation does not bear the budget out.")
        sentences.append(_meaning(low, high, simulated, unit))
    return Validation(d_low, d_high, tolerance, validated, tuple(sentences))


def _meaning(low: float, high: float, simulated: Interval, unit: str) -> str:
    if low <= simulated.low and high >= simulated.high:
        return "The budget's interval holds the simulated one: it claims less than it could."
    if low > simulated.low and high < simulated.high:
        return "The simulated interval is wider at both ends: the budget claims more than it can."
    side, by = ("below", low - simulated.low) if low > simulated.low else ("above", simulated.high - high)
    further = f"{by:.2g} {unit}".rstrip()
    return f"The simulated interval reaches further {side}, by {further}: the budget claims too much on that side."
