"""Displacement from measured bores and strokes, engine taken down, lengths reduced to 20 °C (ISO 1).

    D = Σ π/4·Bᵢ²·Sᵢ,   B = b·(1 + αi·(ti − 20))/(1 + αb·(t − 20)),   S = s·(1 + αi·(ti − 20))/(1 + αc·(t − 20)):

b and s are means of readings, αi and ti are the instrument's, αb and αc block's and crank's at the metal's temperature
t. A displacement limit is for the whole engine, so every bore is measured: one that was not could be the large one.
All throws are ground on one crank; where a stroke was not measured the mean of the measured ones stands for it, and how
much throws differ is a source of uncertainty of its own.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from app.metrology.distributions import (
    INFINITE,
    standard_uncertainty_rectangular,
    standard_uncertainty_resolution,
)
from app.metrology.errors import MeasurementError
from app.metrology.inputs import Engine
from app.metrology.measurement import DISPLACEMENT, WHOLE_ENGINE, Measured, Measurement, Method, Source
from app.metrology.metals import METALS, REFERENCE_C, SINGLE_METALS, length_ratio
from app.metrology.observed import (
    require_cylinders,
    require_few,
    require_reading,
    require_standard_uncertainty,
    require_temperature,
    typed_step,
    typed_value,
)
from app.metrology.phrases import temperature_both, volume_both
from app.metrology.plausible import check_key
from app.metrology.repeatability import ASSUMED_STEPS, pooled_scatter, scatter
from app.metrology.units import LENGTHS_MM

COLDEST_C, HOTTEST_C = -10.0, 60.0
FEWEST_DIAMETERS = 2
FARTHEST_OFF = 0.1  # of the sheet's length: a reading further off is a slip or another unit
WIDEST_MM = 1.0  # apart within one cylinder: no bore is worn, and no stroke measured, as badly as that
DUST_MM = 1e-9  # differences of typed decimals are off in the last binary digit
INSTRUMENT_METAL = METALS["steel"]
_THROWS = 6  # place of their source
INCH_MM = float(LENGTHS_MM["in"])


@dataclass(frozen=True, slots=True)
class LengthInstrument:
    """What a length was measured with: ± limits of its error in millimetres by standard, maker or certificate."""

    name: str  # "bore gauge set in a ring", "depth micrometer": the inspector's words
    error_limit_mm: float


@dataclass(frozen=True, slots=True)
class CylinderLengths:
    """What was measured of one cylinder, readings in millimetres as typed: the digits show how finely it was read."""

    cylinder: int
    diameters: tuple[str, ...]  # at two heights or more, along and across the crank
    strokes: tuple[str, ...] = ()  # none: the mean of the others' holds for this throw of the one crank


@dataclass(frozen=True, slots=True)
class DimensionalObservations:
    """What is observed; temperatures in °C, their standard uncertainties in kelvin."""

    bore_instrument: LengthInstrument
    stroke_instrument: LengthInstrument
    metal_temperature_c: float  # of block and crank
    metal_temperature_standard_uncertainty_k: float
    instrument_temperature_c: float
    instrument_temperature_standard_uncertainty_k: float
    block_metal: str  # a key of SINGLE_METALS: what the bores expand with, the liner's where there is one
    crank_metal: str  # a key of SINGLE_METALS: what the stroke expands with
    cylinders: tuple[CylinderLengths, ...]


def check(engine: Engine, observations: DimensionalObservations) -> None:
    """Raises MeasurementError at the first observation that cannot be, or a bore that was not measured."""
    for name, instrument in (
        ("bore_instrument", observations.bore_instrument),
        ("stroke_instrument", observations.stroke_instrument),
    ):
        _check_instrument(instrument, f"observations.{name}")
    for name, temperature_c, standard_uncertainty_k in (
        ("metal", observations.metal_temperature_c, observations.metal_temperature_standard_uncertainty_k),
        (
            "instrument",
            observations.instrument_temperature_c,
            observations.instrument_temperature_standard_uncertainty_k,
        ),
    ):
        field = f"observations.{name}_temperature"
        require_temperature(temperature_c, COLDEST_C, HOTTEST_C, f"{field}_c", f"The temperature of the {name}")
        require_standard_uncertainty(
            standard_uncertainty_k, 20.0, f"{field}_standard_uncertainty_k", f"the {name}'s temperature in kelvin", "1"
        )
    check_key(observations.block_metal, SINGLE_METALS, "observations.block_metal", "metal of a block")
    check_key(observations.crank_metal, SINGLE_METALS, "observations.crank_metal", "metal of a crank")
    field = "observations.cylinders"
    require_cylinders([one.cylinder for one in observations.cylinders], engine, field)
    missing = sorted(set(range(1, engine.cylinders + 1)) - {one.cylinder for one in observations.cylinders})
    if missing:
        raise MeasurementError(
            field,
            f"Not measured: the bore of {', '.join(f'cylinder {number}' for number in missing)}. A displacement limit "
            "is for the whole engine, and the bore left out could be the large one. Measure every bore.",
        )
    if not any(one.strokes for one in observations.cylinders):
        raise MeasurementError(field, "No stroke was measured. Measure that of one cylinder at least.")
    for one in observations.cylinders:
        _check_lengths(one.diameters, engine.bore_mm, "diameter", "bore", f"{field}.{one.cylinder}.diameters")
        _check_lengths(one.strokes, engine.stroke_mm, "stroke", "stroke", f"{field}.{one.cylinder}.strokes")
        if len(one.diameters) < FEWEST_DIAMETERS:
            raise MeasurementError(
                f"{field}.{one.cylinder}.diameters",
                f"Cylinder {one.cylinder} has {len(one.diameters)} diameters. A bore wears oval and tapered: measure "
                f"at least {FEWEST_DIAMETERS}, along and across the crank, better at two heights.",
            )


def _check_instrument(instrument: LengthInstrument, field: str) -> None:
    if not instrument.name.strip():
        raise MeasurementError(
            f"{field}.name", "Say what it was measured with, for example “bore gauge set in a ring”."
        )
    if not 0.0 < instrument.error_limit_mm <= 0.5:
        raise MeasurementError(
            f"{field}.error_limit_mm",
            f"The limits of error of the {instrument.name[:40]} are given as ±{instrument.error_limit_mm:g} mm. No "
            "instrument is exact: enter them above 0 and at most 0.5, for example 0.005.",
        )


def _check_lengths(texts: Sequence[str], expected_mm: float, name: str, sheet_name: str, field: str) -> None:
    require_few(len(texts), field, f"{name}s")
    for number, text in enumerate(texts, start=1):
        require_reading(text, f"{field}.{number}", f"a {name}", f"{expected_mm:.2f}")
        length = typed_value(text)
        if not _near(length, expected_mm):
            hint = (
                f" Was it typed in inches? {length:g} in are {length * INCH_MM:g} mm."
                if _near(length * INCH_MM, expected_mm)
                else ""
            )
            raise MeasurementError(
                f"{field}.{number}",
                f"A {name} of {length:g} mm lies more than a tenth off the sheet's {sheet_name} of {expected_mm:g} mm. "
                f"Look at the reading, then at the sheet.{hint}",
            )
    values = [typed_value(text) for text in texts]
    if values and max(values) - min(values) > WIDEST_MM + DUST_MM:
        raise MeasurementError(
            field,
            f"The {name}s of this cylinder lie from {min(values):g} mm to {max(values):g} mm, more than "
            f"{WIDEST_MM:g} mm apart: one of them is a slip. Measure again.",
        )


def _near(length_mm: float, expected_mm: float) -> bool:
    return abs(length_mm - expected_mm) <= FARTHEST_OFF * expected_mm + DUST_MM


class _Lengths(NamedTuple):
    """The readings of one kind in millimetres: by cylinder, their coarsest step, scatter of one and its dof."""

    runs: tuple[tuple[float, ...], ...]
    step_mm: float
    standard_deviation_mm: float
    dof: float


def _lengths(readings: Sequence[tuple[str, ...]]) -> _Lengths:
    runs = tuple(tuple(typed_value(text) for text in texts) for texts in readings)
    step_mm = max(typed_step(text) for texts in readings for text in texts)
    return _Lengths(runs, step_mm, *(pooled_scatter(runs) or (ASSUMED_STEPS * step_mm, INFINITE)))


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def measure(engine: Engine, observations: DimensionalObservations) -> Measurement:
    """The engine's displacement in cm³, with every source. `check` has let the observations pass."""
    bores, strokes = _lengths(_diameters(observations)), _lengths(_strokes(observations))
    displacement = _displacement(engine, observations, bores, strokes)
    return Measurement(_sources(strokes, displacement), (displacement,))


