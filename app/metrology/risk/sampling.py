"""Plans that look at some of many: the single-sampling plan, and how capable a process is of keeping its limits."""

from typing import NamedTuple

from app.metrology.errors import MeasurementError
from app.metrology.risk.intervals import Interval
from app.metrology.risk.processes import Normal


class Capability(NamedTuple):
    """How a process stands to its limits; `cp` and `k` only where there are two. NIST/SEMATECH e-Handbook, 6.1.6."""

    cp: float | None  # width of the limits over six standard deviations
    cpk: float  # distance from the mean to the nearer limit over three of them
    k: float | None  # how far off the middle, in halves of the width
    nonconforming: float  # share outside, of a normal process


def probability_accepted(sample_size: int, acceptance_number: int, nonconforming: float) -> float:
    """P(at most c nonconforming among n) when each is so with this probability. NIST/SEMATECH e-Handbook, 6.2.3."""
    if not 0 <= acceptance_number <= sample_size:
        raise MeasurementError("acceptance_number", "The acceptance number lies between 0 and the sample size.")
    if not 0.0 <= nonconforming <= 1.0:
        raise MeasurementError("nonconforming", f"A share lies between 0 and 1; {nonconforming:g} was given.")
    from scipy import special

    return float(special.bdtr(acceptance_number, sample_size, nonconforming))


def capability(process: Normal, limits: Interval) -> Capability:
    """Indices of a normal process against one- or two-sided limits. Raises MeasurementError without any limit."""
    mean, spread = process.mean, process.standard_deviation
    if not limits.ends:
        raise MeasurementError("limits", "Capability needs at least one limit.")
    two_sided = len(limits.ends) == 2
    width = limits.upper - limits.lower
    return Capability(
        cp=width / (6.0 * spread) if two_sided else None,
        cpk=min(limits.upper - mean, mean - limits.lower) / (3.0 * spread),
        k=abs(limits.lower + limits.upper - 2.0 * mean) / width if two_sided else None,
        nonconforming=process.cdf(limits.lower) + 1.0 - process.cdf(limits.upper),
    )
