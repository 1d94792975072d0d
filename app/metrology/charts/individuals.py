"""Charts of single values and of the moving range between neighbours.

NIST/SEMATECH e-Handbook, 6.3.2.2; ISO 7870-2, control charts for individuals (from memory). σ comes from neighbouring
values, mean moving range over d₂ = 1.128, so that a drift or a step among the values does not widen the limits that are
to show it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from app.metrology.charts.constants import chart_constants
from app.metrology.charts.limits import Limits, all_finite, limits_about
from app.metrology.errors import MeasurementError

FEWEST = 8  # with eight values σ from moving ranges is known to about a third: enough for limits called provisional
FIRM = 20  # to about a fifth; ISO 7870-2 asks for some 20 to 25 before limits are kept (from memory)


@dataclass(frozen=True, slots=True)
class IndividualsChart:
    """Limits from a baseline, with the places of baseline values that lie beyond them; the unit of the values.

    Values of the baseline beyond its own limits are reported and not removed: leaving one out needs a cause, which is
    for people to find.
    """

    count: int
    provisional: bool
    individuals: Limits
    moving_range: Limits
    least_sigma_taken: bool  # the values agreed more closely than what they can be known to
    day_to_day_sigma_taken: bool  # values of different days differ by more than those of one day
    beyond: tuple[int, ...]
    ranges_beyond: tuple[int, ...]  # the later of the two places


def moving_ranges(values: Sequence[float]) -> tuple[float, ...]:
    """How far each value lies from the one before; one fewer than there are values."""
    return tuple(abs(later - earlier) for earlier, later in pairwise(values))


def baseline_limits(
    values: Sequence[float], least_sigma: float = 0.0, day_to_day_sigma: float = 0.0
) -> IndividualsChart:
    """Limits from at least eight values in the order of time; provisional below twenty.

    `least_sigma`, same unit, is taken where the values show less, as what a display's resolution leaves open;
    `day_to_day_sigma` where that is more than neighbouring values show. Raises MeasurementError with too few values,
    and without any scatter where no least one is given.
    """
    all_finite(values)
    if len(values) < FEWEST:
        raise MeasurementError(
            "values", f"Limits need at least {FEWEST} values, and {len(values)} are there. Measure more of them first."
        )
    ranges = moving_ranges(values)
    constants = chart_constants(2)
    of_neighbours = math.fsum(ranges) / len(ranges) / constants.d2
    shown = max(of_neighbours, day_to_day_sigma)
    sigma = max(shown, least_sigma)
    if not sigma > 0.0:
        raise MeasurementError(
            "values", "All values are alike, so they set no limits. Say what the display's resolution leaves open."
        )
    individuals = limits_about(math.fsum(values) / len(values), sigma)
    moving_range = moving_range_limits(sigma)
    return IndividualsChart(
        count=len(values),
        provisional=len(values) < FIRM,
        individuals=individuals,
        moving_range=moving_range,
        least_sigma_taken=shown < least_sigma,
        day_to_day_sigma_taken=day_to_day_sigma > max(of_neighbours, least_sigma),
        beyond=individuals.beyond(values),
        ranges_beyond=tuple(place + 1 for place in moving_range.beyond(ranges)),
    )


def moving_range_limits(sigma: float) -> Limits:
    """Limits of the range between neighbours whose values have this standard deviation: D₃ and D₄ times the mean."""
    constants = chart_constants(2)
    mean = constants.d2 * sigma
    return Limits(mean, constants.D3 * mean, constants.D4 * mean, constants.d3 * sigma)