def _diameters(observations: DimensionalObservations) -> list[tuple[str, ...]]:
    return [one.diameters for one in observations.cylinders]


def _strokes(observations: DimensionalObservations) -> list[tuple[str, ...]]:
    return [one.strokes for one in observations.cylinders if one.strokes]


def _displacement(
    engine: Engine, observations: DimensionalObservations, bores: _Lengths, strokes: _Lengths
) -> Measured:
    metal_k, instrument_k = (
        observations.metal_temperature_c - REFERENCE_C,
        observations.instrument_temperature_c - REFERENCE_C,
    )
    block, crank = METALS[observations.block_metal], METALS[observations.crank_metal]
    of_block = length_ratio(block.expansion_per_k, observations.metal_temperature_c)
    of_crank = length_ratio(crank.expansion_per_k, observations.metal_temperature_c)
    of_instrument = length_ratio(INSTRUMENT_METAL.expansion_per_k, observations.instrument_temperature_c)
    reduced = of_instrument**3 / (of_block**2 * of_crank)  # of a product bore²·stroke

    bore_mm = [_mean(run) for run in bores.runs]
    measured_mm = iter([_mean(run) for run in strokes.runs])
    usual_mm = _mean([_mean(run) for run in strokes.runs])
    stroke_mm = [next(measured_mm) if one.strokes else usual_mm for one in observations.cylinders]
    areas = [math.pi / 4.0 * bore**2 / 1000.0 * reduced for bore in bore_mm]  # cm³ per mm of stroke as read
    per_bore = [2.0 * area * stroke / bore for area, stroke, bore in zip(areas, stroke_mm, bore_mm, strict=True)]
    left_out = [area for area, one in zip(areas, observations.cylinders, strict=True) if not one.strokes]
    leaning = math.fsum(left_out) / len(strokes.runs)  # what each measured stroke stands for beside its own cylinder
    per_stroke = [area + leaning for area, one in zip(areas, observations.cylinders, strict=True) if one.strokes]
    throws_mm, throws_dof = _throws(engine, strokes) if left_out else (0.0, INFINITE)
    value = math.fsum(area * stroke for area, stroke in zip(areas, stroke_mm, strict=True))
    return Measured(
        cylinder=WHOLE_ENGINE,
        value=value,
        u=(
            bores.standard_deviation_mm,
            standard_uncertainty_resolution(bores.step_mm),
            standard_uncertainty_rectangular(observations.bore_instrument.error_limit_mm),
            strokes.standard_deviation_mm,
            standard_uncertainty_resolution(strokes.step_mm),
            standard_uncertainty_rectangular(observations.stroke_instrument.error_limit_mm),
            throws_mm,
            observations.metal_temperature_standard_uncertainty_k,
            observations.instrument_temperature_standard_uncertainty_k,
            block.expansion_standard_uncertainty_per_k,
            crank.expansion_standard_uncertainty_per_k,
            INSTRUMENT_METAL.expansion_standard_uncertainty_per_k,
        ),
        sensitivity=(
            _of_means(per_bore, bores.runs),
            math.hypot(*per_bore),
            math.fsum(per_bore),
            _of_means(per_stroke, strokes.runs),
            math.hypot(*per_stroke),
            math.fsum(areas),
            math.hypot(math.hypot(*left_out), math.fsum(left_out) / math.sqrt(len(strokes.runs))),
            -value * (2.0 * block.expansion_per_k / of_block + crank.expansion_per_k / of_crank),
            3.0 * value * INSTRUMENT_METAL.expansion_per_k / of_instrument,
            -2.0 * value * metal_k / of_block,
            -value * metal_k / of_crank,
            3.0 * value * instrument_k / of_instrument,
        ),
        dof=(bores.dof, INFINITE, INFINITE, strokes.dof, INFINITE, INFINITE, throws_dof, *(INFINITE,) * 5),
        dof_in_common=(0.0,) * 12,
    )


