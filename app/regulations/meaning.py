"""What a rule means, worked out on examples by the same core that judges engines."""

from decimal import Decimal
from math import inf

from app.metrology.conformity import decide
from app.metrology.rules import RULE_KINDS
from app.regulations import wording
from app.regulations.schemas import ExampleView, MeaningView

# Common practice, no source: instruments of this kind are good to about one tenth of a ratio.
USUAL_EXPANDED = 0.10
_STEPS = (-2.0, -0.6, 0.0, 0.6, 2.0)


def meaning_of(
    kind: str, limit: Decimal, tolerance: Decimal, decision_rule: str, confidence: Decimal, inconclusive_action: str
) -> MeaningView:
    """Five engines from well inside to well past the tolerance limit, and where the verdict turns."""
    rule_kind = RULE_KINDS[kind]
    bound = float(wording.tolerance_limit(kind, limit, tolerance))
    labels = ("well inside", "just inside", "on the line", "just past", "well past")
    examples = []
    for label, step in zip(labels, _STEPS, strict=True):
        value = round(bound + rule_kind.sign * step * USUAL_EXPANDED, 4)
        decision = decide(rule_kind, decision_rule, float(confidence), bound, value, USUAL_EXPANDED / 2, inf)
        examples.append(
            ExampleView(
                label=label,
                value=value,
                expanded_uncertainty=USUAL_EXPANDED,
                verdict=decision.verdict,
                acceptance_limit=decision.acceptance_limit,
                rejection_limit=decision.rejection_limit,
            )
        )
    accept_at, reject_beyond = examples[0].acceptance_limit, examples[0].rejection_limit
    return MeaningView(
        expanded_uncertainty=USUAL_EXPANDED,
        acceptance_limit=accept_at,
        rejection_limit=reject_beyond,
        sentences=_sentences(kind, decision_rule, accept_at, reject_beyond, inconclusive_action),
        examples=examples,
    )


def _sentences(
    kind: str, decision_rule: str, accept_at: float | None, reject_beyond: float | None, inconclusive_action: str
) -> list[str]:
    word = RULE_KINDS[kind]
    said = [wording.DECISION_RULES[decision_rule][1]]
    if accept_at is not None:
        said.append(f"With a usual spread of ±{USUAL_EXPANDED:.2f}, a value {word.within} {accept_at:.2f} conforms.")
    if reject_beyond is not None:
        said.append(
            f"With a usual spread of ±{USUAL_EXPANDED:.2f}, a value {word.beyond} {reject_beyond:.2f} does not conform."
        )
    if decision_rule == "three_zones":
        said.append(f"Between the two: {wording.ACTIONS[inconclusive_action][0].lower()}.")
    said.append(wording.DECISION_RULES[decision_rule][2])
    return said
