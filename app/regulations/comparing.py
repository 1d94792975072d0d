"""Two editions side by side: what the next one would change, and whether it says anything new."""

from app.regulations import wording
from app.regulations.models import Edition, Rule
from app.regulations.ruled import quantity_key
from app.regulations.schemas import ChangeView, EditionIn, RuleIn

NOTHING_SAID = "–"
_SAID = [name for name in RuleIn.model_fields if name != "quantity"]  # rows keep its name, not its key


def changes_between(newest: Edition, data: EditionIn) -> list[ChangeView]:
    """Label by label, every rule of both; a rule that one of them does not have says nothing there."""
    old, new = (
        wording.told(one.rules, one.in_force_from, one.protest_minutes, one.overdue_days_allowed)
        for one in (newest, data)
    )
    last = (wording.PROTESTS, wording.OVERDUE)
    labels = [label for label in [*old, *(label for label in new if label not in old)] if label not in last]
    return [
        ChangeView(label=label, old=before, new=after, differs=before != after)
        for label in [*labels, *last]
        for before, after in [(old.get(label, NOTHING_SAID), new.get(label, NOTHING_SAID))]
    ]


def says_the_same(edition: Edition, data: EditionIn, *, with_note: bool = True) -> bool:
    """Whether all of this is already the edition's; the day it begins is not asked."""
    return (
        edition.protest_minutes == data.protest_minutes
        and edition.overdue_days_allowed == data.overdue_days_allowed
        and (not with_note or edition.note == data.note)
        and len(edition.rules) == len(data.rules)
        and all(_is_same(rule, asked) for rule, asked in zip(edition.rules, data.rules, strict=True))
    )


def _is_same(rule: Rule, asked: RuleIn) -> bool:
    return quantity_key(rule.quantity) == asked.quantity and all(
        getattr(rule, name) == getattr(asked, name) for name in _SAID
    )
