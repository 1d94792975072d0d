"""What is observed of an engine taken down, as it is stored with a verdict, and what of it cannot be."""

from dataclasses import dataclass

from app.metrology.errors import MeasurementError
from app.metrology.inputs import Engine
from app.metrology.observed import require_cylinders, require_prior, require_standard_uncertainty
from app.metrology.plausible import between
from app.metrology.units import LENGTHS_MM
from app.metrology.volumetry.checking import check_fills, check_pouring, check_together
from app.metrology.volumetry.delivered import drawn
from app.metrology.volumetry.pouring import Burette, Fill, Pouring

THINNEST_GASKET_MM, THICKEST_GASKET_MM = 0.2, 10.0
INCH_MM = float(LENGTHS_MM["in"])


@dataclass(frozen=True, slots=True)
class Gasket:
    """The head gasket as it sits in the engine, in millimetres: the diameter of its opening, its thickness pressed.

    An engine without one has a thickness of 0.
    """

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
    plate_flatness_mm: float  # how far the plate may bow or stand off, ±
    gasket: Gasket
    crevice: Crevice
    deck_clearance_standard_uncertainty_mm: float
    crown_depth_standard_uncertainty_mm: float
    reliefs_standard_uncertainty_cm3: float
    plug_cm3: float  # how much larger (negative: smaller) the fitted plug makes the chamber than it was poured
    plug_standard_uncertainty_cm3: float
    cylinders: tuple[CylinderParts, ...]
    repeatability: tuple[float, float] | None = None  # known beforehand: standard deviation of one fill in cm³, dof


def check_parts(engine: Engine, observations: TeardownObservations) -> None:
    """Raises MeasurementError at the first observation that cannot be by itself."""
    check_pouring(observations.pouring, "observations.pouring")
    between(
        observations.plate_flatness_mm,
        0.0,
        0.5,
        "observations.plate_flatness_mm",
        "How far the plate may bow or stand off, in mm either way,",
        "0.02",
    )
    _check_gasket(engine, observations.gasket)
    _check_crevice(observations.crevice)
    for name, value, greatest, what, example in (
        ("deck_clearance", observations.deck_clearance_standard_uncertainty_mm, 1.0, "the deck clearance", "0.02"),
        ("crown_depth", observations.crown_depth_standard_uncertainty_mm, 1.0, "the crown's depth", "0.02"),
    ):
        require_standard_uncertainty(
            value, greatest, f"observations.{name}_standard_uncertainty_mm", f"{what}, in mm,", example
        )
    between(observations.plug_cm3, -5.0, 5.0, "observations.plug_cm3", "What the fitted plug adds, in cm³,", "-0.2")
    for name, value, what in (
        ("reliefs", observations.reliefs_standard_uncertainty_cm3, "the valve reliefs"),
        ("plug", observations.plug_standard_uncertainty_cm3, "what the plug adds"),
    ):
        require_standard_uncertainty(
            value, 5.0, f"observations.{name}_standard_uncertainty_cm3", f"{what}, in cm³,", "0.05"
        )
    require_prior(observations.repeatability, 5.0, "observations.repeatability", "0.1")
    require_cylinders([one.cylinder for one in observations.cylinders], engine, "observations.cylinders")
    if not observations.cylinders:
        raise MeasurementError("observations.cylinders", "No cylinder was measured. Enter the parts of at least one.")
    for one in observations.cylinders:
        _check_cylinder(engine, one, observations.pouring.burette)


