"""The interval picture of a slip: one row per line of the table beside it, so a figure and its bar read together."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from app import plots

HATCH_PITCH = 1.3
TOOTH = 1.2
SMALLEST_BAR = 1.2
BESIDE, LETTER = 0.8, 1.12  # a label's distance from its line; width of a letter of it, bold ones too (measured)


@dataclass(frozen=True, slots=True)
class Line:
    """A limit, drawn through the rows it holds for. `teeth` stand on the side that is not allowed."""

    role: str
    x: float
    y0: float
    y1: float
    teeth: str = ""


@dataclass(frozen=True, slots=True)
class Label:
    role: str
    text: str
    x: float  # of the line it names
    y: float
    text_x: float
    anchor: str


@dataclass(frozen=True, slots=True)
class Bar:
    x0: float
    x: float
    x1: float
    y0: float
    y1: float
    verdict: str
    hatch: str


@dataclass(frozen=True, slots=True)
class Figure:
    """All lengths in millimetres; y = 0 is the top of the first row, the labels lie above it."""

    width: float
    head: float
    height: float
    foot: float
    axis_y: float
    bars: tuple[Bar | None, ...]
    lines: tuple[Line, ...]
    labels: tuple[Label, ...]
    ticks: tuple[tuple[float, str], ...]
    description: str


def draw(
    rows: Sequence[Mapping[str, Any] | None],
    rule: Mapping[str, Any],
    heights: Sequence[float],
    width: float,
    head: float,
) -> Figure:
    """`rows` are results of the assessment, None for a cylinder not measured; `heights` those of the table's rows."""
    measured = [row for row in rows if row is not None]
    axis = plots.axis_for(measured, rule, 5)
    place = _Place(axis.low, axis.high, width)
    lines: list[Line] = []
    bars: list[Bar | None] = []
    top = 0.0
    for row, height in zip(rows, heights, strict=True):
        limits = plots.limits_of(rule, row)
        _extend(lines, limits, place, top, top + height)
        if limits.opposite is not None and axis.low < limits.opposite.tolerance_limit < axis.high:
            _extend(lines, limits.opposite, place, top, top + height)
        bars.append(None if row is None else _bar(row, place, top, height))
        top += height
    return Figure(
        width=width,
        head=head,
        height=top,
        foot=6.0,
        axis_y=top,
        bars=tuple(bars),
        lines=tuple(lines),
        labels=_labels([plots.limits_of(rule, row) for row in measured], place, head),
        ticks=tuple((place(value), axis.text(value)) for value in axis.ticks),
        description=plots.description(measured, rule),
    )


@dataclass(frozen=True, slots=True)
class _Place:
    low: float
    high: float
    width: float

    def __call__(self, value: float) -> float:
        inside = min(max(value, self.low), self.high)
        return round(1.0 + (inside - self.low) / (self.high - self.low) * (self.width - 2.0), 2)


def _roles(limits: plots.Limits) -> dict[str, float]:
    found = {"tolerance_limit": limits.tolerance_limit}
    if limits.limit != limits.tolerance_limit:
        found["limit"] = limits.limit
    if limits.acceptance is not None and limits.acceptance != limits.tolerance_limit:
        found["acceptance"] = limits.acceptance
    if limits.rejection is not None:
        found["rejection"] = limits.rejection
    return found


def _extend(lines: list[Line], limits: plots.Limits, place: _Place, top: float, bottom: float) -> None:
    """A line that stands where it stood in the row above goes on; the rows' guard bands differ a little."""
    for role, value in _roles(limits).items():
        x = place(value)
        above = next((line for line in lines if (line.role, line.x) == (role, x) and abs(line.y1 - top) < 0.01), None)
        begin = top if above is None else above.y0
        if above is not None:
            lines.remove(above)
        teeth = _teeth(x, begin, bottom, limits.kind) if role == "tolerance_limit" else ""
        lines.append(Line(role, x, round(begin, 2), round(bottom, 2), teeth))


def _teeth(x: float, top: float, bottom: float, kind: str) -> str:
    way = -TOOTH if kind == "minimum" else TOOTH
    count = max(2, round((bottom - top) / 1.6))
    pitch = (bottom - top) / count
    feet = [top + (step + 0.5) * pitch + TOOTH / 2 for step in range(count)]
    return "".join(f"M{x:.2f} {y:.2f}l{way:.2f} {-TOOTH:.2f}" for y in feet)


def _bar(row: Mapping[str, Any], place: _Place, top: float, height: float) -> Bar:
    value, expanded = float(row["value"]), float(row["expanded_uncertainty"])
    x0, x, x1 = place(value - expanded), place(value), place(value + expanded)
    if x1 - x0 < SMALLEST_BAR:
        x0, x1 = x - SMALLEST_BAR / 2, x + SMALLEST_BAR / 2
    half = min(height * 0.27, 1.9)
    y0, y1 = top + height / 2 - half, top + height / 2 + half
    return Bar(
        round(x0, 2), x, round(x1, 2), round(y0, 2), round(y1, 2), str(row.get("verdict") or ""), _hatch(x0, x1, y0, y1)
    )


def _hatch(x0: float, x1: float, y0: float, y1: float) -> str:
    """Slanted strokes cut to the bar; a pattern fill would come out as an image in some readers."""
    height, strokes, start = y1 - y0, [], x0 - (y1 - y0) + HATCH_PITCH
    while start < x1:
        begin, end = max(start, x0), min(start + height, x1)
        if end - begin > 0.1:
            strokes.append(f"M{begin:.2f} {y1 - (begin - start):.2f}L{end:.2f} {y1 - (end - start):.2f}")
        start += HATCH_PITCH
    return "".join(strokes)


def _labels(per_row: Sequence[plots.Limits], place: _Place, head: float) -> tuple[Label, ...]:
    """One step down per label, leaning away from the side where the lines crowd, so none runs through another."""
    names = {
        "limit": "limit",
        "tolerance_limit": "limit",
        "acceptance": "acceptance limit",
        "rejection": "rejection limit",
    }
    if any(limits.limit != limits.tolerance_limit for limits in per_row):
        names["tolerance_limit"] = "with tolerance"
    spread: dict[str, list[float]] = {}
    for limits in per_row:
        for role, value in _roles(limits).items():
            spread.setdefault(role, []).append(value)
    middle = sum(values[0] for values in spread.values()) / len(spread)
    to_left = place(middle) > place.width / 2
    ordered = sorted(spread.items(), key=lambda item: item[1][0], reverse=to_left)
    step = min(3.1, head / max(1, len(ordered)))
    labels = []
    for index, (role, values) in enumerate(ordered):
        figures = " to ".join(sorted({_figure(role, min(values)), _figure(role, max(values))}))
        y = -head + step * (index + 0.75)
        text, x = f"{names[role]} {figures}", place(values[0])
        labels.append(Label(role, text, x, round(y, 2), _text_x(text, x, place.width, to_left), _anchor(to_left)))
    return tuple(labels)


def _anchor(to_left: bool) -> str:
    return "end" if to_left else "start"


def _text_x(text: str, x: float, width: float, to_left: bool) -> float:
    """Beside its line, or as far back as it takes to stand whole in the picture: a cut figure tells another limit."""
    length = len(text) * LETTER
    return round(max(x - BESIDE, length) if to_left else min(x + BESIDE, width - length), 2)


def _figure(role: str, value: float) -> str:
    return f"{value:.3f}" if role in {"acceptance", "rejection"} else f"{value:.2f}"
