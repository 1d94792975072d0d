"""Where the marks of an interval picture stand: plain geometry, drawn by templates/_plots.html."""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from app.plots.axis import (
    Axis,
    Limits,
    Number,
    axis_for,
    both_sides,
    field,
    interval_of,
    label_of,
    limits_of,
    lines_of,
    number,
    shown,
)
from app.plots.range_labels import FIRST, STEP, place_range_labels
from app.plots.reported import reported
from app.plots.sentences import pictured_row, sentence, short_words, words


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
    cut: str  # "low" or "high" when the middle lies beyond that edge of the axis: an arrow there; else ""
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
    short_words: str
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
    labels, top = limit_labels(per_row, axis, left, right, decimals, stacked, width)
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
            figures = (shown(interval[0], decimals), shown(interval[1], decimals))
            value_text = " ± ".join(reported(row) if field(row, "acceptance_limit", "rejection_limit") else figures)
        verdict, said = str(field(row, "verdict") or ""), pictured_row(row, rule)
        drawn.append(
            Row(
                label=label_of(row),
                value_text=value_text,
                words=words(said),
                short_words=short_words(said),
                verdict=verdict,
                label_y=_r(text_y if stacked or dense else middle + 5),
                value_y=_r(text_y),
                words_y=_r(words_y),
                base_y=_r(middle),
                top=_r(y),
                height=row_height,
                bar=bar,
                marks=limit_marks(limits_of(rule, row), axis, left, right, band[0], band[1]),
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
    axis = axis_for([row], limits) if floor_at is None or ceiling is None else Axis(floor_at, ceiling, 1.0, 2, ())
    return Strip(
        width=width,
        height=44,
        base_y=22.0,
        bar=_bar(row, axis, 8.0, width - 8.0, 12.0, 32.0),
        marks=limit_marks(limits, axis, 8.0, width - 8.0, 2.0, 42.0),
        sentence=sentence(label, value, expanded, limits, verdict, decimals),
    )


def limit_labels(
    per_row: list[Limits], axis: Axis, left: float, right: float, decimals: int, short: bool, width: float = 0.0
) -> tuple[tuple[LimitLabel, ...], float]:
    """Labels in steps above the plot, so that no line runs through another line's words."""
    if per_row[0].opposite is not None:
        return _range_labels(per_row, axis, left, right, decimals, width or right)
    kind = per_row[0].kind
    granted = any(one.limit != one.tolerance_limit for one in per_row)
    named = {
        "limit": f"limit ({kind})" if short else f"limit of the rule ({kind})",
        "acceptance": "acceptance" if short else "acceptance limit",
        "rejection": "rejection" if short else "rejection limit",
    }
    named["tolerance_limit"] = "limit with tolerance" if granted else named["limit"]
    spread: dict[str, list[float]] = {}
    for one in per_row:
        for role, value in lines_of(one).items():
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


def _range_labels(
    per_row: list[Limits], axis: Axis, left: float, right: float, decimals: int, width: float
) -> tuple[tuple[LimitLabel, ...], float]:
    placed = place_range_labels(per_row, axis, lambda value: _x(value, axis, left, right), width, decimals)
    rows = 1 + max((one.row for one in placed), default=-1)
    labels = (LimitLabel(one.role, _r(one.x), FIRST + STEP * one.row, one.anchor, one.text) for one in placed)
    return tuple(labels), STEP * rows + 10


def limit_marks(
    limits: Limits, axis: Axis, left: float, right: float, top: float, bottom: float
) -> tuple[LimitMark, ...]:
    marks = []
    for one in both_sides(limits):
        for role, value in lines_of(one).items():
            if not axis.low <= value <= axis.high:
                continue
            x = _x(value, axis, left, right)
            teeth = _teeth(x, top, bottom, one.kind) if role == "tolerance_limit" else ""
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
        x0 = min(max(x - 3, left), right - 6)
        x1 = x0 + 6
    return Bar(
        _r(x0),
        _r(x),
        _r(x1),
        _r(top),
        _r(bottom),
        "low" if value < axis.low else "high" if value > axis.high else "",
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


def _x(value: float, axis: Axis, left: float, right: float) -> float:
    return left + (value - axis.low) / (axis.high - axis.low) * (right - left)


def _r(value: float) -> float:
    return round(value, 1)
