"""What a decision rule does with an engine of known true ratios: how likely each verdict is.

The errors of an engine's cylinders have a part in common (temperature, displacement, the instrument) and parts of their
own (repeatability, resolution). Given the common part the cylinders are independent, so the probability that all of
them lie between two limits is one integral over it:

    P(L ≤ Yᵢ ≤ U for all i) = ∫ f_S(s)·∏ᵢ [F_O(U − xᵢ − s) − F_O(L − xᵢ − s)] ds,   Yᵢ = xᵢ + S + Oᵢ.
"""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

from app.metrology.errors import MeasurementError
from app.metrology.risk.intervals import DecisionLimits, Interval
from app.metrology.risk.processes import Distribution
from app.metrology.risk.quadrature import Array, integrate

_STEPS = (-4.0, 4.0)  # standard deviations of the own part about where the integrand falls


class Errors(NamedTuple):
    """The errors of one engine's measurement, both about 0; None where there is no such part."""

    shared: Distribution | None
    own: Distribution | None


class Odds(NamedTuple):
    """The probability of each verdict on one engine, and a bound on the error of these figures."""

    accepted: float
    rejected: float
    inconclusive: float
    error_bound: float


Characteristic = Callable[[float], Odds]


def engine_odds(true_values: Sequence[float], errors: Errors, limits: DecisionLimits) -> Odds:
    """The verdict on an engine of which every cylinder is judged: accepted when all are, rejected when any is.

    One true value for each cylinder. A rule for the mean has one value, the mean, and the errors of the mean. Raises
    MeasurementError without a cylinder.
    """
    if not true_values:
        raise MeasurementError("true_values", "Name the true value of at least one cylinder.")
    if limits.acceptance == limits.rejection:
        (accepted,), bound = _all_inside(true_values, errors, (limits.acceptance,))
        not_rejected = accepted
    else:
        (accepted, not_rejected), bound = _all_inside(true_values, errors, (limits.acceptance, limits.rejection))
    # what the quadrature makes of a certainty is a few units in the last place off it
    return Odds(min(1.0, accepted), max(0.0, 1.0 - not_rejected), max(0.0, not_rejected - accepted), bound)


def alike(cylinders: int, errors: Errors, limits: DecisionLimits) -> Characteristic:
    """The characteristic of engines whose cylinders all have one and the same true value, its argument."""
    return lambda true_value: engine_odds([true_value] * cylinders, errors, limits)


def curve(characteristic: Characteristic, low: float, high: float, points: int) -> tuple[tuple[float, Odds], ...]:
    """The operating characteristic at `points` (2 or more) true values, equally spaced, both ends among them."""
    step = (high - low) / (points - 1)
    values = [low + index * step for index in range(points - 1)] + [high]
    return tuple((value, characteristic(value)) for value in values)


def _all_inside(
    true_values: Sequence[float], errors: Errors, intervals: tuple[Interval, ...]
) -> tuple[tuple[float, ...], float]:
    """For each interval the probability that every cylinder's value lies inside it, and the bound on their errors."""
    shared, own = errors
    if own is None:
        return tuple(_extremes_inside(true_values, shared, interval) for interval in intervals), 0.0
    counted = tuple(Counter(true_values).items())

    def given(common_errors: Array) -> Array:
        return np.stack([_product(own, counted, interval, common_errors) for interval in intervals])

    if shared is None:
        return tuple(given(np.zeros(1))[:, 0].tolist()), 0.0

    def weighted(common_errors: Array) -> Array:
        return shared.densities(common_errors) * given(common_errors)

    return integrate(weighted, _breaks(true_values, shared, own, intervals))


def _extremes_inside(true_values: Sequence[float], shared: Distribution | None, interval: Interval) -> float:
    """Without errors of their own the cylinders move together: the greatest and the least of them decide."""
    room_above, room_below = interval.upper - max(true_values), interval.lower - min(true_values)
    if shared is None:
        return 1.0 if room_below <= 0.0 <= room_above else 0.0
    return max(0.0, shared.cdf(room_above) - shared.cdf(room_below))


def _product(
    own: Distribution, counted: tuple[tuple[float, int], ...], interval: Interval, common_errors: Array
) -> Array:
    product = np.ones_like(common_errors)
    for true_value, times in counted:
        centres = true_value + common_errors
        inside = own.probabilities(interval.upper - centres) if interval.upper < math.inf else 1.0
        if interval.lower > -math.inf:
            inside = inside - own.probabilities(interval.lower - centres)
        product *= inside**times
    return product


def _breaks(
    true_values: Sequence[float], shared: Distribution, own: Distribution, intervals: tuple[Interval, ...]
) -> list[float]:
    ends = shared.breaks
    falls = [end - value for interval in intervals for end in interval.ends for value in _extremes(true_values)]
    steps = {fall + step * own.standard_deviation for fall in falls for step in _STEPS}
    return [*ends, *(step for step in steps if ends[0] < step < ends[-1])]


def _extremes(true_values: Sequence[float]) -> tuple[float, float]:
    return min(true_values), max(true_values)
