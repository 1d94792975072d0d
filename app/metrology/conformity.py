"""From a value with its uncertainty to a verdict against a limit: JCGM 106:2012, clauses 7 and 8; ILAC-G8:09/2019.

The verdict compares the unrounded value with the limits given here, so whoever has the slip can repeat it. The engine
is rejected at the risk stated for the whole of it (`rejection`); each cylinder is accepted at the risk for one, which
is the worst case for the other competitors: an engine with one cylinder just past its limit.
"""

from typing import NamedTuple

from app.metrology.inputs import Rule
from app.metrology.rules import RuleKind, tolerance_limits
from app.metrology.spread import Spread

CONFORMING = "conforming"
NONCONFORMING = "nonconforming"
INCONCLUSIVE = "inconclusive"
VERDICTS = (CONFORMING, NONCONFORMING, INCONCLUSIVE)
_SEVERITY = {NONCONFORMING: 0, INCONCLUSIVE: 1, CONFORMING: 2}

DECISION_RULES: dict[str, str] = {
    "simple_acceptance": "simple acceptance: the value alone is held against the limit (shared risk)",
    "guarded_acceptance": "guarded acceptance: conforming only when that is sufficiently certain",
    "guarded_rejection": "guarded rejection: nonconforming only when that is sufficiently certain",
    "three_zones": "three zones: either verdict only when it is sufficiently certain, inconclusive between",
}
GUARDED_ACCEPTANCE = frozenset({"guarded_acceptance", "three_zones"})
GUARDED_REJECTION = frozenset({"guarded_rejection", "three_zones"})


class Decision(NamedTuple):
    """A verdict on one value, and the limits on the side of the rule that decided it, in the value's unit."""

    verdict: str
    side: RuleKind
    tolerance_limit: float
    acceptance_limit: float | None  # conforming up to here; None where the rule sets none
    rejection_limit: float | None  # nonconforming beyond here; None where the rule sets none


def conformance_probability(rule: Rule, value: float, spread: Spread) -> float:
    """p_c = P(true value within the tolerance limits), the error's distribution about the value. JCGM 106:2012, 7.2."""
    probability = 1.0
    for side, limit in tolerance_limits(rule):
        probability -= spread.probability(-side.margin(value, limit))
    return max(0.0, probability)


def decide(rule: Rule, value: float, acceptance_guard: float, rejection_guard: float) -> Decision:
    """The verdict on one value: JCGM 106:2012, 8.2 (simple), 8.3.2 and 8.3.3 (guarded), both sides of a range.

    The guards are the distances from the tolerance limit at which either verdict is sufficiently certain, in the
    value's unit; a decision rule that does not guard against a verdict takes none. A range is judged like two limits,
    and the side that comes off worse decides, the nearer one of two alike.
    """
    found = [
        _decide_side(rule, side, limit, value, acceptance_guard, rejection_guard)
        for side, limit in tolerance_limits(rule)
    ]
    if len(found) == 1:
        return found[0]
    return min(found, key=lambda one: (_SEVERITY[one.verdict], one.side.margin(value, one.tolerance_limit)))


def _decide_side(
    rule: Rule, side: RuleKind, limit: float, value: float, acceptance_guard: float, rejection_guard: float
) -> Decision:
    accept_at = reject_beyond = None
    if rule.decision_rule in GUARDED_ACCEPTANCE:
        accept_at = side.shifted(limit, acceptance_guard)
    elif rule.decision_rule not in GUARDED_REJECTION:
        accept_at = limit
    if rule.decision_rule in GUARDED_REJECTION:
        reject_beyond = side.shifted(limit, -rejection_guard)
    if accept_at is not None and side.margin(value, accept_at) >= 0.0:
        verdict = CONFORMING
    elif reject_beyond is not None and side.margin(value, reject_beyond) >= 0.0:
        verdict = CONFORMING if accept_at is None else INCONCLUSIVE
    else:
        verdict = NONCONFORMING
    return Decision(verdict, side, limit, accept_at, reject_beyond)
