"""Where everything of a control chart stands: the checks in order, what is accepted, limits, the weighted average.

Drawn by templates/instruments/_control_chart.html. The checks stand at equal steps, as on any control chart: three made
on one day would else hide each other. When they were made is written under the first of each day.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

WIDTHS = {"wide": 720, "narrow": 360}  # the narrow one is drawn for a phone, so that its words stay readable
MOST = {"wide": 36, "narrow": 14}  # checks that can still be told apart
_LEFT, _TOP, _HEIGHT, _UNDER = 64.0, 20.0, 230.0, 58.0
_ROOM_FOR_LABELS = {"wide": 86.0, "narrow": 62.0}
_LINE = 16.0  # of text
_LETTER = 8.5
_ROOM_FOR_NUMBER = 2.5 * _LETTER


@dataclass(frozen=True, slots=True)
class ControlPoint:
    """One check: its mean and the weighted average there, in ratio; `number` counts from the chart's first check."""

    number: int
    mean: float
    average: float | None
    role: str  # "good" | "missed"
    is_signal: bool
    day: str  # short words for the day
    words: str


@dataclass(frozen=True, slots=True)
class ControlLines:
    """In ratio; the control limits are None while there are too few checks to set them."""

    lowest: float
    highest: float
    mark_low: float
    mark_high: float
    centre: float | None = None
    lower: float | None = None
    upper: float | None = None
    baseline: int = 0  # how many checks, from the first


@dataclass(frozen=True, slots=True)
class DrawnPoint:
    x: float
    y: float
    point: ControlPoint
    number_y: float  # of the number beside a signal
    is_numbered: bool  # where the numbers of all signals would run together, the first and the last have theirs


@dataclass(frozen=True, slots=True)
class DrawnLine:
    y: float
    role: str  # "edge" | "centre" | "limit"
    text: str
    text_y: float
    teeth: int  # which way an edge bites: up −1, down 1


@dataclass(frozen=True, slots=True)
class ControlPicture:
    shape: str
    width: int
    height: float
    left: float
    right: float
    top: float
    bottom: float
    mark_top: float
    mark_bottom: float
    lines: tuple[DrawnLine, ...]
    points: tuple[DrawnPoint, ...]
    path: str
    average: str
    baseline: tuple[float, float] | None  # from where to where
    days: tuple[tuple[float, str], ...]
    left_out: int  # earlier checks for which there is no room


def control_picture(points: Sequence[ControlPoint], lines: ControlLines, shape: str = "wide") -> ControlPicture:
    """The latest checks that fit, at least one point. `shape` is a key of WIDTHS."""
    drawn = points[-MOST[shape] :]
    width = WIDTHS[shape]
    left, right, bottom = _LEFT, width - _ROOM_FOR_LABELS[shape], _TOP + _HEIGHT
    means = [point.mean for point in drawn]
    averages = [point.average for point in drawn if point.average is not None]
    limits = [line for line in (lines.lower, lines.upper) if line is not None]
    least, greatest = min(lines.lowest, *means, *averages, *limits), max(lines.highest, *means, *averages, *limits)
    margin = 0.08 * (greatest - least) or 0.05

    def up(value: float) -> float:
        share = (value - least + margin) / (greatest - least + 2 * margin)
        return round(bottom - share * _HEIGHT, 1)

    step = (right - left) / (len(drawn) + 1)
    signalling = [point.number for point in drawn if point.is_signal]
    told = signalling if step >= _ROOM_FOR_NUMBER else signalling[:1] + signalling[-1:]
    placed = [
        DrawnPoint(round(left + step * place, 1), up(point.mean), point, _beside(up(point.mean)), point.number in told)
        for place, point in enumerate(drawn, 1)
    ]
    followed = [(at.x, up(at.point.average)) for at in placed if at.point.average is not None]
    return ControlPicture(
        shape=shape,
        width=width,
        height=bottom + _UNDER,
        left=left,
        right=right,
        top=_TOP,
        bottom=bottom,
        mark_top=up(lines.mark_high),
        mark_bottom=up(lines.mark_low),
        lines=_lines(lines, up),
        points=tuple(placed),
        path=_path([(at.x, at.y) for at in placed]),
        average=_path(followed),
        baseline=_baseline(placed, lines.baseline, step),
        days=_days(placed, right),
        left_out=len(points) - len(drawn),
    )


def _beside(y: float) -> float:
    """The number stands above its diamond, or below where the top is near."""
    return round(y - 14 if y - _TOP > 2 * _LINE else y + 24, 1)


def _path(places: Sequence[tuple[float, float]]) -> str:
    return "M" + "L".join(f"{x} {y}" for x, y in places) if len(places) > 1 else ""


def _lines(lines: ControlLines, up: Callable[[float], float]) -> tuple[DrawnLine, ...]:
    """Edges are told on the left, control limits on the right, where their words are pushed apart if they must."""
    edges = [
        DrawnLine(up(lines.highest), "edge", _told(lines.highest), up(lines.highest) + 5, -1),
        DrawnLine(up(lines.lowest), "edge", _told(lines.lowest), up(lines.lowest) + 5, 1),
    ]
    if lines.centre is None or lines.lower is None or lines.upper is None:
        return tuple(edges)
    heights = [up(lines.upper), up(lines.centre), up(lines.lower)]
    texts = _apart(heights)
    values = (lines.upper, lines.centre, lines.lower)
    roles = ("limit", "centre", "limit")
    own = [
        DrawnLine(y, role, f"{value:.3f}", round(text_y + 5, 1), 0)
        for y, role, value, text_y in zip(heights, roles, values, texts, strict=True)
    ]
    return (*edges, *own)


def _apart(heights: Sequence[float]) -> list[float]:
    """Downwards, none nearer to the one before than a line of text, the middle one where it is."""
    upper, centre, lower = heights
    return [min(upper, centre - _LINE), centre, max(lower, centre + _LINE)]


def _told(value: float) -> str:
    return f"{value:.3f}".rstrip("0").ljust(len(f"{value:.2f}"), "0")


def _baseline(placed: Sequence[DrawnPoint], count: int, step: float) -> tuple[float, float] | None:
    of_it = [at.x for at in placed if at.point.number <= count]
    return (round(of_it[0] - step / 3, 1), round(of_it[-1] + step / 3, 1)) if of_it else None


def _days(placed: Sequence[DrawnPoint], right: float) -> tuple[tuple[float, str], ...]:
    """The first check of each day, where there is room for its words."""
    found: list[tuple[float, str]] = []
    free_from = 0.0
    before = ""
    for at in placed:
        day = at.point.day
        half = _LETTER * len(day) / 2
        x = min(at.x, right + _ROOM_FOR_LABELS["narrow"] - half)
        if day != before and x - half >= free_from:
            found.append((round(x, 1), day))
            free_from = x + half + _LETTER
        before = day
    return tuple(found)
