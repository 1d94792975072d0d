"""Where the words of a range's lines stand: on both sides, so that no line runs through another line's words."""

from collections.abc import Callable, Sequence
from typing import NamedTuple

from app.plots.axis import Axis, Limits, both_sides, lines_of, shown

LETTER, BESIDE, STEP, FIRST = 7.5, 6.0, 20.0, 16.0  # width of a letter, words from their line, row to row, first row
_WORDS = {
    ("minimum", "tolerance_limit"): "at least",
    ("maximum", "tolerance_limit"): "at most",
    ("minimum", "limit"): "limit",
    ("maximum", "limit"): "limit",
    ("minimum", "acceptance"): "acceptance",
    ("maximum", "acceptance"): "acceptance",
    ("minimum", "rejection"): "rejection",
    ("maximum", "rejection"): "rejection",
}


class PlacedWords(NamedTuple):
    """The words of one line: on which row, and to which side of the line at x."""

    role: str
    x: float
    row: int
    anchor: str  # "start": to the right of its line; "end": to the left
    text: str

    @property
    def span(self) -> tuple[float, float]:
        length = LETTER * len(self.text)
        begin = self.x + BESIDE if self.anchor == "start" else self.x - BESIDE - length
        return begin, begin + length


class _Line(NamedTuple):
    kind: str
    role: str
    x: float
    text: str


def place_range_labels(
    per_row: Sequence[Limits], axis: Axis, across: Callable[[float], float], width: float, decimals: int
) -> list[PlacedWords]:
    """The first arrangement in which all words can be read; where there is none, the limits alone are named."""
    lines = _lines(per_row, axis, across, decimals)
    limits_alone = [line for line in lines if line.role in ("tolerance_limit", "limit")]
    tolerance_limits = [line for line in lines if line.role == "tolerance_limit"]
    for some in (lines, limits_alone, tolerance_limits):
        for arranged in (_outwards(some), _inwards(some), _all(some, "start"), _all(some, "end")):
            if not clashes(arranged, width):
                return arranged
    return _outwards(tolerance_limits)


def _lines(per_row: Sequence[Limits], axis: Axis, across: Callable[[float], float], decimals: int) -> list[_Line]:
    values: dict[tuple[str, str], list[float]] = {}
    for row in per_row:
        for limits in both_sides(row):
            for role, value in lines_of(limits).items():
                if axis.low <= value <= axis.high:
                    values.setdefault((limits.kind, role), []).append(value)
    found = []
    for (kind, role), places in values.items():
        figures = sorted({shown(min(places), decimals), shown(max(places), decimals)}, key=float)
        found.append(_Line(kind, role, across(places[0]), f"{_WORDS[kind, role]} {' to '.join(figures)}"))
    return found


def _outwards(lines: Sequence[_Line]) -> list[PlacedWords]:
    """Each side's words away from the other side."""
    lower = _stepped([line for line in lines if line.kind == "minimum"], "end", 0)
    return [*lower, *_stepped([line for line in lines if line.kind == "maximum"], "start", 0)]


def _inwards(lines: Sequence[_Line]) -> list[PlacedWords]:
    lower = _stepped([line for line in lines if line.kind == "minimum"], "start", 0)
    return [*lower, *_stepped([line for line in lines if line.kind == "maximum"], "end", len(lower))]


def _all(lines: Sequence[_Line], anchor: str) -> list[PlacedWords]:
    return _stepped(lines, anchor, 0)


def _stepped(lines: Sequence[_Line], anchor: str, first_row: int) -> list[PlacedWords]:
    """One row down per line, the way the words point, so that each line begins below the words it would cross."""
    ordered = sorted(lines, key=lambda line: line.x, reverse=anchor == "end")
    return [PlacedWords(line.role, line.x, first_row + row, anchor, line.text) for row, line in enumerate(ordered)]


def clashes(placed: Sequence[PlacedWords], width: float) -> bool:
    """Whether words leave the picture, lie on other words, or have another line run through them."""
    for one in placed:
        begin, end = one.span
        if begin < 0.0 or end > width:
            return True
        for other in placed:
            if other is one:
                continue
            if other.row == one.row and begin < other.span[1] and other.span[0] < end:
                return True
            if other.row < one.row and begin < other.x < end:
                return True
    return False
