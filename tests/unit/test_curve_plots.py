"""Where the lines of a curve picture stand."""

import re

import pytest

from app import plots
from app.plots.axis import Limits

MAXIMUM = Limits("maximum", 10.5, 10.6, 10.5, 10.75)
PLACES = [10.0, 10.25, 10.5, 10.75, 11.0, 11.25]
SHARES = {
    "conforming": [1.0, 0.9, 0.5, 0.1, 0.0, 0.0],
    "inconclusive": [0.0, 0.1, 0.4, 0.6, 0.2, 0.0],
    "nonconforming": [0.0, 0.0, 0.1, 0.3, 0.8, 1.0],
}


def points(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"([\d.]+) ([\d.]+)", path)]


@pytest.mark.parametrize("width", [360, 720])
def test_a_line_runs_from_edge_to_edge_and_from_nought_to_a_hundred_percent(width: int) -> None:
    picture = plots.curve_picture(PLACES, SHARES, MAXIMUM, width)
    conforming, _, nonconforming = picture.lines
    drawn = points(conforming.path)
    assert drawn[0] == (picture.left, picture.top)
    assert drawn[-1] == (picture.right, picture.bottom)
    assert points(nonconforming.path)[-1] == (picture.right, picture.top)
    middle = (picture.top + picture.bottom) / 2.0
    assert drawn[2] == (pytest.approx(picture.left + 0.4 * (picture.right - picture.left), abs=0.06), middle)
    assert picture.shares == (
        (picture.bottom, "0 %"),
        (pytest.approx(picture.bottom - (picture.bottom - picture.top) / 4.0), "25 %"),
        (middle, "50 %"),
        (pytest.approx(picture.top + (picture.bottom - picture.top) / 4.0), "75 %"),
        (picture.top, "100 %"),
    )


def test_each_line_has_its_word_where_it_is_high() -> None:
    conforming, inconclusive, nonconforming = plots.curve_picture(PLACES, SHARES, MAXIMUM).lines
    assert (conforming.role, conforming.anchor, conforming.x) == ("conforming", "start", 54.0)
    assert (nonconforming.role, nonconforming.anchor, nonconforming.x) == ("nonconforming", "end", 702.0)
    at, high = max(points(inconclusive.path), key=lambda point: -point[1])
    assert (inconclusive.anchor, inconclusive.x) == ("middle", at)
    assert inconclusive.y == pytest.approx(high - 6.0)


def test_the_word_of_a_peak_near_the_top_stands_under_it() -> None:
    shares = {"inconclusive": [0.0, 0.2, 0.9, 0.95, 0.1, 0.0]}
    (line,) = plots.curve_picture(PLACES, shares, MAXIMUM).lines
    at, high = max(points(line.path), key=lambda point: -point[1])
    assert (line.x, line.y) == (at, pytest.approx(high + 21.0))


def test_a_verdict_that_never_comes_has_no_line() -> None:
    shares = {**SHARES, "inconclusive": [0.0] * 6}
    assert [line.role for line in plots.curve_picture(PLACES, shares, MAXIMUM).lines] == ["conforming", "nonconforming"]


@pytest.mark.parametrize(("width", "fewest", "most"), [(360, 3, 5), (720, 5, 10)])
def test_ticks_are_round_and_stand_inside(width: int, fewest: int, most: int) -> None:
    picture = plots.curve_picture(PLACES, SHARES, MAXIMUM, width)
    assert fewest <= len(picture.ticks) <= most
    assert all(picture.left <= tick.x <= picture.right for tick in picture.ticks)
    assert picture.ticks[0].text.startswith("10.")


def test_the_limits_stand_where_they_are_with_teeth_on_the_forbidden_side() -> None:
    picture = plots.curve_picture(PLACES, SHARES, MAXIMUM)
    at = {mark.role: mark.x for mark in picture.marks}
    wide = picture.right - picture.left
    assert at["limit"] == at["acceptance"] == pytest.approx(picture.left + 0.4 * wide, abs=0.06)
    assert at["tolerance_limit"] == pytest.approx(picture.left + 0.48 * wide, abs=0.06)
    assert at["rejection"] == pytest.approx(picture.left + 0.6 * wide, abs=0.06)
    assert [mark.role for mark in picture.marks if mark.teeth] == ["tolerance_limit"]
    assert {label.role for label in picture.labels} == {"limit", "tolerance_limit", "acceptance", "rejection"}
    assert all(leader.y1 == picture.top for leader in picture.leaders)


def test_what_is_worth_drawing_reaches_four_standard_deviations_past_every_line() -> None:
    assert plots.curve_span(MAXIMUM, 0.05) == pytest.approx((10.3, 10.95))
    assert plots.curve_span(Limits("minimum", 9.0, 9.0), 0.1) == pytest.approx((8.6, 9.4))


def test_labels_are_short_where_there_is_little_room() -> None:
    wide, narrow = (plots.curve_picture(PLACES, SHARES, MAXIMUM, width).labels for width in (720, 360))
    assert [label.text for label in narrow if label.role == "tolerance_limit"] == ["with tolerance 10.60"]
    assert [label.text for label in wide if label.role == "tolerance_limit"] == ["limit with tolerance 10.60"]
