"""How long a chart runs until it signals, in print, by the equations and by simulation with fixed seeds.

"Found" below means found quoted in the manual of a public statistics package, printed value beside the reference.
"""

import os

import numpy as np
import pytest

from app.metrology.charts.ewma import FACTOR, WEIGHT, ewma
from app.metrology.charts.individuals import moving_range_limits, moving_ranges
from app.metrology.charts.limits import limits_about
from app.metrology.charts.run_rules import RUN_RULES, WESTERN_ELECTRIC, signals
from tests.checks.run_lengths import (
    Array,
    Flags,
    exact_ewma,
    exact_ewma_with_exact_limits,
    exact_moving_range,
    exact_with_rules,
    moving_range_chart,
    runs_chart,
    simulate,
    simulate_ewma,
)

SERIES = 400_000 if "SHEDBOOK_SOAK" in os.environ else 4_000
MOST_OFF = 4.0  # standard errors of the simulation; seeds are fixed, so this never comes and goes
ONE_FAR_OUT = (RUN_RULES["one_far_out"],)
WIDEST = moving_range_limits(1.0).upper  # 3.686: the moving range's D₄ limit in standard deviations


# ---- the simulated charts are those of the application ----


def test_the_simulated_rules_signal_where_the_charts_own_do() -> None:
    values = np.random.default_rng(11).normal(0.2, 1.1, 1500)
    ours = {signal.place for signal in signals(values.tolist(), 0.0, 1.0, WESTERN_ELECTRIC)}
    assert 50 < len(ours) < 500
    padded = np.concatenate([np.full(7, np.nan), values])
    windows = np.lib.stride_tricks.sliding_window_view(padded, 8)
    assert set(np.flatnonzero(runs_chart(WESTERN_ELECTRIC)(windows, 0)).tolist()) == ours


def test_the_simulated_moving_ranges_signal_where_the_charts_own_do() -> None:
    values = np.random.default_rng(12).normal(0.0, 1.3, 1500).tolist()
    far = set(limits_about(0.0, 1.0).beyond(values))
    jumps = {place + 1 for place in moving_range_limits(1.0).beyond(moving_ranges(values))}
    assert far - jumps
    assert jumps - far
    pairs = np.column_stack([[np.nan, *values[:-1]], values])
    assert set(np.flatnonzero(moving_range_chart(3.0, WIDEST)(pairs, 0)).tolist()) == far | jumps


def test_the_simulated_average_runs_until_the_charts_own_signals() -> None:
    """One series, the same seed: both charts have to end at the same point, with either kind of limits."""
    for seed in range(5):
        values = np.random.default_rng(seed).normal(0.5, 1.0, 400).tolist()
        chart = ewma(values, 0.0, 1.0)
        exact = next(place for place, side in enumerate(chart.sides) if side) + 1
        steady = chart.steady.beyond(chart.values)[0] + 1
        for ends, with_exact in ((exact, True), (steady, False)):
            one = _drawn_one_by_one(values, with_exact)
            assert one == ends


def _drawn_one_by_one(values: list[float], exact: bool) -> int:
    """The recursion as the simulation has it, on given values."""
    average, limit = 0.0, FACTOR * (WEIGHT / (2.0 - WEIGHT)) ** 0.5
    for turn, value in enumerate(values, start=1):
        average += WEIGHT * (value - average)
        if abs(average) > limit * ((1.0 - (1.0 - WEIGHT) ** (2 * turn)) ** 0.5 if exact else 1.0):
            return turn
    raise AssertionError("the series never signalled")


# ---- single values: three standard deviations ----

SINGLE = [(0.0, 370.0), (1.0, 43.9), (2.0, 6.30), (3.0, 2.00)]


@pytest.mark.parametrize(("shift", "printed"), SINGLE)
def test_single_values_beyond_three_standard_deviations(shift: float, printed: float) -> None:
    """ARL-S; standard texts (Montgomery, ch. 5 and 6): 370, 43.9, 6.30, 2.00. From memory; recomputed 370.40, 43.895,
    6.3030, 2.0000."""
    exact = exact_with_rules(ONE_FAR_OUT, shift)
    assert exact == pytest.approx(printed, rel=5e-3)
    assert exact == pytest.approx({0.0: 370.40, 1.0: 43.895, 2.0: 6.3030, 3.0: 2.0000}[shift], rel=2e-5)


@pytest.mark.soak
@pytest.mark.parametrize(("shift", "printed"), SINGLE)
def test_single_values_simulated(shift: float, printed: float) -> None:
    """ARL-S, from memory."""
    found = simulate(SERIES, runs_chart(ONE_FAR_OUT), shift, seed=21, memory=1)
    assert found.off(printed) < MOST_OFF
    assert found.standard_error < 1.01 * found.mean / SERIES**0.5