def _of_means(per_mm: Sequence[float], runs: Sequence[Sequence[float]]) -> float:
    """What one and the same scatter of a reading does through the means of these runs, root sum of squares."""
    return math.hypot(*(one / math.sqrt(len(run)) for one, run in zip(per_mm, runs, strict=True)))


def _throws(engine: Engine, strokes: _Lengths) -> tuple[float, float]:
    """Standard deviation in mm of a throw from the next, its dof: as declared, or as measured when that is wider."""
    declared_mm = engine.stroke_standard_uncertainty_mm
    found_mm = scatter([_mean(run) for run in strokes.runs]) if len(strokes.runs) > 1 else 0.0
    return (found_mm, float(len(strokes.runs) - 1)) if found_mm > declared_mm else (declared_mm, INFINITE)


def _sources(strokes: _Lengths, displacement: Measured) -> tuple[Source, ...]:
    repeated = "normal" if math.isinf(strokes.dof) else "t"
    throws = "normal" if math.isinf(displacement.dof[_THROWS]) else "t"
    return (
        Source("bore_repeatability", "repeatability and form of the bores", "mm", "t", False),
        Source("bore_resolution", "resolution, bore", "mm", "rectangular", False),
        Source("bore_instrument", "instrument for the bores", "mm", "rectangular", True),
        Source("stroke_repeatability", "repeatability of the strokes", "mm", repeated, False),
        Source("stroke_resolution", "resolution, stroke", "mm", "rectangular", False),
        Source("stroke_instrument", "instrument for the strokes", "mm", "rectangular", True),
        Source("throws", "strokes not measured", "mm", throws, False),
        Source("metal_temperature", "temperature of block and crank", "K", "normal", True),
        Source("instrument_temperature", "temperature of the instruments", "K", "normal", True),
        Source("block_expansion", "expansion of the block", "1/K", "normal", True),
        Source("crank_expansion", "expansion of the crank", "1/K", "normal", True),
        Source("instrument_expansion", "expansion of the instruments", "1/K", "normal", True),
    )


