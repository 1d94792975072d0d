"""May this reading be used? Each suspicion says what was seen in numbers, what to look for, what to do.

Nothing is discarded here. A leak enlarges the volume that is heard or filled, so it lowers the figure; an obstruction
in the tube or the plug hole cuts volume off, so it raises the figure. What such a figure may not prove, `verdict`
knows, until a check has settled it.
"""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import NamedTuple

from app.metrology.distributions import t_quantile
from app.metrology.inputs import AcousticObservations, CylinderCheck, Instrument
from app.metrology.measurement import Measured, Measurement
from app.metrology.methods.acoustic_resonance import Repeats, read_repeats
from app.metrology.outliers import SIGNIFICANCE, grubbs_critical_value, grubbs_statistic, low_outliers
from app.metrology.results import Suspicion
from app.metrology.uncertainty import effective_degrees_of_freedom, own_part, truncated_degrees_of_freedom
from app.metrology.verdict import Doubts

DUST = 1e-9  # sums of typed decimals differ in the last binary digit
# cylinders of one sound engine differ by themselves; less than a tenth of a ratio is not worth a suspicion (common
# practice, no source)
LEAST_DIFFERENCE = 0.10
CERTAIN_DIFFERENCE = 0.30  # however badly a cylinder repeats, this far from its siblings it is suspected
SOUND_UP_TO_PERCENT = 10.0  # leak-down of a sound cylinder; common practice, no source
LOW_CYLINDER, SINKING_REPEATS, RISING_REPEATS = "low_cylinder", "sinking_repeats", "rising_repeats"
HIGH_CYLINDER, WIDE_REPEATS = "high_cylinder", "wide_repeats"
LOWERED = frozenset({LOW_CYLINDER, SINKING_REPEATS, RISING_REPEATS})  # the true ratio may lie above the figure
RAISED = frozenset({HIGH_CYLINDER})
SETTLED_BY = {
    LOW_CYLINDER: "leak_down",
    SINKING_REPEATS: "leak_down",
    RISING_REPEATS: "refitted",
    HIGH_CYLINDER: "refitted",
    WIDE_REPEATS: "refitted",
}

CAUTION = (
    "Keep the ignition off, let fuel vapour clear before compressed air goes in, and mind that the crank may turn; "
    "the rules of the venue come first."
)


class Screened(NamedTuple):
    """What was seen, and which cylinders' figures it leaves in doubt."""

    suspicions: tuple[Suspicion, ...]
    doubts: Doubts


NOTHING = Screened((), Doubts((), ()))


def screen(measurement: Measurement, observations: AcousticObservations) -> Screened:
    """Every suspicion about a sheet by acoustic resonance and the repeats behind its results, by cylinder."""
    found = [*_apart(measurement, LOW_CYLINDER), *_apart(measurement, HIGH_CYLINDER)]
    found += _repeats(read_repeats(observations), observations.instrument, observations.repeatability)
    if not found:
        return NOTHING
    settled = tuple(_settle(one, observations.checks) for one in sorted(found, key=lambda one: one.cylinder))
    return Screened(settled, Doubts(_open(settled, LOWERED), _open(settled, RAISED)))


def _open(suspicions: Sequence[Suspicion], kinds: frozenset[str]) -> tuple[int, ...]:
    return tuple(sorted({one.cylinder for one in suspicions if one.kind in kinds and not one.settled_by}))


def _settle(suspicion: Suspicion, checks: Sequence[CylinderCheck]) -> Suspicion:
    """The suspicion with what a check of this cylinder found; the latest one counts."""
    made = [one for one in checks if one.cylinder == suspicion.cylinder and one.check == SETTLED_BY[suspicion.kind]]
    if not made:
        return suspicion
    percent = made[-1].leak_percent
    settled_by, seen = "", suspicion.seen
    if percent is None:
        settled_by = "Taken out, looked through, refitted and measured again: the figure stands."
    elif percent <= SOUND_UP_TO_PERCENT:
        settled_by = (
            f"A leak-down test showed {percent:g} %; up to {SOUND_UP_TO_PERCENT:g} % a cylinder counts as sound. "
            "The figure stands."
        )
    else:
        seen += f" A leak-down test showed {percent:g} %: this cylinder leaks."
    return Suspicion(suspicion.kind, suspicion.cylinder, seen, suspicion.look_for, suspicion.do, settled_by)


