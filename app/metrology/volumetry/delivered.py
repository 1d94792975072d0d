"""The volume that a burette delivered into a part of the engine, reduced to 20 °C, with all that is uncertain in it.

A burette's scale is true at 20 °C (γg its cubic expansion); what it delivers at the liquid's temperature t warms or
cools towards the metal's temperature θ and has come a share w of the way when the level is taken; the metal room it
fills is itself larger than at 20 °C (γm). For a drawn volume d, the loss l and the air a that stayed in:

    V = F·(d − l) + a,   F = (1 + γg·(t − 20))·exp(δβ·(t′ − t))·ρ(t)/ρ(t′)/(1 + γm·(θ − 20)),   t′ = t + w·(θ − t).

ρ(t)/ρ(t′) is the liquid's own expansion, δβ = 0 what it may be off. w is anything from none to all: ½, rectangular.
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from app.metrology.distributions import standard_uncertainty_rectangular
from app.metrology.measurement import Source
from app.metrology.metals import METALS
from app.metrology.observed import typed_step, typed_value
from app.metrology.volumetry.glassware import (
    GLASSES,
    REFERENCE_C,
    reading_standard_uncertainty_cm3,
    tolerance_standard_uncertainty,
)
from app.metrology.volumetry.liquids import LIQUIDS, expansion_per_k, volume_ratio
from app.metrology.volumetry.pouring import Burette, Fill, Pouring

WARMED = 0.5  # share of the way to the metal's temperature


class Reduction(NamedTuple):
    """F, and its relative sensitivities in the order of the temperatures and expansions of `pouring_sources`."""

    factor: float
    relative: tuple[float, ...]


class Drawn(NamedTuple):
    """The fills of one volume as drawn: mean in cm³, and how readings and drawings enter it."""

    values_cm3: tuple[float, ...]
    mean_cm3: float
    per_reading: float  # root sum of squares of what each independent reading does to the mean
    drawings: float  # mean count per fill: the error of the scale enters with each
    reading_standard_uncertainty_cm3: float


class Poured(NamedTuple):
    """A volume at 20 °C in cm³, and what each of `pouring_sources` does to it, cm³ per the source's unit."""

    volume_cm3: float
    sensitivity: tuple[float, ...]


def pouring_sources(pouring: Pouring) -> tuple[Source, ...]:
    """What all that is poured on one sheet has in common, in the order of every tuple here."""
    return (
        Source(
            "burette_tolerance",
            "tolerance of the burette",
            "cm³",
            tolerance_standard_uncertainty(pouring.burette)[1],
            True,
        ),
        Source("liquid_temperature", "temperature of the liquid", "K", "normal", True),
        Source("metal_temperature", "temperature of the metal", "K", "normal", True),
        Source("warming", "warming of the liquid on the metal", "1", "rectangular", True),
        Source("liquid_expansion", "expansion of the liquid", "1/K", "normal", True),
        Source("burette_expansion", "expansion of the burette", "1/K", "normal", True),
        Source("metal_expansion", "expansion of the metal", "1/K", "normal", True),
        Source("loss", "liquid lost on the way", "cm³", "normal", True),
        Source("trapped_air", "trapped air", "cm³", "rectangular", True),
    )


def pouring_uncertainties(pouring: Pouring) -> tuple[float, ...]:
    """Their standard uncertainties, in the sources' units."""
    return (
        tolerance_standard_uncertainty(pouring.burette)[0],
        pouring.liquid_temperature_standard_uncertainty_k,
        pouring.metal_temperature_standard_uncertainty_k,
        standard_uncertainty_rectangular(WARMED),
        LIQUIDS[pouring.liquid].expansion_standard_uncertainty_per_k,
        GLASSES[pouring.burette.material].expansion_standard_uncertainty_per_k,
        3.0 * METALS[pouring.metal].expansion_standard_uncertainty_per_k,
        pouring.loss_standard_uncertainty_cm3,
        standard_uncertainty_rectangular(pouring.trapped_air_at_most_cm3 / 2.0),
    )


def reduction(pouring: Pouring) -> Reduction:
    """F of this sheet. JCGM 100:2008, 5.1.3 for the sensitivities; every one is ∂ln F."""
    liquid = LIQUIDS[pouring.liquid]
    liquid_c, metal_c = pouring.liquid_temperature_c, pouring.metal_temperature_c
    settled_c = liquid_c + WARMED * (metal_c - liquid_c)
    per_glass, per_metal = (
        GLASSES[pouring.burette.material].expansion_per_k,
        3.0 * METALS[pouring.metal].expansion_per_k,
    )
    glass = 1.0 + per_glass * (liquid_c - REFERENCE_C)
    metal = 1.0 + per_metal * (metal_c - REFERENCE_C)
    in_burette, in_chamber = expansion_per_k(liquid, liquid_c), expansion_per_k(liquid, settled_c)
    return Reduction(
        glass * volume_ratio(liquid, liquid_c, settled_c) / metal,
        (
            per_glass / glass - in_burette + (1.0 - WARMED) * in_chamber,
            WARMED * in_chamber - per_metal / metal,
            in_chamber * (metal_c - liquid_c),
            settled_c - liquid_c,
            (liquid_c - REFERENCE_C) / glass,
            -(metal_c - REFERENCE_C) / metal,
        ),
    )


def drawn(burette: Burette, fills: Sequence[Fill]) -> Drawn:
    """The fills of one volume, at least one. Their readings have passed `check_fills`."""
    values: list[float] = []
    steps: list[float] = []
    counts: list[int] = []
    for fill in fills:
        pairs = drawings(fill)
        values.append(math.fsum(typed_value(end) - typed_value(start) for start, end in pairs))
        steps.extend(typed_step(text) for pair in pairs for text in pair)
        counts.append(len(pairs))
    count = len(values)
    return Drawn(
        tuple(values),
        math.fsum(values) / count,
        math.sqrt(2.0 * sum(counts)) / count,
        sum(counts) / count,
        reading_standard_uncertainty_cm3(burette, max(steps)),
    )


def drawings(fill: Fill) -> tuple[tuple[str, str], ...]:
    """The pairs (start, end) of a fill: one, or two where the burette was filled up once more."""
    if fill.refilled_start.strip() or fill.refilled_end.strip():
        return (fill.start, fill.end), (fill.refilled_start, fill.refilled_end)
    return ((fill.start, fill.end),)


def poured(pouring: Pouring, reduced: Reduction, of: Drawn) -> Poured:
    """The volume filled, as the model at the top of this module has it."""
    arrived_cm3 = reduced.factor * (of.mean_cm3 - pouring.loss_cm3)
    return Poured(
        arrived_cm3 + pouring.trapped_air_at_most_cm3 / 2.0,
        (
            reduced.factor * of.drawings,
            *(relative * arrived_cm3 for relative in reduced.relative),
            -reduced.factor,
            1.0,
        ),
    )
