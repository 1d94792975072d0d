"""Teardown: the measurement function written again from the physics, propagated by two independent libraries."""

import math
from typing import Any

import GTC  # type: ignore[import-untyped]
from hypothesis import HealthCheck, assume, given, settings
from uncertainties import umath  # type: ignore[import-untyped]

from app.metrology.errors import MeasurementError
from app.metrology.inputs import Engine
from app.metrology.measurement import Measured
from app.metrology.methods.teardown import TeardownObservations, check, measure
from tests.checks.budgets import Inputs, PhysicsOf, by_gtc, by_uncertainties
from tests.checks.pouring_again import poured_cm3
from tests.unit.metrology.volumetry_builders import teardown_sheets

SHEETS = 200


def cylinder_cm3(diameter: Any, height: Any) -> Any:
    return math.pi / 4 * diameter * diameter * height / 1000


def physics(engine: Engine, observed: TeardownObservations, exp: Any) -> PhysicsOf:
    def ratio(result: Measured, errors: Inputs) -> Any:
        (one,) = (one for one in observed.cylinders if one.cylinder == result.cylinder)
        bore, stroke = engine.bore_mm + errors["bore"], engine.stroke_mm + errors["stroke"]
        opening = observed.gasket.bore_mm + errors["gasket_bore"]
        of_head = errors["head_repeatability"] + errors["head_reading"]
        head = poured_cm3(observed.pouring, one.head_fills, of_head, errors, exp)
        chamber = head + math.pi / 4 * observed.gasket.bore_mm**2 / 1000 * errors["plate"]
        chamber += cylinder_cm3(opening, observed.gasket.thickness_mm + errors["gasket_thickness"])
        chamber += cylinder_cm3(bore, one.deck_clearance_mm + errors["deck_clearance"])
        if one.crown_fills:
            of_crown = errors["crown_repeatability"] + errors["crown_reading"]
            down_the_bore = poured_cm3(observed.pouring, one.crown_fills, of_crown, errors, exp)
            down_the_bore += math.pi / 4 * engine.bore_mm**2 / 1000 * errors["plate"]
            chamber += down_the_bore - cylinder_cm3(bore, one.crown_depth_mm + errors["crown_depth"])
        land = bore - (observed.crevice.diametral_clearance_mm + errors["crevice_clearance"])
        high = observed.crevice.height_mm + errors["crevice_height"]
        chamber += cylinder_cm3(bore, high) - cylinder_cm3(land, high)
        chamber += one.reliefs_cm3 + errors["reliefs"] + observed.plug_cm3 + errors["plug"]
        return (cylinder_cm3(bore, stroke) + chamber) / chamber

    return ratio


def can_be(sheet: tuple[Engine, TeardownObservations]) -> bool:
    try:
        check(*sheet)
    except MeasurementError as refusal:
        if "no engine has such a ratio" not in refusal.sentence:
            raise
        return False
    return True


@given(teardown_sheets())
@settings(max_examples=SHEETS, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_uncertainties_propagates_every_cylinder_taken_down_to_the_same_figures(
    sheet: tuple[Engine, TeardownObservations],
) -> None:
    assume(can_be(sheet))
    by_uncertainties(measure(*sheet), physics(*sheet, umath.exp))


@given(teardown_sheets())
@settings(max_examples=SHEETS, deadline=None, suppress_health_check=[HealthCheck.too_slow])
def test_gtc_finds_the_same_for_every_cylinder_taken_down_and_the_same_degrees_of_freedom(
    sheet: tuple[Engine, TeardownObservations],
) -> None:
    assume(can_be(sheet))
    by_gtc(measure(*sheet), physics(*sheet, GTC.exp))