def _apart(measurement: Measurement, kind: str) -> list[Suspicion]:
    """Cylinders well below (a leak?) or well above (an obstruction?) their siblings."""
    sign = 1.0 if kind == LOW_CYLINDER else -1.0
    rising = sorted(measurement.results, key=lambda one: sign * one.value)
    count = low_outliers([sign * one.value for one in rising])
    if not count:
        return []
    odd, siblings = rising[:count], rising[count:]
    return [_apart_words(one, siblings, kind) for one in odd if _differs(measurement, one, siblings)]


def _differs(measurement: Measurement, odd: Measured, siblings: Sequence[Measured]) -> bool:
    """Whether the difference exceeds its own uncertainty. Shared sources shift all alike, so only own ones count."""
    weight = 1.0 / len(siblings)
    parts = [own_part(measurement.sources, odd)]
    parts += [(weight * u, dof) for u, dof in (own_part(measurement.sources, one) for one in siblings)]
    dof = truncated_degrees_of_freedom(effective_degrees_of_freedom(parts))
    one_of_many = 1.0 - SIGNIFICANCE / (1 + len(siblings))  # the lowest of so many lies low by chance alone
    bound = t_quantile(one_of_many, dof) * math.hypot(*(part for part, _ in parts))
    return abs(_mean(siblings) - odd.value) > max(LEAST_DIFFERENCE, min(bound, CERTAIN_DIFFERENCE))


def _mean(results: Sequence[Measured]) -> float:
    return math.fsum(one.value for one in results) / len(results)


def _apart_words(odd: Measured, siblings: Sequence[Measured], kind: str) -> Suspicion:
    is_low = kind == LOW_CYLINDER
    sign = 1.0 if is_low else -1.0
    figures = [sign * odd.value, *(sign * one.value for one in siblings)]
    seen = (
        f"Cylinder {odd.cylinder} measures {odd.value:.2f}, {abs(_mean(siblings) - odd.value):.2f} "
        f"{'below' if is_low else 'above'} the mean of the {len(siblings)} others ({_mean(siblings):.2f}, the "
        f"{'lowest' if is_low else 'highest'} of them {siblings[0].value:.2f}). "
        f"Grubbs' G is {grubbs_statistic(figures):.2f}, critical at 5 %: {grubbs_critical_value(len(figures)):.2f}."
    )
    if is_low:
        return Suspicion(
            kind,
            odd.cylinder,
            seen,
            "A leak: a valve off its seat, rings, the seal of the adapter in the plug hole, a cracked hose.",
            f"Check that both valves are closed and the adapter is seated, then measure cylinder {odd.cylinder} again. "
            f"If it stays low, do a leak-down test and note its percentage. {CAUTION}",
        )
    return Suspicion(
        kind,
        odd.cylinder,
        seen,
        "An obstruction: debris or liquid in the tube or the chamber, a kinked hose, an adapter that closes off part "
        "of the plug hole.",
        f"Take the adapter of cylinder {odd.cylinder} out, look through tube and plug hole, refit and measure again. "
        f"Do so before you sign, and note that it was refitted. {CAUTION}",
    )


def _repeats(repeats: Sequence[Repeats], instrument: Instrument, prior: tuple[float, float] | None) -> list[Suspicion]:
    found = []
    for one in repeats:
        count = len(one.values)
        if count < 2:
            continue
        moved, spread = one.values[-1] - one.values[0], max(one.values) - min(one.values)
        if spread <= 2.0 * one.resolution + DUST:  # never less than that is allowed
            continue
        may_move = allowed_difference(len(repeats), one.resolution, instrument, prior)
        may_spread = allowed_difference(len(repeats) * count * (count - 1), one.resolution, instrument, prior)
        sinks = all(later <= earlier for earlier, later in pairwise(one.values))
        rises = count > 2 and all(later >= earlier for earlier, later in pairwise(one.values))
        if sinks and -moved > may_move + DUST:
            found.append(_sinking(one, -moved, may_move))
        elif rises and moved > may_move + DUST:
            found.append(_rising(one, moved, may_move))
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


def _rising(one: Repeats, risen: float, allowed: float) -> Suspicion:
    return Suspicion(
        kind=RISING_REPEATS,
        cylinder=one.cylinder,
        seen=(
            f"Cylinder {one.cylinder} rose from {one.values[0]:.2f} to {one.values[-1]:.2f} over {len(one.values)} "
            f"repeats, by {risen:.2f}, and had not settled; {allowed:.2f} is the scatter allowed."
        ),
        look_for="Gas that is still changing: fuel vapour being driven out, a chamber still cooling, liquid gathering.",
        do=(
            f"Purge the chamber, wait until two repeats agree, then measure cylinder {one.cylinder} again and set the "
            f"earlier indications aside with that reason. {CAUTION}"
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
