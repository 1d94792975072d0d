"""Where the parts of a control chart stand."""

import itertools

import pytest

from app.plots import ControlLines, ControlPoint, control_picture

LINES = ControlLines(11.15, 11.35, 11.20, 11.30, 11.25, 11.22, 11.28, 8)


def points(means: list[float], *signals: int) -> list[ControlPoint]:
    return [
        ControlPoint(number, mean, 11.25, "good", number in signals, f"{1 + number // 3} May", f"Check {number}")
        for number, mean in enumerate(means, 1)
    ]


def test_higher_ratios_stand_higher_and_checks_at_equal_steps() -> None:
    picture = control_picture(points([11.20, 11.25, 11.30]), LINES)
    low, middle, high = picture.points
    assert low.y > middle.y > high.y
    assert middle.x - low.x == pytest.approx(high.x - middle.x, abs=0.11)
    # the margin is 8 % of the span from edge to edge, above and below
    assert low.y - high.y == pytest.approx(230.0 * 0.10 / (0.20 * 1.16), abs=0.11)


def test_the_picture_widens_for_a_check_far_out() -> None:
    far = control_picture(points([11.25, 11.90]), LINES)
    assert far.points[1].y > far.top
    assert far.points[1].y < far.lines[0].y


def test_only_the_latest_that_fit_are_drawn_and_the_rest_is_counted() -> None:
    picture = control_picture(points([11.25] * 20), LINES, "narrow")
    assert [at.point.number for at in picture.points] == list(range(7, 21))
    assert picture.left_out == 6
    assert picture.baseline is not None
    assert picture.baseline[1] < picture.points[2].x  # checks 7 and 8 are of the baseline, 9 is not


def test_without_limits_only_the_edges_are_drawn() -> None:
    picture = control_picture(points([11.25, 11.26]), ControlLines(11.15, 11.35, 11.20, 11.30))
    assert [line.role for line in picture.lines] == ["edge", "edge"]
    assert [line.text for line in picture.lines] == ["11.35", "11.15"]
    assert picture.baseline is None


def test_words_of_limits_that_lie_close_are_pushed_apart() -> None:
    close = ControlLines(11.15, 11.35, 11.20, 11.30, 11.250, 11.249, 11.251, 8)
    heights = [line.text_y for line in control_picture(points([11.25] * 8), close).lines if line.role != "edge"]
    assert [later - earlier for earlier, later in itertools.pairwise(heights)] == pytest.approx([16.0, 16.0])


def test_a_day_is_written_once_and_only_where_there_is_room() -> None:
    picture = control_picture(points([11.25] * 9), LINES)
    assert [words for _, words in picture.days] == ["1 May", "2 May", "3 May", "4 May"]
    crowded = control_picture([*points([11.25] * 14)], LINES, "narrow")
    places = [x for x, _ in crowded.days]
    assert all(later - earlier > 40 for earlier, later in itertools.pairwise(places))
