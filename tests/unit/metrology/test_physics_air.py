"""Moist air: exact figures, and what is refused."""

import math

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.physics.air import moist_air_density_kg_m3, saturation_pressure_pa, water_vapour_fraction


@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa"), [(-20.0, 125.575381), (20.0, 2339.163230), (100.0, 101383.5955)]
)
def test_vapour_pressure_of_water(temperature_c: float, pressure_pa: float) -> None:
    assert saturation_pressure_pa(temperature_c) == pytest.approx(pressure_pa, rel=1e-8)


@pytest.mark.parametrize("temperature_c", [-20.1, 100.1, 293.15, math.nan])
def test_vapour_pressure_is_refused_beyond_its_range(temperature_c: float) -> None:
    with pytest.raises(MeasurementError, match="between −20 and 100 °C") as refused:
        saturation_pressure_pa(temperature_c)
    assert refused.value.field == "temperature_c"


def test_water_vapour_fraction_counts_the_enhancement_by_pressure_and_temperature() -> None:
    enhancement = 1.00062 + 3.14e-8 * 80_000.0 + 5.6e-7 * 40.0**2
    expected = 0.25 * enhancement * saturation_pressure_pa(40.0) / 80_000.0
    assert water_vapour_fraction(40.0, 80_000.0, 0.25) == pytest.approx(expected, rel=1e-12)
    assert water_vapour_fraction(20.0, 101325.0, 0.5) == pytest.approx(0.01158934, abs=1e-8)


@pytest.mark.parametrize("state", [(-20.0, 50_000.0, 0.0), (60.0, 110_000.0, 1.0)])
def test_air_at_the_ends_of_the_range_is_taken(state: tuple[float, float, float]) -> None:
    assert 0.0 <= water_vapour_fraction(*state) < 0.2


@pytest.mark.parametrize(
    ("state", "field", "words"),
    [
        ((-20.1, 101325.0, 0.5), "temperature_c", "between −20 and 60 °C"),
        ((60.1, 101325.0, 0.5), "temperature_c", "between −20 and 60 °C"),
        ((20.0, 49_999.0, 0.5), "pressure_pa", "kPa or hPa"),
        ((20.0, 110_001.0, 0.5), "pressure_pa", "kPa or hPa"),
        ((20.0, 101325.0, 1.001), "relative_humidity", "fraction"),
        ((20.0, 101325.0, -0.001), "relative_humidity", "fraction"),
        ((20.0, 101325.0, math.nan), "relative_humidity", "fraction"),
    ],
)
def test_impossible_air_is_refused(state: tuple[float, float, float], field: str, words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        water_vapour_fraction(*state)
    assert refused.value.field == field


@pytest.mark.parametrize(
    "state",
    [
        (0.0, 110_000.0, 0.0, 0.0004),
        (45.0, 50_000.0, 1.0, 0.0004),
        (20.0, 101_325.0, 0.5, 0.002),
        (20.0, 101_325.0, 0.5, 0.0),
        (33.0, 97_000.0, 0.9, 0.0006),
    ],
)
def test_density_is_that_of_the_full_equation_up_to_the_ends_of_its_range(
    state: tuple[float, float, float, float],
) -> None:
    """CIPM-2007, equation 1: ρ = p·M_a/(Z·R·T)·[1 − x_v·(1 − M_v/M_a)]; ours is equation 2, figures put in."""
    t, p, humidity, co2 = state
    xv, kelvin = water_vapour_fraction(t, p, humidity), t + 273.15
    a, b, c = (1.58123e-6, -2.9331e-8, 1.1043e-10), (5.707e-6, -2.051e-8), (1.9898e-4, -2.376e-6)
    bracket = a[0] + a[1] * t + a[2] * t * t + (b[0] + b[1] * t) * xv + (c[0] + c[1] * t) * xv * xv
    z = 1.0 - p / kelvin * bracket + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * xv * xv)
    mass, of_water = (28.96546 + 12.011 * (co2 - 0.0004)) * 1e-3, 18.01528e-3
    density = p * mass / (z * 8.314472 * kelvin) * (1.0 - xv * (1.0 - of_water / mass))
    assert moist_air_density_kg_m3(*state) == pytest.approx(density, rel=1e-5)
    with_figures = (3.483740 + 1.4446 * (co2 - 0.0004)) * 1e-3 * p / (z * kelvin) * (1.0 - 0.3780 * xv)
    assert moist_air_density_kg_m3(*state) == pytest.approx(with_figures, rel=1e-13)


@pytest.mark.parametrize(
    ("state", "field"),
    [
        ((-0.1, 101325.0, 0.5, 0.0004), "temperature_c"),
        ((45.1, 101325.0, 0.5, 0.0004), "temperature_c"),
        ((20.0, 101.325, 0.5, 0.0004), "pressure_pa"),
        ((20.0, 101325.0, 50.0, 0.0004), "relative_humidity"),
        ((20.0, 101325.0, 0.5, 0.01001), "co2_mole_fraction"),
        ((20.0, 101325.0, 0.5, -0.0001), "co2_mole_fraction"),
    ],
)
def test_a_density_is_refused_beyond_its_range(state: tuple[float, float, float, float], field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        moist_air_density_kg_m3(*state)
    assert refused.value.field == field
