"""Moist air: its water vapour and its density, for weighing and for the sound in it.

CIPM-2007: A. Picard, R. S. Davis, M. Gläser, K. Fujii, Metrologia 45 (2008) 149. The formula is recommended for
15 to 27 °C and 600 to 1100 hPa; from 0 to 45 °C and down to 500 hPa it still lies within 1 part in 10⁴ of the equation
of state of humid air (the tests hold it to that), far more than buoyancy asks, so a hot paddock is not refused.
"""

import math

from app.metrology.physics.ranges import a_relative_humidity, within
from app.metrology.units import kelvin_from_celsius

CO2_MOLE_FRACTION = 0.0004  # of air where nobody measured it, CIPM-2007


def saturation_pressure_pa(temperature_c: float) -> float:
    """Pressure in Pa of water vapour over water; temperature in °C, −20 to 100. CIPM-2007, equation A1.1."""
    within(
        temperature_c,
        -20.0,
        100.0,
        "temperature_c",
        "The formula for the vapour pressure of water holds between −20 and 100 °C. Was the temperature in kelvin?",
    )
    kelvin = kelvin_from_celsius(temperature_c)
    return math.exp(1.2378847e-5 * kelvin**2 - 1.9121316e-2 * kelvin + 33.93711047 - 6.3431645e3 / kelvin)


def water_vapour_fraction(temperature_c: float, pressure_pa: float, relative_humidity: float) -> float:
    """Mole fraction of water vapour in air; °C (−20 to 60), Pa, humidity as a fraction. CIPM-2007, A1.1 and A1.2."""
    within(temperature_c, -20.0, 60.0, "temperature_c", "The temperature of the air lies between −20 and 60 °C.")
    _air_pressure(pressure_pa)
    a_relative_humidity(relative_humidity)
    enhancement = 1.00062 + 3.14e-8 * pressure_pa + 5.6e-7 * temperature_c**2
    return relative_humidity * enhancement * saturation_pressure_pa(temperature_c) / pressure_pa


def moist_air_density_kg_m3(
    temperature_c: float,
    pressure_pa: float,
    relative_humidity: float,
    co2_mole_fraction: float = CO2_MOLE_FRACTION,
) -> float:
    """Density of air in kg/m³; °C (0 to 45), Pa, humidity and carbon dioxide as fractions. CIPM-2007, equation 2."""
    within(temperature_c, 0.0, 45.0, "temperature_c", "The formula for the density of air holds between 0 and 45 °C.")
    within(
        co2_mole_fraction,
        0.0,
        0.01,
        "co2_mole_fraction",
        "The mole fraction of carbon dioxide in air lies between 0 and 0.01; where nobody measured it, it is 0.0004.",
    )
    water = water_vapour_fraction(temperature_c, pressure_pa, relative_humidity)
    kelvin = kelvin_from_celsius(temperature_c)
    compressed = _compressibility(temperature_c, pressure_pa, water)
    per_pascal_and_kelvin = 3.483740e-3 + 1.4446e-3 * (co2_mole_fraction - CO2_MOLE_FRACTION)
    return per_pascal_and_kelvin * pressure_pa / (compressed * kelvin) * (1.0 - 0.3780 * water)


def _compressibility(t: float, p: float, xv: float) -> float:
    """Z of moist air: how much less room it takes than an ideal gas. CIPM-2007, equation A1.4."""
    kelvin = kelvin_from_celsius(t)
    first = 1.58123e-6 - 2.9331e-8 * t + 1.1043e-10 * t**2
    with_water = (5.707e-6 - 2.051e-8 * t) * xv + (1.9898e-4 - 2.376e-6 * t) * xv**2
    return 1.0 - p / kelvin * (first + with_water) + (p / kelvin) ** 2 * (1.83e-11 - 0.765e-8 * xv**2)


def _air_pressure(pressure_pa: float) -> None:
    within(
        pressure_pa,
        50_000.0,
        110_000.0,
        "pressure_pa",
        "The pressure of the air lies between 50 000 and 110 000 Pa. Was it given in kPa or hPa?",
    )
