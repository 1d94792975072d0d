"""Displacement from measured lengths, written again from the physics, propagated by two independent libraries.

Every reading of every cylinder gets an error variable of its own here; the core sums them by formula.
"""

import math
from collections.abc import Callable
from typing import Any

import GTC  # type: ignore[import-untyped]
import pytest
from hypothesis import given, settings
from uncertainties import ufloat  # type: ignore[import-untyped]

from app.metrology.inputs import Engine
from app.metrology.metals import METALS
from app.metrology.methods.dimensional import DimensionalObservations, check, measure
from app.metrology.uncertainty import effective_degrees_of_freedom
from tests.checks.budgets import contributions, standard_uncertainty
from tests.unit.metrology.volumetry_builders import dimensional_sheets

SHEETS = 200


def whole_cm3(observed: DimensionalObservations, u: dict[str, float], make: Callable[[float, float], Any]) -> Any:
    """The sum over all cylinders, `make(value, u)` a variable that nothing else shares."""
    bore_limit, stroke_limit = make(0.0, u["bore_instrument"]), make(0.0, u["stroke_instrument"])
    metal_c = make(observed.metal_temperature_c, u["metal_temperature"])
    instrument_c = make(observed.instrument_temperature_c, u["instrument_temperature"])
    block = 1 + make(METALS[observed.block_metal].expansion_per_k, u["block_expansion"]) * (metal_c - 20)
    crank = 1 + make(METALS[observed.crank_metal].expansion_per_k, u["crank_expansion"]) * (metal_c - 20)
    scale = 1 + make(METALS["steel"].expansion_per_k, u["instrument_expansion"]) * (instrument_c - 20)

    def length(texts: tuple[str, ...], name: str, limit: Any, metal: Any) -> Any:
        read = sum(make(float(text), u[f"{name}_repeatability"]) for text in texts) / len(texts)
        return (read + make(0.0, u[f"{name}_resolution"]) + limit) * scale / metal

    bores = [length(one.diameters, "bore", bore_limit, block) for one in observed.cylinders]
    known = [length(one.strokes, "stroke", stroke_limit, crank) for one in observed.cylinders if one.strokes]
    # the mean of the throws measured errs by what throws differ, and so does each throw that it stands for
    per_throw = scale / crank
    mean = sum(known) / len(known) + nominal(per_throw) * make(0.0, u["throws"] / math.sqrt(len(known)))
    left = iter(known)
    strokes = [
        next(left) if one.strokes else mean + nominal(per_throw) * make(0.0, u["throws"]) for one in observed.cylinders
    ]
    return sum(math.pi / 4 * bore * bore * stroke / 1000 for bore, stroke in zip(bores, strokes, strict=True))


def nominal(value: Any) -> float:
    if isinstance(value, float):
        return value
    return float(value.nominal_value) if hasattr(value, "nominal_value") else float(GTC.value(value))


@given(dimensional_sheets())
@settings(max_examples=SHEETS, deadline=None)
def test_uncertainties_propagates_every_reading_to_the_same_displacement(
    sheet: tuple[Engine, DimensionalObservations],
) -> None:
    check(*sheet)
    measurement = measure(*sheet)
    (result,) = measurement.results
    u = dict(zip((source.name for source in measurement.sources), result.u, strict=True))
    theirs = whole_cm3(sheet[1], u, lambda value, u: ufloat(value, u) if u > 0.0 else value)
    assert result.value == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert standard_uncertainty(result) == pytest.approx(theirs.std_dev, rel=1e-8)


@given(dimensional_sheets())
@settings(max_examples=SHEETS, deadline=None)
def test_gtc_finds_the_same_displacement_and_degrees_of_freedom(
    sheet: tuple[Engine, DimensionalObservations],
) -> None:
    measurement = measure(*sheet)
    (result,) = measurement.results
    u = dict(zip((source.name for source in measurement.sources), result.u, strict=True))
    theirs = whole_cm3(sheet[1], u, lambda value, u: GTC.ureal(value, u) if u > 0.0 else value)
    assert result.value == pytest.approx(GTC.value(theirs), rel=1e-12)
    assert standard_uncertainty(result) == pytest.approx(GTC.uncertainty(theirs), rel=1e-8)
    # one pooled estimate counts once, however many means lean on it
    parts = list(zip(contributions(result), result.dof, strict=True))
    together = sum(GTC.ureal(0.0, part, dof) for part, dof in parts if part > 0.0)
    ours, found = effective_degrees_of_freedom(parts), GTC.dof(together)
    assert ours == pytest.approx(found, rel=1e-6) if min(ours, found) < 1e5 else ours > 9e4
