"""The plan of a gauge study, its order by lot, and readings put in their places."""

import math
from itertools import pairwise

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.studies.design import Plan, Reading, Step, arranged, mean_of, reach, run_order

PLAN = Plan(("a", "b", "c"), ("Kestrel", "Wren"), 2)


def readings_of(plan: Plan, value: float = 10.5) -> list[Reading]:
    return [Reading(step.inspector, step.part, step.repeat, value) for step in run_order(plan, "any")]


def test_a_plan_counts_its_readings() -> None:
    assert PLAN.readings == 12
    assert Plan(("a", "b"), ("x", "y"), 2).readings == 8


@pytest.mark.parametrize(("parts", "inspectors", "repeats"), [(2, 2, 2), (50, 20, 10)], ids=["the least", "the most"])
def test_plans_at_their_bounds_stand(parts: int, inspectors: int, repeats: int) -> None:
    plan = Plan(tuple(map(str, range(parts))), tuple(map(str, range(inspectors))), repeats)
    assert plan.readings == parts * inspectors * repeats


@pytest.mark.parametrize(
    ("parts", "inspectors", "repeats", "field", "words"),
    [
        (1, 2, 2, "parts", "takes 2 to 50 parts. With one alone, nothing tells what differs between parts"),
        (51, 2, 2, "parts", "takes 2 to 50 parts"),
        (2, 1, 2, "inspectors", "takes 2 to 20 inspectors. With one alone"),
        (2, 21, 2, "inspectors", "takes 2 to 20 inspectors"),
        (2, 2, 1, "repeats", "2 to 10 times. Without a repeat nothing shows"),
        (2, 2, 11, "repeats", "2 to 10 times"),
    ],
)
def test_plans_beyond_their_bounds_are_refused(
    parts: int, inspectors: int, repeats: int, field: str, words: str
) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        Plan(tuple(map(str, range(parts))), tuple(map(str, range(inspectors))), repeats)
    assert refused.value.field == field


def test_labels_are_there_and_differ() -> None:
    with pytest.raises(MeasurementError, match="Each part needs a label") as refused:
        Plan(("a", "  "), ("x", "y"), 2)
    assert refused.value.field == "parts"
    with pytest.raises(MeasurementError, match=r"“WREN” stands there twice\. Give each inspector") as refused:
        Plan(("a", "b"), ("Wren", "WREN "), 2)
    assert refused.value.field == "inspectors"


def test_the_reach_of_a_plan_is_that_of_its_degrees_of_freedom() -> None:
    """√(ν/χ²(0.025; ν)), tables of chi-square: 7.37776/2 … 0.0506356 (2), 2.70039 (9), 40.4817 (60)."""
    far = reach(Plan(tuple("abcdefghij"), ("x", "y", "z"), 3))
    assert far.reproducibility == pytest.approx(math.sqrt(2 / 0.0506356), rel=1e-5)
    assert far.parts == pytest.approx(math.sqrt(9 / 2.70039), rel=1e-5)
    assert far.repeatability == pytest.approx(math.sqrt(60 / 40.4817), rel=1e-5)


def test_the_order_holds_every_step_once_and_is_the_same_for_the_same_seed() -> None:
    order = run_order(PLAN, "seed")
    assert order == run_order(PLAN, "seed")
    assert len(set(order)) == len(order) == PLAN.readings
    assert {step.repeat for step in order} == {1, 2}
    assert run_order(PLAN, "another") != order


def test_the_lot_does_not_hang_on_the_order_of_the_labels() -> None:
    assert run_order(Plan(("c", "a", "b"), ("Wren", "Kestrel"), 2), "seed") == run_order(PLAN, "seed")


def test_the_lot_falls_as_it_fell() -> None:
    """A study that was begun goes on in its order on any machine and in any version."""
    assert run_order(Plan(("a", "b"), ("x", "y"), 2), "seed") == tuple(
        Step(inspector, part, repeat)
        for inspector, part, repeat in [
            ("x", "a", 1),
            ("x", "b", 1),
            ("y", "b", 1),
            ("y", "a", 1),
            ("y", "b", 2),
            ("y", "a", 2),
            ("x", "b", 2),
            ("x", "a", 2),
        ]
    )


