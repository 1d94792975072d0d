"""Static compression ratio by liquid: the whole chamber poured at top dead centre through the plug hole.

Vc = V − hole − A·x,   A = π/4·B²,   r = 1 + A·S/Vc: V is what was poured (`volumetry.delivered`), the hole is not part
of the chamber, and x is how far the piston stood below top dead centre. All of it at 20 °C, where bore and stroke hold.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.distributions import INFINITE
from app.metrology.errors import MeasurementError
from app.metrology.geometry import compression_ratio, swept_volume_cm3
from app.metrology.inputs import Engine
from app.metrology.measurement import COMPRESSION_RATIO, Measured, Measurement, Method, Source
from app.metrology.observed import require_cylinders, require_prior, require_standard_uncertainty
from app.metrology.phrases import volume_both
from app.metrology.plausible import between
from app.metrology.volumetry.checking import check_fills, check_pouring, check_together
from app.metrology.volumetry.delivered import (
    Drawn,
    Poured,
    drawn,
    poured,
    pouring_sources,
    pouring_uncertainties,
    reduction,
)
from app.metrology.volumetry.pouring import Fill, Pouring
from app.metrology.volumetry.repeats import ASSUMED, FillScatter, fill_scatters
from app.metrology.volumetry.top_dead_centre import Drop, drop_from_top
from app.metrology.volumetry.wording import pouring_corrections, pouring_words, reading_words, scatter_words

GREATEST_RATIO = 100.0
_OTHERS = 14  # sources after the repeatability
_INFINITE, _NONE = (INFINITE,) * _OTHERS, (0.0,) * _OTHERS
WORTH_SAYING = 0.005  # of a ratio: a smaller correction is made but not spoken of


@dataclass(frozen=True, slots=True)
class CylinderFills:
    """The fills of one cylinder in order; none when it was not measured."""

    cylinder: int
    fills: tuple[Fill, ...]
    not_measured_reason: str = ""


@dataclass(frozen=True, slots=True)
class LiquidVolumeObservations:
    """What is observed; volumes and their standard uncertainties in cm³."""

    pouring: Pouring
    plug_hole_cm3: float  # the hole up to the plane filled to, less the room that the screwed-in plug leaves in it
    plug_hole_standard_uncertainty_cm3: float
    crank_within_deg: float  # top dead centre was found to within ± this, in degrees of crank
    cylinders: tuple[CylinderFills, ...]
    rod_length_mm: float | None = None  # between centres; None: not known
    repeatability: tuple[float, float] | None = None  # known beforehand: standard deviation of one fill in cm³, dof


def check(engine: Engine, observations: LiquidVolumeObservations) -> None:
    """Raises MeasurementError at the first observation that cannot be."""
    check_pouring(observations.pouring, "observations.pouring")
    between(
        observations.plug_hole_cm3,
        -5.0,  # the room about the plug's nose may exceed the hole where it was filled to its lower edge
        20.0,
        "observations.plug_hole_cm3",
        "The plug hole's volume, in cm³,",
        "0.8",
    )
    require_standard_uncertainty(
        observations.plug_hole_standard_uncertainty_cm3,
        5.0,
        "observations.plug_hole_standard_uncertainty_cm3",
        "the plug hole's volume, in cm³,",
        "0.05",
    )
    between(
        observations.crank_within_deg,
        0.0,
        10.0,
        "observations.crank_within_deg",
        "How closely top dead centre was found, in degrees either way,",
        "0.5",
    )
    _check_rod(engine, observations.rod_length_mm)
    require_prior(observations.repeatability, 5.0, "observations.repeatability", "0.1")
    field = "observations.cylinders"
    require_cylinders([one.cylinder for one in observations.cylinders], engine, field)
    for one in observations.cylinders:
        check_fills(one.fills, observations.pouring.burette, f"{field}.{one.cylinder}.fills")
    if not _filled(observations):
        raise MeasurementError(field, "No cylinder was filled. Enter at least one fill of one cylinder.")
    for one, volume in zip(_filled(observations), _volumes(observations), strict=True):
        check_together(volume.values_cm3, f"{field}.{one.cylinder}.fills")
    _check_ratios(engine, observations)


def _check_rod(engine: Engine, rod_length_mm: float | None) -> None:
    if rod_length_mm is not None and not engine.stroke_mm <= rod_length_mm <= 4.0 * engine.stroke_mm:
        raise MeasurementError(
            "observations.rod_length_mm",
            f"A rod of {rod_length_mm:g} mm does not go with a stroke of {engine.stroke_mm:g} mm: between centres it "
            "measures one to four strokes. Leave it empty when it is not known.",
        )


def _check_ratios(engine: Engine, observations: LiquidVolumeObservations) -> None:
    swept_cm3 = swept_volume_cm3(engine.bore_mm, engine.stroke_mm)
    drop = drop_from_top(engine.stroke_mm, observations.rod_length_mm, observations.crank_within_deg)
    reduced = reduction(observations.pouring)
    for one, volume in zip(_filled(observations), _volumes(observations), strict=True):
        chamber_cm3 = _chamber(engine, observations, poured(observations.pouring, reduced, volume), drop)
        if not chamber_cm3 * (GREATEST_RATIO - 1.0) > swept_cm3:
            raise MeasurementError(
                f"observations.cylinders.{one.cylinder}.fills",
                f"Cylinder {one.cylinder} took {volume_both(volume.mean_cm3)}, which leaves {chamber_cm3:.1f} cm³ of "
                f"chamber against {volume_both(swept_cm3)} swept: no engine has such a ratio. Were cubic inches and "
                "cm³ mixed up, or was the plug hole counted twice?",
            )


def measure(engine: Engine, observations: LiquidVolumeObservations) -> Measurement:
    """Ratio of each cylinder filled, with every source. `check` has let the observations pass."""
    pouring, volumes = observations.pouring, _volumes(observations)
    reduced, shared = reduction(pouring), pouring_uncertainties(pouring)
    drop = drop_from_top(engine.stroke_mm, observations.rod_length_mm, observations.crank_within_deg)
    scatters = _scatters(observations, volumes)
    results = []
    for one, volume, found in zip(_filled(observations), volumes, scatters, strict=True):
        room = poured(pouring, reduced, volume)
        results.append(_result(engine, observations, one.cylinder, volume, found, room, drop, reduced.factor, shared))
    return Measurement(_sources(observations, scatters), tuple(results))


def _result(
    engine: Engine,
    observations: LiquidVolumeObservations,
    cylinder: int,
    volume: Drawn,
    found: FillScatter,
    room: Poured,
    drop: Drop,
    per_drawn: float,
    shared: tuple[float, ...],
) -> Measured:
    chamber_cm3 = _chamber(engine, observations, room, drop)
    value = compression_ratio(swept_volume_cm3(engine.bore_mm, engine.stroke_mm), chamber_cm3)
    above_one = value - 1.0
    per_cm3 = -above_one / chamber_cm3
    area_cm3_mm = _area_cm3_mm(engine)
    below_cm3 = area_cm3_mm * drop.drop_mm
    return Measured(
        cylinder=cylinder,
        value=value,
        u=(
            found.standard_deviation_cm3 / math.sqrt(len(volume.values_cm3)),
            volume.reading_standard_uncertainty_cm3 * volume.per_reading,
            *shared,
            observations.plug_hole_standard_uncertainty_cm3,
            drop.standard_uncertainty_mm,
            engine.bore_standard_uncertainty_mm,
            engine.stroke_standard_uncertainty_mm,
        ),
        sensitivity=(
            per_cm3 * per_drawn,
            per_cm3 * per_drawn,
            *(per_cm3 * per_unit for per_unit in room.sensitivity),
            -per_cm3,
            -per_cm3 * area_cm3_mm,
            2.0 * (above_one - per_cm3 * below_cm3) / engine.bore_mm,
            above_one / engine.stroke_mm - per_cm3 * below_cm3 * drop.relative_per_mm_stroke,
        ),
        dof=(found.dof, *_INFINITE),
        dof_in_common=(found.dof_in_common, *_NONE),
    )


def _sources(observations: LiquidVolumeObservations, scatters: Sequence[FillScatter]) -> tuple[Source, ...]:
    estimated = any(found.origin != ASSUMED for found in scatters)
    return (
        Source("repeatability", "repeatability of the fills", "cm³", "t" if estimated else "normal", False),
        Source("reading", "reading of the meniscus", "cm³", "rectangular", False),
        *pouring_sources(observations.pouring),
        Source("plug_hole", "plug hole", "cm³", "normal", True),
        Source("crank_position", "crank position", "mm", "rectangular", False),
        Source("bore", "bore (swept volume)", "mm", "normal", True),
        Source("stroke", "stroke (swept volume)", "mm", "normal", True),
    )


def _filled(observations: LiquidVolumeObservations) -> list[CylinderFills]:
    return [one for one in observations.cylinders if one.fills]


def _volumes(observations: LiquidVolumeObservations) -> list[Drawn]:
    return [drawn(observations.pouring.burette, one.fills) for one in _filled(observations)]


def _scatters(observations: LiquidVolumeObservations, volumes: Sequence[Drawn]) -> tuple[FillScatter, ...]:
    return fill_scatters(
        [volume.values_cm3 for volume in volumes],
        observations.repeatability,
        math.sqrt(2.0) * max(volume.reading_standard_uncertainty_cm3 for volume in volumes),
    )


def _chamber(engine: Engine, observations: LiquidVolumeObservations, room: Poured, drop: Drop) -> float:
    return room.volume_cm3 - observations.plug_hole_cm3 - _area_cm3_mm(engine) * drop.drop_mm


def _area_cm3_mm(engine: Engine) -> float:
    return swept_volume_cm3(engine.bore_mm, 1.0)


def source_words(engine: Engine, observations: LiquidVolumeObservations, measured: Measured) -> tuple[str, ...]:
    """Where each figure comes from, in the order of the sources."""
    places = [one.cylinder for one in _filled(observations)]
    place, volumes = places.index(measured.cylinder), _volumes(observations)
    volume, found = volumes[place], _scatters(observations, volumes)[place]
    rod = (
        f"a rod of {observations.rod_length_mm:g} mm"
        if observations.rod_length_mm is not None
        else "a rod of the usual length"
    )
    return (
        scatter_words(found, len(volume.values_cm3), observations.repeatability),
        reading_words(observations.pouring.burette, volume),
        *pouring_words(observations.pouring),
        f"measured by itself, known to {observations.plug_hole_standard_uncertainty_cm3:g} cm³",
        f"top dead centre found to within ±{observations.crank_within_deg:g}° of crank, {rod}; "
        "the piston can only stand below it",
        _declared("bore", engine.bore_mm, engine.bore_standard_uncertainty_mm),
        _declared("stroke", engine.stroke_mm, engine.stroke_standard_uncertainty_mm),
    )


def _declared(name: str, length_mm: float, standard_uncertainty_mm: float) -> str:
    return f"the {name} of {length_mm:g} mm as the sheet gives it, known to {standard_uncertainty_mm:g} mm"


def corrections(engine: Engine, observations: LiquidVolumeObservations, measured: Measured) -> tuple[str, ...]:
    """What was corrected, in sentences; the example figures are those of this cylinder."""
    place = [one.cylinder for one in _filled(observations)].index(measured.cylinder)
    volume = _volumes(observations)[place]
    drop = drop_from_top(engine.stroke_mm, observations.rod_length_mm, observations.crank_within_deg)
    chamber_cm3 = swept_volume_cm3(engine.bore_mm, engine.stroke_mm) / (measured.value - 1.0)
    worth_cm3 = WORTH_SAYING * chamber_cm3 / (measured.value - 1.0)
    below_cm3 = _area_cm3_mm(engine) * drop.drop_mm
    sentences = list(pouring_corrections(observations.pouring, volume.mean_cm3, worth_cm3))
    if observations.plug_hole_cm3:
        sentences.append(
            f"The plug hole up to the plane filled to, {observations.plug_hole_cm3:.2f} cm³, was taken off: with the "
            "plug in, it is no part of the chamber."
        )
    if below_cm3 >= worth_cm3:
        sentences.append(
            f"With top dead centre found to within ±{observations.crank_within_deg:g}° the piston stands "
            f"{drop.drop_mm:.3f} mm below it on average; {below_cm3:.2f} cm³ were taken off for that."
        )
    return tuple(sentences)


METHOD = Method(
    key="liquid_volume",
    label="liquid volume, whole chamber",
    quantity=COMPRESSION_RATIO,
    observations=LiquidVolumeObservations,
    check=check,
    measure=measure,
    source_words=source_words,
    corrections=corrections,
)
