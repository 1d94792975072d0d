"""JCGM 100:2008 (GUM) and budgets in print. "From memory" means that the document was not at hand: the digits were
recomputed independently and the recomputation is the authority."""

import math

import pytest

from app.metrology.distributions import (
    INFINITE,
    coverage_factor,
    standard_uncertainty_expanded,
    standard_uncertainty_rectangular,
    standard_uncertainty_resolution,
    standard_uncertainty_triangular,
    standard_uncertainty_u_shaped,
    t_quantile,
)
from app.metrology.repeatability import evaluate_repeatability
from app.metrology.uncertainty import Combined, combine
from tests.unit.metrology.builders import parts_of


def budget_of(*parts: tuple[float, float, float]) -> Combined:
    """From (standard uncertainty, sensitivity, degrees of freedom)."""
    return combine(*parts_of(*parts))


def end_gauge() -> Combined:
    """l = ls + d − ls·(δα·θ + αs·δθ) in nanometres, inputs of Table H.1."""
    length = 50_000_623.0
    expansion, temperature_off = 11.5e-6, -0.1
    return budget_of(
        (25.0, 1.0, 18.0),  # calibration of the standard
        (5.8, 1.0, 24.0),  # comparison, repeated
        (3.9, 1.0, 5.0),  # comparator, random
        (6.7, 1.0, 8.0),  # comparator, systematic
        (standard_uncertainty_rectangular(2e-6), 0.0, INFINITE),  # αs: no effect at first order, δθ = 0
        (standard_uncertainty_rectangular(1e-6), -length * temperature_off, 50.0),  # δα
        (math.hypot(0.2, standard_uncertainty_u_shaped(0.5)), 0.0, INFINITE),  # θ: no effect at first order, δα = 0
        (standard_uncertainty_rectangular(0.05), -length * expansion, 2.0),  # δθ
    )


def test_gum_h1_combined_standard_uncertainty_of_the_end_gauge() -> None:
    """JCGM 100:2008, H.1.4: printed uc = 32 nm. Found (inputs and uc: documentation of GTC). Unrounded 31.664."""
    budget = end_gauge()
    assert round(budget.standard_uncertainty) == 32
    assert budget.standard_uncertainty == pytest.approx(31.664, abs=5e-4)


def test_gum_h1_effective_degrees_of_freedom_and_expanded_uncertainty() -> None:
    """JCGM 100:2008, H.1.6: printed ν_eff = 16.7, t99(16) = 2.92, U99 = 93 nm. From memory; 16.752, 92.48."""
    budget = end_gauge()
    assert budget.effective_dof == pytest.approx(16.7, abs=0.1)
    assert budget.spread.dof == 16.0
    assert coverage_factor(0.99, budget.spread.dof) == pytest.approx(2.92, abs=0.005)
    assert coverage_factor(0.99, budget.spread.dof) * budget.standard_uncertainty == pytest.approx(93.0, abs=0.6)
    assert coverage_factor(0.99, budget.spread.dof) * budget.standard_uncertainty == pytest.approx(92.48, abs=0.005)


def test_gum_h1_difference_of_lengths() -> None:
    """JCGM 100:2008, H.1.3.2 and H.1.6: printed u(d) = 9.7 nm, ν = 25.6. From memory; full precision gives 25.45."""
    budget = budget_of((5.8, 1.0, 24.0), (3.9, 1.0, 5.0), (6.7, 1.0, 8.0))
    assert budget.standard_uncertainty == pytest.approx(9.7, abs=0.05)
    assert budget.effective_dof == pytest.approx(25.6, abs=0.2)
    assert budget.effective_dof == pytest.approx(25.45, abs=0.005)


def test_gum_g4_product_of_three_factors() -> None:
    """JCGM 100:2008, G.4.1 example: printed uc = 1.03 %, ν_eff = 19.0, t95(19) = 2.09, U95 = 2.2 %. From memory.

    The unrounded ν_eff is 18.9987: the core's truncation takes 19, as the document does.
    """
    budget = budget_of((0.25, 1.0, 9.0), (0.57, 1.0, 4.0), (0.82, 1.0, 14.0))
    assert budget.standard_uncertainty == pytest.approx(1.03, abs=0.005)
    assert budget.effective_dof == pytest.approx(19.0, abs=0.05)
    assert budget.spread.dof == 19.0
    assert coverage_factor(0.95, budget.spread.dof) == pytest.approx(2.09, abs=0.005)
    assert coverage_factor(0.95, budget.spread.dof) * budget.standard_uncertainty == pytest.approx(2.2, abs=0.05)


@pytest.mark.parametrize(
    ("probability", "dof", "printed"),
    [
        (0.95, 1.0, 12.71),  # found
        (0.95, 5.0, 2.57),  # from memory
        (0.95, 20.0, 2.09),  # found
        (0.9545, 10.0, 2.28),  # from memory
        (0.99, 16.0, 2.92),  # from memory
        (0.6827, 1.0, 1.84),  # found
        (0.90, 10.0, 1.81),  # found
        (0.95, INFINITE, 1.960),  # from memory
    ],
)
def test_gum_g2_coverage_factors_of_students_t(probability: float, dof: float, printed: float) -> None:
    """JCGM 100:2008, Table G.2; found ones by way of the suncal test suite."""
    assert coverage_factor(probability, dof) == pytest.approx(printed, abs=0.005)


