"""What a rule says, in words: one place for the rule book, the sheet and whoever quotes the edition."""

from collections.abc import Sequence
from datetime import date
from decimal import Decimal

from app.intake import KINDS as UNITS
from app.intake import day
from app.metrology.rules import APPLIES_TO, DESIGNATED_CYLINDER, INCONCLUSIVE_ACTIONS, RANGE, SIDES
from app.regulations.ruled import COMPRESSION_RATIO, DISPLACEMENT, Ruled, quantity_key, quantity_words, sides_of

PROTESTS = "Time for protests"
OVERDUE = "Overdue calibration allowed"
# label, and what it does in words of the quantity
KINDS: dict[str, tuple[str, str]] = {
    "maximum": ("At most", "A {higher} breaks the rule. The tolerance is added to the limit."),
    "minimum": ("At least", "A {lower} breaks the rule. The tolerance is taken off the limit."),
    RANGE: ("Between two limits", "The tolerance widens the range on both sides."),
}
_HIGHER_AND_LOWER = {
    COMPRESSION_RATIO: ("higher ratio", "lower ratio"),
    DISPLACEMENT: ("larger displacement", "smaller displacement"),
}
SCOPES: dict[str, tuple[str, str]] = {
    "every_cylinder": ("Every cylinder", "One cylinder past the limit is enough; the worst one decides."),
    "mean_of_cylinders": ("The mean of all cylinders", "Single cylinders may lie past it; their mean may not."),
    DESIGNATED_CYLINDER: ("One designated cylinder", "Only the cylinder named below is judged; others are shown."),
}
# what the tolerance is meant for
COVERS: dict[str, tuple[str, str]] = {
    "no": (
        "No",
        "It is for the engine: manufacture, wear. The uncertainty of the measurement counts besides, as chosen below.",
    ),
    "yes": (
        "Yes",
        "Nothing is added for the measurement, on either side: the value alone is held against limit and tolerance.",
    ),
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


COVERED_DOUBT = (
    "The tolerance bears the doubt: an engine at its limit is not failed by the spread of the measurement, and one "
    "past it by less than the tolerance may pass."
)


def kinds_of(quantity: str) -> list[tuple[str, str, str]]:
    """(key, label, note) of every kind of limit, in this quantity's words."""
    higher, lower = _HIGHER_AND_LOWER[quantity]
    return [(key, label, note.format(higher=higher, lower=lower)) for key, (label, note) in KINDS.items()]


def plain(number: Decimal) -> str:
    """The digits as written, at least two decimals: a limit is read as 10.50, not 10.5."""
    return f"{number:.{max(2, _decimals(number))}f}"


def _decimals(number: Decimal) -> int:
    exponent = number.as_tuple().exponent
    return max(0, -exponent) if isinstance(exponent, int) else 0


def as_typed(quantity: str, number: Decimal) -> str:
    """Exactly this number as somebody would type it: a displacement with the unit in which it is the shorter one."""
    if quantity != DISPLACEMENT:
        return plain(number)
    metric, inch = _trimmed(number), _in_cubic_inches(number)
    short_in_inches = UNITS["volume"].to_stored(inch, "in³") == number and _decimals(inch) < _decimals(metric)
    return f"{inch:f} in³" if short_in_inches else f"{metric:f} cm³"


def figure(quantity: str, number: Decimal) -> str:
    """A limit or a tolerance as it is quoted: a displacement in the system it was written in, then in the other."""
    if quantity != DISPLACEMENT:
        return plain(number)
    exact = as_typed(quantity, number)
    other = f"{_in_cubic_inches(number):.2f} in³" if exact.endswith("cm³") else f"{number:.2f} cm³"
    return f"{exact} ({other})"


def _in_cubic_inches(volume_cm3: Decimal) -> Decimal:
    return _trimmed(UNITS["volume"].from_stored(volume_cm3, "in³"))


def _trimmed(number: Decimal) -> Decimal:
    """Without zeros that say nothing: 2500.0 is 2500."""
    return number.quantize(Decimal(1)) if number == number.to_integral_value() else number.normalize()


def percent(confidence: Decimal) -> str:
    """0.95 as "95 %", without digits that say nothing."""
    return f"{format((confidence * 100).normalize(), 'f')} %"


def kind_words(kind: str) -> str:
    return "between" if kind == RANGE else SIDES[kind].label


def limit_words(rule: Ruled) -> str:
    """ "at most 10.50", "between 9.50 and 10.50"."""
    return f"{kind_words(rule.kind)} {_joined(rule, [limit for _, limit, _ in sides_of(rule)])}"


def tolerance_limit_words(rule: Ruled) -> str:
    """The same with the tolerance granted: "at most 10.60", "between 9.40 and 10.60"."""
    return f"{kind_words(rule.kind)} {_joined(rule, [bound for _, _, bound in sides_of(rule)])}"


def _joined(rule: Ruled, numbers: Sequence[Decimal]) -> str:
    return " and ".join(figure(quantity_key(rule.quantity), number) for number in numbers)


def tolerance_words(rule: Ruled) -> str:
    return figure(quantity_key(rule.quantity), rule.tolerance) if rule.tolerance else "none"


def applies_to_words(rule: Ruled) -> str:
    if rule.applies_to == DESIGNATED_CYLINDER:
        return f"cylinder {rule.designated_cylinder} alone"
    return APPLIES_TO[rule.applies_to]


def action_words(key: str) -> str:
    return INCONCLUSIVE_ACTIONS[key]


def decision_rule_words(rule: Ruled) -> str:
    """The rule with the confidence it asks for; simple acceptance asks for none."""
    label = DECISION_RULES[rule.decision_rule][0].lower()
    if rule.tolerance_covers_uncertainty:
        return f"{label}, the tolerance covering the uncertainty of measurement"
    return label if rule.decision_rule == "simple_acceptance" else f"{label} at {percent(rule.confidence)} confidence"


def who_bears_the_doubt(rule: Ruled) -> str:
    return COVERED_DOUBT if rule.tolerance_covers_uncertainty else DECISION_RULES[rule.decision_rule][2]


def rule_sentence(rule: Ruled, protest_minutes: int) -> str:
    """The whole rule in one sentence, as the rule book quotes it."""
    bounds = [bound for _, _, bound in sides_of(rule)]
    several = len(bounds) > 1
    if rule.tolerance:
        granted = (
            f"tolerance {tolerance_words(rule)}, so the tolerance limit{'s are' if several else ' is'} "
            f"{_joined(rule, bounds)}"
        )
    else:
        granted = f"no tolerance, so the {'limits themselves decide' if several else 'limit itself decides'}"
    action = (
        f"; when inconclusive: {action_words(rule.inconclusive_action)}" if rule.decision_rule == "three_zones" else ""
    )
    return (
        f"{quantity_words(quantity_key(rule.quantity)).capitalize()} {limit_words(rule)}, {granted}; "
        f"{applies_to_words(rule)}; {decision_rule_words(rule)}{action}; "
        f"protests up to {protest_minutes} minutes after the decision."
    )


def overdue_words(days_allowed: int) -> str:
    """How long after its due date an instrument may still be used: "not", "up to 1 day", "up to 14 days"."""
    if not days_allowed:
        return "not"
    return f"up to {days_allowed} {'day' if days_allowed == 1 else 'days'}"


def told(
    rules: Sequence[Ruled], in_force_from: date, protest_minutes: int, overdue_days_allowed: int
) -> dict[str, str]:
    """Everything an edition says, label by label: what stands side by side when one replaces another."""
    said = {"In force from": day(in_force_from)}
    for rule in rules:
        quantity = quantity_key(rule.quantity)
        of = "" if quantity == COMPRESSION_RATIO else f"{quantity_words(quantity).capitalize()}: "
        said |= {(f"{of}{label.lower()}" if of else label): words for label, words in _told_of(rule).items()}
    return {**said, PROTESTS: f"{protest_minutes} minutes", OVERDUE: overdue_words(overdue_days_allowed)}


def _told_of(rule: Ruled) -> dict[str, str]:
    return {
        "Clause": rule.clause,
        "Wording": rule.text,
        "Limit": limit_words(rule),
        "Tolerance": tolerance_words(rule),
        "Tolerance limit": tolerance_limit_words(rule),
        "Covers the uncertainty": "yes" if rule.tolerance_covers_uncertainty else "no",
        "Applies to": applies_to_words(rule),
        "Decision rule": DECISION_RULES[rule.decision_rule][0],
        "Confidence": percent(rule.confidence),
        "When inconclusive": ACTIONS[rule.inconclusive_action][0],
    }
