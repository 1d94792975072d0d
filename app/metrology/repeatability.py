"""How well repeated indications agree: from the instrument's history, this sheet's own scatter, or a bound."""

import math
from collections.abc import Sequence
from functools import lru_cache
from typing import NamedTuple

from app.metrology.distributions import INFINITE, variance_ratio_quantile

ASSUMED_STEPS = 2.0
SIGNIFICANCE = 0.01  # of the tests whether a run's scatter still agrees with the instrument's history
POOLING_SIGNIFICANCE = 0.05  # of the test whether the cylinders of a sheet repeat alike, as ISO 5725-2 has it

_STUDIED = "the gauge study adopted for the instrument"
HISTORY, SHEET, OWN, WIDER, ASSUMED = "history", "sheet", "own", "wider", "assumed"


class Repeatability(NamedTuple):
    """Of one cylinder, in units of ratio: standard deviation of one indication, standard uncertainty of their mean."""

    standard_deviation: float
    standard_uncertainty_of_mean: float
    dof: float
    dof_in_common: float  # those that other cylinders of the sheet draw on too
    drawn_from: str  # history | sheet | own | wider | assumed


def scatter(values: Sequence[float]) -> float:
    """Experimental standard deviation of at least two values, same unit, n − 1 dof. JCGM 100:2008, 4.2.2."""
    count = len(values)
    mean = math.fsum(values) / count
    return math.sqrt(math.fsum([(value - mean) ** 2 for value in values]) / (count - 1))


def evaluate_repeatability(
    cylinders: Sequence[Sequence[float]], resolutions: Sequence[float], prior: tuple[float, float] | None
) -> list[Repeatability]:
    """Repeatability of each cylinder's mean from its indications (ratio), as JCGM 100:2008, 4.2.3 and 4.2.4.

    A pooled estimate supposes one and the same scatter. With a prior (standard deviation, dof), the instrument's
    history, a cylinder is pooled with it unless its own scatter is significantly wider (F test, one-sided, 1 %), lest a
    long calm history drown what this engine shows. Without one, the cylinders of the sheet are pooled with each other
    but for those that scatter significantly more than the rest (Cochran's test, 5 %, ISO 5725-2). One indication of a
    sheet without any repeat shows no scatter at all: then a standard deviation of two steps of the resolution is taken,
    as a bound and so with infinite degrees of freedom (G.4.3).
    """
    scatters = [scatter(values) if len(values) > 1 else 0.0 for values in cylinders]
    if prior is not None:
        return [_with_history(len(values), own, prior) for values, own in zip(cylinders, scatters, strict=True)]
    pooled = _pool_of_sheet([len(values) for values in cylinders], scatters)
    return [
        _without_history(len(values), own, resolution, pooled)
        for values, own, resolution in zip(cylinders, scatters, resolutions, strict=True)
    ]


def _with_history(count: int, own: float, prior: tuple[float, float]) -> Repeatability:
    deviation, history_dof = prior
    own_dof = count - 1
    if own_dof and own * own > _widest_ratio(own_dof, history_dof) * deviation * deviation:
        return Repeatability(own, own / math.sqrt(count), float(own_dof), 0.0, WIDER)
    dof = own_dof + history_dof
    if own_dof and not math.isinf(history_dof):
        deviation = math.sqrt((own_dof * own * own + history_dof * deviation * deviation) / dof)
    return Repeatability(deviation, deviation / math.sqrt(count), dof, history_dof, HISTORY)


def _without_history(
    count: int, own: float, resolution: float, pooled: tuple[float, float, float] | None
) -> Repeatability:
    if pooled is not None:
        deviation, dof, widest = pooled
        if own <= widest:
            return Repeatability(deviation, deviation / math.sqrt(count), dof, dof, SHEET)
    if count > 1:
        return Repeatability(own, own / math.sqrt(count), float(count - 1), 0.0, OWN)
    return Repeatability(ASSUMED_STEPS * resolution, ASSUMED_STEPS * resolution, INFINITE, 0.0, ASSUMED)


def _pool_of_sheet(counts: Sequence[int], scatters: Sequence[float]) -> tuple[float, float, float] | None:
    """(standard deviation, dof, the widest scatter that is part of it) of at least two cylinders that repeat alike."""
    rising = sorted((own, count - 1) for count, own in zip(counts, scatters, strict=True) if count > 1)
    while len(rising) > 1:
        dof = sum(own_dof for _, own_dof in rising)
        variances = math.fsum([own_dof * own * own for own, own_dof in rising])
        widest, its_dof = rising[-1]
        if its_dof * widest * widest <= cochran_share(its_dof, dof - its_dof, len(rising)) * variances:
            return math.sqrt(variances / dof), float(dof), widest
        rising.pop()
    return None


