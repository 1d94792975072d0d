"""Where the marks of an interval picture stand: plain geometry and sentences, drawn by templates/_plots.html.

Numbers may come as floats, Decimals or decimal strings (as records carry them); rows and rules as objects or mappings.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from math import ceil, floor, isfinite, log10
from typing import Any

Number = float | int | str | Decimal

VERDICT_WORDS = {
    "conforming": "INSIDE THE LIMIT",
    "nonconforming": "PAST THE LIMIT",
    "inconclusive": "ACROSS THE LIMIT",
    "": "NO VERDICT",
}


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
    """The lines of one rule on one row; None where the decision rule draws none."""

    kind: str
    limit: float
    tolerance_limit: float
    acceptance: float | None = None
    rejection: float | None = None


@dataclass(frozen=True, slots=True)
class Tick:
    x: float
    text: str


@dataclass(frozen=True, slots=True)
class Bar:
    """One interval: low end, middle and high end on the picture, cut at the edges of the axis."""

    x0: float
    x: float
    x1: float
    y0: float
    y1: float
    cut_low: bool
    cut_high: bool
    hatch: str


@dataclass(frozen=True, slots=True)
class LimitMark:
    role: str  # "limit" | "tolerance_limit" | "acceptance" | "rejection"
    x: float
    y0: float
    y1: float
    teeth: str  # path of the short strokes on the forbidden side; empty but for the deciding line


@dataclass(frozen=True, slots=True)
class LimitLabel:
    role: str
    x: float
    y: float
    anchor: str
    text: str


@dataclass(frozen=True, slots=True)
class Row:
    label: str
    value_text: str
    words: str
    verdict: str
    label_y: float
    value_y: float
    words_y: float
    base_y: float
    top: float
    height: float
    bar: Bar | None
    marks: tuple[LimitMark, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    width: int
    height: float
    left: float
    right: float
    axis_y: float
    ticks: tuple[Tick, ...]
    rows: tuple[Row, ...]
    labels: tuple[LimitLabel, ...]
    leaders: tuple[LimitMark, ...]
    stacked: bool
    value_x: float


@dataclass(frozen=True, slots=True)
class Strip:
    width: int
    height: int
    base_y: float
    bar: Bar | None
    marks: tuple[LimitMark, ...]
    sentence: str


def number(value: Number | None) -> float | None:
    """A float from what a record carries, None for what was not measured."""
    if value is None or value == "":
        return None
    found = float(value)
    return found if isfinite(found) else None


def shown(value: Number | None, decimals: int = 2) -> str:
    found = number(value)
    return "" if found is None else f"{found:.{decimals}f}".replace("-", "−")


def field(thing: Any, *names: str) -> Any:
    """The first of these names that the object or mapping has and that is not None."""
    for name in names:
        got = thing.get(name) if isinstance(thing, Mapping) else getattr(thing, name, None)
        if got is not None:
            return got
    return None


def limits_of(rule: Any, row: Any = None) -> Limits:
    kind = str(field(rule, "kind") or "maximum")
    limit = number(field(rule, "limit"))
    if limit is None:
        raise ValueError("an interval picture needs the limit of its rule")
    tolerance = number(field(rule, "tolerance")) or 0.0
    tolerance_limit = number(field(rule, "tolerance_limit"))
    if tolerance_limit is None:
        tolerance_limit = limit - tolerance if kind == "minimum" else limit + tolerance
    source = rule if row is None else row
    return Limits(
        kind=kind,
        limit=limit,
        tolerance_limit=tolerance_limit,
        acceptance=number(field(source, "acceptance_limit", "acceptance")),
        rejection=number(field(source, "rejection_limit", "rejection")),
    )


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
    """One axis that shows every interval and every line of the rule, with round figures on it."""
    shown_values: list[float] = []
    for row in rows:
        interval = interval_of(row)
        if interval is not None:
            shown_values += [interval[0] - interval[1], interval[0] + interval[1]]
        shown_values += _lines(limits_of(rule, row)).values()
    shown_values += _lines(limits_of(rule)).values()
    return axis_between(min(shown_values), max(shown_values), wanted_ticks)


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


def interval_picture(
    rows: Iterable[Any], rule: Any, axis: Axis | None = None, width: int = 720, dense: bool = False, decimals: int = 2
) -> Picture:
    """All rows on one axis. Narrow pictures put a row's words above its bar, wide ones beside it."""
    listed = list(rows)
    stacked = width < 560
    if axis is None:
        axis = axis_for(listed, rule, 4 if stacked else 6)
    elif stacked and len(axis.ticks) > 5:
        axis = Axis(axis.low, axis.high, axis.step, axis.decimals, axis.ticks[::2])
    left, right = (8.0, width - 8.0) if stacked else (126.0, width - 178.0)
    row_height = 58.0 if stacked else 26.0 if dense else 46.0
    per_row = [limits_of(rule, row) for row in listed] or [limits_of(rule)]
    labels, top = _labels(per_row, axis, left, right, decimals)
    drawn: list[Row] = []
    for index, row in enumerate(listed):
        y = top + index * row_height
        band = (y + 24, y + row_height - 4) if stacked else (y, y + row_height)
        bar_half = 8.0 if dense else 10.0
        middle = (band[0] + band[1]) / 2
        bar = _bar(row, axis, left, right, middle - bar_half, middle + bar_half)
        if stacked:
            text_y, words_y = y + 17, y + 17
        else:
            text_y, words_y = (middle + 5, middle + 5) if dense else (middle - 2, middle + 16)
        interval = interval_of(row)
        value_text = "not measured"
        if interval is not None:
            value_text = f"{shown(interval[0], decimals)} ± {shown(interval[1], decimals)}"
        verdict = str(field(row, "verdict") or "")
        drawn.append(
            Row(
                label=label_of(row),
                value_text=value_text,
                words=_row_words(verdict),
                verdict=verdict,
                label_y=_r(text_y if stacked or dense else middle + 5),
                value_y=_r(text_y),
                words_y=_r(words_y),
                base_y=_r(middle),
                top=_r(y),
                height=row_height,
                bar=bar,
                marks=_marks(limits_of(rule, row), axis, left, right, band[0], band[1]),
            )
        )
    axis_y = top + len(listed) * row_height + 6
    leaders = tuple(
        LimitMark(label.role, label.x, _r(label.y + 4), _r(top), "") for label in labels if label.y + 4 < top
    )
    ticks = tuple(Tick(_r(_x(value, axis, left, right)), axis.text(value)) for value in axis.ticks)
    return Picture(width, axis_y + 30, left, right, axis_y, ticks, tuple(drawn), labels, leaders, stacked, right + 14)


