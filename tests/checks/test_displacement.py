"""Published and hand-checked engines, measured by the methods: parts, liquid, lengths.

The bare formulas of the same rows are checked in test_engines_and_units.
"""

import math

import pytest

from app.metrology import units
from app.metrology.geometry import displacement_cm3
from app.metrology.inputs import Engine
from app.metrology.methods import dimensional, liquid_volume, teardown
from app.metrology.methods.dimensional import CylinderLengths
from tests.unit.metrology.volumetry_builders import (
    a_crevice,
    a_gasket,
    a_teardown,
    fills,
    poured_cylinders,
    some_lengths,
    some_liquid,
    some_parts,
)


def test_eight_cylinders_of_350_cubic_inches_measured() -> None:
    """Bore 4.000 in, stroke 3.480 in: nominally 350 in³. From memory (nominal); computed 349.8478 in³, 5732.978 cm³."""
    engine = Engine(101.6, 88.392, 8)
    cylinders = tuple(CylinderLengths(number, ("101.600", "101.600"), ("88.392",)) for number in range(1, 9))
    observations = some_lengths(cylinders=cylinders)
    dimensional.check(engine, observations)
    (result,) = dimensional.measure(engine, observations).results
    assert result.value == pytest.approx(5732.978, abs=5e-4)
    assert units.volume_from_cm3(result.value, "in3") == pytest.approx(349.8478, abs=5e-5)
    assert round(units.volume_from_cm3(result.value, "in3")) == 350


def test_four_cylinder_chart_by_its_parts() -> None:
    """Formula chart of an air-cooled-engine parts shop (public page): CR 7.95. Found; recomputed 7.9452."""
    engine = Engine(87.0, 69.0, 4)
    one = some_parts(head_fills=fills("50.00"), deck_clearance_mm=units.length_to_mm(0.06, "in"))
    none = {"diametral_clearance_mm": 0.0, "height_mm": 0.0}
    observations = a_teardown(
        gasket=a_gasket(bore_mm=90.0, thickness_mm=0.0), crevice=a_crevice(**none), cylinders=(one,)
    )
    teardown.check(engine, observations)
    (result,) = teardown.measure(engine, observations).results
    assert teardown.chamber_parts(engine, observations, 1)[2] == pytest.approx(9.06, abs=0.005)
    assert round(result.value, 2) == 7.95
    assert result.value == pytest.approx(7.9452, abs=5e-5)


def test_square_engine_of_three_litres_poured() -> None:
    """Pulkrabek, Engineering Fundamentals of the ICE, Example 2-1: Vc 59 cm³ at 9.5. From memory; 58.824 recomputed."""
    bore_mm = 10.0 * (4.0 * 500.0 / math.pi) ** (1.0 / 3.0)
    engine = Engine(bore_mm, bore_mm, 6)
    observations = some_liquid(cylinders=poured_cylinders(fills("58.824")))
    liquid_volume.check(engine, observations)
    (result,) = liquid_volume.measure(engine, observations).results
    assert result.value == pytest.approx(9.5, abs=1e-4)
    assert displacement_cm3(bore_mm, bore_mm, 6) == pytest.approx(3000.0)


def test_uncertainty_of_a_ratio_from_bore_stroke_and_liquid() -> None:
    """Bore 102.00 mm (u 0.01), stroke 88.00 (0.02), Vc 74.00 cm³ (0.15): r = 10.71720, u = 0.019912.

    No publication: three independent propagations agree. Here the 0.15 cm³ are the scatter of a fill, known beforehand.
    """
    engine = Engine(102.0, 88.0, 1, 0.01, 0.02)
    observations = some_liquid(cylinders=poured_cylinders(fills("74.00")), repeatability=(0.15, math.inf))
    measurement = liquid_volume.measure(engine, observations)
    (result,) = measurement.results
    assert result.value == pytest.approx(10.71720, abs=5e-6)
    parts = {
        source.name: sensitivity * u
        for source, u, sensitivity in zip(measurement.sources, result.u, result.sensitivity, strict=True)
    }
    assert math.hypot(parts["repeatability"], parts["bore"], parts["stroke"]) == pytest.approx(0.019912, abs=5e-7)
    assert round(100.0 * (parts["repeatability"] / 0.019912) ** 2) == 98
