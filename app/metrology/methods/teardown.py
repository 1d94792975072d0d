"""Static compression ratio from the parts, engine taken down: every volume of the chamber measured by itself."""

from dataclasses import dataclass

from app.metrology.volumetry.pouring import Fill, Pouring


@dataclass(frozen=True, slots=True)
class Gasket:
    """The head gasket as it sits in the engine, in millimetres: the diameter of its opening, its thickness pressed."""

    bore_mm: float
    bore_standard_uncertainty_mm: float
    thickness_mm: float
    thickness_standard_uncertainty_mm: float


@dataclass(frozen=True, slots=True)
class Crevice:
    """The gap round the piston down to its top ring, in millimetres: bore less top land, crown to ring."""

    diametral_clearance_mm: float
    diametral_clearance_standard_uncertainty_mm: float
    height_mm: float
    height_standard_uncertainty_mm: float


@dataclass(frozen=True, slots=True)
class CylinderParts:
    """What was measured of one cylinder."""

    cylinder: int
    head_fills: tuple[Fill, ...]  # the chamber in the head under the plate, plug and valves in
    deck_clearance_mm: float  # at top dead centre: positive with the crown below the deck, negative with it above
    crown_fills: tuple[Fill, ...] = ()  # down the bore, land sealed with grease; none: a flat crown
    crown_depth_mm: float = 0.0  # of the crown's rim below the deck during those fills
    reliefs_cm3: float = 0.0  # valve reliefs that no fill above has counted


@dataclass(frozen=True, slots=True)
class TeardownObservations:
    """What is observed; volumes in cm³, lengths in mm. Standard uncertainties hold for every cylinder alike."""

    pouring: Pouring
    plate_flatness_mm: float  # how far plate and head may stand apart or bow, ±
    gasket: Gasket
    crevice: Crevice
    deck_clearance_standard_uncertainty_mm: float
    crown_depth_standard_uncertainty_mm: float
    reliefs_standard_uncertainty_cm3: float
    plug_cm3: float  # how much larger (negative: smaller) the fitted plug makes the chamber than it was poured
    plug_standard_uncertainty_cm3: float
    cylinders: tuple[CylinderParts, ...]
    repeatability: tuple[float, float] | None = None  # known beforehand: standard deviation of one fill in cm³, dof
