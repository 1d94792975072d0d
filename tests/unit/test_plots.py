"""Where the marks of the interval pictures stand, and what is said of them."""

import itertools
import re
from types import SimpleNamespace
from typing import Any

import pytest

from app import plots

RULE = {"kind": "maximum", "limit": "10.50", "tolerance": "0.10"}
MINIMUM = {"kind": "minimum", "limit": "9.00", "tolerance": "0"}


def a_row(cylinder: int = 1, value: Any = "10.42", verdict: str = "conforming", **more: Any) -> dict[str, Any]:
    return {"cylinder": cylinder, "value": value, "expanded_uncertainty": "0.09", "verdict": verdict, **more}


def test_a_bar_ends_before_lies_across_or_begins_beyond_the_line() -> None:
    rows = [a_row(1, "10.42"), a_row(2, "10.58", "inconclusive"), a_row(3, "10.74", "nonconforming")]
    picture = plots.interval_picture(rows, RULE)
    lines = [next(mark.x for mark in row.marks if mark.role == "tolerance_limit") for row in picture.rows]
    before, across, beyond = (row.bar for row in picture.rows)
    assert before is not None
    assert across is not None
    assert beyond is not None
    assert before.x1 < lines[0]
    assert across.x0 < lines[1] < across.x1
    assert beyond.x0 > lines[2]


def test_teeth_stand_on_the_side_that_is_not_allowed() -> None:
    for rule, way in ((RULE, 1), (MINIMUM, -1)):
        row = a_row(value="9.80")
        mark = next(m for m in plots.interval_picture([row], rule).rows[0].marks if m.role == "tolerance_limit")
        first = re.match(r"M([\d.]+) [\d.]+L([\d.]+) ", mark.teeth)
        assert first is not None
        assert (float(first[2]) - float(first[1])) * way > 0


def test_acceptance_and_rejection_limits_are_drawn_and_named_when_the_rule_has_them() -> None:
    rows = [a_row(acceptance_limit="10.528", rejection_limit="10.672"), a_row(2, acceptance_limit="10.541")]
    picture = plots.interval_picture(rows, RULE)
    assert {mark.role for mark in picture.rows[0].marks} == {"limit", "tolerance_limit", "acceptance", "rejection"}
    assert {mark.role for mark in picture.rows[1].marks} == {"limit", "tolerance_limit", "acceptance"}
    texts = [label.text for label in picture.labels]
    assert "acceptance limit 10.53 to 10.54" in texts
    assert "rejection limit 10.67" in texts
    assert "limit with tolerance 10.60" in texts


def test_labels_of_near_lines_never_run_into_one_another() -> None:
    rows = [a_row(acceptance_limit="10.528", rejection_limit="10.672")]
    labels = plots.interval_picture(rows, RULE, width=360).labels
    heights = [label.y for label in labels]
    assert len(set(heights)) == 4
    assert min(abs(one - other) for one, other in itertools.combinations(heights, 2)) >= 18


@pytest.mark.parametrize("width", [360, 720])
@pytest.mark.parametrize("count", [1, 4, 12])
def test_everything_stays_inside_the_picture(width: int, count: int) -> None:
    rows = [a_row(place, str(9.0 + 0.2 * place), "inconclusive") for place in range(1, count + 1)]
    picture = plots.interval_picture(rows, RULE, width=width)
    for row in picture.rows:
        assert row.bar is not None
        assert picture.left <= row.bar.x0 <= row.bar.x <= row.bar.x1 <= picture.right
        assert row.bar.y1 <= picture.axis_y <= picture.height
        strokes = [float(x) for x in re.findall(r"[ML]([\d.]+) ", row.bar.hatch)]
        assert row.bar.x0 - 0.1 <= min(strokes)
        assert max(strokes) <= row.bar.x1 + 0.1
    assert len(picture.ticks) >= 2
    assert all(picture.left <= tick.x <= picture.right for tick in picture.ticks)


def test_a_cylinder_that_was_not_measured_has_no_bar_and_says_so() -> None:
    picture = plots.interval_picture([a_row(), a_row(2, None, "")], RULE)
    assert picture.rows[1].bar is None
    assert picture.rows[1].value_text == "not measured"
    assert "Cylinder 2: not measured" in plots.description([a_row(2, None, "")], RULE)


def test_a_bar_far_from_the_line_becomes_an_arrow_in_a_strip() -> None:
    rows = [a_row(1), a_row(2), a_row(3, "4.20")]
    axis = plots.strip_axis(rows, RULE)
    strip = plots.strip_picture("4.20", "0.09", axis.low, axis.high, plots.limits_of(RULE), "conforming", "Cylinder 3")
    assert axis.low > 5
    assert strip.bar is not None
    assert strip.bar.cut == "low"


def test_axes_carry_round_figures() -> None:
    axis = plots.axis_between(9.37, 10.83)
    assert axis.step == pytest.approx(0.5)
    assert [axis.text(tick) for tick in axis.ticks] == ["9.5", "10.0", "10.5"]
    assert axis.low < 9.37
    assert axis.high > 10.83


