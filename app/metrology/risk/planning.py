"""Before anyone measures: what a rule with an instrument can police, and what would make it sharper.

Everything here follows from the standard deviations of the errors, shared by all cylinders of an engine or own to each,
and from where the rule accepts and rejects; no reading is needed.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from app.metrology.errors import MeasurementError
from app.metrology.risk.intervals import DecisionLimits, Interval
from app.metrology.risk.operating_characteristic import Errors, alike
from app.metrology.risk.processes import Distribution, Normal, error_distribution
from app.metrology.risk.searching import crossing

USUAL_CYLINDERS = (1, 4, 6, 8, 12)
_PRECISION = 1e-5  # of the standard deviation of the errors


@dataclass(frozen=True, slots=True)
class ErrorPart:
    """One source of error in units of ratio: of one cylinder's mean indication, repeats already taken into account."""

    name: str
    label: str
    standard_uncertainty: float
    shared: bool  # one and the same error for all cylinders of the engine
    rectangular: bool = False  # equally likely within ±√3·u; else normal


@dataclass(frozen=True, slots=True)
class Policing:
    """What is caught and what is let pass; ratios are true ones, at a probability that the caller chose."""

    cylinders: int
    rejected_from: float | None  # true ratios from here on are rejected with that probability; None: never rejected
    accepted_to: float | None  # true ratios up to here are accepted with it; None: none is
    excess: float | None  # how far past the tolerance limit `rejected_from` lies; negative where it lies inside
    reserve: float | None  # how far inside it `accepted_to` lies; negative where it lies past


@dataclass(frozen=True, slots=True)
class WhatIf:
    """One change to the measurement, and what it would police at each number of cylinders."""

    label: str
    standard_uncertainty: float  # of one cylinder
    policing: tuple[Policing, ...]


LimitsFor = Callable[[Sequence[ErrorPart], int], DecisionLimits]


def changed(parts: Sequence[ErrorPart], name: str, standard_uncertainty: float) -> tuple[ErrorPart, ...]:
    """The same measurement but for one part, known better or worse; MeasurementError when there is no such part."""
    if all(part.name != name for part in parts):
        raise MeasurementError(name, f"There is no part {name} in this budget to change.")
    return tuple(
        replace(part, standard_uncertainty=standard_uncertainty) if part.name == name else part for part in parts
    )


def errors_of(parts: Sequence[ErrorPart], averaged_over: int = 1) -> Errors:
    """The errors that these parts make; own ones divided by √N for the mean of N cylinders. JCGM 100:2008, 5.1.2.

    The greatest shared rectangular part stays rectangular; every other part is taken as normal by its standard
    deviation, which a sum of several comes close to (JCGM 100:2008, G.2.1).
    """
    for part in parts:
        if not 0.0 <= part.standard_uncertainty < math.inf:
            raise MeasurementError(part.name, f"The standard uncertainty of {part.label} must be 0 or more.")
    shared = sorted((part for part in parts if part.shared), key=_rectangular_first)
    half_width = 0.0
    if shared and shared[0].rectangular:
        half_width = math.sqrt(3.0) * shared.pop(0).standard_uncertainty
    own = math.hypot(*(part.standard_uncertainty for part in parts if not part.shared)) / math.sqrt(averaged_over)
    return Errors(
        error_distribution(half_width, math.hypot(*(part.standard_uncertainty for part in shared))),
        Normal(0.0, own) if own > 0.0 else None,
    )


def standard_uncertainty(parts: Sequence[ErrorPart], averaged_over: int = 1) -> float:
    """Of one cylinder's value, or of the mean of several; in units of ratio."""
    return _together(errors_of(parts, averaged_over))


def one_error(parts: Sequence[ErrorPart], averaged_over: int = 1) -> Distribution:
    """The error of a single value, shared and own parts together. MeasurementError when none is above 0."""
    error = errors_of([_as_shared(part, averaged_over) for part in parts]).shared
    if error is None:
        raise MeasurementError("parts", "Name at least one part with an uncertainty above 0.")
    return error


def policing(
    tolerance_limit: float,
    sign: int,
    limits: DecisionLimits,
    errors: Errors,
    cylinders: int,
    probability: float,
) -> Policing:
    """What engines with `cylinders` judged values, all at one true ratio, are rejected or accepted with a probability.

    `sign` is +1 for a maximum and −1 for a minimum, as in `RuleKind`. A rule for the mean judges one value.
    """
    if not 0.5 <= probability < 1.0:
        raise MeasurementError(
            "probability", f"The probability asked for is {probability:g}; it lies from 0.5 up to below 1."
        )
    rejected_from = _turn(cylinders, errors, limits.rejection, sign, probability, rejected=True)
    accepted_to = _turn(cylinders, errors, limits.acceptance, sign, probability, rejected=False)
    return Policing(
        cylinders=cylinders,
        rejected_from=rejected_from,
        accepted_to=accepted_to,
        excess=None if rejected_from is None else sign * (rejected_from - tolerance_limit),
        reserve=None if accepted_to is None else sign * (tolerance_limit - accepted_to),
    )


def what_ifs(
    changes: Sequence[tuple[str, Sequence[ErrorPart]]],
    tolerance_limit: float,
    sign: int,
    limits_for: LimitsFor,
    probability: float,
    cylinders: Sequence[int] = USUAL_CYLINDERS,
    *,
    averaged: bool = False,
) -> tuple[WhatIf, ...]:
    """For each (label, parts) what it would police, by the limits that `limits_for` gives it at each cylinder count.

    Every cylinder is judged; with `averaged` their mean is, as one value.
    """

    def policed(parts: Sequence[ErrorPart], count: int) -> Policing:
        errors = errors_of(parts, count if averaged else 1)
        judged = 1 if averaged else count
        found = policing(tolerance_limit, sign, limits_for(parts, count), errors, judged, probability)
        return replace(found, cylinders=count)

    return tuple(
        WhatIf(label, standard_uncertainty(parts), tuple(policed(parts, count) for count in cylinders))
        for label, parts in changes
    )


def _turn(
    cylinders: int, errors: Errors, within: Interval, sign: int, probability: float, *, rejected: bool
) -> float | None:
    """The true ratio from which on rejection is, or up to which acceptance is, at least as likely as asked for.

    Between two limits the search goes no further inwards than halfway: beyond, the other limit takes over.
    """
    bound, spread = within.upper if sign > 0 else within.lower, _together(errors)
    if not math.isfinite(bound):
        return None
    if spread == 0.0:
        return bound
    halfway = (within.lower - within.upper) / 2.0
    characteristic = alike(cylinders, errors, DecisionLimits(within, within))

    def past(outwards: float) -> float:
        odds = characteristic(bound + sign * outwards)
        return odds.rejected - probability if rejected else probability - odds.accepted

    outwards = crossing(past, 0.0, spread, _PRECISION, halfway)
    if outwards == halfway and not rejected:
        return None
    return bound + sign * outwards


def _together(errors: Errors) -> float:
    return math.hypot(*(part.standard_deviation for part in errors if part is not None))


def _rectangular_first(part: ErrorPart) -> tuple[bool, float]:
    return not part.rectangular, -part.standard_uncertainty


def _as_shared(part: ErrorPart, averaged_over: int) -> ErrorPart:
    if part.shared:
        return part
    averaged = part.standard_uncertainty / math.sqrt(averaged_over)
    return replace(part, standard_uncertainty=averaged, shared=True, rectangular=False)
