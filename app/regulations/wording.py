"""What a rule says, in words: one place for the rule book, the sheet and whoever quotes the edition."""

from datetime import date
from decimal import Decimal
from typing import Protocol

from app.intake import day
from app.metrology.rules import APPLIES_TO, INCONCLUSIVE_ACTIONS, SIDES


class Ruled(Protocol):
    """A rule of the rule book, whether it is kept already or only asked for."""

    @property
    def clause(self) -> str: ...
    @property
    def text(self) -> str: ...
    @property
    def kind(self) -> str: ...
    @property
    def limit(self) -> Decimal: ...
    @property
    def tolerance(self) -> Decimal: ...
    @property
    def applies_to(self) -> str: ...
    @property
    def decision_rule(self) -> str: ...
    @property
    def confidence(self) -> Decimal: ...
    @property
    def inconclusive_action(self) -> str: ...


QUANTITY = "static compression ratio"

KINDS: dict[str, tuple[str, str]] = {
    "maximum": ("At most", "A higher ratio breaks the rule. The tolerance is added to the limit."),
    "minimum": ("At least", "A lower ratio breaks the rule. The tolerance is taken off the limit."),
}
SCOPES: dict[str, tuple[str, str]] = {
    "every_cylinder": ("Every cylinder", "One cylinder past the limit is enough; the worst one decides."),
    "mean_of_cylinders": ("The mean of all cylinders", "Single cylinders may lie past it; their mean may not."),
}
# label, what it does, who bears the doubt
DECISION_RULES: dict[str, tuple[str, str, str]] = {
    "simple_acceptance": (
        "Simple acceptance",
        "The value alone is held against the tolerance limit; its spread is shown but does not count.",
        "Both sides share the doubt: right at the limit either of them may be wronged.",
    ),
    "guarded_acceptance": (
        "Guarded acceptance",
        "An engine conforms only when that is certain enough; in doubt it does not conform.",
        "The competitor bears the doubt.",
    ),
    "guarded_rejection": (
        "Guarded rejection",
        "An engine fails only when that is certain enough; in doubt it conforms.",
        "The series bears the doubt: the competitor gets its benefit.",
    ),
    "three_zones": (
        "Three zones",
        "Either verdict only when it is certain enough; between them the result is inconclusive.",
        "Nobody bears the doubt yet: the action named for an inconclusive result settles it.",
    ),
}
ACTIONS: dict[str, tuple[str, str]] = {
    "measure_again": ("Measure again", "A second measurement, of its own, decides or leads to a teardown."),
    "teardown": ("Take the engine apart", "Chamber and cylinder are measured directly."),
    "benefit_of_doubt": ("Benefit of the doubt", "The engine counts as conforming; the slip says that it was across."),
}


def plain(number: Decimal) -> str:
    """The digits as written, at least two decimals: a limit is read as 10.50, not 10.5."""
    exponent = number.as_tuple().exponent
    decimals = max(2, -exponent) if isinstance(exponent, int) else 2
    return f"{number:.{decimals}f}"


def percent(confidence: Decimal) -> str:
    """0.95 as "95 %", without digits that say nothing."""
    return f"{format((confidence * 100).normalize(), 'f')} %"


def tolerance_limit(kind: str, limit: Decimal, tolerance: Decimal) -> Decimal:
    return limit + SIDES[kind].sign * tolerance


def kind_words(kind: str) -> str:
    return SIDES[kind].label


def applies_to_words(key: str) -> str:
    return APPLIES_TO[key]


def action_words(key: str) -> str:
    return INCONCLUSIVE_ACTIONS[key]


def decision_rule_words(key: str, confidence: Decimal) -> str:
    """The rule with the confidence it asks for; simple acceptance asks for none."""
    label = DECISION_RULES[key][0].lower()
    return label if key == "simple_acceptance" else f"{label} at {percent(confidence)} confidence"


def rule_sentence(rule: Ruled, protest_minutes: int) -> str:
    """The whole rule in one sentence, as the rule book quotes it."""
    granted = (
        f"tolerance {plain(rule.tolerance)}, so the tolerance limit is "
        f"{plain(tolerance_limit(rule.kind, rule.limit, rule.tolerance))}"
        if rule.tolerance
        else "no tolerance, so the limit itself decides"
    )
    action = (
        f"; when inconclusive: {action_words(rule.inconclusive_action)}" if rule.decision_rule == "three_zones" else ""
    )
    return (
        f"{QUANTITY.capitalize()} {kind_words(rule.kind)} {plain(rule.limit)}, {granted}; "
        f"{applies_to_words(rule.applies_to)}; {decision_rule_words(rule.decision_rule, rule.confidence)}{action}; "
        f"protests up to {protest_minutes} minutes after the decision."
    )


def told(rule: Ruled, in_force_from: date, protest_minutes: int) -> dict[str, str]:
    """Everything an edition says, label by label: what stands side by side when one replaces another."""
    return {
        "In force from": day(in_force_from),
        "Clause": rule.clause,
        "Wording": rule.text,
        "Limit": f"{kind_words(rule.kind)} {plain(rule.limit)}",
        "Tolerance": plain(rule.tolerance),
        "Tolerance limit": plain(tolerance_limit(rule.kind, rule.limit, rule.tolerance)),
        "Applies to": applies_to_words(rule.applies_to),
        "Decision rule": DECISION_RULES[rule.decision_rule][0],
        "Confidence": percent(rule.confidence),
        "When inconclusive": ACTIONS[rule.inconclusive_action][0],
        "Time for protests": f"{protest_minutes} minutes",
    }
