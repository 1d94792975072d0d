"""What is observed when a chamber is poured or taken down, plain functions with defaults, and any that can be."""

from collections.abc import Sequence
from typing import Any

from hypothesis import strategies as st

from app.metrology.inputs import Engine
from app.metrology.metals import METALS, SINGLE_METALS
from app.metrology.methods.dimensional import CylinderLengths, DimensionalObservations, LengthInstrument
from app.metrology.methods.liquid_volume import CylinderFills, LiquidVolumeObservations
from app.metrology.methods.teardown import Crevice, CylinderParts, Gasket, TeardownObservations
from app.metrology.volumetry.glassware import GLASSES
from app.metrology.volumetry.liquids import LIQUIDS
from app.metrology.volumetry.pouring import Burette, Fill, Pouring

ENGINE = Engine(102.0, 88.0, 8, 0.01, 0.02)  # each cylinder sweeps 719.07 cm³


def a_burette(**changes: Any) -> Burette:
    return Burette(**{"nominal_cm3": 100.0, "tolerance_class": "a", "graduation_cm3": 0.2, **changes})


def a_pouring(**changes: Any) -> Pouring:
    """A class A burette, oil and metal at 20 °C, nothing lost and no air."""
    return Pouring(
        **{
            "burette": a_burette(),
            "liquid": "mineral_oil",
            "liquid_temperature_c": 20.0,
            "liquid_temperature_standard_uncertainty_k": 0.5,
            "metal_temperature_c": 20.0,
            "metal_temperature_standard_uncertainty_k": 1.0,
            "metal": "cast_iron",
            "loss_cm3": 0.0,
            "loss_standard_uncertainty_cm3": 0.0,
            "trapped_air_at_most_cm3": 0.0,
            **changes,
        }
    )


def fills(*ends: str) -> tuple[Fill, ...]:
    """One fill from zero for each end."""
    return tuple(Fill("0.00", end) for end in ends)


def poured_cylinders(*cylinders: Sequence[Fill]) -> tuple[CylinderFills, ...]:
    return tuple(
        CylinderFills(number, tuple(some), "" if some else "plug seized")
        for number, some in enumerate(cylinders, start=1)
    )


def some_liquid(**changes: Any) -> LiquidVolumeObservations:
    return LiquidVolumeObservations(
        **{
            "pouring": a_pouring(),
            "plug_hole_cm3": 0.0,
            "plug_hole_standard_uncertainty_cm3": 0.0,
            "crank_within_deg": 0.0,
            "cylinders": poured_cylinders(fills("74.00", "74.10")),
            **changes,
        }
    )


def _hundredths(text_of: int) -> str:
    return f"{text_of // 100}.{text_of % 100:02d}"


@st.composite
def some_fills(draw: st.DrawFn, about_hundredths: int, most: int = 3) -> tuple[Fill, ...]:
    """One to three fills of about this volume (hundredths of a cm³), at most 200 cm³, filled up in between or not."""
    made = []
    for _ in range(draw(st.integers(1, most))):
        volume = about_hundredths + draw(st.integers(-20, 20))
        if volume > 9500 or (volume > 1000 and draw(st.booleans())):
            first = volume // 2
            made.append(Fill("0.00", _hundredths(first), "1.0", _hundredths(volume - first + 100)))
        else:
            start = draw(st.integers(0, 300))
            made.append(Fill(_hundredths(start), _hundredths(start + volume).replace(".", ",")))
    return tuple(made)


@st.composite
def pourings(draw: st.DrawFn) -> Pouring:
    """Any pouring that can be."""
    tolerance_class = draw(st.sampled_from(["a", "b", "stated"]))
    temperatures_c = st.floats(5.0, 38.0)
    return Pouring(
        burette=Burette(
            100.0,
            tolerance_class,
            draw(st.sampled_from([0.1, 0.2, 1.0])),
            draw(st.sampled_from(sorted(GLASSES))),
            draw(st.floats(0.05, 1.0)) if tolerance_class == "stated" else None,
        ),
        liquid=draw(st.sampled_from(sorted(LIQUIDS))),
        liquid_temperature_c=draw(temperatures_c),
        liquid_temperature_standard_uncertainty_k=draw(st.floats(0.0, 3.0)),
        metal_temperature_c=draw(temperatures_c),
        metal_temperature_standard_uncertainty_k=draw(st.floats(0.0, 5.0)),
        metal=draw(st.sampled_from(sorted(METALS))),
        loss_cm3=draw(st.floats(0.0, 0.3)),
        loss_standard_uncertainty_cm3=draw(st.floats(0.0, 0.2)),
        trapped_air_at_most_cm3=draw(st.floats(0.0, 0.5)),
    )


