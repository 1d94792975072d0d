"""What a rule means, worked out on examples by the same core that judges engines."""

from app.metrology.conformity import decide
from app.metrology.distributions import INFINITE, t_quantile
from app.metrology.inputs import Rule
from app.metrology.rules import SIDES
from app.regulations import wording
from app.regulations.schemas import ExampleView, MeaningView

# Common practice, no source: instruments of this kind are good to about one tenth of a ratio.
USUAL_EXPANDED = 0.10
_STEPS = (-2.0, -0.5, 0.0, 0.5, 2.0)


def meaning_of(rule: wording.Ruled) -> MeaningView:
    """Five engines from well inside to well past the tolerance limit, and where the verdict turns."""
    rule_kind = SIDES[rule.kind]
    bound = float(wording.tolerance_limit(rule.kind, rule.limit, rule.tolerance))
    labels = ("well inside", "just inside", "on the line", "just past", "well past")
    examples = []
    guard = t_quantile(float(rule.confidence), INFINITE) * USUAL_EXPANDED / 2
    core_rule = Rule(
        rule.kind,
        float(rule.limit),
        float(rule.tolerance),
        rule.applies_to,
        rule.decision_rule,
        float(rule.confidence),
        rule.inconclusive_action,
    )
    for label, step in zip(labels, _STEPS, strict=True):
        value = round(bound + rule_kind.sign * step * USUAL_EXPANDED, 4)
        decision = decide(core_rule, value, guard, guard)
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
        sentences=_sentences(rule, accept_at, reject_beyond),
        examples=examples,
    )


def _sentences(rule: wording.Ruled, accept_at: float | None, reject_beyond: float | None) -> list[str]:
    word = SIDES[rule.kind]
    name, effect, doubt = wording.DECISION_RULES[rule.decision_rule]
    said = [f"{name}: {effect[0].lower()}{effect[1:]}"]
    if rule.decision_rule == "simple_acceptance":
        said.append(f"A value {word.within} {accept_at:.2f} conforms, whatever its spread.")
    elif accept_at is not None:
        said.append(f"At a usual spread of ±{USUAL_EXPANDED:.2f}, a value {word.within} {accept_at:.2f} conforms.")
    if reject_beyond is not None:
        said.append(f"At that spread, a value {word.beyond} {reject_beyond:.2f} does not conform.")
    if rule.decision_rule == "three_zones":
        said.append(f"Between the two: {wording.action_words(rule.inconclusive_action)}.")
    return [*said, doubt]