def _check_gasket(engine: Engine, gasket: Gasket) -> None:
    field = "observations.gasket"
    least_mm, greatest_mm = 0.95 * engine.bore_mm, 1.25 * engine.bore_mm
    if not least_mm <= gasket.bore_mm <= greatest_mm:
        raise MeasurementError(
            f"{field}.bore_mm",
            f"A gasket opening of {gasket.bore_mm:g} mm does not go with a bore of {engine.bore_mm:g} mm: enter its "
            f"diameter, {least_mm:.1f} mm to {greatest_mm:.1f} mm.{_inches(gasket.bore_mm, least_mm, greatest_mm)}",
        )
    thickness_mm = gasket.thickness_mm
    if thickness_mm != 0.0 and not THINNEST_GASKET_MM <= thickness_mm <= THICKEST_GASKET_MM:
        raise MeasurementError(
            f"{field}.thickness_mm",
            f"A head gasket of {thickness_mm:g} mm cannot be: pressed it measures {THINNEST_GASKET_MM:g} mm to "
            f"{THICKEST_GASKET_MM:g} mm, and 0 where there is none."
            f"{_inches(thickness_mm, THINNEST_GASKET_MM, THINNEST_GASKET_MM * INCH_MM)}",
        )
    for name, value, what in (
        ("bore", gasket.bore_standard_uncertainty_mm, "the gasket's opening"),
        ("thickness", gasket.thickness_standard_uncertainty_mm, "the gasket's thickness"),
    ):
        require_standard_uncertainty(value, 1.0, f"{field}.{name}_standard_uncertainty_mm", f"{what}, in mm,", "0.02")


def _inches(length: float, least_mm: float, greatest_mm: float) -> str:
    if least_mm <= length * INCH_MM <= greatest_mm:
        return f" Was it typed in inches? {length:g} in are {length * INCH_MM:g} mm."
    return ""


def _check_crevice(crevice: Crevice) -> None:
    field = "observations.crevice"
    for name, value, greatest, what, example in (
        ("diametral_clearance", crevice.diametral_clearance_mm, 3.0, "bore less top land", "0.5"),
        ("height", crevice.height_mm, 30.0, "the height from crown to top ring", "6"),
    ):
        between(value, 0.0, greatest, f"{field}.{name}_mm", f"{what[0].upper()}{what[1:]}, in mm,", example)
    for name, value, what in (
        ("diametral_clearance", crevice.diametral_clearance_standard_uncertainty_mm, "bore less top land"),
        ("height", crevice.height_standard_uncertainty_mm, "the height from crown to top ring"),
    ):
        require_standard_uncertainty(value, 1.0, f"{field}.{name}_standard_uncertainty_mm", f"{what}, in mm,", "0.05")


def _check_cylinder(engine: Engine, one: CylinderParts, burette: Burette) -> None:
    field = f"observations.cylinders.{one.cylinder}"
    if not one.head_fills:
        raise MeasurementError(
            f"{field}.head_fills", f"The head of cylinder {one.cylinder} was not filled. Enter at least one fill."
        )
    for name, fills in (("head_fills", one.head_fills), ("crown_fills", one.crown_fills)):
        check_fills(fills, burette, f"{field}.{name}")
        if fills:
            check_together(drawn(burette, fills).values_cm3, f"{field}.{name}")
    between(one.deck_clearance_mm, -10.0, 20.0, f"{field}.deck_clearance_mm", "The deck clearance in mm", "-0.15")
    if one.crown_fills and not 0.0 < one.crown_depth_mm <= engine.stroke_mm:
        raise MeasurementError(
            f"{field}.crown_depth_mm",
            f"The crown was filled with its rim {one.crown_depth_mm:g} mm below the deck. Enter how far down it was: "
            f"above 0 and at most the stroke of {engine.stroke_mm:g} mm.",
        )
    if not one.crown_fills and one.crown_depth_mm != 0.0:
        raise MeasurementError(
            f"{field}.crown_depth_mm",
            f"The crown of cylinder {one.cylinder} was not filled, so the depth has nothing to go with. Enter its "
            "fills, or a depth of 0 for a flat crown.",
        )
    between(one.reliefs_cm3, 0.0, 30.0, f"{field}.reliefs_cm3", "The valve reliefs, in cm³,", "3.5")