@st.composite
def engines(draw: st.DrawFn, most: int = 12) -> Engine:
    return Engine(
        draw(st.floats(60.0, 130.0)),
        draw(st.floats(60.0, 130.0)),
        draw(st.integers(1, most)),
        draw(st.floats(0.0, 0.1)),
        draw(st.floats(0.0, 0.1)),
    )


def priors() -> st.SearchStrategy[tuple[float, float] | None]:
    return st.none() | st.tuples(st.floats(0.01, 0.4), st.floats(1.0, 60.0) | st.just(float("inf")))


@st.composite
def liquid_sheets(draw: st.DrawFn) -> tuple[Engine, LiquidVolumeObservations]:
    """Any engine and any sheet of it that can be, up to twelve cylinders."""
    engine = draw(engines())
    about = draw(st.integers(3000, 15000))
    return engine, LiquidVolumeObservations(
        pouring=draw(pourings()),
        plug_hole_cm3=draw(st.floats(0.0, 2.0)),
        plug_hole_standard_uncertainty_cm3=draw(st.floats(0.0, 0.2)),
        crank_within_deg=draw(st.floats(0.0, 4.0)),
        cylinders=poured_cylinders(*(draw(some_fills(about)) for _ in range(engine.cylinders))),
        rod_length_mm=draw(st.none() | st.floats(1.5, 2.2).map(lambda strokes: strokes * engine.stroke_mm)),
        repeatability=draw(priors()),
    )


def a_gasket(**changes: Any) -> Gasket:
    return Gasket(
        **{
            "bore_mm": 104.0,
            "bore_standard_uncertainty_mm": 0.1,
            "thickness_mm": 1.0,
            "thickness_standard_uncertainty_mm": 0.03,
            **changes,
        }
    )


def a_crevice(**changes: Any) -> Crevice:
    return Crevice(
        **{
            "diametral_clearance_mm": 0.6,
            "diametral_clearance_standard_uncertainty_mm": 0.05,
            "height_mm": 6.0,
            "height_standard_uncertainty_mm": 0.1,
            **changes,
        }
    )


def some_parts(**changes: Any) -> CylinderParts:
    """A head of 62 cm³ over a flat crown 0.1 mm below the deck."""
    return CylinderParts(**{"cylinder": 1, "head_fills": fills("62.00", "62.10"), "deck_clearance_mm": 0.1, **changes})


def a_teardown(**changes: Any) -> TeardownObservations:
    return TeardownObservations(
        **{
            "pouring": a_pouring(),
            "plate_flatness_mm": 0.02,
            "gasket": a_gasket(),
            "crevice": a_crevice(),
            "deck_clearance_standard_uncertainty_mm": 0.02,
            "crown_depth_standard_uncertainty_mm": 0.02,
            "reliefs_standard_uncertainty_cm3": 0.1,
            "plug_cm3": 0.0,
            "plug_standard_uncertainty_cm3": 0.05,
            "cylinders": (some_parts(),),
            **changes,
        }
    )