def test_gum_4_3_type_b_evaluations() -> None:
    """JCGM 100:2008, 4.3.7 example (printed 8.7 µV), 4.3.4 (50 µΩ), F.2.2.1 (0.29 δx), 4.3.7 (0.23). From memory."""
    assert standard_uncertainty_rectangular(15.0) == pytest.approx(8.7, abs=0.05)
    assert standard_uncertainty_expanded(129.0, t_quantile(0.995, INFINITE)) == pytest.approx(50.0, abs=0.1)
    assert standard_uncertainty_resolution(1.0) == pytest.approx(0.29, abs=0.005)
    assert standard_uncertainty_rectangular(0.40) == pytest.approx(0.23, abs=0.005)


def test_divisors_of_bounded_distributions() -> None:
    """JCGM 100:2008, 4.3.7, 4.3.9, H.1.3.4; QUAM Appendix E: 1.732, 2.449, 1.414, full width 3.464. From memory."""
    assert 1.0 / standard_uncertainty_rectangular(1.0) == pytest.approx(1.732, abs=5e-4)
    assert 1.0 / standard_uncertainty_triangular(1.0) == pytest.approx(2.449, abs=6e-4)
    assert 1.0 / standard_uncertainty_u_shaped(1.0) == pytest.approx(1.414, abs=5e-4)
    assert 1.0 / standard_uncertainty_resolution(1.0) == pytest.approx(3.464, abs=5e-4)


def test_gum_5_1_repeated_voltage_and_a_rectangular_certificate() -> None:
    """JCGM 100:2008, 5.1.5 example: 12 µV and ±15 µV combine to 15 µV. From memory; recomputed 14.799."""
    budget = budget_of((12.0, 1.0, 19.0), (standard_uncertainty_rectangular(15.0), 1.0, INFINITE))
    assert budget.standard_uncertainty == pytest.approx(14.799, abs=5e-4)
    assert round(budget.standard_uncertainty) == 15


def test_ea_4_02_s2_ten_kilogram_mass() -> None:
    """EA-4/02, Supplement S2: printed u = 29.3 mg, U = 59 mg. From memory; recomputed 29.262, 58.52."""
    three_comparisons = 25.0 / math.sqrt(3.0)
    budget = budget_of(
        (standard_uncertainty_expanded(45.0, 2.0), 1.0, INFINITE),
        (standard_uncertainty_rectangular(15.0), 1.0, INFINITE),
        (three_comparisons, 1.0, INFINITE),
        (standard_uncertainty_rectangular(10.0), 1.0, INFINITE),
        (standard_uncertainty_rectangular(10.0), 1.0, INFINITE),
    )
    assert budget.standard_uncertainty == pytest.approx(29.3, abs=0.05)
    assert 2.0 * budget.standard_uncertainty == pytest.approx(59.0, abs=0.5)


def test_nist_handbook_budget_with_squared_sensitivities() -> None:
    """NIST/SEMATECH e-Handbook 2.6.3: ν = 42, t = 2.018. Inputs found (file MPC633M); ν and t from memory."""
    parts = [(0.0710, 0.0, 300.0), (0.0362, 0.8333, 50.0), (0.0197, 1.0, 5.0), (0.0161, 0.1, 9.0)]
    budget = budget_of(*((s, math.sqrt(squared), dof) for s, squared, dof in parts))
    assert budget.standard_uncertainty == pytest.approx(0.03881, abs=5e-6)
    assert budget.effective_dof == pytest.approx(42.0, abs=0.1)
    assert coverage_factor(0.95, budget.spread.dof) == pytest.approx(2.018, abs=0.003)


def test_eurachem_flask_volume() -> None:
    """EURACHEM/CITAC QUAM:2012, A1: printed 0.04, 0.05, u(V) = 0.07 mL. Inputs found, roundings from memory: 0.0665."""
    tolerance = standard_uncertainty_triangular(0.1)
    temperature = standard_uncertainty_rectangular(100.0 * 4.0 * 2.1e-4)
    budget = budget_of((tolerance, 1.0, INFINITE), (0.02, 1.0, INFINITE), (temperature, 1.0, INFINITE))
    assert round(tolerance, 2) == 0.04
    assert round(temperature, 2) == 0.05
    assert round(budget.standard_uncertainty, 2) == 0.07
    assert budget.standard_uncertainty == pytest.approx(0.0665, abs=5e-5)


def test_gum_4_2_3_mean_of_repeats() -> None:
    """JCGM 100:2008, 4.2.2 and 4.2.3, by hand: s of 10.45, 10.50, 10.55 is 0.05, of the mean 0.05/√3."""
    found = evaluate_repeatability([[10.45, 10.50, 10.55]], [0.01], None)[0]
    assert found.standard_deviation == pytest.approx(0.05)
    assert found.standard_uncertainty_of_mean == pytest.approx(0.0288675, abs=5e-8)
