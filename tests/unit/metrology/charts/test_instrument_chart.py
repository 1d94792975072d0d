"""An instrument's chart put together: which baseline, which signals, and a season in which it drifts."""

import math
from collections.abc import Sequence

import numpy as np
import pytest

from app.metrology.charts.check_standard import CheckPoint, check_standard
from app.metrology.charts.drift import HAS_PASSED, WILL_REACH, drift_of, forecast
from app.metrology.charts.ewma import ewma
from app.metrology.charts.individuals import baseline_limits
from app.metrology.charts.instrument_chart import InstrumentChart, Judgement, chart_of
from app.metrology.charts.limits import limits_about
from app.metrology.charts.run_rules import RUN_RULES, signals
from app.metrology.errors import MeasurementError

STEADY_MEANS = [11.25, 11.27, 11.24, 11.26, 11.25, 11.23, 11.26, 11.25, 11.24, 11.26]
LEAST = 0.01 / math.sqrt(12.0)


def points(means: Sequence[float], scatter: float = 0.01, count: int = 3) -> list[CheckPoint]:
    """Weekly, all with the same scatter of their repeats."""
    return [CheckPoint(7.0 * week, mean, scatter, count) for week, mean in enumerate(means)]


def a_chart(
    means: Sequence[float], baseline: int | None = None, resolution: float = 0.01, as_of: float | None = None
) -> InstrumentChart:
    return chart_of(points(means), 11.15, 11.35, baseline, resolution=resolution, as_of=as_of)


def judged(chart: InstrumentChart) -> Judgement:
    assert chart.judgement is not None
    return chart.judgement


def signalled(chart: InstrumentChart) -> list[tuple[int, str, int]]:
    return [(signal.place, signal.rule.key, signal.side) for signal in judged(chart).signals]


def repeated(count: int) -> list[float]:
    return [STEADY_MEANS[turn % len(STEADY_MEANS)] for turn in range(count)]


def test_without_points_there_is_nothing() -> None:
    chart = a_chart([])
    assert (chart.points, chart.moving_ranges) == ((), ())
    assert (chart.judgement, chart.drift, chart.forecast) == (None, None, None)


def test_seven_points_set_no_limits_and_three_make_a_line() -> None:
    seven = a_chart(STEADY_MEANS[:7])
    assert seven.judgement is None
    assert seven.drift is not None
    assert len(seven.moving_ranges) == 6
    assert seven.moving_ranges[0] == pytest.approx(0.02)
    assert a_chart(STEADY_MEANS[:3]).drift is not None
    assert a_chart(STEADY_MEANS[:2]).drift is None
    assert a_chart(STEADY_MEANS[:2]).forecast is None
    assert judged(a_chart(STEADY_MEANS[:8])).baseline.count == 8


def test_checks_on_fewer_than_three_days_make_no_line() -> None:
    at_once = [CheckPoint(5.0, 11.25, 0.01, 3)] * 3
    assert chart_of(at_once, 11.15, 11.35, resolution=0.01).drift is None
    for days in ((0.0, 5.0, 5.0), (0.0, 0.0, 5.0), (0.0, 0.9, 1.0, 1.9)):
        on_two = [CheckPoint(day, 11.25, 0.01, 3) for day in days]
        chart = chart_of(on_two, 11.15, 11.35, resolution=0.01)
        assert (chart.drift, chart.forecast) == (None, None)
    on_three = [CheckPoint(day, 11.25, 0.01, 3) for day in (0.9, 1.0, 2.0)]
    assert chart_of(on_three, 11.15, 11.35, resolution=0.01).drift is not None


def test_a_day_that_warms_up_is_no_drift() -> None:
    """Four checks three hours apart rise by a step each; the line through them alone would be sure of 0.08 a day."""
    warming = [CheckPoint(5.25 + 0.125 * turn, 11.24 + 0.01 * turn, 0.01, 3) for turn in range(4)]
    assert drift_of([point.day for point in warming], [point.mean for point in warming]).differs_from_zero
    assert chart_of(warming, 11.15, 11.35, resolution=0.01).drift is None
    season = [
        CheckPoint(7.0 * week + point.day, point.mean + low, 0.01, 3)
        for week, low in enumerate((0.0, 0.001, -0.001))
        for point in warming
    ]
    chart = chart_of(season, 11.15, 11.35, resolution=0.01)
    assert chart.drift is not None
    days = drift_of([5.4375, 12.4375, 19.4375], [11.255, 11.256, 11.254], least_scatter=LEAST)
    assert (chart.drift.middle, chart.drift.degrees_of_freedom) == (days.middle, 1.0)
    assert (chart.drift.slope, chart.drift.level) == pytest.approx((days.slope, days.level))
    assert chart.drift.slope_standard_uncertainty == days.slope_standard_uncertainty
    assert not chart.drift.differs_from_zero
    assert chart.forecast == forecast(chart.drift, 11.15, 11.35, 19.625)