# ---- the rules of Western Electric ----


@pytest.mark.parametrize(
    ("keys", "printed"),
    [
        (["two_of_three_far_to_one_side"], 225.44),
        (["four_of_five_off_to_one_side"], 166.05),
        (["eight_in_a_row_on_one_side"], 152.73),
        (["two_of_three_far_to_one_side", "four_of_five_off_to_one_side", "eight_in_a_row_on_one_side"], 91.75),
    ],
)
def test_the_rules_of_western_electric_without_a_shift(keys: list[str], printed: float) -> None:
    """ARL-W; Champ and Woodall, Technometrics 29 (1987), 91.75 as in the e-Handbook, 6.3.2. From memory, as the other
    three of their table, each rule beside the three-sigma limits."""
    exact = exact_with_rules([*ONE_FAR_OUT, *(RUN_RULES[key] for key in keys)], 0.0)
    assert exact == pytest.approx(printed, abs=0.0051)


@pytest.mark.parametrize(("shift", "printed"), [(1.0, 9.22), (2.0, 3.13), (3.0, 1.67)])
def test_the_rules_of_western_electric_with_a_shift(shift: float, printed: float) -> None:
    """Champ and Woodall (1987), all four rules. From memory."""
    assert exact_with_rules(WESTERN_ELECTRIC, shift) == pytest.approx(printed, abs=0.0051)


@pytest.mark.soak
@pytest.mark.parametrize(("shift", "printed"), [(0.0, 91.75), (1.0, 9.22)])
def test_the_rules_of_western_electric_simulated(shift: float, printed: float) -> None:
    """ARL-W, from memory."""
    assert simulate(SERIES, runs_chart(WESTERN_ELECTRIC), shift, seed=22, memory=8).off(printed) < MOST_OFF


# ---- the exponentially weighted moving average ----


@pytest.mark.parametrize(
    ("weight", "factor", "printed"),
    [
        (0.5, 3.071, {0: 500, 0.25: 255, 0.5: 88.8, 0.75: 35.9, 1: 17.5, 1.5: 6.53, 2: 3.63, 3: 1.93, 5: 1.07}),
        (0.03, 2.437, {0: 500, 0.25: 76.7, 0.5: 29.3, 0.75: 17.6, 1: 12.6, 1.5: 8.07, 2: 5.99, 3: 4.03, 5: 2.55}),
    ],
)
def test_the_weighted_average_with_steady_limits(weight: float, factor: float, printed: dict[float, float]) -> None:
    """Lucas and Saccucci, Technometrics 32 (1990), Table 3, to three digits. Found."""
    for shift, length in printed.items():
        assert exact_ewma(weight, factor, shift) == pytest.approx(length, rel=4e-3)


def test_the_weighted_average_to_eleven_digits() -> None:
    """A statistics package's manual (1999): λ = 0.25, three sigma, shift 1: 11.154267016. Found."""
    assert exact_ewma(0.25, 3.0, 1.0) == pytest.approx(11.154267016, abs=5e-10)


def test_the_weighted_average_of_the_chart_signals_once_in_500_points_without_a_cause() -> None:
    """Lucas and Saccucci (1990): λ = 0.2 with L = 2.962 gives 500. From memory; 499.7 by the integral equation."""
    assert (WEIGHT, FACTOR) == (0.2, 2.962)
    assert exact_ewma(WEIGHT, FACTOR, 0.0) == pytest.approx(500.0, rel=1e-3)
    assert exact_ewma(WEIGHT, 2.96, 0.0) == pytest.approx(496.8, abs=0.05)


@pytest.mark.parametrize(
    ("shift", "printed", "to"),
    [(0.0, 1353.0, 7.0), (0.5, 32.5, 0.3), (1.0, 9.0, 0.3), (2.0, 2.8, 0.15), (4.0, 1.1, 0.1)],
)
def test_the_weighted_average_with_the_limits_of_each_point(shift: float, printed: float, to: float) -> None:
    """Steiner, J. Qual. Technol. 31 (1999), Table 2: λ = 0.05, three sigma. Found; up to 5 % off what the integral
    equations give: 1347.2, 32.22, 9.24, 2.91, 1.16."""
    found = exact_ewma_with_exact_limits(0.05, 3.0, shift)
    assert found == pytest.approx(printed, abs=to)
    recomputed = {0.0: 1347.16, 0.5: 32.22, 1.0: 9.24, 2.0: 2.91, 4.0: 1.16}[shift]
    assert found == pytest.approx(recomputed, abs=5.1e-3)


