"""The liquids that chambers are filled with: how they expand, and what to mind."""

import math
from dataclasses import dataclass

from app.metrology.volumetry import water

_NO_FLAME = "Ignition off, no flame, no spark, nothing hot nearby; air the place and keep an extinguisher at hand."
_LOCAL = "The rules of the venue come first."
WET = "Get all liquid out before the crank is turned: liquid cannot be compressed and bends rods."


@dataclass(frozen=True, slots=True)
class Liquid:
    """A liquid: cubic expansion and its standard uncertainty per kelvin, temperatures in °C that it may have.

    An expansion of None is that of water by its density; the uncertainty then is what the additive may change.
    """

    label: str
    expansion_per_k: float | None
    expansion_standard_uncertainty_per_k: float
    source: str
    coldest_c: float
    hottest_c: float
    caution: str


LIQUIDS: dict[str, Liquid] = {
    "water_wetting_agent": Liquid(
        "water with a few drops of wetting agent",
        None,
        1.0e-5,
        "density of air-free water, Tanaka et al., Metrologia 38 (2001) 301; the additive: common practice",
        water.COLDEST_C,
        water.HOTTEST_C,
        f"Water rusts bores and valve seats: blow out, dry and oil at once. {WET} {_LOCAL}",
    ),
    "mineral_oil": Liquid(
        "light mineral oil",
        7.0e-4,
        0.5e-4,
        "common practice, no source; the spread of oils taken as its uncertainty",
        0.0,
        60.0,
        f"Oil left in the chamber smokes and fouls the plug: drain and wipe it out. {WET} {_LOCAL}",
    ),
    "isopropanol": Liquid(
        "isopropanol",
        10.7e-4,
        0.5e-4,
        "handbook densities at 20 °C and 25 °C, from memory",
        0.0,
        40.0,
        f"Flashes at about 12 °C: its vapour lights at any shed's temperature. {_NO_FLAME} Gloves. {WET} {_LOCAL}",
    ),
    "white_spirit": Liquid(
        "white spirit or paraffin in place of petrol",
        9.5e-4,
        0.6e-4,
        "common practice, no source; the spread of blends taken as its uncertainty",
        0.0,
        40.0,
        f"Flashes from about 38 °C on, sooner on a warm engine. {_NO_FLAME} Never petrol itself. {WET} {_LOCAL}",
    ),
}


def volume_ratio(liquid: Liquid, from_c: float, to_c: float) -> float:
    """Volume at `to_c` over volume at `from_c` of one and the same liquid."""
    if liquid.expansion_per_k is None:
        return water.density_kg_m3(from_c) / water.density_kg_m3(to_c)
    return math.exp(liquid.expansion_per_k * (to_c - from_c))


def expansion_per_k(liquid: Liquid, temperature_c: float) -> float:
    """The cubic expansion at this temperature, per kelvin."""
    if liquid.expansion_per_k is None:
        return water.cubic_expansion_per_k(temperature_c)
    return liquid.expansion_per_k
