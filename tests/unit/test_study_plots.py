"""The pictures of studies: where everything stands, worked out by hand."""

import pytest

from app.plots.studies import (
    Column,
    Group,
    LetterRow,
    Level,
    columns_picture,
    letters_picture,
    slope_picture,
)


def groups(count: int, columns: int) -> list[Group]:
    return [
        Group(str(group), tuple(Column("ABCDEFGHIJ"[one % 10], (1.0 + one, 2.0 + one), "") for one in range(columns)))
        for group in range(count)
    ]


def test_few_groups_stand_side_by_side_in_one_panel() -> None:
    picture = columns_picture(groups(3, 3), "wide")
    (panel,) = picture.panels
    assert (picture.width, picture.left, picture.right, picture.height) == (720, 58.0, 710.0, 12.0 + 190.0 + 46.0)
    # columns of 64 from 58 + 6; groups of 3·64 + 12
    assert [column.x for column in panel.columns] == [96.0, 160.0, 224.0, 300.0, 364.0, 428.0, 504.0, 568.0, 632.0]
    assert [x for x, _ in panel.groups] == [160.0, 364.0, 568.0]
    assert panel.dividers == (262.0, 466.0)


def test_a_column_reaches_from_its_least_to_its_greatest_reading() -> None:
    (panel,) = columns_picture([Group("1", (Column("A", (2.0, 1.0, 1.5), ""),))], "wide").panels
    (column,) = panel.columns
    # the axis runs from 0.92 to 2.08 over 190
    assert column.ticks == (round(202 - 1.08 / 1.16 * 190, 1), round(202 - 0.08 / 1.16 * 190, 1), 107.0)
    assert (column.top, column.bottom) == (column.ticks[0], column.ticks[1])


def test_groups_without_room_go_to_the_panel_below_on_the_same_scale() -> None:
    wide, narrow = columns_picture(groups(10, 3), "wide"), columns_picture(groups(10, 3), "narrow")
    assert [len(panel.groups) for panel in wide.panels] == [7, 3]
    assert [len(panel.groups) for panel in narrow.panels] == [3, 3, 3, 1]
    assert [panel.top for panel in wide.panels] == [12.0, 248.0]
    assert wide.panels[1].columns[0].top - wide.panels[0].columns[0].top == pytest.approx(236.0)
    assert [text for _, text in wide.panels[0].grid] == [text for _, text in wide.panels[1].grid]


def test_many_columns_are_drawn_closer_and_every_few_named() -> None:
    picture = columns_picture([Group("A", groups(1, 50)[0].columns)], "narrow")
    (panel,) = picture.panels
    step = (350.0 - 58.0 - 12.0) / 50
    assert panel.columns[1].x - panel.columns[0].x == pytest.approx(step, abs=0.11)
    assert panel.columns[-1].x < picture.right
    named = [place for place, column in enumerate(panel.columns) if column.label]
    assert named == list(range(0, 50, 4))  # 20 over 5.6 needs four


def test_levels_are_on_the_scale_too() -> None:
    picture = columns_picture([Group("A", (Column("1", (1.0,), ""),))], "wide", [Level(3.0, "limit", "limit")])
    (level,) = picture.panels[0].levels
    assert (level.text, level.role) == ("limit", "limit")
    assert picture.panels[0].top < level.y < picture.panels[0].columns[0].top


def test_letters_stand_in_the_order_given_against_one_line() -> None:
    rows = [LetterRow("A", 0.02, 0.00, 0.04, "A"), LetterRow("B", -0.02, -0.04, 0.0, "B")]
    picture = letters_picture(rows, 0.0, "mean of all", "wide")
    assert [(row.letter, row.y) for row in picture.rows] == [("A", 47.0), ("B", 81.0)]
    assert picture.centre == (34.0 + 710.0) / 2
    assert picture.centre_anchor == "end"
    assert [row.x0 for row in picture.rows] == [picture.centre, 34.0 + round(0.08 / 1.16 * 676, 1) - 0.0]
    assert "−0.04" in [tick.text for tick in picture.ticks]
    assert picture.height == 30.0 + 2 * 34.0 + 34.0


def test_the_words_at_the_line_stand_where_there_is_room() -> None:
    rows = [LetterRow("A", 0.02, 0.00, 0.04, "A")]
    assert letters_picture(rows, 0.0, "", "narrow").centre_anchor == "start"


def test_a_slope_has_its_band_its_points_and_the_strip_of_the_set_point() -> None:
    line = [(4.0, 11.0, 0.1), (5.0, 11.2, 0.1)]
    picture = slope_picture([(4.0, 11.0), (5.0, 11.2)], line, [], 4.5, 0.1, "wide")
    assert picture.curve == ""
    assert picture.line.count("L") == 1
    assert picture.band.count("L") == 3
    assert picture.band.endswith("Z")
    assert picture.set_point == (58.0 + 710.0) / 2
    assert picture.set_point_anchor == "end"
    assert sum(picture.within) / 2 == pytest.approx(picture.set_point, abs=0.1)
    (x0, y0), (x1, y1) = picture.points
    assert x0 < picture.set_point < x1
    assert y1 < y0  # upwards on the page is downwards in its numbers
    curved = slope_picture([(4.0, 11.0), (5.0, 11.2)], line, [(4.0, 11.0), (4.5, 11.4)], 4.2, 0.1, "narrow")
    assert curved.curve.startswith("M")
    assert curved.set_point_anchor == "start"
    assert (curved.height, picture.height) == (320.0, 380.0)
