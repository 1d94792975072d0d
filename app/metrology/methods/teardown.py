"""Static compression ratio from the parts, engine taken down: every volume of the chamber measured by itself.

    Vc = head + Ag·tg + A·y + (D − A·z) + reliefs + crevice + plug + e·(Ag + A),   r = 1 + A·S/Vc,   A = π/4·B².

Head and, down the bore with the rim of the crown z below the deck, crown (D) are poured under one plate; Ag and tg are
the gasket's opening and pressed thickness, y the deck clearance at top dead centre, negative with the crown above the
deck. A dish leaves D − A·z positive, a dome negative. The crevice round the piston down to its top ring is
π/4·(2·B − c)·c·h. The plate may bow or stand off by e = 0 either way. All at 20 °C, where bore and stroke hold.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from app.metrology.distributions import INFINITE, standard_uncertainty_rectangular
from app.metrology.errors import MeasurementError
from app.metrology.geometry import compression_ratio, swept_volume_cm3
from app.metrology.inputs import Engine
from app.metrology.measurement import COMPRESSION_RATIO, Measured, Measurement, Method, Source
from app.metrology.phrases import volume_both
from app.metrology.volumetry.delivered import (
    Drawn,
    Poured,
    Reduction,
    drawn,
    poured,
    pouring_sources,
    pouring_uncertainties,
    reduction,
)
from app.metrology.volumetry.parts import Crevice, CylinderParts, Gasket, TeardownObservations, check_parts
from app.metrology.volumetry.repeats import ASSUMED, FillScatter, fill_scatters
from app.metrology.volumetry.wording import pouring_corrections, pouring_words, reading_words, scatter_words

__all__ = [
    "METHOD",
    "PART_LABELS",
    "Crevice",
    "CylinderParts",
    "Gasket",
    "TeardownObservations",
    "chamber_parts",
    "check",
    "measure",
]

GREATEST_RATIO = 100.0
WORTH_SAYING = 0.005  # of a ratio: a smaller correction is made but not spoken of
PART_LABELS = ("head", "gasket", "deck", "crown", "valve reliefs", "crevice to the top ring", "plug")
FLAT = "a flat crown: nothing was poured"
_POURED = 9  # sources that all pourings of a sheet have in common
_NOTHING_POURED = Poured(0.0, (0.0,) * _POURED)
_NO_SCATTER = FillScatter(0.0, INFINITE, ASSUMED)


class _Fills(NamedTuple):
    """The pourings of one cylinder: as drawn, how well they repeat, the volume at 20 °C; no crown where it is flat."""

    head: Drawn
    head_scatter: FillScatter
    head_room: Poured
    crown: Drawn | None
    crown_scatter: FillScatter
    crown_room: Poured


def check(engine: Engine, observations: TeardownObservations) -> None:
    """Raises MeasurementError at the first observation that cannot be, or when the parts leave no chamber."""
    check_parts(engine, observations)
    swept_cm3 = swept_volume_cm3(engine.bore_mm, engine.stroke_mm)
    for one, fills in zip(observations.cylinders, _fills(observations, reduction(observations.pouring)), strict=True):
        parts = _parts(engine, observations, one, fills)
        chamber_cm3 = math.fsum(parts)
        if not chamber_cm3 * (GREATEST_RATIO - 1.0) > swept_cm3:
            raise MeasurementError(
                f"observations.cylinders.{one.cylinder}",
                f"The parts of cylinder {one.cylinder} leave {chamber_cm3:.1f} cm³ of chamber against "
                f"{volume_both(swept_cm3)} swept ({_sum_in_words(parts)}): no engine has such a ratio. Look for a "
                "wrong sign of the deck clearance, a depth too large, or cubic inches among cm³.",
            )


def measure(engine: Engine, observations: TeardownObservations) -> Measurement:
    """Ratio of each cylinder, with every source. `check` has let the observations pass."""
    reduced, shared = reduction(observations.pouring), pouring_uncertainties(observations.pouring)
    fills = _fills(observations, reduced)
    results = [
        _result(engine, observations, one, poured_of, reduced.factor, shared)
        for one, poured_of in zip(observations.cylinders, fills, strict=True)
    ]
    return Measurement(_sources(observations, fills), tuple(results))


def _fills(observations: TeardownObservations, reduced: Reduction) -> list[_Fills]:
    burette, pouring = observations.pouring.burette, observations.pouring
    heads = [drawn(burette, one.head_fills) for one in observations.cylinders]
    crowns = [drawn(burette, one.crown_fills) if one.crown_fills else None for one in observations.cylinders]
    of_heads = _scatters(heads, observations.repeatability)
    of_crowns = iter(_scatters([crown for crown in crowns if crown is not None], observations.repeatability))
    return [
        _Fills(
            head,
            head_scatter,
            poured(pouring, reduced, head),
            crown,
            _NO_SCATTER if crown is None else next(of_crowns),
            _NOTHING_POURED if crown is None else poured(pouring, reduced, crown),
        )
        for head, head_scatter, crown in zip(heads, of_heads, crowns, strict=True)
    ]


def _scatters(volumes: Sequence[Drawn], prior: tuple[float, float] | None) -> tuple[FillScatter, ...]:
    read = max((volume.reading_standard_uncertainty_cm3 for volume in volumes), default=0.0)
    return fill_scatters([volume.values_cm3 for volume in volumes], prior, math.sqrt(2.0) * read)


def chamber_parts(engine: Engine, observations: TeardownObservations, cylinder: int) -> tuple[float, ...]:
    """The parts of one measured chamber at 20 °C in cm³, signed as they add up, in the order of PART_LABELS."""
    return _parts(engine, observations, *_of(observations, cylinder))


def _parts(engine: Engine, observations: TeardownObservations, one: CylinderParts, fills: _Fills) -> tuple[float, ...]:
    gasket, per_mm = observations.gasket, swept_volume_cm3(engine.bore_mm, 1.0)
    return (
        fills.head_room.volume_cm3,
        swept_volume_cm3(gasket.bore_mm, gasket.thickness_mm),
        per_mm * one.deck_clearance_mm,
        fills.crown_room.volume_cm3 - per_mm * one.crown_depth_mm,
        one.reliefs_cm3,
        _around_cm3_mm(engine, observations.crevice) * observations.crevice.height_mm,
        observations.plug_cm3,
    )


def _around_cm3_mm(engine: Engine, crevice: Crevice) -> float:
    clearance_mm = crevice.diametral_clearance_mm
    return math.pi / 4.0 * (2.0 * engine.bore_mm - clearance_mm) * clearance_mm / 1000.0


def _result(
    engine: Engine,
    observations: TeardownObservations,
    one: CylinderParts,
    fills: _Fills,
    per_drawn: float,
    shared: tuple[float, ...],
) -> Measured:
    chamber_cm3 = math.fsum(_parts(engine, observations, one, fills))
    value = compression_ratio(swept_volume_cm3(engine.bore_mm, engine.stroke_mm), chamber_cm3)
    above_one = value - 1.0
    per_cm3 = -above_one / chamber_cm3
    gasket, crevice, per_mm = observations.gasket, observations.crevice, swept_volume_cm3(engine.bore_mm, 1.0)
    opening = swept_volume_cm3(gasket.bore_mm, 1.0)
    crown, poured_crown = fills.crown, fills.crown is not None
    per_bore = (
        2.0 * per_mm / engine.bore_mm * (one.deck_clearance_mm - one.crown_depth_mm)
        + math.pi / 2.0 * crevice.diametral_clearance_mm * crevice.height_mm / 1000.0
    )
    per_clearance = math.pi / 2.0 * (engine.bore_mm - crevice.diametral_clearance_mm) * crevice.height_mm / 1000.0
    return Measured(
        cylinder=one.cylinder,
        value=value,
        u=(
            fills.head_scatter.standard_deviation_cm3 / math.sqrt(len(fills.head.values_cm3)),
            fills.head.reading_standard_uncertainty_cm3 * fills.head.per_reading,
            fills.crown_scatter.standard_deviation_cm3 / math.sqrt(len(crown.values_cm3)) if crown else 0.0,
            crown.reading_standard_uncertainty_cm3 * crown.per_reading if crown else 0.0,
            *shared,
            standard_uncertainty_rectangular(observations.plate_flatness_mm),
            gasket.bore_standard_uncertainty_mm,
            gasket.thickness_standard_uncertainty_mm,
            observations.deck_clearance_standard_uncertainty_mm,
            observations.crown_depth_standard_uncertainty_mm,
            observations.reliefs_standard_uncertainty_cm3,
            crevice.diametral_clearance_standard_uncertainty_mm,
            crevice.height_standard_uncertainty_mm,
            observations.plug_standard_uncertainty_cm3,
            engine.bore_standard_uncertainty_mm,
            engine.stroke_standard_uncertainty_mm,
        ),
        sensitivity=(
            per_cm3 * per_drawn,
            per_cm3 * per_drawn,
            per_cm3 * per_drawn * poured_crown,
            per_cm3 * per_drawn * poured_crown,
            *(
                per_cm3 * (of_head + of_crown)
                for of_head, of_crown in zip(fills.head_room.sensitivity, fills.crown_room.sensitivity, strict=True)
            ),
            per_cm3 * (opening + per_mm * poured_crown),
            per_cm3 * 2.0 * opening * gasket.thickness_mm / gasket.bore_mm,
            per_cm3 * opening,
            per_cm3 * per_mm,
            -per_cm3 * per_mm * poured_crown,
            per_cm3,
            per_cm3 * per_clearance,
            per_cm3 * _around_cm3_mm(engine, crevice),
            per_cm3,
            2.0 * above_one / engine.bore_mm + per_cm3 * per_bore,
            above_one / engine.stroke_mm,
        ),
        dof=(fills.head_scatter.dof, INFINITE, fills.crown_scatter.dof, *_INFINITE),
        dof_in_common=(fills.head_scatter.dof_in_common, 0.0, fills.crown_scatter.dof_in_common, *_NONE),
    )


_OTHERS = 21  # sources after the repeatability of the crown
_INFINITE, _NONE = (INFINITE,) * _OTHERS, (0.0,) * _OTHERS


def _sources(observations: TeardownObservations, fills: Sequence[_Fills]) -> tuple[Source, ...]:
    heads = any(one.head_scatter.origin != ASSUMED for one in fills)
    crowns = any(one.crown_scatter.origin != ASSUMED for one in fills)
    return (
        Source("head_repeatability", "repeatability of the head's fills", "cm³", "t" if heads else "normal", False),
        Source("head_reading", "reading of the meniscus, head", "cm³", "rectangular", False),
        Source("crown_repeatability", "repeatability of the crown's fills", "cm³", "t" if crowns else "normal", False),
        Source("crown_reading", "reading of the meniscus, crown", "cm³", "rectangular", False),
        *pouring_sources(observations.pouring),
        Source("plate", "flatness of the plate", "mm", "rectangular", True),
        Source("gasket_bore", "opening of the gasket", "mm", "normal", True),
        Source("gasket_thickness", "pressed thickness of the gasket", "mm", "normal", True),
        Source("deck_clearance", "deck clearance", "mm", "normal", False),
        Source("crown_depth", "depth of the crown when filled", "mm", "normal", False),
        Source("reliefs", "valve reliefs", "cm³", "normal", False),
        Source("crevice_clearance", "clearance of the top land", "mm", "normal", True),
        Source("crevice_height", "height of the top land", "mm", "normal", True),
        Source("plug", "plug", "cm³", "normal", True),
        Source("bore", "bore", "mm", "normal", True),
        Source("stroke", "stroke", "mm", "normal", True),
    )


def _of(observations: TeardownObservations, cylinder: int) -> tuple[CylinderParts, _Fills]:
    place = [one.cylinder for one in observations.cylinders].index(cylinder)
    return observations.cylinders[place], _fills(observations, reduction(observations.pouring))[place]


def source_words(engine: Engine, observations: TeardownObservations, measured: Measured) -> tuple[str, ...]:
    """Where each figure comes from, in the order of the sources."""
    one, fills = _of(observations, measured.cylinder)
    prior, burette, crown = observations.repeatability, observations.pouring.burette, fills.crown
    gasket, crevice = observations.gasket, observations.crevice
    return (
        scatter_words(fills.head_scatter, len(fills.head.values_cm3), prior),
        reading_words(burette, fills.head),
        scatter_words(fills.crown_scatter, len(crown.values_cm3), prior) if crown else FLAT,
        reading_words(burette, crown) if crown else FLAT,
        *pouring_words(observations.pouring),
        f"the plate may bow or stand off by ±{observations.plate_flatness_mm:g} mm",
        _measured("the gasket's opening", gasket.bore_mm, gasket.bore_standard_uncertainty_mm),
        _measured("the gasket pressed", gasket.thickness_mm, gasket.thickness_standard_uncertainty_mm),
        _measured("crown to deck", one.deck_clearance_mm, observations.deck_clearance_standard_uncertainty_mm),
        _measured("rim to deck", one.crown_depth_mm, observations.crown_depth_standard_uncertainty_mm)
        if crown
        else FLAT,
        f"{one.reliefs_cm3:g} cm³, known to {observations.reliefs_standard_uncertainty_cm3:g} cm³",
        _measured(
            "bore less top land", crevice.diametral_clearance_mm, crevice.diametral_clearance_standard_uncertainty_mm
        ),
        _measured("crown to top ring", crevice.height_mm, crevice.height_standard_uncertainty_mm),
        f"{observations.plug_cm3:g} cm³, known to {observations.plug_standard_uncertainty_cm3:g} cm³",
        f"{_measured('the bore', engine.bore_mm, engine.bore_standard_uncertainty_mm)}; in the swept volume, at the "
        "deck, down the bore and round the piston",
        _measured("the stroke", engine.stroke_mm, engine.stroke_standard_uncertainty_mm),
    )


def _measured(what: str, length_mm: float, standard_uncertainty_mm: float) -> str:
    return f"{what}, {length_mm:g} mm, known to {standard_uncertainty_mm:g} mm"


def corrections(engine: Engine, observations: TeardownObservations, measured: Measured) -> tuple[str, ...]:
    """The sum of the parts and what was corrected in them, in sentences; the figures are those of this cylinder."""
    one, fills = _of(observations, measured.cylinder)
    parts = _parts(engine, observations, one, fills)
    chamber_cm3 = math.fsum(parts)
    drawn_cm3 = fills.head.mean_cm3 + (fills.crown.mean_cm3 if fills.crown else 0.0)
    worth_cm3 = WORTH_SAYING * chamber_cm3 / (measured.value - 1.0)
    return (
        f"Cylinder {one.cylinder} at 20 °C: {_sum_in_words(parts)}; together {volume_both(chamber_cm3)}.",
        *pouring_corrections(observations.pouring, drawn_cm3, worth_cm3),
    )


def _sum_in_words(parts: Sequence[float]) -> str:
    return ", ".join(f"{label} {part:+.2f} cm³" for label, part in zip(PART_LABELS, parts, strict=True) if part)


METHOD = Method(
    key="teardown",
    label="teardown worksheet",
    quantity=COMPRESSION_RATIO,
    observations=TeardownObservations,
    check=check,
    measure=measure,
    source_words=source_words,
    corrections=corrections,
)