def source_words(engine: Engine, observations: DimensionalObservations, measured: Measured) -> tuple[str, ...]:
    """Where each figure comes from, in the order of the sources."""
    bores, strokes = _lengths(_diameters(observations)), _lengths(_strokes(observations))
    block, crank = METALS[observations.block_metal], METALS[observations.crank_metal]
    scattered = (
        "no stroke was measured twice: two steps of the reading assumed, as a bound"
        if math.isinf(strokes.dof)
        else f"scatter of the strokes about their means, pooled over {len(strokes.runs)} cylinders"
    )
    return (
        f"scatter of the diameters about their means, pooled over {len(bores.runs)} cylinders; "
        "oval and taper are in it",
        f"last step typed, {bores.step_mm:g} mm; half a step either way",
        f"{observations.bore_instrument.name}, ±{observations.bore_instrument.error_limit_mm:g} mm, alike in all bores",
        scattered,
        f"last step typed, {strokes.step_mm:g} mm; half a step either way",
        f"{observations.stroke_instrument.name}, ±{observations.stroke_instrument.error_limit_mm:g} mm, alike in all",
        _throws_in_words(engine, observations, strokes),
        f"known to {observations.metal_temperature_standard_uncertainty_k:g} K",
        f"known to {observations.instrument_temperature_standard_uncertainty_k:g} K",
        f"{block.label}: {block.source}",
        f"{crank.label}: {crank.source}",
        f"{INSTRUMENT_METAL.label}: {INSTRUMENT_METAL.source}",
    )


def _throws_in_words(engine: Engine, observations: DimensionalObservations, strokes: _Lengths) -> str:
    count = len(observations.cylinders) - len(strokes.runs)
    if not count:
        return "every stroke was measured"
    found_mm, dof = _throws(engine, strokes)
    known = "the sheet's, larger than the measured ones show" if math.isinf(dof) else "as the measured ones scatter"
    return f"{count} of {len(observations.cylinders)} strokes not measured; throws differ by {found_mm:.2g} mm, {known}"


def corrections(engine: Engine, observations: DimensionalObservations, measured: Measured) -> tuple[str, ...]:
    """What was corrected, in sentences with both unit systems."""
    sentences = []
    metal_c, instrument_c = observations.metal_temperature_c, observations.instrument_temperature_c
    if metal_c != REFERENCE_C or instrument_c != REFERENCE_C:
        sentences.append(
            f"Block and crank were at {temperature_both(metal_c)}, the instruments at "
            f"{temperature_both(instrument_c)}. Every length was reduced to 20 °C (ISO 1), which makes the "
            f"displacement {volume_both(measured.value)}."
        )
    left_out = [str(one.cylinder) for one in observations.cylinders if not one.strokes]
    if left_out:
        sentences.append(
            f"The stroke was not measured in cylinder {', '.join(left_out)}: the mean of the measured ones stands for "
            "it, all throws being ground on one crank."
        )
    return tuple(sentences)


METHOD = Method(
    key="dimensional",
    label="bore and stroke measured",
    quantity=DISPLACEMENT,
    observations=DimensionalObservations,
    check=check,
    measure=measure,
    source_words=source_words,
    corrections=corrections,
)
