"""How many trials a simulation takes, and when its figures are said to stand still."""

import math
from collections.abc import Sequence

import numpy as np
import pytest

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.adaptive import MOST_TRIALS, SEQUENCE, numerical_tolerance, run_adaptive, run_fixed
from app.metrology.monte_carlo.draws import Draws, InputQuantity
from app.metrology.monte_carlo.engine import EngineModel, EngineSimulation
from app.metrology.monte_carlo.intervals import summarise


def total(_: Draws, own: Draws) -> Draws:
    return np.asarray(own.sum(axis=1))


def of(*quantities: InputQuantity, seed: int = 5) -> EngineSimulation:
    return EngineSimulation(EngineModel((), (quantities,), total), (0,), seed)


def all_draws(simulation: EngineSimulation, trials: int) -> Draws:
    return simulation.next(trials)[0]


@pytest.mark.parametrize(
    ("u", "digits", "tolerance"),
    [
        (0.00035, 2, 0.5e-5),  # 7.9.2 example 1 (from memory): u = 0.000 35 g is 35 × 10⁻⁵ g
        (0.00035, 1, 0.5e-4),  # 7.9.2 example 1: as 4 × 10⁻⁴ g
        (2.0, 1, 0.5),  # 7.9.2 example 2 (from memory): u = 2 K
        (2.0, 2, 0.05),
        (0.0539, 1, 0.005),
        (0.0539, 2, 0.0005),
        (9.6, 1, 5.0),  # rounds to 10, which is 1 × 10¹
        (0.96, 1, 0.5),
        (0.94, 1, 0.05),
        (123.0, 1, 50.0),
    ],
)
def test_numerical_tolerance_is_half_the_last_meaningful_place(u: float, digits: int, tolerance: float) -> None:
    """JCGM 101:2008, 7.9.2."""
    assert numerical_tolerance(u, digits) == pytest.approx(tolerance, rel=1e-12)


@pytest.mark.parametrize("u", [0.0, -1.0, math.nan, math.inf])
def test_no_tolerance_follows_from_what_is_no_uncertainty(u: float) -> None:
    with pytest.raises(MeasurementError) as refused:
        numerical_tolerance(u, 1)
    assert refused.value.field == "standard_uncertainty"


def test_significant_digits_are_one_to_nine() -> None:
    assert numerical_tolerance(1.0, 9) == pytest.approx(0.5e-8)
    for digits in (0, 10):
        with pytest.raises(MeasurementError) as refused:
            numerical_tolerance(1.0, digits)
        assert refused.value.field == "significant_digits"


def test_a_fixed_number_is_that_number_in_one_go() -> None:
    quantity = InputQuantity(10.0, 0.1, "t", 8.0)
    found = run_fixed(of(quantity), 30_000, 0.9)
    assert (found.trials, found.steady, found.tolerances) == (30_000, False, ())
    assert found.summaries == (summarise(all_draws(of(quantity), 30_000), 0.9),)


def test_a_fixed_number_too_small_is_refused_before_anything_is_drawn() -> None:
    with pytest.raises(MeasurementError, match="too few"):
        run_fixed(of(InputQuantity(10.0, 0.1)), 10)


def test_the_adaptive_figures_are_those_of_all_trials_together() -> None:
    quantity = InputQuantity(10.0, 0.1)
    found = run_adaptive(of(quantity), significant_digits=2)
    assert found.steady
    assert found.trials % SEQUENCE == 0
    together = summarise(all_draws(of(quantity), found.trials), 0.95)
    assert found.summaries == (together,)
    assert found.tolerances == (numerical_tolerance(0.1, 2),)


def test_two_sequences_are_the_least_and_more_digits_take_more_trials() -> None:
    """An end of the interval has about 2.7·u/√M: twice that is within 0.05 at u = 6 after some 400,000 trials."""
    few, more = (run_adaptive(of(InputQuantity(0.0, 6.0)), significant_digits=digits).trials for digits in (1, 2))
    assert few == 2 * SEQUENCE
    assert 5 * SEQUENCE < more < 80 * SEQUENCE


