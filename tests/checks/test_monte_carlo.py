"""JCGM 101:2008 (Supplement 1 to the GUM), the examples of clause 9, by the core's own simulation.

All printed figures are from memory: the recomputed ones are the authority. A million trials of a fixed seed.
"""

import math

import numpy as np
import pytest

from app.metrology.correlation import combined_standard_uncertainty
from app.metrology.monte_carlo.adaptive import Outcome, run_adaptive, run_fixed
from app.metrology.monte_carlo.draws import Draws, InputQuantity
from app.metrology.monte_carlo.engine import EngineModel, EngineSimulation, MeasurementFunction
from app.metrology.monte_carlo.intervals import Summary
from app.metrology.monte_carlo.validation import validate

SEED, TRIALS = 101, 1_000_000
UNCORRELATED = [[float(a == b) for b in range(5)] for a in range(5)]


def simulation_of(quantities: list[InputQuantity], function: MeasurementFunction) -> EngineSimulation:
    """One result of some quantities: a model of one cylinder without shared sources."""
    return EngineSimulation(EngineModel((), (tuple(quantities),), function), (0,), SEED)


def simulate(quantities: list[InputQuantity], function: MeasurementFunction) -> Summary:
    return run_fixed(simulation_of(quantities, function), TRIALS).summaries[0]


def total(_: Draws, own: Draws) -> Draws:
    return np.asarray(own.sum(axis=1))


def rectangular(low: float, high: float) -> InputQuantity:
    return InputQuantity((low + high) / 2.0, (high - low) / math.sqrt(12.0), "rectangular")


def test_s1_9_2_2_sum_of_four_normal_inputs() -> None:
    """JCGM 101:2008, 9.2.2: printed ±3.92 for 95 %. Recomputed 3.9199."""
    found = simulate([InputQuantity(0.0, 1.0)] * 4, total)
    assert found.mean == pytest.approx(0.0, abs=0.02)
    assert found.standard_uncertainty == pytest.approx(2.0, abs=0.01)
    assert (-found.symmetric.low, found.symmetric.high) == pytest.approx((3.92, 3.92), abs=0.02)


def test_s1_9_2_3_sum_of_four_rectangular_inputs() -> None:
    """JCGM 101:2008, 9.2.3: printed u = 2.0, ±3.88. Recomputed 3.8794 by 2√3·[2 − (3/5)^(1/4)]; by simulation 3.882."""
    found = simulate([InputQuantity(0.0, 1.0, "rectangular")] * 4, total)
    exact = 2.0 * math.sqrt(3.0) * (2.0 - 0.6**0.25)
    assert found.standard_uncertainty == pytest.approx(2.0, abs=0.01)
    assert (-found.symmetric.low, found.symmetric.high) == pytest.approx((3.88, 3.88), abs=0.02)
    assert (-found.symmetric.low, found.symmetric.high) == pytest.approx((exact, exact), abs=0.012)


def test_s1_9_2_3_first_order_is_validated_to_one_digit_and_not_to_two() -> None:
    """The Gaussian ±3.92 is off by 0.04: within δ = 0.5 of u = 2, and within 0.05 of u = 2.0, not within 0.005."""
    found = simulate([InputQuantity(0.0, 1.0, "rectangular")] * 4, total)
    judged = [validate(0.0, 2.0, 3.92, found.symmetric, digits) for digits in (1, 2, 3)]
    assert [one.tolerance for one in judged] == [0.5, 0.05, 0.005]
    assert [one.validated for one in judged] == [True, True, False]


MASSES = [
    InputQuantity(100_000.0, 0.050),  # mg, reference weight
    InputQuantity(1.234, 0.020),  # mg, what balances it
    rectangular(1.10, 1.30),  # kg/m³, air
    rectangular(7000.0, 9000.0),  # kg/m³, weight
    rectangular(7950.0, 8050.0),  # kg/m³, reference weight
]


def mass_deviation(_: Draws, own: Draws) -> Draws:
    reference, balancing, air, weight, of_reference = own[0]
    found = (reference + balancing) * (1.0 + (air - 1.2) * (1.0 / weight - 1.0 / of_reference)) - 100_000.0
    return np.asarray(found)[np.newaxis]


