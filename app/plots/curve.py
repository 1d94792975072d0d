"""Where the lines of a curve picture stand: shares from 0 to 100 % over a quantity, with the limits of a rule.

Drawn by templates/_risk_plots.html. Lines are told apart by their strokes and by words at them, never by colour alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from app.plots.axis import Axis, Limits, axis_between, lines_of
from app.plots.picture import LimitLabel, LimitMark, Tick, limit_labels, limit_marks

_SHARES = (0, 25, 50, 75, 100)
_ROOM = 6.0  # between a line and the words at it
_LETTER = 15.0


@dataclass(frozen=True, slots=True)
class CurveLine:
    """One share over the whole axis, and the word at it."""

    role: str  # a verdict
    path: str
    word: str
    x: float
    y: float
    anchor: str


@dataclass(frozen=True, slots=True)
class CurvePicture:
    width: int
    height: float
    left: float
    right: float
    top: float
    bottom: float
    ticks: tuple[Tick, ...]
    shares: tuple[tuple[float, str], ...]  # height and words of each horizontal line
    lines: tuple[CurveLine, ...]
    marks: tuple[LimitMark, ...]
    labels: tuple[LimitLabel, ...]
    leaders: tuple[LimitMark, ...]


def curve_picture(
    places: Sequence[float], shares: Mapping[str, Sequence[float]], limits: Limits, width: int = 720, decimals: int = 2
) -> CurvePicture:
    """`shares`, 0 to 1, by verdict at each of `places` (rising, two at least); one that never comes has no line."""
    narrow = width < 560
    axis = _axis(places, 6 if narrow else 9)
    left, right = 48.0, width - 12.0
    labels, top = limit_labels([limits], axis, left, right, decimals, narrow)
    if narrow:  # half the width is all that a label has here
        labels = tuple(replace(label, text=label.text.replace("limit with", "with")) for label in labels)
    bottom = top + (240.0 if narrow else 300.0)

    def height(share: float) -> float:
        return round(bottom - share * (bottom - top), 1)

    def across(place: float) -> float:
        return round(left + (place - axis.low) / (axis.high - axis.low) * (right - left), 1)

    lines = []
    for verdict, drawn in shares.items():
        if max(drawn) < 0.005:
            continue
        points = [f"{across(place)} {height(share)}" for place, share in zip(places, drawn, strict=True)]
        peak = max(range(len(drawn)), key=lambda place: drawn[place])
        x, y, anchor = _beside(drawn, across(places[peak]), height(max(drawn)), (left, right))
        lines.append(CurveLine(verdict, "M" + "L".join(points), verdict, x, y, anchor))
    return CurvePicture(
        width=width,
        height=bottom + 30.0,
        left=left,
        right=right,
        top=top,
        bottom=bottom,
        ticks=tuple(Tick(across(value), axis.text(value)) for value in axis.ticks),
        shares=tuple((height(share / 100), f"{share} %") for share in _SHARES),
        lines=tuple(lines),
        marks=limit_marks(limits, axis, left, right, top, bottom),
        labels=labels,
        leaders=tuple(LimitMark(label.role, label.x, label.y + 4, top, "") for label in labels if label.y + 4 < top),
    )


def curve_span(limits: Limits, spread: float) -> tuple[float, float]:
    """From well inside every limit to well past it: what is worth drawing with errors of this standard deviation."""
    lines = lines_of(limits).values()
    return min(lines) - 4.0 * spread, max(lines) + 4.0 * spread


def _axis(places: Sequence[float], wanted_ticks: int) -> Axis:
    """From the first place to the last and no further: a curve that stops short of the edge looks cut off."""
    rounded = axis_between(places[0], places[-1], wanted_ticks)
    inside = tuple(tick for tick in rounded.ticks if places[0] <= tick <= places[-1])
    return Axis(places[0], places[-1], rounded.step, rounded.decimals, inside)


def _beside(
    drawn: Sequence[float], peak_x: float, peak_y: float, edges: tuple[float, float]
) -> tuple[float, float, str]:
    """Where a line's word stands: under its high end, or above its peak when it has one in the middle."""
    if drawn[0] == max(drawn):
        return edges[0] + _ROOM, peak_y + _LETTER + _ROOM, "start"
    if drawn[-1] == max(drawn):
        return edges[1] - _ROOM, peak_y + _LETTER + _ROOM, "end"
    above = max(drawn) < 0.85
    return peak_x, round(peak_y - _ROOM if above else peak_y + _LETTER + _ROOM, 1), "middle"