def strip_picture(
    value: Number | None,
    expanded: Number | None,
    low: Number | None,
    high: Number | None,
    limits: Limits,
    verdict: str,
    label: str,
    decimals: int = 2,
    width: int = 260,
) -> Strip:
    """One row of the picture for a table cell, 44 high."""
    row = {"value": value, "expanded": expanded}
    floor_at, ceiling = number(low), number(high)
    if floor_at is None or ceiling is None:
        axis = axis_for([row], limits)
    else:
        axis = Axis(floor_at, ceiling, 1.0, 2, ())
    return Strip(
        width=width,
        height=44,
        base_y=22.0,
        bar=_bar(row, axis, 8.0, width - 8.0, 12.0, 32.0),
        marks=_marks(limits, axis, 8.0, width - 8.0, 2.0, 42.0),
        sentence=sentence(label, value, expanded, limits, verdict, decimals),
    )


def strip_limits(
    kind: str, limit: Number, tolerance_limit: Number | None, acceptance: Number | None, rejection: Number | None
) -> Limits:
    plain = {"kind": kind, "limit": limit, "tolerance_limit": tolerance_limit}
    return limits_of(plain, {"acceptance": acceptance, "rejection": rejection})


def sentence(
    label: str, value: Number | None, expanded: Number | None, limits: Limits, verdict: str, decimals: int = 2
) -> str:
    """One row of a picture in words, for those who do not see it."""
    line = f"the {limits.kind} of {shown(limits.tolerance_limit, decimals)}"
    if number(value) is None:
        return f"{label}: not measured, so there is no bar against {line}."
    figures = f"{label}: {shown(value, decimals)} ± {shown(expanded or 0.0, decimals)}"
    return f"{figures} against {line}: {VERDICT_WORDS.get(verdict, 'NO VERDICT').lower()}."


def description(rows: Iterable[Any], rule: Any, decimals: int = 2) -> str:
    limits = limits_of(rule)
    opening = f"The limit is a {limits.kind} of {shown(limits.limit, decimals)}"
    if limits.tolerance_limit != limits.limit:
        opening += f", with the tolerance granted {shown(limits.tolerance_limit, decimals)}"
    told = [opening + "."]
    for row in rows:
        told.append(
            sentence(
                label_of(row),
                field(row, "value"),
                field(row, "expanded_uncertainty", "expanded"),
                limits_of(rule, row),
                str(field(row, "verdict") or ""),
                decimals,
            )
        )
    return " ".join(told)