@pytest.mark.soak
@pytest.mark.parametrize(("weight", "factor", "shift", "printed"), [(0.2, 2.962, 0.0, 500.0), (0.5, 3.071, 1.0, 17.5)])
def test_the_weighted_average_simulated(weight: float, factor: float, shift: float, printed: float) -> None:
    """Lucas and Saccucci (1990), Table 3; the first from memory. Half of the last printed digit is added."""
    found = simulate_ewma(SERIES, weight, factor, shift, seed=23, exact=False)
    assert found.off(exact_ewma(weight, factor, shift)) < MOST_OFF
    assert abs(found.mean - printed) < MOST_OFF * found.standard_error + 0.5 * 10.0 ** (-1 if printed < 100 else 0)


@pytest.mark.soak
@pytest.mark.parametrize("shift", [0.0, 1.0])
def test_the_weighted_average_with_the_limits_of_each_point_simulated(shift: float) -> None:
    """As the charts draw them. No publication for λ = 0.2; against the integral equations, 494.4 and 9.55."""
    found = simulate_ewma(SERIES, WEIGHT, FACTOR, shift, seed=24, exact=True)
    assert found.off(exact_ewma_with_exact_limits(WEIGHT, FACTOR, shift)) < MOST_OFF


# ---- the moving range beside single values ----

CROWDER = [18.2164, 16.3541, 12.4282, 8.7559, 6.1071, 4.3582, 3.2260, 2.4878, 1.9989]


def test_the_moving_range_beside_single_values() -> None:
    """Crowder, J. Qual. Technol. 19 (1987), 103–106: limits 2 for the values, 3 for the range, shifts 0 to 2. Found.

    His trapezoidal rule is short by up to 0.08 %: 18.2309 without a shift.
    """
    for quarter, printed in enumerate(CROWDER):
        assert exact_moving_range(2.0, 3.0, quarter / 4.0) == pytest.approx(printed, rel=1e-3)
    assert exact_moving_range(2.0, 3.0, 0.0) == pytest.approx(18.2309, abs=5e-5)


@pytest.mark.parametrize(("most_off", "widest", "printed"), [(2.992, 4.139, 200.0), (3.268, 4.556, 500.0)])
def test_the_moving_range_designed_for_a_run_length(most_off: float, widest: float, printed: float) -> None:
    """Rigdon, Cruthis and Champ, J. Qual. Technol. 26 (1994), Table 1, by simulation there. Found."""
    assert exact_moving_range(most_off, widest, 0.0) == pytest.approx(printed, rel=7e-3)


def test_the_charts_own_limits_of_the_moving_range() -> None:
    """No publication: with the limit D₄ = 3.267 the range alone runs 120.5 points, with three-sigma values 105.3."""
    assert pytest.approx(3.6859, abs=5e-5) == WIDEST
    assert exact_moving_range(10.0, WIDEST, 0.0) == pytest.approx(120.48, abs=5e-3)
    assert exact_moving_range(3.0, WIDEST, 0.0) == pytest.approx(105.33, abs=5e-3)


@pytest.mark.soak
@pytest.mark.parametrize(
    ("most_off", "widest", "shift", "printed"),
    [(2.0, 3.0, 0.0, 18.2164), (2.0, 3.0, 1.0, 6.1071), (3.0, WIDEST, 0.0, None), (10.0, WIDEST, 0.0, None)],
)
def test_the_moving_range_simulated(most_off: float, widest: float, shift: float, printed: float | None) -> None:
    """Crowder (1987), found; the charts' own limits against the integral equation."""
    found = simulate(SERIES, moving_range_chart(most_off, widest), shift, seed=25, memory=2)
    assert found.off(exact_moving_range(most_off, widest, shift)) < MOST_OFF
    if printed is not None:
        assert found.off(printed) < MOST_OFF


@pytest.mark.soak
def test_all_that_an_instruments_chart_looks_at_together() -> None:
    """No publication; with the scatter's 0.27 % a check, 1/56.9 + 0.0027 is the one in 50 that the chart speaks of."""
    shares = WEIGHT * (1.0 - WEIGHT) ** np.arange(63, -1, -1.0)  # of what is older than 64 points a millionth remains
    steady = FACTOR * (WEIGHT / (2.0 - WEIGHT)) ** 0.5
    by_rules, by_steps = runs_chart(WESTERN_ELECTRIC), moving_range_chart(3.0, WIDEST)

    def chart(recent: Array, turn: int) -> Flags:
        average = np.nan_to_num(recent) @ shares
        shifted = np.abs(average) > steady * (1.0 - (1.0 - WEIGHT) ** (2 * turn)) ** 0.5
        return shifted | by_rules(recent[:, -8:], turn) | by_steps(recent[:, -2:], turn)

    found = simulate(SERIES // 4, chart, 0.0, seed=26, memory=64)
    assert found.off(56.9) < MOST_OFF