@st.composite
def teardown_sheets(draw: st.DrawFn) -> tuple[Engine, TeardownObservations]:
    """Any engine and any sheet of it taken down that can be, up to eight cylinders, flat, dished and domed crowns."""
    engine = draw(engines(most=8))
    small = st.floats(0.0, 0.2)
    head, with_crowns = draw(st.integers(3000, 12000)), draw(st.booleans())
    area_cm3_mm = 0.000785398 * engine.bore_mm**2

    def parts(cylinder: int) -> CylinderParts:
        depth_mm = draw(st.floats(5.0, 12.0))  # within what a burette filled twice delivers
        dish = draw(st.integers(-1000, 2500))  # hundredths of a cm³
        poured = with_crowns and draw(st.booleans())
        crown_hundredths = max(round(100.0 * area_cm3_mm * depth_mm) + dish, 500)
        return CylinderParts(
            cylinder,
            draw(some_fills(head)),
            draw(st.floats(-0.5, 2.0)),
            draw(some_fills(crown_hundredths)) if poured else (),
            depth_mm if poured else 0.0,
            draw(st.floats(0.0, 6.0)),
        )

    return engine, TeardownObservations(
        pouring=draw(pourings()),
        plate_flatness_mm=draw(st.floats(0.0, 0.1)),
        gasket=Gasket(engine.bore_mm * draw(st.floats(0.99, 1.1)), draw(small), draw(st.floats(0.3, 3.0)), draw(small)),
        crevice=Crevice(draw(st.floats(0.0, 1.5)), draw(small), draw(st.floats(0.0, 12.0)), draw(small)),
        deck_clearance_standard_uncertainty_mm=draw(small),
        crown_depth_standard_uncertainty_mm=draw(small),
        reliefs_standard_uncertainty_cm3=draw(small),
        plug_cm3=draw(st.floats(-0.5, 0.5)),
        plug_standard_uncertainty_cm3=draw(small),
        cylinders=tuple(parts(cylinder) for cylinder in range(1, engine.cylinders + 1)),
        repeatability=draw(priors()),
    )


FOUR = Engine(87.0, 69.0, 4, 0.01, 0.02)  # 1640.7 cm³


def lengths(cylinder: int, diameters: str = "87.00 87.00", strokes: str = "69.00 69.00") -> CylinderLengths:
    """One cylinder, readings separated by blanks."""
    return CylinderLengths(cylinder, tuple(diameters.split()), tuple(strokes.split()))


def some_lengths(**changes: Any) -> DimensionalObservations:
    """Four cylinders of 87 mm by 69 mm, everything at 20 °C."""
    return DimensionalObservations(
        **{
            "bore_instrument": LengthInstrument("bore gauge set in a ring", 0.006),
            "stroke_instrument": LengthInstrument("depth micrometer", 0.02),
            "metal_temperature_c": 20.0,
            "metal_temperature_standard_uncertainty_k": 1.0,
            "instrument_temperature_c": 20.0,
            "instrument_temperature_standard_uncertainty_k": 0.5,
            "block_metal": "aluminium",
            "crank_metal": "steel",
            "cylinders": tuple(lengths(number) for number in range(1, 5)),
            **changes,
        }
    )


@st.composite
def dimensional_sheets(draw: st.DrawFn) -> tuple[Engine, DimensionalObservations]:
    """Any engine and any measured bores and strokes of it that can be; at least the first cylinder's stroke."""
    engine = draw(engines())
    digits, temperatures_c, small_k = draw(st.integers(1, 3)), st.floats(-10.0, 60.0), st.floats(0.0, 5.0)

    def readings(about_mm: float, least: int, most: int) -> tuple[str, ...]:
        off = st.floats(-0.2, 0.2).map(lambda mm: f"{about_mm + mm:.{digits}f}")
        return tuple(draw(st.lists(off, min_size=least, max_size=most)))

    return engine, DimensionalObservations(
        bore_instrument=LengthInstrument("bore gauge", draw(st.floats(0.001, 0.05))),
        stroke_instrument=LengthInstrument("depth micrometer", draw(st.floats(0.001, 0.05))),
        metal_temperature_c=draw(temperatures_c),
        metal_temperature_standard_uncertainty_k=draw(small_k),
        instrument_temperature_c=draw(temperatures_c),
        instrument_temperature_standard_uncertainty_k=draw(small_k),
        block_metal=draw(st.sampled_from(sorted(SINGLE_METALS))),
        crank_metal=draw(st.sampled_from(sorted(SINGLE_METALS))),
        cylinders=tuple(
            CylinderLengths(
                number, readings(engine.bore_mm, 2, 4), readings(engine.stroke_mm, 1 if number == 1 else 0, 3)
            )
            for number in range(1, engine.cylinders + 1)
        ),
    )