def share(value: Number, whole: Number = 100) -> float:
    """Width of a bar in hundredths, for tables with a bar per line; never outside 0 to 100."""
    part, total = number(value) or 0.0, number(whole) or 0.0
    return 0.0 if total <= 0 else round(max(0.0, min(100.0, 100.0 * part / total)), 1)


def _lines(limits: Limits) -> dict[str, float]:
    lines = {"tolerance_limit": limits.tolerance_limit}
    if limits.limit != limits.tolerance_limit:
        lines["limit"] = limits.limit
    if limits.acceptance is not None:
        lines["acceptance"] = limits.acceptance
    if limits.rejection is not None:
        lines["rejection"] = limits.rejection
    return lines


def _labels(
    per_row: list[Limits], axis: Axis, left: float, right: float, decimals: int
) -> tuple[tuple[LimitLabel, ...], float]:
    """Labels in steps above the plot, so that no line runs through another line's words."""
    kind = per_row[0].kind
    named = {
        "limit": f"limit of the rule ({kind})",
        "tolerance_limit": "limit with tolerance"
        if any(one.limit != one.tolerance_limit for one in per_row)
        else f"limit of the rule ({kind})",
        "acceptance": "acceptance limit",
        "rejection": "rejection limit",
    }
    spread: dict[str, list[float]] = {}
    for one in per_row:
        for role, value in _lines(one).items():
            spread.setdefault(role, []).append(value)
    middle = sum(sum(values) / len(values) for values in spread.values()) / len(spread)
    to_left = _x(middle, axis, left, right) > (left + right) / 2
    ordered = sorted(spread.items(), key=lambda item: item[1][0], reverse=to_left)
    labels = []
    for place, (role, values) in enumerate(ordered):
        figures = shown(min(values), decimals)
        if shown(max(values), decimals) != figures:
            figures += f" to {shown(max(values), decimals)}"
        x = _x(values[0], axis, left, right)
        labels.append(
            LimitLabel(role, _r(x), 16.0 + 20 * place, "end" if to_left else "start", f"{named[role]} {figures}")
        )
    return tuple(labels), 20.0 * len(ordered) + 10


def _marks(limits: Limits, axis: Axis, left: float, right: float, top: float, bottom: float) -> tuple[LimitMark, ...]:
    marks = []
    for role, value in _lines(limits).items():
        if not axis.low <= value <= axis.high:
            continue
        x = _x(value, axis, left, right)
        teeth = _teeth(x, top, bottom, limits.kind) if role == "tolerance_limit" else ""
        marks.append(LimitMark(role, _r(x), _r(top), _r(bottom), teeth))
    return tuple(marks)


def _teeth(x: float, top: float, bottom: float, kind: str) -> str:
    """Short slanted strokes on the side that is not allowed, as on an engineering drawing."""
    way = -1 if kind == "minimum" else 1
    count = max(1, round((bottom - top) / 7))
    pitch = (bottom - top) / count
    starts = [top + (index + 0.5) * pitch + 2.5 for index in range(count)]
    return "".join(f"M{_r(x)} {_r(y)}L{_r(x + way * 6)} {_r(y - 5)}" for y in starts)


def _bar(row: Any, axis: Axis, left: float, right: float, top: float, bottom: float) -> Bar | None:
    interval = interval_of(row)
    if interval is None:
        return None
    value, expanded = interval
    low, high = value - expanded, value + expanded
    inside = [min(max(end, axis.low), axis.high) for end in (low, value, high)]
    x0, x, x1 = (_x(end, axis, left, right) for end in inside)
    if x1 - x0 < 6:  # an interval too short to see is drawn six wide, so that its verdict can be told
        x0, x1 = x - 3, x + 3
    return Bar(
        _r(x0),
        _r(x),
        _r(x1),
        _r(top),
        _r(bottom),
        low < axis.low,
        high > axis.high,
        _hatch(x0, x1, top, bottom),
    )


def _hatch(x0: float, x1: float, top: float, bottom: float, pitch: float = 6.0) -> str:
    """Slanted strokes inside a rectangle, worked out here because a pattern would need an id on every page."""
    height = bottom - top
    strokes = []
    start = x0 - height + pitch
    while start < x1:
        begin, end = max(start, x0), min(start + height, x1)
        if end - begin > 0.5:
            strokes.append(f"M{_r(begin)} {_r(bottom - (begin - start))}L{_r(end)} {_r(bottom - (end - start))}")
        start += pitch
    return "".join(strokes)


def _row_words(verdict: str) -> str:
    return VERDICT_WORDS.get(verdict, "NO VERDICT").lower()


def _x(value: float, axis: Axis, left: float, right: float) -> float:
    return left + (value - axis.low) / (axis.high - axis.low) * (right - left)


def _r(value: float) -> float:
    return round(value, 1)
