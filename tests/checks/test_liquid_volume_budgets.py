"""Liquid volume: the measurement function written again from the physics, propagated by two independent libraries."""

import math
from typing import Any

import GTC  # type: ignore[import-untyped]
from hypothesis import given, settings
from uncertainties import umath  # type: ignore[import-untyped]

from app.metrology.inputs import Engine
from app.metrology.measurement import Measured
from app.metrology.methods.liquid_volume import LiquidVolumeObservations, check, measure
from tests.checks.budgets import Inputs, PhysicsOf, by_gtc, by_uncertainties
from tests.checks.pouring_again import poured_cm3
from tests.unit.metrology.volumetry_builders import liquid_sheets

SHEETS = 200


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
