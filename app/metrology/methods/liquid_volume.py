"""Static compression ratio by liquid: the whole chamber poured at top dead centre through the plug hole."""

from dataclasses import dataclass

from app.metrology.volumetry.pouring import Fill, Pouring


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