def test_records_and_objects_give_the_same_picture() -> None:
    as_object = SimpleNamespace(
        cylinder=1,
        value=10.42,
        expanded_uncertainty=0.09,
        verdict="conforming",
        acceptance_limit=None,
        rejection_limit=None,
    )
    rule = SimpleNamespace(kind="maximum", limit=10.5, tolerance=0.1)
    assert plots.interval_picture([as_object], rule) == plots.interval_picture([a_row()], RULE)


def test_the_sentence_of_a_strip_names_value_line_and_verdict() -> None:
    said = plots.sentence("Cylinder 8", "10.7412", "0.0934", plots.limits_of(RULE), "nonconforming")
    assert said == "Cylinder 8: 10.74 ± 0.09 against the maximum of 10.60: past the limit."


GUARDED = [
    # verdict, value, acceptance limit, rejection limit, what the picture says; the limit is 10.60
    ("conforming", 10.65, None, 10.71, "NOT PROVEN PAST"),
    ("conforming", 10.60, None, 10.71, "INSIDE THE LIMIT"),
    ("conforming", 10.55, None, 10.71, "INSIDE THE LIMIT"),
    ("nonconforming", 10.75, None, 10.71, "PAST THE LIMIT"),
    ("nonconforming", 10.55, 10.49, None, "NOT PROVEN INSIDE"),
    ("nonconforming", 10.60, 10.49, None, "NOT PROVEN INSIDE"),
    ("nonconforming", 10.65, 10.49, None, "PAST THE LIMIT"),
    ("conforming", 10.45, 10.49, None, "INSIDE THE LIMIT"),
    ("conforming", 10.60, 10.60, None, "INSIDE THE LIMIT"),
    ("nonconforming", 10.61, 10.60, None, "PAST THE LIMIT"),
    ("inconclusive", 10.65, 10.49, 10.71, "ACROSS THE LIMIT"),
]


@pytest.mark.parametrize(("verdict", "value", "accept", "reject", "words"), GUARDED)
@pytest.mark.parametrize("sign", [1.0, -1.0], ids=["maximum", "minimum"])
def test_no_picture_calls_a_value_past_the_limit_inside_nor_one_inside_past(
    verdict: str, value: float, accept: float | None, reject: float | None, words: str, sign: float
) -> None:
    """A guarded rule may pass a value past the limit or fail one inside it; the words stay true of the value."""

    def turned(bound: float | None) -> float | None:
        return None if bound is None else round(10.6 + sign * (bound - 10.6), 9)

    rule = {"kind": "maximum" if sign > 0 else "minimum", "limit": 10.6, "tolerance": 0.0}
    row = {
        "cylinder": "1",
        "value": turned(value),
        "expanded_uncertainty": 0.13,
        "verdict": verdict,
        "acceptance_limit": turned(accept),
        "rejection_limit": turned(reject),
    }
    assert plots.VERDICT_WORDS[plots.pictured_row(row, rule)] == words
    assert plots.VERDICT_WORDS[plots.pictured({"verdict": verdict, "tolerance_limit": 10.6, "decided": row})] == words
    assert plots.description([row], rule).endswith(f": {words.lower()}.")


def test_a_figure_is_never_rounded_across_the_limit_that_it_was_judged_by() -> None:
    row = {"value": "10.6004", "expanded_uncertainty": "0.131", "acceptance_limit": "10.6", "rejection_limit": None}
    assert plots.reported(row) == ("10.6004", "0.1310")
    assert plots.reported({**row, "value": "10.55"}) == ("10.55", "0.13")


def test_a_probability_is_held_apart_from_what_the_rule_requires_of_it() -> None:
    row = {"conformance_probability": "0.9497"}
    assert plots.likelihood(row, {"decision_rule": "three_zones", "confidence": "0.95"}) == "94.97 %"
    assert plots.likelihood(row, {"decision_rule": "simple_acceptance", "confidence": "0.95"}) == "95.0 %"


RANGE = {"kind": "range", "limit": "10.50", "lower_limit": "9.50", "tolerance": "0.10"}


def a_judged(value: str, side: str, accept: str | None = None, reject: str | None = None, **more: Any) -> Any:
    return a_row(1, value, "conforming", side=side, acceptance_limit=accept, rejection_limit=reject, **more)


def test_the_lines_of_a_range_are_those_of_the_side_that_decided_and_the_other_stands_opposite() -> None:
    upper = plots.limits_of(RANGE, a_judged("10.42", "maximum", "10.52", "10.68"))
    assert (upper.kind, upper.limit, upper.tolerance_limit) == ("maximum", 10.5, 10.6)
    assert (upper.acceptance, upper.rejection) == (10.52, 10.68)
    lower = plots.limits_of(RANGE, a_judged("10.42", "minimum", "9.48", "9.32"))
    assert (lower.kind, lower.limit, lower.tolerance_limit) == ("minimum", 9.5, 9.4)
    assert (lower.acceptance, lower.rejection) == (9.48, 9.32)
    assert upper.opposite is not None
    assert (upper.opposite.kind, upper.opposite.limit, upper.opposite.tolerance_limit) == ("minimum", 9.5, 9.4)
    assert upper.opposite.acceptance is None
    assert lower.opposite is not None
    assert lower.opposite.tolerance_limit == 10.6


