"""Do two results for one engine agree? Their difference against what their uncertainties allow.

    E_n = (x₁ − x₂)/√(U₁² + U₂² − 2·k²·u(x₁, x₂)),   agreement where |E_n| ≤ 1, U₁ and U₂ with the same factor k = 2

ISO 13528:2022, 9.7, and ISO/IEC 17043, Annex B, for independent results (from memory). What both rest on alike, the
same declared bore or the same instrument, cannot make them differ: JCGM 100:2008, 5.2.2, takes its covariance off.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from app.metrology.errors import MeasurementError
from app.metrology.rounding import at_place, telling_place, told
from app.metrology.rules import ARITHMETIC_NOISE

COVERAGE_FACTOR = 2.0
_NOISE = 1e-9  # relative, of a covariance
_HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class StatedResult:
    """A result as it was stated: value and expanded uncertainty in the quantity's unit, and the U's own factor k."""

    value: float
    expanded_uncertainty: float
    coverage_factor: float


@dataclass(frozen=True, slots=True)
class Agreement:
    """What comparing two results found; difference and what is allowed in the quantity's unit."""

    difference: float  # first less second
    allowed: float  # expanded uncertainty of the difference, k = 2
    e_n: float
    agree: bool
    sentence: str


def covariance_of(first: Mapping[str, float], second: Mapping[str, float]) -> float:
    """u(x₁, x₂) of two results from the sources that both share, squared unit. JCGM 100:2008, F.1.2.3.

    Each mapping holds a source's signed contribution c·u, in the quantity's unit, under the name of that very error:
    what stands under the same name in both is one error.
    """
    return math.fsum([first[name] * second[name] for name in sorted(first.keys() & second.keys())])


def compare(first: StatedResult, second: StatedResult, covariance: float = 0.0, unit: str = "1") -> Agreement:
    """E_n of two results of one quantity. Raises MeasurementError(field, sentence) where there is nothing to compare.

    `covariance` is in the quantity's unit squared; a standard uncertainty u that both share in full is u².
    """
    u1, u2 = _standard_uncertainty(first, "first"), _standard_uncertainty(second, "second")
    if not abs(covariance) <= u1 * u2 * (1.0 + _NOISE):
        raise MeasurementError(
            "covariance",
            "What the two results share cannot be more than the uncertainty that they have. Leave out of it what only "
            "one of them rests on.",
        )
    variance = u1 * u1 + u2 * u2 - 2.0 * covariance
    if not variance > _NOISE * u1 * u2:
        raise MeasurementError(
            "covariance",
            "The two results rest on the very same measurement, so nothing in them could differ. Compare results that "
            "were measured apart.",
        )
    difference = first.value - second.value
    allowed = COVERAGE_FACTOR * math.sqrt(variance)
    e_n = difference / allowed
    agree = abs(difference) - allowed < ARITHMETIC_NOISE
    return Agreement(difference, allowed, e_n, agree, _sentence(abs(difference), allowed, e_n, agree, unit))


def _standard_uncertainty(result: StatedResult, which: str) -> float:
    if not math.isfinite(result.value):
        raise MeasurementError(f"{which}.value", f"The {which} result has no figure. Give what was measured.")
    if not 0.0 < result.expanded_uncertainty < math.inf:
        raise MeasurementError(
            f"{which}.expanded_uncertainty",
            f"The {which} result is stated with an uncertainty of {result.expanded_uncertainty:g}. No measurement is "
            "exact: give its expanded uncertainty, above 0.",
        )
    if not 0.0 < result.coverage_factor < math.inf:
        raise MeasurementError(
            f"{which}.coverage_factor",
            f"The coverage factor of the {which} result is given as {result.coverage_factor:g}; it is above 0, "
            "usually 2.",
        )
    return result.expanded_uncertainty / result.coverage_factor


def shown(e_n: float) -> str:
    """|E_n| to a hundredth, or to as many digits as tell it from 1."""
    return at_place(abs(e_n), telling_place(abs(e_n), (1.0,), _HUNDREDTH))


def _sentence(difference: float, allowed: float, e_n: float, agree: bool, unit: str) -> str:
    """Never rounded so that the figures say otherwise than the words."""
    apart, most = told(difference, allowed, (allowed,))
    with_unit = "" if unit == "1" else f" {unit}"
    words = f"{'they agree' if agree else 'they do not agree'}, E_n = {shown(e_n)}"
    return f"The two differ by {apart}{with_unit}; their uncertainties allow {most}{with_unit}: {words}."
