"""Liquid volume: the measurement function written again from the physics, propagated by two independent libraries."""

import math
from typing import Any

import GTC  # type: ignore[import-untyped]
from hypothesis import given, settings
from uncertainties import umath  # type: ignore[import-untyped]

from app.metrology.inputs import Engine
from app.metrology.measurement import Measured
from app.metrology.metals import METALS
from app.metrology.methods.liquid_volume import LiquidVolumeObservations, check, measure
from app.metrology.volumetry.glassware import GLASSES
from app.metrology.volumetry.liquids import LIQUIDS
from app.metrology.volumetry.pouring import Fill, Pouring
from tests.checks.budgets import Inputs, PhysicsOf, by_gtc, by_uncertainties
from tests.unit.metrology.volumetry_builders import liquid_sheets

SHEETS = 200


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


def physics(engine: Engine, observations: LiquidVolumeObservations, exp: Any) -> PhysicsOf:
    def ratio(result: Measured, errors: Inputs) -> Any:
        (fills,) = (one.fills for one in observations.cylinders if one.cylinder == result.cylinder)
        bore, stroke = engine.bore_mm + errors["bore"], engine.stroke_mm + errors["stroke"]
        room = poured_cm3(observations.pouring, fills, errors["repeatability"] + errors["reading"], errors, exp)
        rod = observations.rod_length_mm
        per_square = stroke / 4 * (1 + (stroke / 2 / rod if rod else 1 / 3.5))
        below_mm = per_square * math.radians(observations.crank_within_deg) ** 2 / 3 + errors["crank_position"]
        area = math.pi / 4 * bore * bore / 1000
        return 1 + area * stroke / (room - observations.plug_hole_cm3 - errors["plug_hole"] - area * below_mm)

    return ratio


@given(liquid_sheets())
@settings(max_examples=SHEETS, deadline=None)
def test_uncertainties_propagates_every_cylinder_poured_to_the_same_figures(
    sheet: tuple[Engine, LiquidVolumeObservations],
) -> None:
    check(*sheet)
    by_uncertainties(measure(*sheet), physics(*sheet, umath.exp))


@given(liquid_sheets())
@settings(max_examples=SHEETS, deadline=None)
def test_gtc_finds_the_same_for_every_cylinder_poured_and_the_same_degrees_of_freedom(
    sheet: tuple[Engine, LiquidVolumeObservations],
) -> None:
    by_gtc(measure(*sheet), physics(*sheet, GTC.exp))
