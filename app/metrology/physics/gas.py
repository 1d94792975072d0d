"""The gas in the chamber, and what it does to the figure when it is not the air the instrument takes it for.

The method (methods/acoustic_resonance.py) turns an indication into a ratio by

    Vc,ind = (D_set/N_set)/(r_ind − 1)   and   Vc = Vc,ind·T/T_set,

T/T_set being c²/c_set² of one and the same gas. If the gas is another one than air, c² differs further, by the factor
k = (γ/M)/(γ/M)_air at the gas temperature: the true volume is k·Vc, so the true r − 1 is that of the method divided by
k. Turned round: an engine of ratio r, measured on a gas with this k and reckoned as air, is given the apparent ratio

    r_a = 1 + (r − 1)·k,   r_a − r = (r − 1)·(k − 1).

Fuel vapour is heavy and has a great heat capacity (γ near 1), so k < 1 and an unpurged engine reads **low**: the error
is in its own favour under a maximum. Damp air is light, k > 1, and it reads high.

Mixture of ideal gases: M = Σxᵢ·Mᵢ, c_p = Σxᵢ·c_pᵢ, γ = c_p/(c_p − R). For air c lies within 5 parts in 10⁴ of the
equation of state; in k, a quotient of two such mixtures, most of that cancels. With up to 0.3 of fuel vapour it stays
within 0.4 % (the tests hold it to that); towards pure vapour near its boiling point c comes out a twentieth too
great at worst, which changes nothing in the advice. Fuel molecules take up their energy faster than the period of any
tone used here, so their full heat capacity counts.
"""

import math
from collections.abc import Mapping
from typing import NamedTuple, NoReturn

from app.metrology.errors import MeasurementError
from app.metrology.physics import ranges
from app.metrology.physics.air import water_vapour_fraction
from app.metrology.physics.sound import GAS_CONSTANT, ideal_gas_speed_m_s
from app.metrology.physics.substances import AIR, FUELS, OTHER_GASES, SUBSTANCES, WATER, Vapour
from app.metrology.units import kelvin_from_celsius

_DUST = 1e-9


class Gas(NamedTuple):
    """A mixture as sound meets it."""

    molar_mass_g_mol: float
    heat_capacity_ratio: float
    speed_m_s: float


class GasEffect(NamedTuple):
    """What taking this gas for another one does to an engine's figure."""

    apparent_ratio: float  # what the engine would be given
    ratio_change: float  # apparent − true, in units of ratio: negative reads low
    speed_squared_change: float  # (c/c₀)² − 1: the same for every engine
    speed_m_s: float  # in this gas
    assumed_speed_m_s: float  # in the gas it is taken for
    mole_fraction: float  # of the vapour that makes the difference


def mixture(mole_fractions: Mapping[str, float], temperature_c: float) -> Gas:
    """A mixture of SUBSTANCES by mole fractions that add up to 1, at a gas temperature in °C (−20 to 120)."""
    ranges.a_gas_temperature(temperature_c)
    for name, fraction in mole_fractions.items():
        if name not in SUBSTANCES:
            raise MeasurementError("mole_fractions", f"The gas “{name[:20]}” is not known: {', '.join(SUBSTANCES)}.")
        ranges.within(fraction, 0.0, 1.0, "mole_fractions", "A mole fraction lies between 0 and 1.")
    ranges.within(
        sum(mole_fractions.values()), 1.0 - _DUST, 1.0 + _DUST, "mole_fractions", "The mole fractions add up to 1."
    )
    return _mixed(mole_fractions, temperature_c)


def _mixed(mole_fractions: Mapping[str, float], temperature_c: float) -> Gas:
    mass = heat = 0.0
    for name, fraction in mole_fractions.items():
        substance = SUBSTANCES[name]
        mass += fraction * substance.molar_mass_g_mol
        heat += fraction * (substance.heat_capacity_25 + substance.heat_capacity_slope * (temperature_c - 25.0))
    ratio = heat / (heat - GAS_CONSTANT)
    return Gas(mass, ratio, ideal_gas_speed_m_s(ratio, mass, temperature_c))


def fuel_saturation_pressure_kpa(fuel: str, temperature_c: float) -> float:
    """Pressure in kPa of a fuel's vapour over the liquid; °C (−20 to 120). Antoine, see substances.py."""
    vapour = _fuel(fuel)
    ranges.a_gas_temperature(temperature_c)
    kelvin = kelvin_from_celsius(temperature_c)
    pressure_bar = math.pow(10.0, vapour.antoine_a - vapour.antoine_b / (kelvin + vapour.antoine_c))
    return vapour.share * pressure_bar * 100.0


def fuel_saturation_fraction(fuel: str, temperature_c: float, pressure_kpa: float) -> float:
    """The greatest mole fraction of a fuel's vapour at this temperature and pressure; 1 from its boiling point on."""
    ranges.an_air_pressure(pressure_kpa)
    return min(1.0, fuel_saturation_pressure_kpa(fuel, temperature_c) / pressure_kpa)