@pytest.mark.parametrize(("value", "side"), [("9.99", "minimum"), ("10.01", "maximum"), (None, "maximum")])
def test_a_row_that_no_rule_judges_is_held_against_the_nearer_side(value: str | None, side: str) -> None:
    assert plots.limits_of(RANGE, a_row(1, value, "")).kind == side


def test_a_result_of_a_range_brings_the_limit_of_its_own_side() -> None:
    """A signed result carries kind, side and that side's limits, not both."""
    told = {"kind": "range", "side": "minimum", "limit": "9.50", "tolerance": "0.10", "tolerance_limit": "9.40"}
    limits = plots.limits_of(told, a_row(value="9.44"))
    assert (limits.kind, limits.tolerance_limit, limits.opposite) == ("minimum", 9.4, None)


def test_limit_and_tolerance_are_added_as_the_decimals_written() -> None:
    assert plots.limits_of({"kind": "maximum", "limit": "10.4", "tolerance": "0.2"}).tolerance_limit == 10.6


def test_a_range_draws_both_limits_with_their_teeth_outwards() -> None:
    row = plots.interval_picture([a_judged("10.42", "maximum")], RANGE).rows[0]
    lines = sorted((mark.x, mark.teeth) for mark in row.marks if mark.role == "tolerance_limit")
    assert len(lines) == 2
    for (x, teeth), way in zip(lines, (-1, 1), strict=True):
        first = re.match(r"M([\d.]+) [\d.]+L([\d.]+) ", teeth)
        assert first is not None
        assert float(first[1]) == x
        assert (float(first[2]) - float(first[1])) * way > 0
    assert [mark.role for mark in row.marks].count("limit") == 2


@pytest.mark.parametrize(("expanded", "count"), [("0.021", 2), ("0.019", 1)])
def test_the_far_limit_of_a_range_is_left_out_when_bars_would_shrink_to_strokes(expanded: str, count: int) -> None:
    """From 9.40 to 10.60 are 1.2: thirty spans of ±0.02."""
    row = {**a_judged("10.58", "maximum"), "expanded_uncertainty": expanded}
    picture = plots.interval_picture([row], RANGE)
    assert [mark.role for mark in picture.rows[0].marks].count("tolerance_limit") == count
    assert [label.role for label in picture.labels].count("tolerance_limit") == count


def test_a_strip_of_a_range_shows_the_lines_of_every_side_that_decided() -> None:
    rows = [a_judged("9.44", "minimum"), a_judged("10.58", "maximum")]
    axis = plots.strip_axis(rows, RANGE)
    assert axis.low < 9.4
    assert axis.high > 10.6
    near = plots.strip_axis(rows[1:], RANGE)
    assert near.low > 9.9


@pytest.mark.parametrize("width", [360, 720])
@pytest.mark.parametrize(("lower", "upper"), [("9.50", "10.50"), ("10.30", "10.50"), ("10.48", "10.50")])
@pytest.mark.parametrize("values", [("9.20", "10.80"), ("10.00", "10.10"), ("7.00", "7.10"), ("14.00", "14.10")])
def test_words_of_a_range_stay_in_the_picture_and_no_line_runs_through_them(
    width: int, lower: str, upper: str, values: tuple[str, str]
) -> None:
    rule = {"kind": "range", "limit": upper, "lower_limit": lower, "tolerance": "0.10"}
    below, above = float(lower) - 0.1, float(upper) + 0.1
    rows = [
        a_judged(values[0], "minimum", f"{below + 0.08}", f"{below - 0.1}"),
        a_judged(values[1], "maximum", f"{above - 0.08}", f"{above + 0.1}"),
    ]
    labels = plots.interval_picture(rows, rule, width=width).labels
    assert {label.role for label in labels} >= {"tolerance_limit"}
    spans = []
    for label in labels:
        length = 7.5 * len(label.text)
        begin = label.x + 6 if label.anchor == "start" else label.x - 6 - length
        assert begin >= 0
        assert begin + length <= width
        spans.append((label, begin, begin + length))
    for one, begin, end in spans:
        for other, its_begin, its_end in spans:
            if other is one:
                continue
            assert not (other.y < one.y and begin < other.x < end), (other.text, one.text)
            assert not (other.y == one.y and begin < its_end and its_begin < end), (other.text, one.text)


def test_a_range_is_told_with_both_limits() -> None:
    said = plots.description([a_judged("9.44", "minimum"), a_judged("10.42", "maximum")], RANGE)
    assert said == (
        "The rule allows between 9.50 and 10.50, with the tolerance granted 9.40 and 10.60. "
        "Cylinder 1: 9.44 ± 0.09 against the minimum of 9.40: inside the limit. "
        "Cylinder 1: 10.42 ± 0.09 against the maximum of 10.60: inside the limit."
    )
    assert plots.description([], MINIMUM) == "The rule allows at least 9.00."
    assert plots.description([], RULE) == "The rule allows at most 10.50, with the tolerance granted 10.60."