def test_it_stops_no_sooner_than_every_figure_stands_still() -> None:
    """The rule of 7.9.4 g to k worked again from the raw draws, sequence after sequence."""
    quantity, tolerance = InputQuantity(3.0, 1.2, "rectangular"), 0.004
    found = run_adaptive(of(quantity), tolerances=[tolerance])
    simulation, rows = of(quantity), []
    for _ in range(found.trials // SEQUENCE):
        one = summarise(all_draws(simulation, SEQUENCE), 0.95)
        rows.append([one.mean, one.standard_uncertainty, one.symmetric.low, one.symmetric.high])

    def worst(count: int) -> float:
        return float((2.0 * np.std(np.array(rows[:count]), axis=0, ddof=1) / math.sqrt(count)).max())

    assert found.steady
    assert len(rows) > 3
    assert worst(len(rows)) <= tolerance
    assert all(worst(count) > tolerance for count in range(2, len(rows)))
    assert found.tolerances == (tolerance,)


def test_the_tolerance_follows_the_uncertainty_of_all_trials() -> None:
    """u = 0.0999 of three quantities rounds to 0.1 in one digit: 1 × 10⁻¹, δ = 0.05; and 0.094 to 9 × 10⁻²."""
    assert run_adaptive(of(InputQuantity(0.0, 0.0995))).tolerances == (0.05,)
    assert run_adaptive(of(InputQuantity(0.0, 0.0930))).tolerances == (pytest.approx(0.005),)


def test_the_tolerance_sees_what_lies_between_the_sequences() -> None:
    """Sequences that each vary little but lie far apart: u of all of them together, 0.94, not of one, 0.1."""
    found = run_adaptive(Stepping(), most_trials=4 * SEQUENCE)
    assert found.summaries[0].standard_uncertainty == pytest.approx(math.hypot(0.1, 1.118), rel=0.01)
    assert found.tolerances == (0.5,)
    assert not found.steady


class Stepping:
    """Each sequence one higher than the one before."""

    moments: Sequence[int] = (2,)

    def __init__(self) -> None:
        self._step = 0.0

    def next(self, trials: int) -> Draws:
        self._step += 1.0
        return self._step + 0.1 * np.random.Generator(np.random.SFC64(int(self._step))).standard_normal((1, trials))


def test_what_does_not_stand_still_ends_at_the_bound() -> None:
    found = run_adaptive(of(InputQuantity(0.0, 1.0)), tolerances=[1e-6], most_trials=3 * SEQUENCE + 1)
    assert (found.trials, found.steady) == (3 * SEQUENCE, False)
    assert run_adaptive(of(InputQuantity(0.0, 1.0)), tolerances=[1e-6], most_trials=3 * SEQUENCE).trials == 30_000


def test_without_a_bound_of_its_own_it_ends_at_a_million() -> None:
    assert MOST_TRIALS == 1_000_000
    assert run_adaptive(of(InputQuantity(0.0, 1.0)), tolerances=[1e-6]).trials == 1_000_000


def test_what_does_not_vary_stands_still_at_once() -> None:
    found = run_adaptive(of(InputQuantity(10.5, 0.0)))
    assert found.steady
    assert found.tolerances == (0.0,)
    assert found.summaries[0].standard_uncertainty == 0.0
    assert found.summaries[0].symmetric.length == 0.0


def test_without_a_variance_only_the_ends_are_watched() -> None:
    """On 2 degrees of freedom: no variance; the quarter of the interval's length stands for u, 4.3/2 of the scale."""
    found = run_adaptive(of(InputQuantity(10.0, 0.1, "t", 2.0)))
    assert found.steady
    summary = found.summaries[0]
    assert summary.standard_uncertainty is None
    assert summary.mean == pytest.approx(10.0, abs=0.01)
    assert summary.symmetric.high - 10.0 == pytest.approx(0.430, abs=0.05)
    assert found.tolerances == (0.05,)
    # ends at ±4.303·0.049: a quarter of their distance is 0.105, a fifth would be 0.08
    assert run_adaptive(of(InputQuantity(10.0, 0.049, "t", 2.0))).tolerances == (0.05,)
    assert run_adaptive(of(InputQuantity(10.0, 0.042, "t", 2.0))).tolerances == (pytest.approx(0.005),)


def test_without_a_mean_the_ends_still_stand_still() -> None:
    found = run_adaptive(of(InputQuantity(10.0, 0.001, "t", 1.0)))
    assert found.steady
    assert (found.summaries[0].mean, found.summaries[0].standard_uncertainty) == (None, None)
    assert found.summaries[0].symmetric.high == pytest.approx(10.0127, abs=0.001)
    assert found.tolerances == (pytest.approx(0.0005),)


def test_all_outputs_must_stand_still() -> None:
    def wide_and_narrow(_: Draws, own: Draws) -> Draws:
        return np.asarray(own[:, 0])

    model = EngineModel((), ((InputQuantity(0.0, 1.2),), (InputQuantity(0.0, 0.012),)), wide_and_narrow)
    both = run_adaptive(EngineSimulation(model, (0, 1), 5), tolerances=[0.02, 0.02])
    easy = run_adaptive(EngineSimulation(model, (1,), 5), tolerances=[0.02])
    assert easy.trials == 2 * SEQUENCE
    assert both.trials > easy.trials
    assert both.steady
    assert run_adaptive(EngineSimulation(model, (0, 1), 5)).tolerances == (0.5, pytest.approx(0.005))


def test_a_wider_interval_takes_longer_sequences() -> None:
    """JCGM 101:2008, 7.9.4 b: M = max(J, 10⁴)."""
    found = run_adaptive(of(InputQuantity(0.0, 1.2)), coverage_probability=0.999)
    assert found.trials == 200_000
    assert run_adaptive(of(InputQuantity(0.0, 1.2)), coverage_probability=0.99).trials == 20_000


def test_a_bound_below_two_sequences_is_refused() -> None:
    run_adaptive(of(InputQuantity(0.0, 1.2)), most_trials=20_000)
    with pytest.raises(MeasurementError, match="allow 20000") as refused:
        run_adaptive(of(InputQuantity(0.0, 1.2)), most_trials=19_999)
    assert refused.value.field == "most_trials"


def test_more_sequences_can_be_asked_for_than_the_two_that_may_agree_by_chance() -> None:
    assert run_adaptive(of(InputQuantity(0.0, 1.2)), least_sequences=3).trials == 30_000
    with pytest.raises(MeasurementError, match="allow 30000"):
        run_adaptive(of(InputQuantity(0.0, 1.2)), least_sequences=3, most_trials=29_999)
    with pytest.raises(MeasurementError, match="Two sequences") as refused:
        run_adaptive(of(InputQuantity(0.0, 1.2)), least_sequences=1)
    assert refused.value.field == "least_sequences"


def test_the_shortest_interval_can_be_watched_instead() -> None:
    def squared(_: Draws, own: Draws) -> Draws:
        return np.square(own[:, 0])

    def simulation() -> EngineSimulation:
        return EngineSimulation(EngineModel((), ((InputQuantity(0.0, 1.0),),), squared), (0,), 5)

    shortest = run_adaptive(simulation(), tolerances=[0.02], interval=lambda summary: summary.shortest)
    symmetric = run_adaptive(simulation(), tolerances=[0.02])
    assert shortest.steady
    assert symmetric.steady
    assert shortest.trials < symmetric.trials  # the end at 3.84 is better known than that at 5.02
