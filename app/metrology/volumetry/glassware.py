"""Burettes: what their class promises, how finely they can be read, how they expand.

A class tolerance is the greatest error at any point of the scale and the greatest difference of the errors of any two
(ISO 385:2005, clause 6, from memory), so it holds for the volume between two readings, whichever they are.
"""

from dataclasses import dataclass

from app.metrology.distributions import standard_uncertainty_rectangular, standard_uncertainty_triangular
from app.metrology.volumetry.pouring import Burette

REFERENCE_C = 20.0  # ISO 385:2005, 4.3: burettes deliver what they say at 20 °C
READ_TO = 0.2  # of a graduation: common practice, no source
STATED = "stated"

# nominal volume: ± limits of class A (ASTM E287 class A, ISO 385 class AS, table from memory), cm³
CLASS_A_TOLERANCES_CM3: dict[float, float] = {10.0: 0.02, 25.0: 0.03, 50.0: 0.05, 100.0: 0.10}
CLASS_B_FACTOR = 2.0  # ASTM E287-02(2019), 1.1.2: class B lies within twice the range of class A; found

BURETTE_CLASSES: dict[str, str] = {
    "a": "class A or AS",
    "b": "class B",
    STATED: "limits stated by its maker or its certificate",
}


@dataclass(frozen=True, slots=True)
class Glass:
    """What a burette is made of: cubic expansion and its standard uncertainty, per kelvin."""

    label: str
    expansion_per_k: float
    expansion_standard_uncertainty_per_k: float
    source: str


_HANDBOOKS = "three times the linear one of engineering handbooks, from memory"
GLASSES: dict[str, Glass] = {
    "borosilicate": Glass("borosilicate glass", 9.9e-6, 0.5e-6, "ISO 4787, from memory"),
    "soda_lime": Glass("soda-lime glass", 27.0e-6, 1.5e-6, "ISO 4787, from memory"),
    "acrylic": Glass("acrylic", 2.1e-4, 0.3e-4, _HANDBOOKS),
    "polypropylene": Glass("polypropylene", 4.5e-4, 0.6e-4, _HANDBOOKS),
}


def tolerance_cm3(burette: Burette) -> float:
    """± limits of the volume between two readings, in cm³, of a burette that `check_burette` has let pass."""
    if burette.stated_tolerance_cm3 is not None:
        return burette.stated_tolerance_cm3
    return CLASS_A_TOLERANCES_CM3[burette.nominal_cm3] * (CLASS_B_FACTOR if burette.tolerance_class == "b" else 1.0)


def tolerance_standard_uncertainty(burette: Burette) -> tuple[float, str]:
    """(standard uncertainty in cm³, distribution) of the volume between two readings.

    EURACHEM/CITAC QUAM:2012, example A1 and Appendix E: triangular where an effective production makes the nominal
    value likelier than the limits, as class A glass is; rectangular where nothing of the kind is known, so for class B,
    sorted by limits alone, and for limits that someone states.
    """
    if burette.tolerance_class == "a":
        return standard_uncertainty_triangular(tolerance_cm3(burette)), "triangular"
    return standard_uncertainty_rectangular(tolerance_cm3(burette)), "rectangular"


def reading_standard_uncertainty_cm3(burette: Burette, step_cm3: float) -> float:
    """Of one reading of the meniscus: rectangular within a fifth of a graduation, or half the step typed if wider."""
    return standard_uncertainty_rectangular(max(READ_TO * burette.graduation_cm3, step_cm3 / 2.0))
