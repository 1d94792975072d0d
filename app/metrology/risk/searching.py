"""Where a rising function crosses zero."""

import math
from collections.abc import Callable
from typing import NamedTuple


class _Point(NamedTuple):
    at: float
    value: float


def crossing(
    function: Callable[[float], float], start: float, step: float, precision: float = 1e-12, floor: float = -math.inf
) -> float:
    """The argument, to within `precision` times `step`, from which on a function that never falls is 0 or more.

    Looks for both sides of it from `start` in doubling steps, then closes in by false position with halved ordinates
    (M. Dowell and P. Jarratt, BIT 11, 1971), every third time by halving the interval. Not below `floor`: that is the
    answer when the function is 0 or more even there. Without a floor it has to be negative somewhere, and above
    `start` it has to rise to 0.
    """
    low, high = _both_sides(function, start, step, floor)
    allowance = precision * step
    turn, side = 0, 0
    while high.at - low.at > allowance:
        turn += 1
        by_position = high.at - high.value * (high.at - low.at) / (high.value - low.value)
        guess = (low.at + high.at) / 2.0 if turn % 3 == 0 else by_position
        guess = min(max(guess, low.at + allowance / 2.0), high.at - allowance / 2.0)
        value = function(guess)
        if value < 0.0:
            high = high._replace(value=high.value / 2.0) if side < 0 else high
            low, side = _Point(guess, value), -1
        else:
            low = low._replace(value=low.value / 2.0) if side > 0 else low
            high, side = _Point(guess, value), 1
    return high.at


def _both_sides(function: Callable[[float], float], start: float, step: float, floor: float) -> tuple[_Point, _Point]:
    """A point where the function is negative and one where it is not; both the floor when it is not even there."""
    here = _Point(start, function(start))
    if here.value < 0.0:
        while True:
            there = _Point(here.at + step, function(here.at + step))
            if there.value >= 0.0:
                return here, there
            here, step = there, 2.0 * step
    while here.at > floor:
        at = max(here.at - step, floor)
        there = _Point(at, function(at))
        if there.value < 0.0:
            return there, here
        here, step = there, 2.0 * step
    return here, here
