"""The verdict on the engine from the results of its cylinders, what was not measured, and what may be false.

A leak lowers the figure: one too high stands although its cylinder may leak, and one too low proves nothing. An
obstruction raises it: a high enough figure of a suspected cylinder proves nothing under a minimum. Under a maximum one
too high stands; whoever measures is told to look before signing, and the protest and the teardown remain.
"""

from collections.abc import Sequence
from typing import NamedTuple

from app.metrology.conformity import CONFORMING, INCONCLUSIVE, NONCONFORMING, Decision
from app.metrology.inputs import Rule
from app.metrology.measurement import WHOLE_ENGINE
from app.metrology.rules import MEAN_OF_CYLINDERS, MINIMUM, RULE_KINDS


class Judged(NamedTuple):
    """One result that the rule judges: its decision, how near it is to failing, and which cylinder it is."""

    cylinder: int  # 0: the mean, or the engine as a whole
    decision: Decision
    conformance_probability: float
    margin_in_uncertainties: float  # from the tolerance limit; negative beyond it


class Doubts(NamedTuple):
    """Cylinders with an open suspicion: of a leak, which lowers the figure, or of an obstruction, which raises it."""

    lowered: tuple[int, ...]
    raised: tuple[int, ...]


class EngineVerdict(NamedTuple):
    """The verdict, the result that decided it, and what stood in the way of a firmer one."""

    verdict: str
    action: str
    decided: Judged
    missing: tuple[int, ...]  # cylinders whose absence left the verdict open
    leaking: tuple[int, ...]  # cylinders whose suspected leak left the verdict open
    obstructed: tuple[int, ...]  # cylinders whose suspected obstruction left the verdict open


def judge_engine(rule: Rule, judged: Sequence[Judged], missing: tuple[int, ...], doubts: Doubts) -> EngineVerdict:
    """One verdict from the results that the rule judges: every measured cylinder's, one, or the mean alone."""
    failing = [one for one in judged if one.decision.verdict == NONCONFORMING]
    proven = [one for one in failing if not _may_be_a_leak(one, doubts)]
    if missing and rule.applies_to == MEAN_OF_CYLINDERS:
        proven = []  # the mean of some cylinders is not the mean of the engine
    if proven:
        return EngineVerdict(NONCONFORMING, "", min(proven, key=_nearest_to_failing), (), (), ())

    worst = min(judged, key=_nearest_to_failing)
    sides = {side.sign for side in RULE_KINDS[rule.kind]}
    # what makes a figure look better than it is keeps the engine from conforming; the other only an unproven failure
    leaking = doubts.lowered if +1 in sides or any(_is_in(one, doubts.lowered) for one in failing) else ()
    obstructed = doubts.raised if -1 in sides else ()
    if worst.decision.verdict == CONFORMING and not missing and not leaking and not obstructed:
        return EngineVerdict(CONFORMING, "", worst, (), (), ())
    action = rule.inconclusive_action
    if action == "benefit_of_doubt" and (missing or leaking or obstructed):
        action = "measure_again"  # that benefit is for doubt about a value, not for a value that is not there
    return EngineVerdict(INCONCLUSIVE, action, worst, missing, leaking, obstructed)


def _nearest_to_failing(one: Judged) -> tuple[float, float, int]:
    # a probability rounds to 1 far inside and to 0 far outside: there the distance in uncertainties tells apart
    return one.conformance_probability, one.margin_in_uncertainties, one.cylinder


def _is_in(one: Judged, cylinders: tuple[int, ...]) -> bool:
    return one.cylinder in cylinders or (one.cylinder == WHOLE_ENGINE and bool(cylinders))


def _may_be_a_leak(one: Judged, doubts: Doubts) -> bool:
    """Whether a failure may come of a leak, given the side on which it fails."""
    return one.decision.side is MINIMUM and _is_in(one, doubts.lowered)
