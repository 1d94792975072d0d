"""From what a study found to the rows of its pictures, and those in words."""

from collections.abc import Sequence

from app.metrology.charts.constants import chart_constants
from app.plots.studies import (
    WIDTHS,
    Column,
    ColumnsPicture,
    Group,
    LetterRow,
    LettersPicture,
    Level,
    SlopePicture,
    columns_picture,
    letters_picture,
    slope_picture,
)
from app.studies.schemas import ComparedView, FlowStudyView, GaugeResultView, VolumeComparisonView

_SHAPES = tuple(WIDTHS)


def readings_by_part(result: GaugeResultView) -> list[ColumnsPicture]:
    """From the mean of each part: parts differ by so much more than readings of one of them."""
    middles = [
        sum(value for rows in result.values for value in rows[part]) / sum(len(rows[part]) for rows in result.values)
        for part in range(len(result.parts))
    ]
    groups = [
        Group(
            str(number + 1),
            tuple(
                Column(
                    letter,
                    tuple(value - middles[number] for value in rows[number]),
                    f"{part}, {letter}: {', '.join(typed[number])}",
                )
                for letter, rows, typed in zip(result.letters, result.values, result.figures, strict=True)
            ),
        )
        for number, part in enumerate(result.parts)
    ]
    return [columns_picture(groups, shape) for shape in _SHAPES]


def ranges_by_inspector(result: GaugeResultView) -> list[ColumnsPicture]:
    """The range of each one's readings of each part, against the mean range and its upper limit, D₄ times it."""
    upper = chart_constants(len(result.values[0][0])).D4 * result.mean_range
    groups = [
        Group(
            letter,
            tuple(
                Column(str(number), (spread := max(cell) - min(cell),), f"{letter}, part {number}: {spread:.3f}")
                for number, cell in enumerate(rows, 1)
            ),
        )
        for letter, rows in zip(result.letters, result.values, strict=True)
    ]
    levels = [Level(result.mean_range, "mean", "centre"), Level(upper, "limit", "limit"), Level(0.0, "", "floor")]
    return [columns_picture(groups, shape, levels) for shape in _SHAPES]


def beyond_limit(result: GaugeResultView) -> list[str]:
    """Which cells repeat worse than the limit, in words."""
    upper = chart_constants(len(result.values[0][0])).D4 * result.mean_range
    return [
        f"{letter} on {part}"
        for letter, rows in zip(result.letters, result.values, strict=True)
        for part, cell in zip(result.parts, rows, strict=True)
        if max(cell) - min(cell) > upper * (1.0 + 1e-9)
    ]


def means_by_inspector(result: GaugeResultView) -> list[LettersPicture]:
    rows = [
        LetterRow(
            one.letter, one.mean, one.low, one.high, f"{one.letter}: {one.mean:.4f}, {one.low:.4f} to {one.high:.4f}"
        )
        for one in result.means
    ]
    middle = sum(one.mean for one in result.means) / len(result.means)
    return [letters_picture(rows, middle, "mean of all", shape) for shape in _SHAPES]


def differences(compared: VolumeComparisonView) -> list[LettersPicture]:
    rows = [LetterRow(one.letter, one.difference, one.low, one.high, _words(one)) for one in compared.inspectors]
    return [letters_picture(rows, 0.0, "mean of all", shape) for shape in _SHAPES] if rows else []


def _words(one: ComparedView) -> str:
    return f"{one.letter}: {one.difference:+.4f}, from {one.low:+.4f} to {one.high:+.4f}".replace("-", "−")


def slope(view: FlowStudyView) -> list[SlopePicture]:
    points = _indications(view)
    set_point, tolerance = float(view.set_point_l_min), float(view.airflow_tolerance_l_min)
    return [slope_picture(points, view.line, view.curve, set_point, tolerance, shape) for shape in _SHAPES]


def _indications(view: FlowStudyView) -> Sequence[tuple[float, float]]:
    return [
        (float(one.airflow_l_min), float(text.replace(",", "."))) for one in view.points for text in one.indications
    ]
