"""Density and expansion of air-free water.

M. Tanaka, G. Girard, R. Davis, A. Peuto, N. Bignell: Recommended table for the density of water between 0 °C and 40 °C
based on recent experimental reports, Metrologia 38 (2001) 301. Formula and coefficients for 101 325 Pa; compression is
left out, a day's air pressure changes the density by less than 3 parts in a million.
"""

from app.metrology.observed import require_temperature

COLDEST_C, HOTTEST_C = 0.0, 40.0
_A1, _A2, _A3, _A4, _A5 = -3.983035, 301.797, 522528.9, 69.34881, 999.974950


def density_kg_m3(temperature_c: float) -> float:
    """ρ = a5·(1 − (t + a1)²·(t + a2)/(a3·(t + a4))) in kg/m³. Raises MeasurementError outside 0 °C to 40 °C."""
    require_temperature(temperature_c, COLDEST_C, HOTTEST_C, "temperature_c", "The temperature of the water")
    return _A5 * (1.0 - _below_densest(temperature_c))


def cubic_expansion_per_k(temperature_c: float) -> float:
    """β = −(dρ/dt)/ρ of the same formula, per kelvin: 2.07e-4 at 20 °C, 2.57e-4 at 25 °C. Same range."""
    require_temperature(temperature_c, COLDEST_C, HOTTEST_C, "temperature_c", "The temperature of the water")
    above, wide, low = temperature_c + _A1, temperature_c + _A2, temperature_c + _A4
    slope = above * (2.0 * wide + above - above * wide / low) / (_A3 * low)
    return slope / (1.0 - _below_densest(temperature_c))


def _below_densest(temperature_c: float) -> float:
    return (temperature_c + _A1) ** 2 * (temperature_c + _A2) / (_A3 * (temperature_c + _A4))
