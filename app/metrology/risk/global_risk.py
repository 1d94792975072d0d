"""Risks of deciding wrongly: of one value measured, and over all engines of a class. JCGM 106:2012, clauses 7 and 9.

The consumer is who relies on the verdict, here the other competitors: their risk is a nonconforming engine accepted.
The producer is the competitor whose engine is measured: the risk is a conforming engine rejected.
"""

import math
from dataclasses import dataclass

import numpy as np

from app.metrology.errors import MeasurementError
from app.metrology.risk.intervals import DecisionLimits, Interval
from app.metrology.risk.operating_characteristic import Characteristic, Errors, alike
from app.metrology.risk.processes import Distribution
from app.metrology.risk.quadrature import Array, integrate

_STEPS = (-4.0, 4.0)  # standard deviations of the error about the limits, where the odds change
_NONE = 1e-12  # a share of so few says nothing
_IMPOSSIBLE = 1e-6  # against the density at the middle of what is to be expected


@dataclass(frozen=True, slots=True)
class GlobalRisk:
    """Probabilities for an engine taken from the class at random; `error_bound` holds for each unconditional one."""

    nonconforming: float
    accepted: float
    rejected: float
    inconclusive: float
    consumers_risk: float  # nonconforming and accepted: R_C
    producers_risk: float  # conforming and rejected: R_P
    nonconforming_among_accepted: float | None  # None where none is accepted
    conforming_among_rejected: float | None
    accepted_among_nonconforming: float | None
    rejected_among_conforming: float | None
    error_bound: float


@dataclass(frozen=True, slots=True)
class SpecificRisk:
    """What is known of the true value after one measurement, as the probability of either side of the limits."""

    conforming: float  # the producer's risk if this engine is rejected
    nonconforming: float  # the consumer's risk if it is accepted
    error_bound: float


def global_risk(
    process: Distribution, tolerance: Interval, characteristic: Characteristic, turns: tuple[float, ...] = ()
) -> GlobalRisk:
    """Risks over a class whose engines' true values follow `process`. JCGM 106:2012, 9.5, A.4 and A.5.

    `characteristic` gives the odds of each verdict at a true value; `turns` are true values about which they change
    fast, for the quadrature. Values in the unit of the process.
    """
    bounds: list[float] = []

    def joint(true_values: Array) -> Array:
        found = [characteristic(true_value) for true_value in true_values.tolist()]
        bounds.extend(odds.error_bound for odds in found)
        accepted, rejected = np.array([(odds.accepted, odds.rejected) for odds in found]).T
        inside = _inside(tolerance, true_values)
        past = 1.0 - inside
        shares: Array = np.stack([inside * accepted, inside * rejected, past * accepted, past * rejected])
        return process.densities(true_values) * shares

    cuts = _between(process.breaks[0], process.breaks[-1], (*process.breaks, *tolerance.ends, *turns))
    (right_accepted, right_rejected, wrong_accepted, wrong_rejected), bound = integrate(joint, cuts)
    accepted, rejected = right_accepted + wrong_accepted, right_rejected + wrong_rejected
    nonconforming = process.cdf(tolerance.lower) + 1.0 - process.cdf(tolerance.upper)
    return GlobalRisk(
        nonconforming=nonconforming,
        accepted=accepted,
        rejected=rejected,
        inconclusive=max(0.0, 1.0 - accepted - rejected),
        consumers_risk=wrong_accepted,
        producers_risk=right_rejected,
        nonconforming_among_accepted=_share(wrong_accepted, accepted),
        conforming_among_rejected=_share(right_rejected, rejected),
        accepted_among_nonconforming=_share(wrong_accepted, nonconforming),
        rejected_among_conforming=_share(right_rejected, 1.0 - nonconforming),
        error_bound=bound + max(bounds),
    )


def measured_once(
    process: Distribution, tolerance: Interval, limits: DecisionLimits, error: Distribution
) -> GlobalRisk:
    """The risks where one value is measured, with this error, and judged by these limits."""
    return measured_engine(process, tolerance, limits, Errors(error, None), 1)


def measured_engine(
    process: Distribution, tolerance: Interval, limits: DecisionLimits, errors: Errors, cylinders: int
) -> GlobalRisk:
    """The risks where every cylinder is judged; an engine's cylinders are taken to have one true ratio, the process's.

    That is the case in which a conforming engine is most often rejected.
    """
    spread = math.hypot(*(part.standard_deviation for part in errors if part is not None))
    turns = tuple(end + step * spread for end in limits.ends for step in _STEPS)
    return global_risk(process, tolerance, alike(cylinders, errors, limits), turns)


def specific_risk(
    measured: float, error: Distribution, tolerance: Interval, process: Distribution | None = None
) -> SpecificRisk:
    """The probability that the true value behind one measured value conforms. JCGM 106:2012, 7.2 and 9.3.

    Without a `process` nothing is taken to be known of the engine beforehand. With one, Bayes' theorem weighs it in;
    raises MeasurementError when the process makes such a measured value all but impossible.
    """
    if process is None:
        conforming = error.cdf(measured - tolerance.lower) - error.cdf(measured - tolerance.upper)
        return SpecificRisk(conforming, 1.0 - conforming, 0.0)

    def weight(true_values: Array) -> Array:
        densities = process.densities(true_values) * error.densities(measured - true_values)
        return np.stack([densities, densities * _inside(tolerance, true_values)])

    ends = [measured - end for end in error.breaks]
    begin, end = max(process.breaks[0], min(ends)), min(process.breaks[-1], max(ends))
    scale = 1.0 / math.hypot(process.standard_deviation, error.standard_deviation)  # of the densities integrated
    (whole, inside), bound = (0.0, 0.0), 0.0
    if begin < end:
        cuts = _between(begin, end, (*process.breaks, *ends, *tolerance.ends))
        (whole, inside), bound = integrate(weight, cuts, _IMPOSSIBLE * 1e-9 * scale)
    if whole < _IMPOSSIBLE * scale:
        raise MeasurementError(
            "measured",
            f"By the spread taken for the class a measured value of {measured:g} cannot come about. "
            "Check the value, or take a wider spread.",
        )
    conforming = min(1.0, inside / whole)
    return SpecificRisk(conforming, 1.0 - conforming, 2.0 * bound / whole)


def _inside(tolerance: Interval, true_values: Array) -> Array:
    """1 for each value within the limits, 0 for each past them."""
    return np.where((true_values >= tolerance.lower) & (true_values <= tolerance.upper), 1.0, 0.0)


def _between(begin: float, end: float, cuts: tuple[float, ...]) -> list[float]:
    return [begin, *(cut for cut in cuts if begin < cut < end), end]


def _share(part: float, whole: float) -> float | None:
    return part / whole if whole > _NONE else None
