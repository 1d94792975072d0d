"""A rule as the core judges it, whether an edition holds it already or somebody asks for it."""

from decimal import Decimal
from typing import Protocol

from app.metrology import inputs as core
from app.metrology.measurement import COMPRESSION_RATIO, DISPLACEMENT, QUANTITIES
from app.metrology.rules import RULE_KINDS, RuleKind

__all__ = ["COMPRESSION_RATIO", "DISPLACEMENT", "Ruled", "core_rule", "quantity_key", "quantity_words", "sides_of"]

_KEYS = {name: key for key, (name, _) in QUANTITIES.items()}


class Ruled(Protocol):
    """A rule of the rule book. Limits and tolerance in the quantity's unit: a ratio has none, a displacement is cm³."""

    @property
    def clause(self) -> str: ...
    @property
    def text(self) -> str: ...
    @property
    def quantity(self) -> str: ...  # the core's key, or its name as rows keep it
    @property
    def kind(self) -> str: ...
    @property
    def limit(self) -> Decimal: ...
    @property
    def lower_limit(self) -> Decimal | None: ...
    @property
    def tolerance(self) -> Decimal: ...
    @property
    def tolerance_covers_uncertainty(self) -> bool: ...
    @property
    def applies_to(self) -> str: ...
    @property
    def designated_cylinder(self) -> int | None: ...
    @property
    def decision_rule(self) -> str: ...
    @property
    def confidence(self) -> Decimal: ...
    @property
    def inconclusive_action(self) -> str: ...


def quantity_key(written: str) -> str:
    """The core's key of a quantity from its key or its name: rows keep "static compression ratio"."""
    return _KEYS.get(written, written)


def quantity_words(key: str) -> str:
    return QUANTITIES[key][0]


def core_rule(rule: Ruled) -> core.Rule:
    """The same rule as the core takes it."""
    return core.Rule(
        kind=rule.kind,
        limit=float(rule.limit),
        tolerance=float(rule.tolerance),
        applies_to=rule.applies_to,
        decision_rule=rule.decision_rule,
        confidence=float(rule.confidence),
        inconclusive_action=rule.inconclusive_action,
        quantity=quantity_key(rule.quantity),
        lower_limit=None if rule.lower_limit is None else float(rule.lower_limit),
        designated_cylinder=rule.designated_cylinder,
        tolerance_covers_uncertainty=rule.tolerance_covers_uncertainty,
    )


def sides_of(rule: Ruled) -> list[tuple[RuleKind, Decimal, Decimal]]:
    """Each side the rule limits, the lower one first: (side, limit as written, limit and tolerance together), exact."""
    found = []
    for side in reversed(RULE_KINDS[rule.kind]):
        limit = rule.limit if rule.lower_limit is None or side.sign > 0 else rule.lower_limit
        found.append((side, limit, limit + side.sign * rule.tolerance))
    return found
