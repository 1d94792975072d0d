"""What a pouring fills, written again from the physics, for numbers of any library."""

from typing import Any

from app.metrology.metals import METALS
from app.metrology.volumetry.glassware import GLASSES
from app.metrology.volumetry.liquids import LIQUIDS
from app.metrology.volumetry.pouring import Fill, Pouring
from tests.checks.budgets import Inputs


def water_kg_m3(t: Any) -> Any:
    """Tanaka et al., Metrologia 38 (2001) 301."""
    return 999.974950 * (1 - (t - 3.983035) * (t - 3.983035) * (t + 301.797) / 522528.9 / (t + 69.34881))


def drawn_cm3(fill: Fill) -> float:
    readings = (fill.start, fill.end, fill.refilled_start or "0", fill.refilled_end or "0")
    start, end, again, last = (float(text.replace(",", ".")) for text in readings)
    return end - start + last - again


def poured_cm3(pouring: Pouring, fills: tuple[Fill, ...], scatter: Any, errors: Inputs, exp: Any) -> Any:
    """What the liquid drawn fills at the engine's 20 °C, when all that is not quite known is off by its error."""
    liquid, glass = LIQUIDS[pouring.liquid], GLASSES[pouring.burette.material]
    drawings = sum(2 if fill.refilled_end else 1 for fill in fills) / len(fills)
    by_scale = sum(drawn_cm3(fill) for fill in fills) / len(fills) + scatter + drawings * errors["burette_tolerance"]
    left_c = pouring.liquid_temperature_c + errors["liquid_temperature"]
    metal_c = pouring.metal_temperature_c + errors["metal_temperature"]
    level_c = left_c + (0.5 + errors["warming"]) * (metal_c - left_c)
    left = by_scale - pouring.loss_cm3 - errors["loss"]
    left = left * (1 + (glass.expansion_per_k + errors["burette_expansion"]) * (left_c - 20))
    if liquid.expansion_per_k is None:
        arrived = (
            left * water_kg_m3(left_c) / water_kg_m3(level_c) * exp(errors["liquid_expansion"] * (level_c - left_c))
        )
    else:
        arrived = left * exp((liquid.expansion_per_k + errors["liquid_expansion"]) * (level_c - left_c))
    room = arrived / (1 + (3 * METALS[pouring.metal].expansion_per_k + errors["metal_expansion"]) * (metal_c - 20))
    return room + pouring.trapped_air_at_most_cm3 / 2 + errors["trapped_air"]
