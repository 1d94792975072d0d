"""What is observed when a volume is filled from a burette, as it is stored with a verdict."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Burette:
    """The burette; volumes in cm³, its scale true at 20 °C. `stated_tolerance_cm3` counts for the class "stated"."""

    nominal_cm3: float
    tolerance_class: str  # a key of BURETTE_CLASSES: a | b | stated
    graduation_cm3: float
    material: str = "borosilicate"  # a key of GLASSES
    stated_tolerance_cm3: float | None = None  # ±, where no standard knows the burette


@dataclass(frozen=True, slots=True)
class Pouring:
    """What all fills of one sheet have in common.

    Temperatures in °C, their standard uncertainties in kelvin; what went astray at each filling in cm³.
    """

    burette: Burette
    liquid: str  # a key of LIQUIDS
    liquid_temperature_c: float  # in the burette, the glass with it
    liquid_temperature_standard_uncertainty_k: float
    metal_temperature_c: float  # of the parts filled
    metal_temperature_standard_uncertainty_k: float
    metal: str  # a key of METALS
    loss_cm3: float  # left the burette and is not in what was filled: evaporated, on the funnel, past the rings
    loss_standard_uncertainty_cm3: float
    trapped_air_at_most_cm3: float  # that the liquid could not push out: anything from none to this


@dataclass(frozen=True, slots=True)
class Fill:
    """One filling, readings of the burette in cm³ as typed: the digits show how finely it was read.

    The scale counts downwards from the top, so the end is the larger figure. Where the burette had to be filled up once
    more in between, the second pair is its second drawing; both are empty otherwise.
    """

    start: str
    end: str
    refilled_start: str = ""
    refilled_end: str = ""
