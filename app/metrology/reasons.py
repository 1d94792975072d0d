"""Why the verdict is what it is, in one plain sentence or two with its figures."""

from collections.abc import Sequence

from app.metrology.conformity import CONFORMING, INCONCLUSIVE
from app.metrology.evaluation import Evaluation
from app.metrology.inputs import AcousticObservations, AssessmentInputs, Rule
from app.metrology.results import CylinderResult
from app.metrology.rounding import as_written, at_place, percent, telling_place, uncertainty_place
from app.metrology.rules import INCONCLUSIVE_ACTIONS, RANGE, RULE_KINDS, SIDES, tolerance_limits, written_limit
from app.metrology.verdict import EngineVerdict


def explain(inputs: AssessmentInputs, found: Evaluation, decided: CylinderResult) -> str:
    """The reason of a verdict: the deciding result as value ± U against the limits, and what else stood in the way."""
    rule, outcome = inputs.rule, found.outcome
    on_the_value = _on_the_value(rule, decided)
    if outcome.verdict != INCONCLUSIVE:
        return " ".join([on_the_value, *_uncovered(rule, decided)])
    sentences = [*_missing(outcome, _reasons_given(inputs)), *_leaking(rule, outcome), *_obstructed(rule, outcome)]
    if decided.verdict == INCONCLUSIVE or not sentences:
        sentences.insert(0, on_the_value)
    else:
        sentences.append(f"What was measured: {_lower_first(on_the_value)}")
    sentences += _uncovered(rule, decided)
    if outcome.action != rule.inconclusive_action:
        sentences.append("The benefit of the doubt is for a measured value near the limit and does not reach so far.")
    sentences.append(f"What follows: {INCONCLUSIVE_ACTIONS[outcome.action]}.")
    return " ".join(sentences)


def _reasons_given(inputs: AssessmentInputs) -> dict[int, str]:
    if not isinstance(inputs.observations, AcousticObservations):
        return {}
    return {reading.cylinder: reading.not_measured_reason.strip() for reading in inputs.observations.readings}


def _uncovered(rule: Rule, decided: CylinderResult) -> list[str]:
    """Said when the edition lets its tolerance cover the uncertainty and it is not wide enough for that."""
    if not rule.tolerance_covers_uncertainty or decided.expanded_uncertainty <= rule.tolerance:
        return []
    return [
        f"The edition lets its tolerance of {as_written(rule.tolerance)} cover the uncertainty; here U is "
        f"{at_place(decided.expanded_uncertainty, uncertainty_place(decided.expanded_uncertainty))}, which is more."
    ]


def _missing(outcome: EngineVerdict, given: dict[int, str]) -> list[str]:
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
    return [
        f"There is an open suspicion of a leak in {_whose(outcome.leaking)}: a low figure from a leaking cylinder "
        f"proves nothing, so the engine cannot be called {_unproven(rule)}."
    ]


def _obstructed(rule: Rule, outcome: EngineVerdict) -> list[str]:
    if not outcome.obstructed:
        return []
    return [
        f"There is an open suspicion of an obstruction in {_whose(outcome.obstructed)}: a high figure from an "
        f"obstructed cylinder proves nothing, so the engine cannot be called conforming."
    ]


def _whose(cylinders: Sequence[int]) -> str:
    return f"cylinder{'s' if len(cylinders) > 1 else ''} {_listed([str(number) for number in cylinders])}"


def _unproven(rule: Rule) -> str:
    """What cannot be said while figures may be too low."""
    if rule.kind == RANGE:
        return "conforming, nor nonconforming for it"
    return "conforming" if RULE_KINDS[rule.kind][0].sign > 0 else "nonconforming"


def _on_the_value(rule: Rule, decided: CylinderResult) -> str:
    limit = _limit(rule, decided)
    bounds = [bound for bound in (limit, decided.acceptance_limit, decided.rejection_limit) if bound is not None]
    place = telling_place(decided.value, tuple(bounds), uncertainty_place(decided.expanded_uncertainty))
    unit = " cm³" if rule.quantity == "displacement" else ""
    value = f"{at_place(decided.value, place)} ± {at_place(decided.expanded_uncertainty, place)}{unit}"
    shown = {bound: at_place(bound, place) for bound in bounds}
    required = None if rule.decision_rule == "simple_acceptance" else rule.confidence
    return (
        f"{decided.label}: {value} (k = {decided.coverage_factor:.2f}, {100.0 * decided.coverage_probability:g} %) "
        f"{_standing(rule, decided, shown)}; the rule allows {_allowed(rule, unit)}, "
        f"kept with a probability of {percent(decided.conformance_probability, required)}."
    )


def _limit(rule: Rule, decided: CylinderResult) -> float:
    return next(limit for side, limit in tolerance_limits(rule) if side.key == decided.side)


def _allowed(rule: Rule, unit: str) -> str:
    said = []
    for side, limit in tolerance_limits(rule):
        granted = (
            f" ({as_written(written_limit(rule, side))} with {as_written(rule.tolerance)} granted)"
            if rule.tolerance
            else ""
        )
        said.append(f"{side.label} {as_written(limit)}{unit}{granted}")
    return " and ".join(said)


def _standing(rule: Rule, decided: CylinderResult, shown: dict[float, str]) -> str:
    side = SIDES[decided.side]
    accept_at, reject_beyond = decided.acceptance_limit, decided.rejection_limit
    if decided.verdict == INCONCLUSIVE and accept_at is not None and reject_beyond is not None:
        return (
            f"lies between the acceptance limit {shown[accept_at]} and the rejection limit {shown[reject_beyond]}, "
            f"too near the limit for either verdict at {100.0 * rule.confidence:g} % confidence"
        )
    word = side.within if decided.verdict == CONFORMING else side.beyond
    if rule.decision_rule == "simple_acceptance":
        return f"is {word} {as_written(_limit(rule, decided))}, and the value alone decides"
    accepted_by = ("acceptance limit", accept_at)
    rejected_by = ("rejection limit", reject_beyond)
    first, second = (accepted_by, rejected_by) if decided.verdict == CONFORMING else (rejected_by, accepted_by)
    name, bound = first if first[1] is not None else second
    return f"is {word} the {name} {shown[bound]}" if bound is not None else ""


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _lower_first(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
