"""Each rule by the shortest series that shows it, and by those that only nearly do."""

import math

import pytest

from app.metrology.charts.run_rules import NELSON, RUN_RULES, WESTERN_ELECTRIC, Signal, signals
from app.metrology.errors import MeasurementError


def found(key: str, values: list[float]) -> list[tuple[int, int, tuple[int, ...]]]:
    signalled = signals(values, 0.0, 1.0, [RUN_RULES[key]])
    assert all(signal.rule is RUN_RULES[key] for signal in signalled)
    return [(signal.place, signal.side, signal.places) for signal in signalled]


def test_one_far_out() -> None:
    assert found("one_far_out", [0.0, 3.01, 2.9, -3.01]) == [(1, 1, (1,)), (3, -1, (3,))]
    assert found("one_far_out", [3.0, -3.0, 3.0 + 5e-10]) == []


def test_two_of_three_far_to_one_side() -> None:
    key = "two_of_three_far_to_one_side"
    assert found(key, [2.1, 2.2]) == [(1, 1, (0, 1))]
    assert found(key, [2.1, 0.0, 2.2]) == [(2, 1, (0, 2))]
    assert found(key, [-2.1, 5.0, -2.2]) == [(2, -1, (0, 2))]
    assert found(key, [2.1, 2.2, 2.3]) == [(1, 1, (0, 1)), (2, 1, (0, 1, 2))]
    assert found(key, [2.1, 2.2, 0.0]) == [(1, 1, (0, 1))]
    assert found(key, [2.1, 0.0, 0.0, 2.2]) == []
    assert found(key, [2.1, -2.2, 0.0]) == []
    assert found(key, [2.1, 2.0, 2.0]) == []


def test_four_of_five_off_to_one_side() -> None:
    key = "four_of_five_off_to_one_side"
    assert found(key, [1.1] * 4) == [(3, 1, (0, 1, 2, 3))]
    assert found(key, [-1.1, -1.1, 0.0, -1.1, -1.1]) == [(4, -1, (0, 1, 3, 4))]
    assert found(key, [1.1, 1.1, 0.0, 1.1, 0.0, 1.1]) == []
    assert found(key, [1.1, 1.1, 1.1, -1.1, 1.0]) == []
    assert found(key, [1.1, 1.1, 1.1, -1.1, 1.1]) == [(4, 1, (0, 1, 2, 4))]


@pytest.mark.parametrize(("key", "least"), [("eight_in_a_row_on_one_side", 8), ("nine_in_a_row_on_one_side", 9)])
def test_many_in_a_row_on_one_side(key: str, least: int) -> None:
    assert found(key, [0.1] * least) == [(least - 1, 1, tuple(range(least)))]
    assert found(key, [-0.1] * (least + 1)) == [
        (least - 1, -1, tuple(range(least))),
        (least, -1, tuple(range(1, least + 1))),
    ]
    assert found(key, [0.1] * (least - 1)) == []
    assert found(key, [0.1] * (least - 1) + [0.0]) == []
    assert found(key, [0.1] * (least - 1) + [-0.1, 0.1]) == []


def test_six_rising_or_falling() -> None:
    key = "six_rising_or_falling"
    assert found(key, [-1.0, -0.5, 0.0, 0.1, 0.2, 0.3]) == [(5, 1, (0, 1, 2, 3, 4, 5))]
    assert found(key, [0.6, 0.5, 0.4, 0.3, 0.2, 0.1, 0.0]) == [
        (5, -1, (0, 1, 2, 3, 4, 5)),
        (6, -1, (1, 2, 3, 4, 5, 6)),
    ]
    assert found(key, [0.0, 0.1, 0.2, 0.3, 0.4]) == []
    assert found(key, [0.0, 0.1, 0.2, 0.2, 0.3, 0.4]) == []
    assert found(key, [0.0, 0.0, 0.1, 0.2, 0.3, 0.4]) == []
    assert found(key, [0.0, 0.1, 0.2, 0.1, 0.3, 0.4]) == []


