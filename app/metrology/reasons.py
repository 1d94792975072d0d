"""Why the verdict is what it is, in one plain sentence or two with its figures."""

from collections.abc import Sequence

from app.metrology.conformity import CONFORMING, INCONCLUSIVE
from app.metrology.inputs import CylinderReading, Rule
from app.metrology.results import CylinderResult
from app.metrology.rounding import as_written, at_place, percent, telling_place, uncertainty_place
from app.metrology.rules import INCONCLUSIVE_ACTIONS, RULE_KINDS, RuleKind
from app.metrology.verdict import EngineVerdict


def explain(rule: Rule, outcome: EngineVerdict, readings: Sequence[CylinderReading]) -> str:
    """The reason of a verdict: the deciding result as value ± U against the limits, and what else stood in the way."""
    if outcome.verdict != INCONCLUSIVE:
        return _on_the_value(rule, outcome.decided)
    sentences = [*_missing(outcome, readings), *_leaking(rule, outcome)]
    decided = outcome.decided
    if decided.verdict == INCONCLUSIVE or not sentences:
        sentences.insert(0, _on_the_value(rule, decided))
    else:
        sentences.append(f"What was measured: {_lower_first(_on_the_value(rule, decided))}")
    if outcome.action != rule.inconclusive_action:
        sentences.append("The benefit of the doubt is for a measured value near the limit and does not reach so far.")
    sentences.append(f"What follows: {INCONCLUSIVE_ACTIONS[outcome.action]}.")
    return " ".join(sentences)


def _missing(outcome: EngineVerdict, readings: Sequence[CylinderReading]) -> list[str]:
    given = {reading.cylinder: reading.not_measured_reason.strip() for reading in readings}
    named = [f"{number} ({given[number]})" if given.get(number) else f"{number}" for number in outcome.missing]
    if not named:
        return []
    plural = len(named) > 1
    return [
        f"{'Cylinders' if plural else 'Cylinder'} {_listed(named)} {'were' if plural else 'was'} not measured, "
        "and an engine conforms only when every cylinder was."
    ]


def _leaking(rule: Rule, outcome: EngineVerdict) -> list[str]:
    if not outcome.leaking:
        return []
    named = [str(number) for number in outcome.leaking]
    whose = f"cylinder{'s' if len(named) > 1 else ''} {_listed(named)}"
    proof = "conforming" if RULE_KINDS[rule.kind].sign > 0 else "nonconforming"
    return [
        f"There is an open suspicion of a leak in {whose}: a low figure from a leaking cylinder proves nothing, "
        f"so the engine cannot be called {proof}."
    ]


def _on_the_value(rule: Rule, decided: CylinderResult) -> str:
    kind = RULE_KINDS[rule.kind]
    limit = kind.tolerance_limit(rule.limit, rule.tolerance)
    bounds = [bound for bound in (limit, decided.acceptance_limit, decided.rejection_limit) if bound is not None]
    place = telling_place(decided.value, tuple(bounds), uncertainty_place(decided.expanded_uncertainty))
    value = f"{at_place(decided.value, place)} ± {at_place(decided.expanded_uncertainty, place)}"
    granted = f" ({as_written(rule.limit)} with {as_written(rule.tolerance)} granted)" if rule.tolerance else ""
    against = f"{kind.label} {as_written(limit)}{granted}"
    shown = {bound: at_place(bound, place) for bound in bounds}
    required = None if rule.decision_rule == "simple_acceptance" else rule.confidence
    return (
        f"{decided.label}: {value} (k = {decided.coverage_factor:.2f}, {100.0 * decided.coverage_probability:g} %) "
        f"{_standing(kind, rule, decided, shown)}; the rule allows {against}, "
        f"kept with a probability of {percent(decided.conformance_probability, required)}."
    )


def _standing(kind: RuleKind, rule: Rule, decided: CylinderResult, shown: dict[float, str]) -> str:
    accept_at, reject_beyond = decided.acceptance_limit, decided.rejection_limit
    if decided.verdict == INCONCLUSIVE and accept_at is not None and reject_beyond is not None:
        return (
            f"lies between the acceptance limit {shown[accept_at]} and the rejection limit {shown[reject_beyond]}, "
            f"too near the limit for either verdict at {100.0 * rule.confidence:g} % confidence"
        )
    side = kind.within if decided.verdict == CONFORMING else kind.beyond
    if rule.decision_rule == "simple_acceptance":
        return f"is {side} {as_written(kind.tolerance_limit(rule.limit, rule.tolerance))}, and the value alone decides"
    accepted_by = ("acceptance limit", accept_at)
    rejected_by = ("rejection limit", reject_beyond)
    first, second = (accepted_by, rejected_by) if decided.verdict == CONFORMING else (rejected_by, accepted_by)
    name, bound = first if first[1] is not None else second
    return f"is {side} the {name} {shown[bound]}" if bound is not None else ""


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _lower_first(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
