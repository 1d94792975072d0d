"""The speed of sound, and what it does to a volume told by a tone.

A resonator's tone fixes its volume only through the speed of sound: f² ∝ c²/V, so at a given tone V ∝ c². An
instrument that takes the gas for one of speed c₀ while it is one of speed c therefore shows

    V_apparent = V·(c₀/c)²   and, as r − 1 = Vs/V,   r_apparent − 1 = (r − 1)·(c/c₀)².

Slow gas (fuel vapour, carbon dioxide) makes the chamber seem larger and the ratio too low; fast gas (damp or hot air,
helium) the other way about.
"""

import math

from app.metrology.physics.air import CO2_MOLE_FRACTION, water_vapour_fraction
from app.metrology.physics.ranges import ABSOLUTE_ZERO_C, a_ratio, more_than_nothing, within
from app.metrology.units import kelvin_from_celsius

GAS_CONSTANT = 8.314462618  # J/(mol·K), exact in the SI since 2019, digits as CODATA 2018 prints them


def ideal_gas_speed_m_s(heat_capacity_ratio: float, molar_mass_g_mol: float, temperature_c: float) -> float:
    """c = √(γ·R·T/M) in m/s; γ = cp/cv, M in g/mol, temperature in °C. Standard acoustics texts."""
    within(
        heat_capacity_ratio,
        1.0,
        1.67,
        "heat_capacity_ratio",
        "The ratio of heat capacities of a gas lies between 1 and 1.67 (helium, argon); that of air is 1.4.",
    )
    more_than_nothing(molar_mass_g_mol, "molar_mass_g_mol", "A molar mass")
    within(
        temperature_c,
        ABSOLUTE_ZERO_C,
        2000.0,
        "temperature_c",
        f"A temperature in °C lies above {ABSOLUTE_ZERO_C} and, in a gas that is still one, below 2000.",
    )
    kelvin = kelvin_from_celsius(temperature_c)
    return math.sqrt(heat_capacity_ratio * GAS_CONSTANT * kelvin / (molar_mass_g_mol / 1000.0))


def iso_9613_speed_m_s(temperature_c: float) -> float:
    """c = 343.2·√(T/293.15 K) in m/s for air outdoors; temperature in °C, −20 to 50. ISO 9613-1:1993."""
    within(
        temperature_c,
        -20.0,
        50.0,
        "temperature_c",
        "The formula of ISO 9613-1 holds for air between −20 and 50 °C. Was the temperature given in kelvin?",
    )
    return 343.2 * math.sqrt(kelvin_from_celsius(temperature_c) / 293.15)


def humid_air_speed_m_s(
    temperature_c: float,
    pressure_pa: float,
    relative_humidity: float,
    co2_mole_fraction: float = CO2_MOLE_FRACTION,
) -> float:
    """Speed of sound in humid air at low frequency in m/s.

    Temperature in °C (0 to 30), pressure in Pa (75 000 to 102 000), relative humidity as a fraction (0 to 1), carbon
    dioxide as a mole fraction (0 to 0.01); water vapour then stays below the 0.06 it holds to. O. Cramer, J. Acoust.
    Soc. Am. 93 (1993) 2510, equation 15 and Table III; water vapour as in CIPM-2007. The calculator of the National
    Physical Laboratory takes the same coefficients; IEC 61094-2:2009, Annex F, prints them too. That of temperature
    times water, a₄, is 0.1495874; a copy with 0.14955874 is about.
    """
    within(
        temperature_c,
        0.0,
        30.0,
        "temperature_c",
        "Cramer's formula for the speed of sound holds for air between 0 and 30 °C.",
    )
    within(
        pressure_pa,
        75_000.0,
        102_000.0,
        "pressure_pa",
        "Cramer's formula for the speed of sound holds for air between 75 000 and 102 000 Pa. Was it given in kPa?",
    )
    within(
        co2_mole_fraction,
        0.0,
        0.01,
        "co2_mole_fraction",
        "Cramer's formula for the speed of sound holds up to 0.01 of carbon dioxide by moles; air has 0.0004.",
    )
    water = water_vapour_fraction(temperature_c, pressure_pa, relative_humidity)
    t, p, xw, xc = temperature_c, pressure_pa, water, co2_mole_fraction
    return (
        331.5024
        + 0.603055 * t
        - 0.000528 * t**2
        + (51.471935 + 0.1495874 * t - 0.000782 * t**2) * xw
        + (-1.82e-7 + 3.73e-8 * t - 2.93e-10 * t**2) * p
        + (-85.20931 - 0.228525 * t + 5.91e-5 * t**2) * xc
        - 2.835149 * xw**2
        - 2.15e-13 * p**2
        + 29.179762 * xc**2
        + 0.000486 * xw * p * xc
    )


def apparent_volume_factor(speed_m_s: float, assumed_speed_m_s: float) -> float:
    """V_apparent/V = (c₀/c)² for gas of speed c that is taken for one of speed c₀; both in the same unit."""
    more_than_nothing(speed_m_s, "speed_m_s", "A speed of sound")
    more_than_nothing(assumed_speed_m_s, "assumed_speed_m_s", "A speed of sound")
    return (assumed_speed_m_s / speed_m_s) ** 2


def apparent_ratio(ratio: float, speed_m_s: float, assumed_speed_m_s: float) -> float:
    """The compression ratio shown for an engine of this one: r_a = 1 + (r − 1)·(c/c₀)². Speeds in the same unit."""
    a_ratio(ratio)
    return 1.0 + (ratio - 1.0) / apparent_volume_factor(speed_m_s, assumed_speed_m_s)
