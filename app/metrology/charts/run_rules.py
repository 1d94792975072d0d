"""Patterns among neighbouring points that chance seldom makes, as data: each with its name, its words and its window.

Western Electric: Statistical Quality Control Handbook (1956), as quoted in the NIST/SEMATECH e-Handbook, 6.3.2.
Nelson: L. S. Nelson, Journal of Quality Technology 16 (1984), 237–239 (from memory). Every rule adds false signals of
its own, so a chart chooses a few; the four of Western Electric together signal once in 92 points without a cause.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from app.metrology.charts.limits import all_finite, check_sigma
from app.metrology.rules import ARITHMETIC_NOISE

BEYOND, TREND, IN_TURN, CLOSE, BOTH_SIDES = "beyond", "trend", "in_turn", "close", "both_sides"
_WESTERN, _NELSON = "Western Electric (1956), as in the NIST/SEMATECH e-Handbook, 6.3.2", "L. S. Nelson (1984)"


@dataclass(frozen=True, slots=True)
class Rule:
    """What a signal is called, what a steward reads, and where it comes from."""

    key: str
    words: str
    source: str


@dataclass(frozen=True, slots=True)
class RunRule(Rule):
    """`least` of the newest `window` points, the newest one among them, show the pattern; `sigmas` off the centre."""

    pattern: str
    window: int
    least: int
    sigmas: float = 0.0


@dataclass(frozen=True, slots=True)
class Signal:
    """`side` is 1 above the centre or rising, −1 below or falling, 0 where the rule has none."""

    place: int  # of the newest point
    rule: Rule
    side: int
    places: tuple[int, ...]  # of all the points that make the pattern


RUN_RULES: dict[str, RunRule] = {
    rule.key: rule
    for rule in (
        RunRule(
            "one_far_out",
            "a single check lies more than three standard deviations from the centre",
            _WESTERN, BEYOND, window=1, least=1, sigmas=3.0,
        ),
        RunRule(
            "two_of_three_far_to_one_side",
            "two of three checks in a row lie more than two standard deviations to the same side",
            _WESTERN, BEYOND, window=3, least=2, sigmas=2.0,
        ),
        RunRule(
            "four_of_five_off_to_one_side",
            "four of five checks in a row lie more than one standard deviation to the same side",
            _WESTERN, BEYOND, window=5, least=4, sigmas=1.0,
        ),
        RunRule(
            "eight_in_a_row_on_one_side",
            "eight checks in a row lie on the same side of the centre",
            _WESTERN, BEYOND, window=8, least=8,
        ),
        RunRule(
            "nine_in_a_row_on_one_side",
            "nine checks in a row lie on the same side of the centre",
            _NELSON, BEYOND, window=9, least=9,
        ),
        RunRule(
            "six_rising_or_falling",
            "six checks in a row rise, or fall, from each to the next",
            _NELSON, TREND, window=6, least=6,
        ),
        RunRule(
            "fourteen_up_and_down_in_turn",
            "fourteen checks in a row go up and down in turn",
            _NELSON, IN_TURN, window=14, least=14,
        ),
        RunRule(
            "fifteen_close_to_the_centre",
            "fifteen checks in a row lie within one standard deviation of the centre, so the limits are too wide",
            _NELSON, CLOSE, window=15, least=15, sigmas=1.0,
        ),
        RunRule(
            "eight_off_to_both_sides",
            "eight checks in a row lie more than one standard deviation off, some above and some below",
            _NELSON, BOTH_SIDES, window=8, least=8, sigmas=1.0,
        ),
    )
}  # fmt: skip
WESTERN_ELECTRIC = tuple(
    RUN_RULES[key]
    for key in (
        "one_far_out",
        "two_of_three_far_to_one_side",
        "four_of_five_off_to_one_side",
        "eight_in_a_row_on_one_side",
    )
)
NELSON = tuple(
    RUN_RULES[key]
    for key in (
        "one_far_out",
        "nine_in_a_row_on_one_side",
        "six_rising_or_falling",
        "fourteen_up_and_down_in_turn",
        "two_of_three_far_to_one_side",
        "four_of_five_off_to_one_side",
        "fifteen_close_to_the_centre",
        "eight_off_to_both_sides",
    )
)


def signals(
    values: Sequence[float], centre: float, sigma: float, rules: Sequence[RunRule] = WESTERN_ELECTRIC
) -> list[Signal]:
    """Every signal in values that stand in the order of time; by place, then in the order of the rules.

    A point on a line of the chart is not beyond it. A pattern counts where the newest point is part of it, so that a
    point which is back at the centre signals nothing. Raises MeasurementError.
    """
    all_finite(values)
    check_sigma(sigma)
    off = [value - centre for value in values]
    return [signal for place in range(len(off)) for rule in rules for signal in _ending_at(off, place, sigma, rule)]


def _ending_at(off: Sequence[float], place: int, sigma: float, rule: RunRule) -> list[Signal]:
    first = max(0, place - rule.window + 1)
    window = off[first : place + 1]
    if len(window) < rule.least:
        return []
    line = rule.sigmas * sigma
    if rule.pattern == BEYOND:
        found = []
        for side in (1, -1):
            places = tuple(first + at for at, value in enumerate(window) if side * value > line + ARITHMETIC_NOISE)
            if len(places) >= rule.least and places[-1] == place:
                found.append(Signal(place, rule, side, places))
        return found
    seen = _WHOLE_WINDOW[rule.pattern](window, line)
    return [] if seen is None else [Signal(place, rule, seen, tuple(range(first, place + 1)))]


def _trend(window: Sequence[float], _line: float) -> int | None:
    steps = _steps(window)
    return steps[0] if steps[0] and all(step == steps[0] for step in steps) else None


def _in_turn(window: Sequence[float], _line: float) -> int | None:
    steps = _steps(window)
    return 0 if all(one * other < 0 for one, other in pairwise(steps)) else None


def _close(window: Sequence[float], line: float) -> int | None:
    return 0 if all(abs(value) <= line + ARITHMETIC_NOISE for value in window) else None


def _both_sides(window: Sequence[float], line: float) -> int | None:
    off = all(abs(value) > line + ARITHMETIC_NOISE for value in window)
    return 0 if off and min(window) < 0.0 < max(window) else None


_WHOLE_WINDOW: dict[str, Callable[[Sequence[float], float], int | None]] = {
    TREND: _trend,
    IN_TURN: _in_turn,
    CLOSE: _close,
    BOTH_SIDES: _both_sides,
}


def _steps(window: Sequence[float]) -> list[int]:
    """1 up, −1 down, 0 level, from each point to the next."""
    return [
        (later - earlier > ARITHMETIC_NOISE) - (earlier - later > ARITHMETIC_NOISE)
        for earlier, later in pairwise(window)
    ]
