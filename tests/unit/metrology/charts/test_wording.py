"""What a steward reads: whole sentences, with figures that are those of the chart."""

import math
from collections.abc import Sequence

import pytest

from app.metrology.charts.check_standard import CheckPoint
from app.metrology.charts.drift import (
    COMING_BACK,
    HAS_PASSED,
    STEADY,
    STEADY_OUTSIDE,
    WILL_REACH,
    Crossing,
    Drift,
    Forecast,
)
from app.metrology.charts.instrument_chart import InstrumentChart, chart_of
from app.metrology.charts.run_rules import RUN_RULES, Rule, Signal
from app.metrology.charts.wording import sentences, signal_words
from tests.unit.metrology.charts.test_instrument_chart import STEADY_MEANS, a_chart, points, repeated


def foretold(ahead: Forecast, slope: float = 0.001, of_slope: float = 0.0002) -> list[str]:
    """The sentences on drift alone."""
    drift = Drift(100.0, 11.25, 0.0, slope, of_slope, 20.0, 0.95, 2.0, 0.01)
    chart = InstrumentChart((), 11.15, 11.35, 0.01, (), None, drift, ahead)
    return list(sentences(chart)[1:])


def test_of_too_few_checks_it_is_said_that_they_are_too_few() -> None:
    none, one, seven = (sentences(a_chart(STEADY_MEANS[:count])) for count in (0, 1, 7))
    rest = (
        " on this reference volume so far. Limits need 8, so none are drawn yet: only the edges of what is accepted "
        "judge the instrument."
    )
    assert none == ("0 checks" + rest, "A drift is looked for from 3 days with a check on.")
    assert one[0] == "1 check" + rest
    assert seven[0] == "7 checks" + rest
    assert len(seven) == 3


def test_a_steady_instrument_in_five_sentences() -> None:
    assert sentences(a_chart(STEADY_MEANS)) == (
        "The limits come from the first 10 checks: centre 11.251, limits 11.201 to 11.301.",
        "These limits are provisional: they become firm with a baseline of 20 checks.",
        "No signal: the checks vary as chance makes them vary.",
        "No drift that differs from zero: −0.002 in 30 days, 95 % interval −0.016 to +0.011.",
        "If there is a drift after all, the line reaches an edge of what is accepted, 11.15 to 11.35, not before day "
        "219; no latest date can be given.",
    )


def test_firm_limits_are_not_called_provisional() -> None:
    said = sentences(a_chart(repeated(20)))
    assert said[0].startswith("The limits come from the first 20 checks: ")
    assert said[1] == "No signal: the checks vary as chance makes them vary."


def test_a_baseline_that_was_held_back_says_why() -> None:
    means = [mean + 0.06 * (place >= 12) for place, mean in enumerate(repeated(20))]
    assert sentences(a_chart(means))[1] == (
        "After check 12 a shift that lasts begins to show, so the baseline ends there. Look for its cause; once the "
        "instrument is repaired or adjusted, begin a new chart."
    )


def test_the_least_standard_deviation_is_explained() -> None:
    said = sentences(a_chart([11.25] * 8))
    assert said[2] == (
        "In the baseline the checks agree more closely than the display can show. A standard deviation of 0.0029 is "
        "taken, the least that steps of 0.01 leave open, and a check within 0.01 of the centre counts as on it."
    )


