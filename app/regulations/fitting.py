"""Whether what an edition says of its quantities fits together; each field by itself was looked at before."""

from app.metrology.rules import DESIGNATED_CYLINDER, RANGE, WHOLE_ENGINE
from app.regulations import wording
from app.regulations.ruled import COMPRESSION_RATIO, DISPLACEMENT, quantity_words
from app.regulations.schemas import EditionIn, RuleIn

LEAST = 1  # every limit less its tolerance stays above this, ratio or cm³: nothing below can be an engine's
_USUAL_TOLERANCE = {COMPRESSION_RATIO: "0.10 or 0.20 is usual.", DISPLACEMENT: "0 or a few cm³ is usual."}


def problems_of(data: EditionIn) -> dict[str, str]:
    """A sentence for each field concerned, named as the form names it; empty when all fits."""
    found = {}
    if data.rule.quantity != COMPRESSION_RATIO:
        found["rule.quantity"] = (
            "The first rule of an edition limits the static compression ratio. Put any other among the further rules."
        )
    quantities = {data.rule.quantity}
    for place, rule in enumerate(data.further):
        if rule.quantity in quantities:
            found[f"further.{place}.quantity"] = (
                f"This edition limits the {quantity_words(rule.quantity)} already. Say everything about it in one rule."
            )
        quantities.add(rule.quantity)
    names = ["rule", *(f"further.{place}" for place in range(len(data.further)))]
    for name, rule in zip(names, data.rules, strict=True):
        within = {**_of_limits(rule), **_of_scope(rule), **_of_doubt(rule)}
        found |= {f"{name}.{field}": sentence for field, sentence in within.items()}
    return found


def _of_limits(rule: RuleIn) -> dict[str, str]:
    if rule.kind == RANGE and rule.lower_limit is None:
        return {"lower_limit": "A range needs its lower limit too. Enter it, or choose one limit alone."}
    if rule.kind != RANGE and rule.lower_limit is not None:
        return {"lower_limit": "Only a range has a lower limit. Leave it empty, or choose two limits."}
    lowest = rule.limit if rule.lower_limit is None else rule.lower_limit
    if lowest > rule.limit:
        lower, upper = wording.figure(rule.quantity, lowest), wording.figure(rule.quantity, rule.limit)
        return {"lower_limit": f"The lower limit {lower} lies above the upper one, {upper}. Exchange them."}
    if rule.tolerance >= lowest - LEAST:
        granted, limit = wording.figure(rule.quantity, rule.tolerance), wording.figure(rule.quantity, lowest)
        usual = _USUAL_TOLERANCE[rule.quantity]
        return {"tolerance": f"A tolerance of {granted} cannot be granted on a limit of {limit}. {usual}"}
    return {}


def _of_scope(rule: RuleIn) -> dict[str, str]:
    found = {}
    if (rule.applies_to == WHOLE_ENGINE) != (rule.quantity == DISPLACEMENT):
        found["applies_to"] = (
            "A displacement is the engine's as a whole; a compression ratio is a cylinder's, or the mean of all."
        )
    if rule.applies_to == DESIGNATED_CYLINDER and rule.designated_cylinder is None:
        found["designated_cylinder"] = "Which cylinder is designated? Enter its number, or choose another scope."
    if rule.applies_to != DESIGNATED_CYLINDER and rule.designated_cylinder is not None:
        found["designated_cylinder"] = "Leave this empty, or choose that one designated cylinder is judged."
    return found


def _of_doubt(rule: RuleIn) -> dict[str, str]:
    if not rule.tolerance_covers_uncertainty:
        return {}
    found = {}
    if rule.decision_rule != "simple_acceptance":
        found["decision_rule"] = (
            "A tolerance that covers the uncertainty leaves none to guard against. Choose simple acceptance, or let "
            "the tolerance not cover it."
        )
    if not rule.tolerance:
        found["tolerance_covers_uncertainty"] = (
            "There is no tolerance that could cover the uncertainty. Grant one, or answer no here."
        )
    return found