@lru_cache(maxsize=1024)
def cochran_share(dof: float, dof_of_rest: float, groups: int, significance: float = POOLING_SIGNIFICANCE) -> float:
    """Critical share of the greatest of `groups` sums of squares in all of them together; ISO 5725-2, 8.3.

    With equal numbers of repeats this is Cochran's C. The greatest is one of many: by Bonferroni its F has the
    significance divided by the number of groups.
    """
    f = variance_ratio_quantile(1.0 - significance / groups, dof, dof_of_rest)
    return dof * f / (dof * f + dof_of_rest)


@lru_cache(maxsize=1024)
def _widest_ratio(own_dof: int, history_dof: float) -> float:
    return variance_ratio_quantile(1.0 - SIGNIFICANCE, own_dof, history_dof)


def pooled_scatter(runs: Sequence[Sequence[float]]) -> tuple[float, float] | None:
    """(standard deviation, dof) of one value from several runs of repeats, each about its own mean; their unit.

    JCGM 100:2008, 4.2.4 (pooled estimate). None when no run repeats anything.
    """
    repeated = [run for run in runs if len(run) > 1]
    dof = sum(len(run) - 1 for run in repeated)
    if not dof:
        return None
    return math.sqrt(math.fsum((len(run) - 1) * scatter(run) ** 2 for run in repeated) / dof), float(dof)


def pooled_history(runs: Sequence[Sequence[float]]) -> tuple[float, float] | None:
    """`pooled_scatter` of an instrument's verifications, units of ratio: a prior for `assess`.

    One run with a loose hose or a volume badly seated would widen every later budget. So the run with the widest
    scatter is left out for as long as it is significantly wider than the rest (Cochran's test as ISO 5725-2, 8.3 has
    it, at 1 %, the level of an outlier there). At least two runs stay: of two nobody can say which is the odd one. So
    do all where the rest shows no scatter at all, for then the step of the display hides it.
    """
    rising = sorted((run for run in runs if len(run) > 1), key=scatter)
    while len(rising) > 2 and _stands_out(rising):
        rising.pop()
    return pooled_scatter(rising)


def _stands_out(rising: Sequence[Sequence[float]]) -> bool:
    """The last, widest one against the others together."""
    squares = [(len(run) - 1) * scatter(run) ** 2 for run in rising]
    rest = math.fsum(squares[:-1])
    if not rest:
        return False
    own_dof, dof_of_rest = len(rising[-1]) - 1, sum(len(run) - 1 for run in rising[:-1])
    return squares[-1] > cochran_share(own_dof, dof_of_rest, len(rising), SIGNIFICANCE) * (rest + squares[-1])


def scatters_wider(values: Sequence[float], history: tuple[float, float] | None, resolution: float) -> bool:
    """Whether one run, units of ratio, scatters significantly wider than the history (standard deviation, dof) tells.

    F test, one-sided, 1 %. The history counts as no narrower than what the step of the display makes by itself, a
    twelfth of its square (JCGM 100:2008, F.2.2.1), lest one step be taken for a scatter.
    """
    if history is None or len(values) < 2:
        return False
    variance = max(history[0] ** 2, resolution**2 / 12.0)
    return scatter(values) ** 2 > _widest_ratio(len(values) - 1, history[1]) * variance


def repeatability_words(
    found: Repeatability, count: int, prior: tuple[float, float] | None, *, is_studied: bool = False
) -> str:
    """Where the figure comes from, for the budget. `is_studied`: the prior is that of an adopted gauge study."""
    own = f"scatter of {count} indications"
    source = _STUDIED if is_studied else "the instrument's history on its reference volumes"
    history = f"{source} ({prior[0]:.2g} for one indication)" if prior else ""
    match found.drawn_from:
        case "history":
            return f"{own} pooled with {history}" if count > 1 else f"{history}; a single indication"
        case "wider" if prior:
            source = _STUDIED if is_studied else "the instrument's history"
            return f"{own}, significantly wider than {source} ({prior[0]:.2g}), which is not drawn on"
        case "sheet":
            shown = f"{own}, " if count > 1 else "a single indication; scatter "
            return f"{shown}pooled over the cylinders of this sheet ({found.standard_deviation:.2g} for one indication)"
        case "own":
            return own
        case _:
            return "a single indication and no history: two steps of the resolution assumed, as a bound"
