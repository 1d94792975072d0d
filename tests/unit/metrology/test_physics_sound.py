"""The speed of sound: what is refused, and what a wrong speed does to volume and ratio."""

import math

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.physics.air import water_vapour_fraction
from app.metrology.physics.sound import (
    GAS_CONSTANT,
    apparent_ratio,
    apparent_volume_factor,
    humid_air_speed_m_s,
    ideal_gas_speed_m_s,
    iso_9613_speed_m_s,
)


def test_ideal_gas_is_worked_out_in_si_units() -> None:
    assert ideal_gas_speed_m_s(1.5, 20.0, 26.85) == pytest.approx(math.sqrt(1.5 * GAS_CONSTANT * 300.0 / 0.020))


@pytest.mark.parametrize("gamma", [1.0, 1.67])
def test_the_least_and_greatest_heat_capacity_ratio_are_taken(gamma: float) -> None:
    assert ideal_gas_speed_m_s(gamma, 28.97, 20.0) > 0.0


@pytest.mark.parametrize(
    ("gamma", "mass", "temperature_c", "field"),
    [
        (0.999, 29.0, 20.0, "heat_capacity_ratio"),
        (1.671, 29.0, 20.0, "heat_capacity_ratio"),
        (math.nan, 29.0, 20.0, "heat_capacity_ratio"),
        (1.4, 0.0, 20.0, "molar_mass_g_mol"),
        (1.4, -29.0, 20.0, "molar_mass_g_mol"),
        (1.4, math.inf, 20.0, "molar_mass_g_mol"),
        (1.4, 29.0, -273.16, "temperature_c"),
        (1.4, 29.0, 2000.1, "temperature_c"),
        (1.4, 29.0, math.nan, "temperature_c"),
    ],
)
def test_an_impossible_ideal_gas_is_refused(gamma: float, mass: float, temperature_c: float, field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        ideal_gas_speed_m_s(gamma, mass, temperature_c)
    assert refused.value.field == field
    assert refused.value.sentence.endswith(".")


def test_sound_stands_still_at_absolute_zero() -> None:
    assert ideal_gas_speed_m_s(1.4, 29.0, -273.15) == 0.0


@pytest.mark.parametrize("temperature_c", [-20.0, 50.0])
def test_iso_9613_holds_to_the_ends_of_its_range(temperature_c: float) -> None:
    assert iso_9613_speed_m_s(temperature_c) == pytest.approx(
        343.2 * math.sqrt((temperature_c + 273.15) / 293.15), rel=1e-12
    )


@pytest.mark.parametrize("temperature_c", [-20.1, 50.1, 293.15, math.nan])
def test_iso_9613_is_refused_beyond(temperature_c: float) -> None:
    with pytest.raises(MeasurementError, match="between −20 and 50 °C") as refused:
        iso_9613_speed_m_s(temperature_c)
    assert refused.value.field == "temperature_c"


@pytest.mark.parametrize(
    ("state", "field", "words"),
    [
        ((-0.1, 101325.0, 0.5, 0.0004), "temperature_c", "0 and 30 °C"),
        ((30.1, 101325.0, 0.5, 0.0004), "temperature_c", "0 and 30 °C"),
        ((math.nan, 101325.0, 0.5, 0.0004), "temperature_c", "0 and 30 °C"),
        ((20.0, 74_999.0, 0.5, 0.0004), "pressure_pa", "75 000 and 102 000 Pa"),
        ((20.0, 102_001.0, 0.5, 0.0004), "pressure_pa", "75 000 and 102 000 Pa"),
        ((20.0, 101.325, 0.5, 0.0004), "pressure_pa", "given in kPa"),
        ((20.0, 101325.0, 50.0, 0.0004), "relative_humidity", "50 % is 0.5"),
        ((20.0, 101325.0, -0.01, 0.0004), "relative_humidity", "50 % is 0.5"),
        ((20.0, 101325.0, 0.5, -1e-9), "co2_mole_fraction", "carbon dioxide"),
        ((20.0, 101325.0, 0.5, 0.0101), "co2_mole_fraction", "carbon dioxide"),
    ],
)
def test_cramers_formula_is_refused_beyond_its_range(
    state: tuple[float, float, float, float], field: str, words: str
) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        humid_air_speed_m_s(*state)
    assert refused.value.field == field


TABLE_III = {  # Cramer 1993, Table III: powers of t, x_w, p, x_c and the coefficient of their product
    (0, 0, 0, 0): 331.5024, (1, 0, 0, 0): 0.603055, (2, 0, 0, 0): -0.000528,
    (0, 1, 0, 0): 51.471935, (1, 1, 0, 0): 0.1495874, (2, 1, 0, 0): -0.000782,
    (0, 0, 1, 0): -1.82e-7, (1, 0, 1, 0): 3.73e-8, (2, 0, 1, 0): -2.93e-10,
    (0, 0, 0, 1): -85.20931, (1, 0, 0, 1): -0.228525, (2, 0, 0, 1): 5.91e-5,
    (0, 2, 0, 0): -2.835149, (0, 0, 2, 0): -2.15e-13, (0, 0, 0, 2): 29.179762, (0, 1, 1, 1): 0.000486,
}  # fmt: skip


@pytest.mark.parametrize(
    "state",
    [
        (0.0, 75_000.0, 0.0, 0.0),
        (30.0, 102_000.0, 0.0, 0.01),
        (30.0, 75_000.0, 1.0, 0.0004),
        (25.0, 100_000.0, 0.8, 0.01),
        (7.0, 90_000.0, 0.3, 0.0),
    ],
)
def test_cramers_formula_is_the_sum_of_its_table_up_to_the_corners_of_its_range(
    state: tuple[float, float, float, float],
) -> None:
    t, p, humidity, xc = state
    xw = water_vapour_fraction(t, p, humidity)
    total = math.fsum(a * t**i * xw**j * p**k * xc**m for (i, j, k, m), a in TABLE_III.items())
    assert humid_air_speed_m_s(*state) == pytest.approx(total, rel=1e-14)


def test_a_slow_gas_makes_the_chamber_seem_larger_and_the_ratio_smaller() -> None:
    assert apparent_volume_factor(300.0, 330.0) == pytest.approx(1.21)
    assert apparent_ratio(10.68, 300.0, 330.0) == pytest.approx(1.0 + 9.68 / 1.21)
    assert apparent_ratio(1.001, 340.0, 340.0) == pytest.approx(1.001)
    assert apparent_ratio(9.0, 330.0, 300.0) == pytest.approx(1.0 + 8.0 * 1.21)


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ((1.0, 340.0, 340.0), "ratio"),
        ((math.inf, 340.0, 340.0), "ratio"),
        ((10.5, 0.0, 340.0), "speed_m_s"),
        ((10.5, 340.0, math.nan), "assumed_speed_m_s"),
    ],
)
def test_an_apparent_ratio_needs_a_ratio_and_two_speeds(arguments: tuple[float, float, float], field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        apparent_ratio(*arguments)
    assert refused.value.field == field
