"""May this reading be used? Each suspicion says what was seen in numbers, what to look for, what to do.

Nothing is discarded here. A leak enlarges the volume that the instrument hears, so it lowers the figure: what a
leaking cylinder shows proves nothing on the low side, and `verdict` gives it no say there.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from app.metrology.distributions import t_quantile
from app.metrology.inputs import Instrument
from app.metrology.repeatability import scatter
from app.metrology.results import CylinderResult, Suspicion
from app.metrology.uncertainty import effective_degrees_of_freedom, truncated_degrees_of_freedom

SIGNIFICANCE = 0.05
FEWEST_SIBLINGS = 3
DUST = 1e-9  # sums of typed decimals differ in the last binary digit
LOW_CYLINDER, SINKING_REPEATS, WIDE_REPEATS = "low_cylinder", "sinking_repeats", "wide_repeats"
LEAK_KINDS = frozenset({LOW_CYLINDER, SINKING_REPEATS})

CAUTION = (
    "Keep the ignition off, let fuel vapour clear before compressed air goes in, and mind that the crank may turn; "
    "the rules of the venue come first."
)


@dataclass(frozen=True, slots=True)
class Repeats:
    """The indications of one cylinder in the order taken, in units of ratio, with the resolution they show."""

    cylinder: int
    as_typed: tuple[str, ...]
    values: tuple[float, ...]
    resolution: float


def grubbs_critical_value(count: int, significance: float = SIGNIFICANCE) -> float:
    """One-sided critical value of G = (mean − lowest)/s for `count` ≥ 3 values. Grubbs, Technometrics 11 (1969).

    G = (n−1)/√n·√(t²/(n−2+t²)) with t the upper significance/n point of Student's t at n − 2 degrees of freedom.
    """
    t = t_quantile(1.0 - significance / count, count - 2)
    return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))


def low_outliers(values: Sequence[float], significance: float = SIGNIFICANCE, most: int | None = None) -> int:
    """How many of the lowest values stand apart from the rest, by Grubbs' test repeated on what remains.

    The generalised procedure of Rosner (Technometrics 25, 1983), one-sided: every step up to `most` is taken, and the
    last significant one counts, because two leaking cylinders hide each other in the first step. `most` leaves a
    majority of cylinders standing unless given.
    """
    rising = sorted(values)
    found = 0
    for taken in range((len(rising) - 1) // 2 if most is None else most):
        rest = rising[taken:]
        if len(rest) < FEWEST_SIBLINGS:
            break
        deviation = scatter(rest)
        if deviation > 0.0 and grubbs_statistic(rest) > grubbs_critical_value(len(rest), significance):
            found = taken + 1
    return found


def grubbs_statistic(values: Sequence[float]) -> float:
    """G = (mean − lowest)/s of at least two values that are not all equal."""
    return (math.fsum(values) / len(values) - min(values)) / scatter(values)


def screen(
    results: Sequence[CylinderResult],
    repeats: Sequence[Repeats],
    instrument: Instrument,
    prior: tuple[float, float] | None,
) -> tuple[Suspicion, ...]:
    """Every suspicion about these results and the repeats behind them, by cylinder."""
    found = [*_low_cylinders(results), *_repeats(repeats, instrument, prior)]
    return tuple(sorted(found, key=lambda suspicion: suspicion.cylinder))


def suspected_leaks(suspicions: Sequence[Suspicion]) -> tuple[int, ...]:
    """The cylinders that may leak, in order."""
    return tuple(sorted({suspicion.cylinder for suspicion in suspicions if suspicion.kind in LEAK_KINDS}))


def _low_cylinders(results: Sequence[CylinderResult]) -> list[Suspicion]:
    rising = sorted(results, key=lambda result: result.value)
    count = low_outliers([result.value for result in rising])
    low, siblings = rising[:count], rising[count:]
    return [_low_cylinder(result, siblings) for result in low if _differs(result, siblings)]


def _differs(low: CylinderResult, siblings: Sequence[CylinderResult]) -> bool:
    """Whether the difference exceeds its own uncertainty. Shared sources shift all alike, so only own ones count."""
    weight = 1.0 / len(siblings)
    own, others = low.budget.own_part, [sibling.budget.own_part for sibling in siblings]
    parts = [(own.standard_uncertainty, own.effective_degrees_of_freedom)]
    parts += [(weight * other.standard_uncertainty, other.effective_degrees_of_freedom) for other in others]
    dof = truncated_degrees_of_freedom(effective_degrees_of_freedom(parts))
    one_of_many = 1.0 - SIGNIFICANCE / (1 + len(siblings))  # the lowest of so many lies low by chance alone
    bound = t_quantile(one_of_many, dof) * math.hypot(*(part for part, _ in parts))
    return _mean(siblings) - low.value > bound


def _mean(results: Sequence[CylinderResult]) -> float:
    return math.fsum(result.value for result in results) / len(results)


def _low_cylinder(low: CylinderResult, siblings: Sequence[CylinderResult]) -> Suspicion:
    figures = [low.value, *(sibling.value for sibling in siblings)]
    return Suspicion(
        kind=LOW_CYLINDER,
        cylinder=low.cylinder,
        seen=(
            f"Cylinder {low.cylinder} measures {low.value:.2f}, {_mean(siblings) - low.value:.2f} below the mean of "
            f"the {len(siblings)} others ({_mean(siblings):.2f}, the lowest of them {siblings[0].value:.2f}). "
            f"Grubbs' G is {grubbs_statistic(figures):.2f}, critical at 5 %: {grubbs_critical_value(len(figures)):.2f}."
        ),
        look_for="A leak: a valve off its seat, rings, the seal of the adapter in the plug hole, a cracked hose.",
        do=(
            f"Check that both valves are closed and the adapter is seated, then measure cylinder {low.cylinder} again. "
            f"If it stays low, do a leak-down test and note its percentage. {CAUTION}"
        ),
    )


def _repeats(repeats: Sequence[Repeats], instrument: Instrument, prior: tuple[float, float] | None) -> list[Suspicion]:
    found = []
    for one in repeats:
        count = len(one.values)
        if count < 2:
            continue
        may_sink = allowed_difference(len(repeats), one.resolution, instrument, prior)
        may_spread = allowed_difference(len(repeats) * count * (count - 1), one.resolution, instrument, prior)
        sunk, spread = one.values[0] - one.values[-1], max(one.values) - min(one.values)
        sinks = all(later <= earlier for earlier, later in pairwise(one.values))
        if sinks and sunk > may_sink + DUST:
            found.append(_sinking(one, sunk, may_sink))
        elif spread > may_spread + DUST:
            found.append(_wide(one, spread, may_spread))
    return found


def allowed_difference(
    chances: int, resolution: float, instrument: Instrument, prior: tuple[float, float] | None
) -> float:
    """How far two indications of one cylinder may differ without remark, in units of ratio, the sign minded.

    With a history: √2·t·s, t at 5 % shared out over all the differences on the sheet that had the chance (`chances`),
    lest an honest engine of eight cylinders be suspected every fourth time; for one pair and many degrees of freedom,
    either sign, this is the 2.8 s of ISO 5725-6:1994, 4.1. Without: the stated accuracy as a half-width, since no
    repeat may differ by more than the instrument is said to be wrong. Never below two steps of the resolution.
    """
    if prior is not None:
        deviation, dof = prior
        allowed = math.sqrt(2.0) * t_quantile(1.0 - SIGNIFICANCE / chances, dof) * deviation
    else:
        allowed = instrument.stated_accuracy * (2.0 if instrument.accuracy_meaning == "standard" else 1.0)
    return max(allowed, 2.0 * resolution)


def _sinking(one: Repeats, sunk: float, allowed: float) -> Suspicion:
    return Suspicion(
        kind=SINKING_REPEATS,
        cylinder=one.cylinder,
        seen=(
            f"Cylinder {one.cylinder} sank from {one.values[0]:.2f} to {one.values[-1]:.2f} over {len(one.values)} "
            f"repeats, by {sunk:.2f}; {allowed:.2f} is the scatter allowed."
        ),
        look_for="A leak that opens under pressure, liquid leaving the chamber, a piston creeping off top dead centre.",
        do=(
            f"Bring the piston back to top dead centre, hold the crank, let the chamber breathe out and measure "
            f"cylinder {one.cylinder} again. If it sinks again, do a leak-down test and note its percentage. {CAUTION}"
        ),
    )


def _wide(one: Repeats, spread: float, allowed: float) -> Suspicion:
    return Suspicion(
        kind=WIDE_REPEATS,
        cylinder=one.cylinder,
        seen=(
            f"The {len(one.values)} repeats of cylinder {one.cylinder} lie {spread:.2f} apart "
            f"({min(one.values):.2f} to {max(one.values):.2f}); {allowed:.2f} is the scatter allowed."
        ),
        look_for="Airflow off its set-point or unsteady, a hose touching something, noise nearby, a loose adapter.",
        do=(
            f"Settle the airflow at its set-point, seat the adapter and repeat cylinder {one.cylinder}. Keep the "
            "earlier indications, with the reason for setting them aside."
        ),
    )
