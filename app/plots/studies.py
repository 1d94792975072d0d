"""Where everything of a study's pictures stands: readings by part, means with intervals, ranges, a slope.

Drawn by templates/studies/_plots.html. Inspectors are letters, told apart by these and by where they stand, never by
colour. Each picture comes wide, and narrow for a phone, so that its words stay readable.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import floor

from app.plots.axis import axis_between
from app.plots.picture import Tick

WIDTHS = {"wide": 720, "narrow": 360}
_LEFT, _EDGE, _TOP = 58.0, 10.0, 12.0
_PANEL, _UNDER = 190.0, 46.0  # height of a panel, and of the two lines of words under it
_COLUMN, _WIDEST_COLUMN, _GAP = 26.0, 64.0, 12.0
_LABEL = 20.0  # that two figures need side by side
_ROW = 34.0


# ---- columns in groups ------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Column:
    """Readings of one inspector on one part, or their range; `words` for those who hear it."""

    label: str
    values: tuple[float, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Group:
    label: str
    columns: tuple[Column, ...]


@dataclass(frozen=True, slots=True)
class Level:
    """A line across the picture: role "centre" or "limit"."""

    value: float
    text: str
    role: str


@dataclass(frozen=True, slots=True)
class DrawnColumn:
    x: float
    top: float
    bottom: float
    ticks: tuple[float, ...]
    label: str  # empty where there is no room
    words: str


@dataclass(frozen=True, slots=True)
class DrawnLevel:
    y: float
    text: str
    role: str


@dataclass(frozen=True, slots=True)
class Panel:
    top: float
    bottom: float
    grid: tuple[tuple[float, str], ...]
    levels: tuple[DrawnLevel, ...]
    columns: tuple[DrawnColumn, ...]
    groups: tuple[tuple[float, str], ...]
    dividers: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class ColumnsPicture:
    shape: str
    width: int
    height: float
    left: float
    right: float
    panels: tuple[Panel, ...]


def columns_picture(groups: Sequence[Group], shape: str, levels: Sequence[Level] = ()) -> ColumnsPicture:
    """Group beside group, in as many panels one under the other as it takes; all with the same scale."""
    width = WIDTHS[shape]
    right = width - _EDGE
    most = max(len(group.columns) for group in groups)
    step = min(_COLUMN, (right - _LEFT - _GAP) / most)
    a_panel = min(len(groups), max(1, floor((right - _LEFT) / (most * step + _GAP) + 1e-9)))
    step = min(_WIDEST_COLUMN, ((right - _LEFT) / a_panel - _GAP) / most)  # what room there is, is shared out
    values = [value for group in groups for column in group.columns for value in column.values]
    values += [level.value for level in levels]
    axis = axis_between(min(values), max(values), 5)
    span = axis.high - axis.low
    panels = []
    for number, first in enumerate(range(0, len(groups), a_panel)):
        top = _TOP + number * (_PANEL + _UNDER)
        bottom = top + _PANEL

        def up(value: float, bottom: float = bottom) -> float:
            return round(bottom - (value - axis.low) / span * _PANEL, 1)

        panels.append(
            Panel(
                top=top,
                bottom=bottom,
                grid=tuple((up(tick), axis.text(tick).replace("-", "−")) for tick in axis.ticks),
                levels=tuple(DrawnLevel(up(level.value), level.text, level.role) for level in levels),
                columns=_columns(groups[first : first + a_panel], step, most, up),
                groups=tuple(
                    (round(_start(place, step, most) + len(group.columns) * step / 2, 1), group.label)
                    for place, group in enumerate(groups[first : first + a_panel])
                ),
                dividers=tuple(
                    round(_start(place, step, most) - _GAP / 2, 1)
                    for place in range(1, len(groups[first : first + a_panel]))
                ),
            )
        )
    return ColumnsPicture(shape, width, _TOP + len(panels) * (_PANEL + _UNDER), _LEFT, right, tuple(panels))


def _start(place: int, step: float, most: int) -> float:
    return _LEFT + _GAP / 2 + place * (most * step + _GAP)


def _columns(groups: Sequence[Group], step: float, most: int, up: Callable[[float], float]) -> tuple[DrawnColumn, ...]:
    every = max(1, -floor(-_LABEL / step))
    return tuple(
        DrawnColumn(
            x=round(_start(place, step, most) + (number + 0.5) * step, 1),
            top=up(max(column.values)),
            bottom=up(min(column.values)),
            ticks=tuple(up(value) for value in column.values),
            label="" if number % every else column.label,
            words=column.words,
        )
        for place, group in enumerate(groups)
        for number, column in enumerate(group.columns)
    )


# ---- letters with intervals -------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class LetterRow:
    """A letter, its value and the interval about it."""

    letter: str
    value: float
    low: float
    high: float
    words: str


@dataclass(frozen=True, slots=True)
class DrawnLetter:
    y: float
    letter: str
    x: float
    x0: float
    x1: float
    words: str


@dataclass(frozen=True, slots=True)
class LettersPicture:
    shape: str
    width: int
    height: float
    left: float
    right: float
    top: float
    bottom: float
    rows: tuple[DrawnLetter, ...]
    ticks: tuple[Tick, ...]
    centre: float
    centre_text: str
    centre_anchor: str


def letters_picture(rows: Sequence[LetterRow], centre: float, centre_text: str, shape: str) -> LettersPicture:
    """One row for each letter in the order given, against one line."""
    width = WIDTHS[shape]
    left, right = 34.0, width - _EDGE
    ends = [end for row in rows for end in (row.low, row.high)]
    axis = axis_between(min(*ends, centre), max(*ends, centre), 4 if shape == "narrow" else 7)
    top = 30.0
    bottom = top + len(rows) * _ROW

    def across(value: float) -> float:
        return round(left + (value - axis.low) / (axis.high - axis.low) * (right - left), 1)

    middle = across(centre)
    return LettersPicture(
        shape=shape,
        width=width,
        height=bottom + 34.0,
        left=left,
        right=right,
        top=top,
        bottom=bottom,
        rows=tuple(
            DrawnLetter(
                round(top + (place + 0.5) * _ROW, 1),
                row.letter,
                across(row.value),
                across(row.low),
                across(row.high),
                row.words,
            )
            for place, row in enumerate(rows)
        ),
        ticks=tuple(Tick(across(tick), axis.text(tick).replace("-", "−")) for tick in axis.ticks),
        centre=middle,
        centre_text=centre_text,
        centre_anchor="start" if middle < left + (right - left) / 2 else "end",
    )


# ---- a slope ----------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SlopePicture:
    shape: str
    width: int
    height: float
    left: float
    right: float
    top: float
    bottom: float
    grid: tuple[tuple[float, str], ...]
    ticks: tuple[Tick, ...]
    points: tuple[tuple[float, float], ...]
    line: str
    band: str
    curve: str  # empty where the line does
    set_point: float
    set_point_anchor: str
    within: tuple[float, float]  # as far as the airflow may stray


def slope_picture(
    points: Sequence[tuple[float, float]],
    line: Sequence[tuple[float, float, float]],
    curve: Sequence[tuple[float, float]],
    set_point: float,
    tolerance: float,
    shape: str,
) -> SlopePicture:
    """Indications over the airflow. `line` is (airflow, ratio, its expanded uncertainty), rising."""
    width = WIDTHS[shape]
    right, top = width - _EDGE, 30.0
    bottom = top + (240.0 if shape == "narrow" else 300.0)
    flows = [flow for flow, _ in points] + [set_point - tolerance, set_point + tolerance]
    ratios = [ratio for _, ratio in points] + [end for _, value, u in line for end in (value - u, value + u)]
    ratios += [ratio for _, ratio in curve]
    x_axis = axis_between(min(flows), max(flows), 4 if shape == "narrow" else 8)
    y_axis = axis_between(min(ratios), max(ratios), 6)

    def across(flow: float) -> float:
        return round(_LEFT + (flow - x_axis.low) / (x_axis.high - x_axis.low) * (right - _LEFT), 1)

    def up(ratio: float) -> float:
        return round(bottom - (ratio - y_axis.low) / (y_axis.high - y_axis.low) * (bottom - top), 1)

    def path(pairs: Sequence[tuple[float, float]]) -> str:
        return "M" + "L".join(f"{across(flow)} {up(ratio)}" for flow, ratio in pairs) if pairs else ""

    upper = [(flow, value + u) for flow, value, u in line]
    lower = [(flow, value - u) for flow, value, u in reversed(line)]
    at = across(set_point)
    return SlopePicture(
        shape=shape,
        width=width,
        height=bottom + 50.0,
        left=_LEFT,
        right=right,
        top=top,
        bottom=bottom,
        grid=tuple((up(tick), y_axis.text(tick)) for tick in y_axis.ticks),
        ticks=tuple(Tick(across(tick), x_axis.text(tick)) for tick in x_axis.ticks),
        points=tuple((across(flow), up(ratio)) for flow, ratio in points),
        line=path([(flow, value) for flow, value, _ in line]),
        band=path(upper + lower) + "Z",
        curve=path(curve),
        set_point=at,
        set_point_anchor="start" if at < _LEFT + (right - _LEFT) / 2 else "end",
        within=(across(set_point - tolerance), across(set_point + tolerance)),
    )