@pytest.mark.parametrize("seed", [str(number) for number in range(60)])
def test_everybody_measures_all_parts_before_anybody_repeats(seed: str) -> None:
    order = run_order(PLAN, seed)
    for start in range(0, len(order), 3):
        block = order[start : start + 3]
        assert len({(step.inspector, step.repeat) for step in block}) == 1
        assert {step.part for step in block} == {"a", "b", "c"}
    assert [step.repeat for step in order] == [1] * 6 + [2] * 6


def test_nobody_gets_the_same_part_twice_running() -> None:
    orders = [run_order(PLAN, str(seed)) for seed in range(200)]
    assert any(order[5].inspector == order[6].inspector for order in orders)
    for order in orders:
        for before, after in pairwise(order):
            assert (before.inspector, before.part) != (after.inspector, after.part)


def test_all_parts_come_first_about_equally_often() -> None:
    first = [run_order(PLAN, str(seed))[0].part for seed in range(300)]
    assert {part: 70 < first.count(part) < 130 for part in "abc"} == dict.fromkeys("abc", True)


def test_readings_find_their_places_in_any_order() -> None:
    readings = [
        Reading(i, p, r, 100.0 * x + 10.0 * y + r)
        for x, i in enumerate(PLAN.inspectors)
        for y, p in enumerate(PLAN.parts)
        for r in (1, 2)
    ]
    cells = arranged(PLAN, readings[::-1])
    assert cells.values == (
        ((1.0, 2.0), (11.0, 12.0), (21.0, 22.0)),
        ((101.0, 102.0), (111.0, 112.0), (121.0, 122.0)),
    )
    assert cells.means() == ((1.5, 11.5, 21.5), (101.5, 111.5, 121.5))
    assert cells.inspector_means() == (11.5, 111.5)
    assert cells.part_means() == (51.5, 61.5, 71.5)
    assert cells.ranges() == ((1.0, 1.0, 1.0), (1.0, 1.0, 1.0))
    assert mean_of([1.0, 2.0, 6.0]) == 3.0


@pytest.mark.parametrize(
    ("gone", "words"),
    [
        ([("Wren", "b", 2)], "Readings are missing: Wren, part b, repeat 2. The analysis needs every one: measure"),
        (
            [("Wren", "b", 2), ("Kestrel", "a", 1), ("Wren", "c", 1)],
            "missing: Kestrel, part a, repeat 1; Wren, part b, repeat 2; Wren, part c, repeat 1. The",
        ),
        (
            [("Wren", "b", 2), ("Kestrel", "a", 1), ("Wren", "c", 1), ("Wren", "c", 2), ("Kestrel", "c", 2)],
            "missing: Kestrel, part a, repeat 1; Kestrel, part c, repeat 2; Wren, part b, repeat 2; and 2 more. The",
        ),
    ],
)
def test_missing_readings_are_named(gone: list[tuple[str, str, int]], words: str) -> None:
    left = [one for one in readings_of(PLAN) if (one.inspector, one.part, one.repeat) not in gone]
    with pytest.raises(MeasurementError, match=words) as refused:
        arranged(PLAN, left)
    assert refused.value.field == "readings"


@pytest.mark.parametrize(
    ("further", "words"),
    [
        (Reading("Wren", "d", 1, 1.0), "Wren, part d, repeat 1 is not part of the plan"),
        (Reading("Wren", "a", 3, 1.0), "Wren, part a, repeat 3 is not part of the plan"),
        (Reading("Owl", "a", 1, 1.0), "Owl, part a, repeat 1 is not part of the plan"),
        (Reading("Wren", "a", 1, 1.0), "Wren, part a, repeat 1 was entered twice"),
    ],
)
def test_readings_that_have_no_place_are_refused(further: Reading, words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        arranged(PLAN, [*readings_of(PLAN), further])
    assert refused.value.field == "readings.12"


@pytest.mark.parametrize("value", [math.nan, math.inf])
def test_a_reading_without_a_figure_is_refused(value: float) -> None:
    readings = readings_of(PLAN)
    readings[4] = Reading(readings[4].inspector, readings[4].part, readings[4].repeat, value)
    with pytest.raises(MeasurementError, match="has no figure") as refused:
        arranged(PLAN, readings)
    assert refused.value.field == "readings.4"
