"""What is drawn against which line, and the axis that shows it.

Numbers may come as floats, Decimals or decimal strings (as records carry them); rows and rules as objects or mappings.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, floor, isfinite, log10
from typing import Any

from app.metrology.rules import MAXIMUM, MINIMUM, RANGE, SIDES

ROOM_FOR_BOTH = 30  # spans of a usual interval: with more between the limits of a range, bars shrink to strokes
Number = float | int | str | Decimal


@dataclass(frozen=True, slots=True)
class Axis:
    low: float
    high: float
    step: float
    decimals: int
    ticks: tuple[float, ...]

    def text(self, value: float) -> str:
        return f"{value:.{self.decimals}f}"


@dataclass(frozen=True, slots=True)
class Limits:
    """The lines of one rule on one row; None where the decision rule draws none.

    Of a range they are those of the side that the row is judged on, and `opposite` has the other side's limit.
    """

    kind: str  # the side: "maximum" or "minimum"
    limit: float
    tolerance_limit: float
    acceptance: float | None = None
    rejection: float | None = None
    opposite: "Limits | None" = None


def both_sides(limits: Limits) -> tuple[Limits, ...]:
    return (limits,) if limits.opposite is None else (limits, limits.opposite)


def number(value: Number | None) -> float | None:
    """A float from what a record carries, None for what was not measured."""
    if value is None or value == "":
        return None
    found = float(value)
    return found if isfinite(found) else None


def shown(value: Number | None, decimals: int = 2) -> str:
    found = number(value)
    return "" if found is None else f"{found:.{decimals}f}".replace("-", "−")


def share(value: Number, whole: Number = 100) -> float:
    """Width of a bar in hundredths, for tables with a bar per line; never outside 0 to 100."""
    part, total = number(value) or 0.0, number(whole) or 0.0
    return 0.0 if total <= 0 else round(max(0.0, min(100.0, 100.0 * part / total)), 1)


def field(thing: Any, *names: str) -> Any:
    """The first of these names that the object or mapping has and that is not None."""
    for name in names:
        got = thing.get(name) if isinstance(thing, Mapping) else getattr(thing, name, None)
        if got is not None:
            return got
    return None


def limits_of(rule: Any, row: Any = None) -> Limits:
    """The lines on the side of the rule that this row is judged on; of a range alone, the upper side's."""
    kind = str(field(rule, "kind") or MAXIMUM.key)
    limit, lower = number(field(rule, "limit")), number(field(rule, "lower_limit"))
    if limit is None:
        raise ValueError("an interval picture needs the limit of its rule")
    tolerance = number(field(rule, "tolerance")) or 0.0
    source = rule if row is None else row
    acceptance = number(field(source, "acceptance_limit", "acceptance"))
    rejection = number(field(source, "rejection_limit", "rejection"))
    if kind == RANGE and lower is not None:
        bounds = {
            side.key: Limits(side.key, written, side.tolerance_limit(written, tolerance))
            for side, written in ((MAXIMUM, limit), (MINIMUM, lower))
        }
        own = bounds.pop(_side_of(row, bounds))
        (other,) = bounds.values()
        return Limits(own.kind, own.limit, own.tolerance_limit, acceptance, rejection, other)
    if kind == RANGE:  # told by a result, which has the limit of the side that decided
        kind = str(field(rule, "side") or MAXIMUM.key)
    tolerance_limit = number(field(rule, "tolerance_limit"))
    if tolerance_limit is None:
        tolerance_limit = SIDES[kind].tolerance_limit(limit, tolerance)
    return Limits(kind, limit, tolerance_limit, acceptance, rejection)


def _side_of(row: Any, bounds: Mapping[str, Limits]) -> str:
    """The side that decided, or the nearer one of a row that no rule judges."""
    judged_on, value = field(row, "side"), number(field(row, "value"))
    if judged_on or value is None:
        return str(judged_on or MAXIMUM.key)
    return min(bounds.values(), key=lambda one: SIDES[one.kind].margin(value, one.tolerance_limit)).kind


