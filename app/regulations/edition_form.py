"""The form of the next edition: what it starts from, what may be chosen, and how it is read."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from app.metrology.rules import DESIGNATED_CYLINDER, RANGE
from app.parsing import parse
from app.regulations import wording
from app.regulations.ruled import COMPRESSION_RATIO, DISPLACEMENT
from app.regulations.schemas import ClassBookView, EditionIn, RuleView

RULE, DISPLACEMENT_RULE = "rule", "further.0"  # how the fields of either rule begin
WITH_DISPLACEMENT = "displacement"  # the box that opens the second rule


def choices() -> dict[str, Any]:
    """What the fields offer: (key, label, note) each."""
    return {
        "kinds": {quantity: wording.kinds_of(quantity) for quantity in (COMPRESSION_RATIO, DISPLACEMENT)},
        "scopes": [(key, *words) for key, words in wording.SCOPES.items()],
        "covers": [(key, *words) for key, words in wording.COVERS.items()],
        "decision_rules": [
            (key, name, f"{does} {doubt}") for key, (name, does, doubt) in wording.DECISION_RULES.items()
        ],
        "actions": [(key, *words) for key, words in wording.ACTIONS.items()],
    }


def prefilled(book: ClassBookView, today: date) -> dict[str, str]:
    """What the form starts from: the newest edition, or what most rule books choose."""
    if not book.editions:
        first = {"in_force_from": today.isoformat(), "protest_minutes": "30", "overdue_days_allowed": "0"}
        return {**first, WITH_DISPLACEMENT: "", **_usual(RULE), **_usual(DISPLACEMENT_RULE)}
    newest = book.editions[0]
    displacement = next((rule for rule in newest.rules if rule.quantity == DISPLACEMENT), None)
    return {
        "in_force_from": max(today, newest.in_force_from).isoformat(),
        "protest_minutes": str(newest.protest_minutes),
        "overdue_days_allowed": str(newest.overdue_days_allowed),
        **_as_kept(RULE, newest.rule),
        **(_as_kept(DISPLACEMENT_RULE, displacement) if displacement else _usual(DISPLACEMENT_RULE)),
        WITH_DISPLACEMENT: "yes" if displacement else "",
    }


def _usual(name: str) -> dict[str, str]:
    return {
        f"{name}.clause": "",
        f"{name}.text": "",
        f"{name}.kind": "maximum",
        f"{name}.limit": "",
        f"{name}.lower_limit": "",
        f"{name}.tolerance": "",  # a tolerance nobody wrote must not be granted
        f"{name}.tolerance_covers_uncertainty": "no",
        f"{name}.applies_to": "every_cylinder",
        f"{name}.designated_cylinder": "",
        f"{name}.decision_rule": "three_zones",
        f"{name}.confidence": "95",
        f"{name}.inconclusive_action": "measure_again",
    }


def _as_kept(name: str, rule: RuleView) -> dict[str, str]:
    """Exactly what the edition says, so that a form sent on as it stands changes nothing."""
    return {
        f"{name}.clause": rule.clause,
        f"{name}.text": rule.text,
        f"{name}.kind": rule.kind,
        f"{name}.limit": wording.as_typed(rule.quantity, rule.limit),
        f"{name}.lower_limit": "" if rule.lower_limit is None else wording.as_typed(rule.quantity, rule.lower_limit),
        f"{name}.tolerance": wording.as_typed(rule.quantity, rule.tolerance),
        f"{name}.tolerance_covers_uncertainty": "yes" if rule.tolerance_covers_uncertainty else "no",
        f"{name}.applies_to": rule.applies_to,
        f"{name}.designated_cylinder": str(rule.designated_cylinder or ""),
        f"{name}.decision_rule": rule.decision_rule,
        f"{name}.confidence": wording.percent(rule.confidence).removesuffix(" %"),
        f"{name}.inconclusive_action": rule.inconclusive_action,
    }


def read_edition(form: Mapping[str, Any], units: str) -> EditionIn:
    """What the form says. Fields that belong to a choice not taken are put away on the page and say nothing."""
    typed = {name: value for name, value in form.items() if name != WITH_DISPLACEMENT}
    for name in (RULE, DISPLACEMENT_RULE):
        if typed.get(f"{name}.kind") != RANGE:
            typed.pop(f"{name}.lower_limit", None)
        if typed.get(f"{name}.applies_to") != DESIGNATED_CYLINDER:
            typed.pop(f"{name}.designated_cylinder", None)
    start = f"{DISPLACEMENT_RULE}."
    first = {name: value for name, value in typed.items() if not name.startswith(start)}
    second = {
        name.removeprefix(start): value
        for name, value in typed.items()
        if name.startswith(start) and (not isinstance(value, str) or value.strip())
    }
    opened = form.get(WITH_DISPLACEMENT) == "yes"
    return parse(EditionIn, {**first, "further": [{"quantity": DISPLACEMENT, **second}] if opened else []}, units)
