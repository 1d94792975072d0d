"""How well repeated indications agree: from this cylinder's own scatter, the instrument's history, or a bound."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.distributions import INFINITE, variance_ratio_quantile

ASSUMED_STEPS = 2.0
SIGNIFICANCE = 0.01  # of the test whether a cylinder's scatter still agrees with the instrument's history


@dataclass(frozen=True, slots=True)
class Repeatability:
    """Standard deviation of a single indication and of the mean used, in units of ratio, and where they come from."""

    standard_deviation: float
    standard_uncertainty_of_mean: float
    degrees_of_freedom: float
    source: str
    distribution: str
    degrees_of_freedom_in_common: float = 0.0  # those that come from the history, the same for every cylinder


def scatter(values: Sequence[float]) -> float:
    """Experimental standard deviation of at least two values, same unit, n − 1 dof. JCGM 100:2008, 4.2.2."""
    mean = math.fsum(values) / len(values)
    return math.sqrt(math.fsum((value - mean) ** 2 for value in values) / (len(values) - 1))


def evaluate_repeatability(
    values: Sequence[float], resolution: float, prior: tuple[float, float] | None
) -> Repeatability:
    """Repeatability of the mean of these indications (ratio), pooled with a prior (standard deviation, dof) when given.

    JCGM 100:2008, 4.2.3 (mean of n) and 4.2.4 (pooled estimate). A pooled estimate supposes one and the same scatter;
    where this cylinder's is significantly wider than the history's (F test, one-sided, 1 %), the history is not drawn
    on, lest a long calm one drown what this engine shows. One indication without a prior shows no scatter at all: then
    a standard deviation of two steps of the resolution is taken, as a bound and so with infinite degrees of freedom
    (G.4.3).
    """
    count = len(values)
    own_dof = count - 1
    own = scatter(values) if own_dof else 0.0
    if prior is not None and not _wider(own, own_dof, prior):
        return _pooled(own, count, prior)
    if own_dof:
        source = f"scatter of {count} indications"
        if prior is not None:
            source += f", significantly wider than the instrument's history ({prior[0]:.2g}), which is not drawn on"
        return Repeatability(own, own / math.sqrt(count), float(own_dof), source, "t")
    return Repeatability(
        ASSUMED_STEPS * resolution,
        ASSUMED_STEPS * resolution,
        INFINITE,
        "a single indication and no history: two steps of the resolution assumed, as a bound",
        "normal",
    )


def _wider(own: float, own_dof: int, prior: tuple[float, float]) -> bool:
    deviation, dof = prior
    return bool(own_dof) and own**2 > variance_ratio_quantile(1.0 - SIGNIFICANCE, own_dof, dof) * deviation**2


def _pooled(own: float, count: int, prior: tuple[float, float]) -> Repeatability:
    own_dof = count - 1
    prior_deviation, prior_dof = prior
    dof = own_dof + prior_dof
    history = f"the instrument's history on its reference volumes ({prior_deviation:.2g} for one indication)"
    if math.isinf(prior_dof):
        deviation = prior_deviation
    else:
        deviation = math.sqrt((own_dof * own**2 + prior_dof * prior_deviation**2) / dof)
    source = f"scatter of {count} indications pooled with {history}" if own_dof else f"{history}; a single indication"
    return Repeatability(deviation, deviation / math.sqrt(count), dof, source, "t", prior_dof)


def pooled_history(runs: Sequence[Sequence[float]]) -> tuple[float, float] | None:
    """(standard deviation, dof) of one indication from several runs of repeats, units of ratio: a prior for `assess`.

    JCGM 100:2008, 4.2.4 (pooled estimate), each run about its own mean. None when no run repeats anything.
    """
    repeated = [run for run in runs if len(run) > 1]
    dof = sum(len(run) - 1 for run in repeated)
    if not dof:
        return None
    return math.sqrt(math.fsum((len(run) - 1) * scatter(run) ** 2 for run in repeated) / dof), float(dof)