def unpurged_effect(
    ratio: float,
    temperature_c: float,
    pressure_kpa: float,
    relative_humidity: float,
    fuel: str,
    fuel_mole_fraction: float | None = None,
    air_temperature_c: float | None = None,
) -> GasEffect:
    """What fuel vapour left in the chamber would do to the figure of an engine of this ratio, against the purged one.

    `temperature_c` (−20 to 120) and `pressure_kpa` (50 to 110) are those of the gas in the chamber. Relative humidity
    (0 to 1) is that of the air that purges, at `air_temperature_c`, or at the gas temperature when that is not given.
    `fuel` is a key of FUELS. Without a mole fraction the chamber is saturated: liquid fuel left in it, the worst there
    is. `ratio_change` is negative: an unpurged engine reads low.
    """
    ranges.a_ratio(ratio)
    vapour = _fuel(fuel)
    most = fuel_saturation_fraction(fuel, temperature_c, pressure_kpa)
    if fuel_mole_fraction is None:
        fuel_mole_fraction = most
    ranges.within(
        fuel_mole_fraction,
        0.0,
        most,
        "fuel_mole_fraction",
        f"At {temperature_c:g} °C and {pressure_kpa:g} kPa the gas holds at most {100.0 * most:.3g} % of "
        f"{vapour.label} vapour (reckoned as {vapour.stands_for}); more of it would be liquid.",
    )
    purged = _moist_air(temperature_c, pressure_kpa, relative_humidity, air_temperature_c)
    unpurged = {name: share * (1.0 - fuel_mole_fraction) for name, share in purged.items()}
    unpurged[vapour.substance] = fuel_mole_fraction
    return _effect(ratio, unpurged, purged, temperature_c, fuel_mole_fraction)


def humidity_effect(
    ratio: float,
    temperature_c: float,
    pressure_kpa: float,
    relative_humidity: float,
    air_temperature_c: float | None = None,
) -> GasEffect:
    """What the damp of the air alone does to the figure of an engine of this ratio, against dry air.

    Arguments as in `unpurged_effect`. `ratio_change` is positive: damp air reads high. At 20 °C, 101.325 kPa and 50 %
    it is 0.36 % of r − 1.
    """
    ranges.a_ratio(ratio)
    ranges.a_gas_temperature(temperature_c)
    ranges.an_air_pressure(pressure_kpa)
    moist = _moist_air(temperature_c, pressure_kpa, relative_humidity, air_temperature_c)
    return _effect(ratio, moist, {AIR: 1.0}, temperature_c, moist[WATER])


def refuse_other_gas(gas: str, ratio: float, temperature_c: float) -> None:
    """Nothing for "air"; any other gas is refused with how far the figure of an engine of this ratio would lie."""
    ranges.a_ratio(ratio)
    if gas == AIR:
        return
    if gas not in OTHER_GASES:
        raise MeasurementError(
            "gas", f"The gas “{gas[:20]}” is not known here, and only air can be measured on. Purge with air."
        )
    ranges.a_gas_temperature(temperature_c)
    _refuse(gas, ratio, _effect(ratio, {gas: 1.0}, {AIR: 1.0}, temperature_c, mole_fraction=1.0))


def _refuse(gas: str, ratio: float, effect: GasEffect) -> NoReturn:
    way = "high" if effect.ratio_change > 0.0 else "low"
    raise MeasurementError(
        "gas",
        f"Only air can be measured on. Sound runs at {effect.speed_m_s:.0f} m/s in {SUBSTANCES[gas].label}, at "
        f"{effect.assumed_speed_m_s:.0f} m/s in air: an engine of {ratio:.2f} would read {effect.apparent_ratio:.2f}, "
        f"{abs(effect.ratio_change):.2f} too {way}. Purge the cylinder with air and measure again.",
    )


def _fuel(fuel: str) -> Vapour:
    if fuel not in FUELS:
        raise MeasurementError("fuel", f"The fuel “{fuel[:20]}” is not known here. Known are {', '.join(FUELS)}.")
    return FUELS[fuel]


def _moist_air(
    temperature_c: float, pressure_kpa: float, relative_humidity: float, air_temperature_c: float | None
) -> dict[str, float]:
    """The air that purges, by mole fractions; a chamber colder than the air cannot hold more water than saturation."""
    if air_temperature_c is None:
        air_temperature_c = temperature_c
    water = water_vapour_fraction(air_temperature_c, pressure_kpa * 1000.0, relative_humidity)
    if temperature_c < air_temperature_c:
        water = min(water, water_vapour_fraction(temperature_c, pressure_kpa * 1000.0, 1.0))
    return {AIR: 1.0 - water, WATER: water}


def _effect(
    ratio: float,
    gas: Mapping[str, float],
    taken_for: Mapping[str, float],
    temperature_c: float,
    mole_fraction: float,
) -> GasEffect:
    found, assumed = _mixed(gas, temperature_c), _mixed(taken_for, temperature_c)
    change = (found.speed_m_s / assumed.speed_m_s) ** 2 - 1.0
    ratio_change = (ratio - 1.0) * change
    return GasEffect(ratio + ratio_change, ratio_change, change, found.speed_m_s, assumed.speed_m_s, mole_fraction)