def test_fourteen_up_and_down_in_turn() -> None:
    key = "fourteen_up_and_down_in_turn"
    turning = [0.1 * (turn % 2) for turn in range(14)]
    assert found(key, turning) == [(13, 0, tuple(range(14)))]
    assert found(key, turning[:13]) == []
    assert found(key, [turning[0], *turning]) == [(14, 0, tuple(range(1, 15)))]
    assert found(key, [*turning[:6], 0.1, *turning[7:]]) == []
    assert found(key, [*turning[:7], -0.1, *turning[8:]]) == []


def test_fifteen_close_to_the_centre() -> None:
    key = "fifteen_close_to_the_centre"
    assert found(key, [1.0, -1.0, 0.5] * 5) == [(14, 0, tuple(range(15)))]
    assert found(key, [0.1] * 14) == []
    assert found(key, [1.1, *[0.1] * 15]) == [(15, 0, tuple(range(1, 16)))]
    assert found(key, [0.1] * 7 + [-1.01] + [0.1] * 7) == []


def test_eight_off_to_both_sides() -> None:
    key = "eight_off_to_both_sides"
    assert found(key, [1.1, -1.1, 1.2, 1.3, -1.2, 1.1, 1.1, 1.1]) == [(7, 0, tuple(range(8)))]
    assert found(key, [1.1, -1.1] * 3 + [1.1]) == []
    assert found(key, [0.0, *[1.1, -1.1] * 4]) == [(8, 0, tuple(range(1, 9)))]
    assert found(key, [1.1, -1.1, 1.1, 1.0, 1.1, -1.1, 1.1, 1.1]) == []
    assert found(key, [1.1] * 8) == []
    assert found(key, [-1.1] * 8) == []


def test_centre_and_standard_deviation_are_those_given() -> None:
    assert [signal.place for signal in signals([10.31, 10.29, 9.69, 9.71], 10.0, 0.1, WESTERN_ELECTRIC[:1])] == [0, 2]


def test_signals_stand_by_place_and_then_in_the_order_of_the_rules() -> None:
    values = [2.5, 3.5, 1.5, 1.5]
    assert [(signal.place, signal.rule.key) for signal in signals(values, 0.0, 1.0)] == [
        (1, "one_far_out"),
        (1, "two_of_three_far_to_one_side"),
        (3, "four_of_five_off_to_one_side"),
    ]
    assert signals(values, 0.0, 1.0, ()) == []
    assert signals([], 0.0, 1.0) == []


def test_the_rules_are_data_with_names_words_and_sources() -> None:
    assert [rule.key for rule in WESTERN_ELECTRIC] == [
        "one_far_out",
        "two_of_three_far_to_one_side",
        "four_of_five_off_to_one_side",
        "eight_in_a_row_on_one_side",
    ]
    assert len(NELSON) == 8
    assert {rule.key for rule in (*WESTERN_ELECTRIC, *NELSON)} == set(RUN_RULES)
    assert [(rule.window, rule.least, rule.sigmas) for rule in WESTERN_ELECTRIC] == [
        (1, 1, 3.0),
        (3, 2, 2.0),
        (5, 4, 1.0),
        (8, 8, 0.0),
    ]
    for key, rule in RUN_RULES.items():
        assert rule.key == key
        assert rule.words[0].islower()
        assert not rule.words.endswith(".")
        assert rule.source.startswith(("Western Electric (1956)", "L. S. Nelson (1984)"))


def test_a_signal_is_a_value() -> None:
    rule = RUN_RULES["one_far_out"]
    assert signals([4.0], 0.0, 1.0) == [Signal(0, rule, 1, (0,))]


def test_what_is_no_number_and_no_scatter_is_refused() -> None:
    with pytest.raises(MeasurementError) as refused:
        signals([0.0, math.inf], 0.0, 1.0)
    assert refused.value.field == "values.1"
    with pytest.raises(MeasurementError) as refused:
        signals([0.0], 0.0, 0.0)
    assert refused.value.field == "sigma"