def test_limits_take_what_days_differ_by_where_that_is_more() -> None:
    """Pairs that agree, days 0.04 apart: ranges within days are 0 and half of all, so neighbours show half of it."""
    pairs = [
        CheckPoint(7.0 * (place // 2) + 0.1 * (place % 2), 11.25 + 0.02 * (-1.0) ** (place // 2), 0.0, 1)
        for place in range(8)
    ]
    found = judged(chart_of(pairs, 11.15, 11.35, 8, resolution=0.01)).baseline
    assert found.day_to_day_sigma_taken
    assert found.individuals.sigma == pytest.approx(0.04 / 1.1283792)
    assert found.moving_range.upper == pytest.approx(3.2665 * 0.04, rel=1e-4)
    alone = [CheckPoint(7.0 * place, point.mean, 0.0, 1) for place, point in enumerate(pairs)]
    a_day_each = judged(chart_of(alone, 11.15, 11.35, 8, resolution=0.01)).baseline
    assert not a_day_each.day_to_day_sigma_taken
    assert a_day_each.individuals.sigma == pytest.approx(0.04 * 3 / 7 / 1.1283792)
    later = judged(chart_of([*pairs, CheckPoint(99.0, 12.0, 0.0, 1)], 11.15, 11.35, 8, resolution=0.01)).baseline
    assert later == found  # the days of the baseline alone


def test_without_a_cause_a_shed_that_checks_thrice_a_day_is_alarmed_less_often_than_by_single_checks() -> None:
    """Eight days of three checks, days and checks scatter by 0.01 each; seeded. Told as if each had a day of its own
    the same checks give the chart as it would be without regard to days.

    Half of such charts still signal, and 3 in 10 of as many independent checks: σ is that of the days' means, about
    which single checks scatter more, and the rules count alike checks as if each were news.
    """
    random = np.random.default_rng(41)
    signalling = {"days": 0, "single": 0}
    drifting = {"days": 0, "single": 0}
    for _ in range(200):
        means = 11.25 + np.repeat(random.normal(0.0, 0.01, 8), 3) + random.normal(0.0, 0.01, 24)
        moments = [7.0 * (place // 3) + 0.3 + 0.1 * (place % 3) for place in range(24)]
        shed = [CheckPoint(day, float(mean), 0.0, 1) for day, mean in zip(moments, means, strict=True)]
        apart = [CheckPoint(7.0 * place, point.mean, 0.0, 1) for place, point in enumerate(shed)]
        chart = chart_of(shed, 11.15, 11.35, resolution=0.0001)
        signalling["days"] += bool(judged(chart).signals)
        signalling["single"] += bool(judged(chart_of(apart, 11.15, 11.35, resolution=0.0001)).signals)
        assert chart.drift is not None
        drifting["days"] += chart.drift.differs_from_zero
        drifting["single"] += drift_of(moments, means.tolist()).differs_from_zero
    assert signalling == {"single": 139, "days": 101}
    assert drifting == {"single": 32, "days": 9}


def test_the_parts_are_those_of_their_modules() -> None:
    chart = a_chart(STEADY_MEANS)
    found = judged(chart)
    limits = baseline_limits(STEADY_MEANS)
    assert found.baseline == limits
    assert not found.baseline.least_sigma_taken
    assert found.average == ewma(STEADY_MEANS, limits.individuals.centre, limits.individuals.sigma)
    assert found.standard == check_standard(points(STEADY_MEANS))
    assert found.scatter_limits == (found.standard.scatter_limit(3, 0.9973),) * 10
    assert found.signals == ()
    days = [7.0 * week for week in range(10)]
    assert chart.drift == drift_of(days, STEADY_MEANS, least_scatter=LEAST)
    assert chart.forecast == forecast(chart.drift, 11.15, 11.35, 63.0)
    assert (chart.lowest_accepted, chart.highest_accepted, chart.resolution) == (11.15, 11.35, 0.01)
    assert chart.points == tuple(points(STEADY_MEANS))


def test_the_forecast_looks_from_the_day_that_is_asked_for() -> None:
    chart = a_chart(STEADY_MEANS, as_of=0.0)
    assert chart.forecast is not None
    assert chart.forecast.as_of == 0.0


def test_the_baseline_grows_to_twenty_while_nothing_shifts() -> None:
    for count, size in ((8, 8), (9, 9), (19, 19), (20, 20), (21, 20), (30, 20)):
        found = judged(a_chart(repeated(count)))
        assert (found.baseline.count, found.held_back) == (size, False)
    assert judged(a_chart(repeated(19))).baseline.provisional
    assert not judged(a_chart(repeated(20))).baseline.provisional


def test_the_baseline_ends_before_a_shift_that_lasts() -> None:
    """From the thirteenth check on the mean is 0.06 higher; two of three checks far out show it at the fourteenth."""
    means = [mean + 0.06 * (place >= 12) for place, mean in enumerate(repeated(20))]
    found = judged(a_chart(means))
    assert (found.baseline.count, found.held_back) == (12, True)
    assert found.baseline == baseline_limits(means[:12])
    assert (13, "two_of_three_far_to_one_side", 1) in signalled(a_chart(means))
    assert judged(a_chart(means[:12])).held_back is False


def test_the_baseline_is_not_shorter_than_eight_when_the_shift_begins_among_them() -> None:
    means = [mean + 0.08 * (place >= 7) for place, mean in enumerate(repeated(12))]
    found = judged(a_chart(means))
    assert (found.baseline.count, found.held_back) == (8, True)


def test_a_single_check_far_out_does_not_end_the_baseline() -> None:
    means = repeated(20)
    means[10] += 0.09
    found = judged(a_chart(means))
    assert (found.baseline.count, found.held_back) == (20, False)
    assert 10 in found.baseline.beyond
    assert signalled(a_chart(means)) == [(10, "one_far_out", 1)]


def test_a_slow_shift_ends_the_baseline_where_its_newest_check_is_not_far_out() -> None:
    """No rule is asked, so only the average can tell; a check far out moves it as well, and is no shift yet."""
    shifted = [mean + 0.05 * (place >= 8) for place, mean in enumerate(repeated(12))]
    chart = chart_of(points(shifted), 11.15, 11.35, resolution=0.01, rules=())
    assert judged(chart).held_back
    assert judged(chart).baseline.count == 11
    assert signalled(chart) == [(11, "slow_shift", 1)]
    outlier = repeated(12)
    outlier[9] += 0.1
    chart = chart_of(points(outlier[:10]), 11.15, 11.35, 9, resolution=0.01, rules=())
    assert (9, "slow_shift", 1) in signalled(chart)
    assert not judged(chart_of(points(outlier), 11.15, 11.35, resolution=0.01, rules=())).held_back


def test_a_baseline_that_is_told_is_taken() -> None:
    means = [mean + 0.06 * (place >= 12) for place, mean in enumerate(repeated(20))]
    for told in (8, 20):
        found = judged(a_chart(means, baseline=told))
        assert found.baseline == baseline_limits(means[:told])
        assert not found.held_back


def test_every_kind_of_signal_by_place() -> None:
    """After ten steady checks one far above, then one far below; σ is about 0.0177, the weight of the newest 0.2."""
    means = [*STEADY_MEANS, 11.40, 11.10]
    chart = a_chart(means, baseline=10)
    assert signalled(chart) == [
        (10, "one_far_out", 1),
        (10, "far_jump", 1),
        (10, "slow_shift", 1),
        (11, "one_far_out", -1),
        (11, "far_jump", -1),
    ]
    jump = judged(chart).signals[1]
    assert (jump.places, jump.rule.words[:8]) == ((9, 10), "the step")
    assert judged(chart).signals[2].places == (10,)


def test_repeats_that_scatter_more_than_the_baseline_signal() -> None:
    """s₁ = 0.01 with 20 degrees of freedom; F(0.9973; 2, 20) = 8.07, so three repeats may scatter by 0.0284."""
    steady = points(STEADY_MEANS)
    limit = 0.01 * math.sqrt(8.0661)
    for scatter, seen in ((limit * 1.001, [(10, "wide_scatter", 0)]), (limit * 0.999, [])):
        chart = chart_of([*steady, CheckPoint(70.0, 11.25, scatter, 3)], 11.15, 11.35, 10, resolution=0.01)
        assert signalled(chart) == seen
    assert judged(chart).scatter_limits[10] == pytest.approx(limit, rel=1e-4)


def test_a_single_indication_has_no_scatter_to_judge() -> None:
    chart = chart_of([*points(STEADY_MEANS), CheckPoint(70.0, 11.25, 0.0, 1)], 11.15, 11.35, 10, resolution=0.01)
    assert judged(chart).scatter_limits[9] is not None
    assert judged(chart).scatter_limits[10] is None
    alone = chart_of(points(STEADY_MEANS, 0.0, 1), 11.15, 11.35, resolution=0.01)
    assert judged(alone).scatter_limits == (None,) * 10
    assert judged(alone).standard.short_term is None


def test_a_display_that_never_moved_signals_nothing_within_a_step() -> None:
    """All eight read 11.25: σ is resolution/√12, and 11.26 or 11.24 may stand for next to no change."""
    chart = a_chart([11.25] * 8 + [11.26, 11.24, 11.26, 11.26, 11.26, 11.26, 11.26, 11.26, 11.26, 11.26], baseline=8)
    found = judged(chart)
    assert found.baseline.least_sigma_taken
    assert found.baseline.individuals == limits_about(11.25, LEAST)
    assert found.signals == ()
    assert found.average.values == (11.25,) * 18


def test_two_steps_off_a_display_that_never_moved_signal() -> None:
    chart = a_chart([11.25] * 8 + [11.27], baseline=8)
    assert [key for _, key, _ in signalled(chart)] == ["one_far_out", "far_jump", "slow_shift"]
    down = a_chart([11.25] * 8 + [11.23], baseline=8)
    assert [side for _, _, side in signalled(down)] == [-1, -1, -1]


def test_repeats_without_any_scatter_may_differ_by_what_the_display_leaves_open() -> None:
    chart = chart_of(points([11.25] * 8, scatter=0.0), 11.15, 11.35, resolution=0.01)
    limit = judged(chart).scatter_limits[0]
    assert limit == pytest.approx(LEAST * math.sqrt(8.7560), rel=1e-4)  # F(0.9973; 2, 16)


def test_a_moving_display_counts_every_step() -> None:
    """The scatter is above the least, so a run of checks a little above the centre, 11.251, is one."""
    means = [*STEADY_MEANS, *[11.256] * 7]
    assert signalled(a_chart(means, baseline=10)) == [(16, "eight_in_a_row_on_one_side", 1)]


def test_the_rules_can_be_chosen() -> None:
    means = [*STEADY_MEANS, *[11.26 + 0.001 * turn for turn in range(6)]]
    rules = (RUN_RULES["six_rising_or_falling"],)
    chart = chart_of(points(means), 11.15, 11.35, 10, resolution=0.01, rules=rules)
    limits = judged(chart).baseline.individuals
    assert judged(chart).signals == tuple(signals(means, limits.centre, limits.sigma, rules))
    assert signalled(chart) == [(15, "six_rising_or_falling", 1)]


@pytest.mark.parametrize("seed", range(6))
def test_a_season_in_which_the_instrument_drifts_by_two_hundredths_a_month(seed: int) -> None:
    """Weekly checks of four indications with a display of 0.01, scatter of a check 0.006; ±0.10 permitted.

    The chart signals while the instrument is still accepted, the forecast lies within its own interval and not
    far from the true day, 150; afterwards the same chart says that the edge is passed.
    """
    random = np.random.default_rng(seed)
    season = []
    for week in range(26):
        true = 11.25 + 0.02 * 7.0 * week / 30.0 + random.normal(0.0, 0.006)
        shown = np.round(true + random.normal(0.0, 0.01, 4), 2)
        season.append(CheckPoint(7.0 * week, float(shown.mean()), float(shown.std(ddof=1)), 4))
    early = chart_of(season[:16], 11.15, 11.35, resolution=0.01)
    assert early.points[-1].mean < 11.35
    assert {"slow_shift", "one_far_out"} <= {key for _, key, _ in signalled(early)}
    assert judged(early).held_back
    assert early.forecast is not None
    assert early.forecast.standing == WILL_REACH
    assert early.forecast.crossing is not None
    _, day, earliest, latest = early.forecast.crossing
    assert earliest < day < latest
    assert abs(day - 150.0) < 40.0
    assert latest - earliest < 80.0
    late = chart_of(season, 11.15, 11.35, resolution=0.01)
    assert late.forecast is not None
    assert late.forecast.standing == HAS_PASSED


@pytest.mark.parametrize(
    ("baseline", "words"),
    [(7, "A baseline of 7 checks sets no limits"), (11, "is to be 11 checks, and there are 10"), (-1, "of -1 checks")],
)
def test_a_baseline_that_cannot_be_is_refused(baseline: int, words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        a_chart(STEADY_MEANS, baseline=baseline)
    assert refused.value.field == "baseline"


@pytest.mark.parametrize("resolution", [0.0, -0.01, 1.0, math.nan])
def test_a_resolution_that_is_none_is_refused(resolution: float) -> None:
    with pytest.raises(MeasurementError, match=r"a part of a ratio, as 0\.01") as refused:
        a_chart(STEADY_MEANS, resolution=resolution)
    assert refused.value.field == "resolution"


def test_points_and_edges_that_cannot_be_are_refused() -> None:
    with pytest.raises(MeasurementError) as refused:
        chart_of([CheckPoint(0.0, math.nan, 0.01, 3)], 11.15, 11.35, resolution=0.01)
    assert refused.value.field == "points.0.mean"
    with pytest.raises(MeasurementError) as refused:
        chart_of([], 11.15, math.inf, resolution=0.01)
    assert refused.value.field == "edges.1"
    with pytest.raises(MeasurementError) as refused:
        chart_of(points(STEADY_MEANS), 11.35, 11.15, resolution=0.01)
    assert refused.value.field == "lowest_accepted"
