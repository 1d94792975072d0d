"""Displacement from measured bores and strokes, engine taken down, lengths reduced to 20 °C."""

from dataclasses import dataclass


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
    block_metal: str  # a key of METALS: the bores expand with it
    crank_metal: str  # a key of METALS: the stroke expands with it
    cylinders: tuple[CylinderLengths, ...]