def test_s1_9_3_mass_calibration_with_buoyancy() -> None:
    """JCGM 101:2008, 9.3: printed 1.2341, u = 0.0754, shortest 95 % interval 1.0834 to 1.3825 mg.

    Recomputed 1.2340, 0.0755, 1.0837, 1.3832. First order sees no effect of the densities: u = 0.0539.
    """
    found = simulate(MASSES, mass_deviation)
    assert found.mean == pytest.approx(1.2341, abs=5e-4)
    assert found.standard_uncertainty == pytest.approx(0.0754, abs=5e-4)
    assert found.shortest.low == pytest.approx(1.0834, abs=4e-3)
    assert found.shortest.high == pytest.approx(1.3825, abs=4e-3)
    assert found.standard_uncertainty == pytest.approx(0.0750, abs=1e-3)  # second order


def test_s1_9_3_first_order_misses_the_buoyancy_and_is_not_validated() -> None:
    """JCGM 101:2008, 9.3.2: printed first-order u = 0.0539, second-order 0.0750 mg; δ = 0.005 mg, not validated."""
    sensitivities = [1.0, 1.0, 0.0, 0.0, 0.0]  # at the estimates both densities are equal and the air is at 1.2
    u = combined_standard_uncertainty(sensitivities, [one.standard_uncertainty for one in MASSES], UNCORRELATED)
    assert u == pytest.approx(0.0539, abs=5e-5)
    judged = validate(1.234, u, 1.96 * u, simulate(MASSES, mass_deviation).shortest)
    assert judged.tolerance == 0.005
    assert not judged.validated
    assert judged.d_low == pytest.approx(1.1284 - 1.0834, abs=4e-3)
    assert judged.d_high == pytest.approx(1.3825 - 1.3396, abs=4e-3)


def test_s1_9_3_adaptive_procedure_stands_still_within_its_tolerance() -> None:
    """JCGM 101:2008, 9.3.2 and 7.9.4: to one significant digit δ = 0.005 mg, and the figures above within it."""
    found: Outcome = run_adaptive(
        simulation_of(MASSES, mass_deviation), significant_digits=1, interval=lambda summary: summary.shortest
    )
    assert found.steady
    assert found.tolerances == (0.005,)
    assert found.trials < TRIALS
    summary = found.summaries[0]
    assert summary.trials == found.trials
    figures = (summary.mean, summary.standard_uncertainty, summary.shortest.low, summary.shortest.high)
    assert figures == pytest.approx((1.2341, 0.0754, 1.0834, 1.3825), abs=0.005)


def squares(_: Draws, own: Draws) -> Draws:
    return np.asarray(np.square(own).sum(axis=1))


def test_s1_9_4_comparison_loss_at_the_boundary() -> None:
    """JCGM 101:2008, 9.4, x1 = 0: printed mean 50, u 50, shortest 0 to 150 (all 1e-6). Exact end 149.8."""
    found = simulate([InputQuantity(0.0, 0.005)] * 2, squares)
    assert found.mean == pytest.approx(50e-6, abs=1e-6)
    assert found.standard_uncertainty == pytest.approx(50e-6, abs=1e-6)
    assert found.shortest.low == pytest.approx(0.0, abs=1e-6)
    assert found.shortest.high == pytest.approx(150e-6, abs=1e-6)
    assert found.shortest.high == pytest.approx(-50e-6 * math.log(0.05), abs=1e-6)


def test_s1_9_4_comparison_loss_off_the_boundary() -> None:
    """JCGM 101:2008, 9.4, x1 = 0.010: printed mean 150, u 112, shortest 0 to 367 (all 1e-6). Recomputed high 365.7.

    First order says 100 with u = 100: its interval and the simulated one have hardly an end in common.
    """
    found = simulate([InputQuantity(0.010, 0.005), InputQuantity(0.0, 0.005)], squares)
    assert found.mean == pytest.approx(150e-6, abs=3e-6)
    assert found.standard_uncertainty == pytest.approx(112e-6, abs=3e-6)
    assert found.shortest.low == pytest.approx(0.0, abs=3e-6)
    assert found.shortest.high == pytest.approx(367e-6, abs=3e-6)
    u = combined_standard_uncertainty([2.0 * 0.010, 0.0], [0.005, 0.005], [[1.0, 0.0], [0.0, 1.0]])
    assert u == pytest.approx(100e-6, abs=1e-9)
    assert not validate(100e-6, u, 1.96 * u, found.shortest).validated