def test_limits_that_come_from_the_days_say_so() -> None:
    pairs = [CheckPoint(7.0 * (n // 2) + 0.1 * (n % 2), 11.25 + 0.02 * (-1.0) ** (n // 2), 0.0, 1) for n in range(8)]
    said = sentences(chart_of(pairs, 11.15, 11.35, resolution=0.01))
    assert said[1:3] == (
        "These limits are provisional: they become firm with a baseline of 20 checks.",
        "Checks of different days differ by more than those of one day; the limits take that.",
    )


def test_signals_are_told_once_a_kind_with_the_first_and_the_last_place() -> None:
    chart = chart_of(points([*STEADY_MEANS, 11.40, 11.10, 11.41]), 11.15, 11.35, 10, resolution=0.01)
    told = [sentence for sentence in sentences(chart, lambda day: f"<{day}>") if sentence.startswith("Check")]
    assert told == [
        "Check 11 (<70.0>): a single check lies more than three standard deviations from the centre (upwards). "
        "Shown 2 times, last at check 13.",
        "Check 11 (<70.0>): the step from one check to the next is greater than the baseline explains (upwards). "
        "Shown 2 times, last at check 13.",
        "Check 11 (<70.0>): the weighted average of the checks has moved away from the centre: a small shift that "
        "lasts (upwards). Shown 2 times, last at check 13.",
        "Check 12 (<77.0>): a single check lies more than three standard deviations from the centre (downwards).",
        "Check 12 (<77.0>): the step from one check to the next is greater than the baseline explains (downwards).",
        "Check 13 (<84.0>): two of three checks in a row lie more than two standard deviations to the same side "
        "(upwards).",
    ]


def test_a_check_is_told_on_the_day_in_which_its_moment_falls() -> None:
    checks = [CheckPoint(point.day + 0.9, point.mean, 0.01, 3) for point in points([*STEADY_MEANS, 11.40])]
    told: list[float] = []

    def tell(day: float) -> str:
        told.append(day)
        return "that day"

    sentences(chart_of(checks, 11.15, 11.35, 10, resolution=0.01), tell)
    assert told[0] == 70.0
    assert all(day == math.floor(day) for day in told)


def test_a_signal_has_its_side_in_words_where_it_has_one() -> None:
    rule = Rule("key", "something shows", "somewhere")
    assert signal_words(Signal(0, rule, 1, (0,))) == "something shows (upwards)"
    assert signal_words(Signal(0, rule, -1, (0,))) == "something shows (downwards)"
    assert signal_words(Signal(0, rule, 0, (0,))) == "something shows"
    assert signal_words(Signal(0, RUN_RULES["six_rising_or_falling"], -1, (0,))).endswith("to the next (downwards)")


def test_a_drift_is_told_with_its_interval_for_thirty_days() -> None:
    ahead = Forecast(WILL_REACH, 120.0, 11.27, Crossing(11.35, 200.7, 171.4, 266.2), None)
    assert foretold(ahead) == [
        "This instrument, or this reference volume, drifts by +0.030 in 30 days, 95 % interval +0.018 to +0.042.",
        "If it goes on so, the line through the checks reaches the edge 11.35 on day 200 (95 % interval day 171 to day "
        "267).",
    ]
    assert foretold(ahead, slope=-0.001)[0] == (
        "This instrument, or this reference volume, drifts by −0.030 in 30 days, 95 % interval −0.042 to −0.018."
    )


def test_an_edge_that_is_passed_and_one_that_is_far_off_the_other_way() -> None:
    crossing = Crossing(11.35, 200.7, 171.4, 266.2)
    assert foretold(Forecast(HAS_PASSED, 300.0, 11.4504, crossing, None))[1] == (
        "The line through the checks stands at 11.450, past the edge; it reached 11.35 on day 200 (95 % interval day "
        "171 to day 267)."
    )
    assert foretold(Forecast(COMING_BACK, 0.0, 11.1496, crossing, None))[1] == (
        "The line through the checks stands at 11.150, outside what is accepted, and runs back; it reaches the far "
        "edge 11.35 on day 200 (95 % interval day 171 to day 267)."
    )


def test_no_calendar_is_asked_for_days_more_than_a_century_off() -> None:
    crossing = Crossing(11.35, 200.0, -36500.0, 1e12)
    told = foretold(Forecast(WILL_REACH, 120.0, 11.27, crossing, None))[1]
    assert told.endswith("(95 % interval a day more than a century ago to a day more than a century from now).")
    near = Crossing(11.35, 200.0, -36405.0, 36645.0)
    assert "day -36405 to day 36645" in foretold(Forecast(WILL_REACH, 120.0, 11.27, near, None))[1]


def test_without_a_drift_the_first_day_that_cannot_be_left_out_is_told() -> None:
    assert foretold(Forecast(STEADY, 110.0, 11.25, None, 300.9), slope=0.0001) == [
        "No drift that differs from zero: +0.003 in 30 days, 95 % interval −0.009 to +0.015.",
        "If there is a drift after all, the line reaches an edge of what is accepted, 11.15 to 11.35, not before day "
        "300; no latest date can be given.",
    ]
    assert foretold(Forecast(STEADY, 110.0, 11.25, None, None), slope=0.0)[1] == (
        "The line may have reached an edge of what is accepted, 11.15 to 11.35, already: it is not known well enough."
    )
    assert foretold(Forecast(STEADY, 110.0, 11.25, None, math.inf), 0.0, 0.0) == [
        "No drift that differs from zero: 0.0000 in 30 days, 95 % interval 0.0000 to 0.0000.",
        "Nothing points to an edge of what is accepted, 11.15 to 11.35.",
    ]
    assert foretold(Forecast(STEADY_OUTSIDE, 110.0, 11.3804, None, None), slope=0.0)[1] == (
        "The line through the checks stands at 11.380, outside what is accepted, 11.15 to 11.35."
    )


def test_nothing_has_no_sign() -> None:
    """−0.00001 in 30 days, told to three decimals."""
    told = foretold(Forecast(STEADY, 110.0, 11.25, None, 300.0), slope=-0.0000003)[0]
    assert told == "No drift that differs from zero: 0.000 in 30 days, 95 % interval −0.012 to +0.012."


@pytest.mark.parametrize("means", [STEADY_MEANS[:2], STEADY_MEANS, [11.25] * 9, [11.2 + 0.01 * n for n in range(30)]])
def test_sentences_begin_with_a_capital_and_end_with_a_full_stop(means: Sequence[float]) -> None:
    for sentence in sentences(a_chart(means)):
        assert sentence[0].isupper() or sentence[0].isdigit()
        assert sentence.endswith(".")