def strip_limits(
    kind: str, limit: Number, tolerance_limit: Number | None, acceptance: Number | None, rejection: Number | None
) -> Limits:
    plain = {"kind": kind, "limit": limit, "tolerance_limit": tolerance_limit}
    return limits_of(plain, {"acceptance": acceptance, "rejection": rejection})


def interval_of(row: Any) -> tuple[float, float] | None:
    value = number(field(row, "value"))
    if value is None:
        return None
    return value, number(field(row, "expanded_uncertainty", "expanded")) or 0.0


def label_of(row: Any) -> str:
    label = field(row, "label")
    if label:
        return str(label)
    cylinder = field(row, "cylinder")
    return "Mean of cylinders" if str(cylinder) == "0" else f"Cylinder {cylinder}"


def axis_for(rows: Iterable[Any], rule: Any, wanted_ticks: int = 6) -> Axis:
    """One axis that shows every interval and every line of the rule, with round figures on it.

    The other side of a range is shown while it leaves room for the intervals.
    """
    shown_values: list[float] = []
    listed = list(rows)
    judged = [limits_of(rule, row) for row in listed]
    alone = limits_of(rule)
    if not judged or alone.opposite is None:
        judged.append(alone)
    for row in listed:
        interval = interval_of(row)
        if interval is not None:
            shown_values += [interval[0] - interval[1], interval[0] + interval[1]]
    for limits in judged:
        shown_values += lines_of(limits).values()
    further = [value for limits in judged if limits.opposite for value in lines_of(limits.opposite).values()]
    if further:
        low, high = min(shown_values + further), max(shown_values + further)
        spread = _usual_spread(listed)
        if spread is None or high - low <= 2 * spread * ROOM_FOR_BOTH:
            shown_values += further
    return axis_between(min(shown_values), max(shown_values), wanted_ticks)


def _usual_spread(rows: Iterable[Any]) -> float | None:
    """The middle one of the expanded uncertainties; None where there is none above zero."""
    spreads = sorted(found[1] for found in map(interval_of, rows) if found is not None)
    return spreads[len(spreads) // 2] or None if spreads else None


def strip_axis(rows: Iterable[Any], rule: Any) -> Axis:
    """For strips: the neighbourhood of the limit. A bar far away is cut at the edge with an arrow, so that the bars
    near the line stay long enough to be told apart."""
    listed = list(rows)
    whole = axis_for(listed, rule)
    spread = _usual_spread(listed)
    if spread is None:
        return whole
    lines = [limits_of(rule, row).tolerance_limit for row in listed if interval_of(row) is not None]
    low, high = max(whole.low, min(lines) - 7 * spread), min(whole.high, max(lines) + 7 * spread)
    return Axis(low, high, whole.step, whole.decimals, whole.ticks)


def axis_between(low: float, high: float, wanted_ticks: int = 6) -> Axis:
    span = high - low
    if span <= 0:
        span = abs(high) * 0.02 or 1.0
    low, high = low - 0.08 * span, high + 0.08 * span
    rough = (high - low) / wanted_ticks
    power = 10.0 ** floor(log10(rough))
    step = next(power * factor for factor in (1, 2, 5, 10) if power * factor >= rough * 0.999)
    first, last = ceil(low / step - 1e-9), floor(high / step + 1e-9)
    decimals = max(0, -floor(log10(step) + 1e-9))
    return Axis(low, high, step, decimals, tuple(index * step for index in range(first, last + 1)))


def lines_of(limits: Limits) -> dict[str, float]:
    lines = {"tolerance_limit": limits.tolerance_limit}
    if limits.limit != limits.tolerance_limit:
        lines["limit"] = limits.limit
    if limits.acceptance is not None:
        lines["acceptance"] = limits.acceptance
    if limits.rejection is not None:
        lines["rejection"] = limits.rejection
    return lines
