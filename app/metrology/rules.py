"""The kinds of limit a rule book sets, and the words that an edition chooses from."""

from dataclasses import dataclass
from decimal import Decimal

from app.metrology.inputs import Rule

ARITHMETIC_NOISE = (
    1e-9  # ratio; the mean of three times 10.77 comes out 2e-15 above 10.77, and no verdict hangs on that
)

EVERY_CYLINDER, MEAN_OF_CYLINDERS = "every_cylinder", "mean_of_cylinders"
DESIGNATED_CYLINDER, WHOLE_ENGINE = "designated_cylinder", "whole_engine"
APPLIES_TO: dict[str, str] = {
    EVERY_CYLINDER: "every cylinder",
    MEAN_OF_CYLINDERS: "the mean of all cylinders",
    DESIGNATED_CYLINDER: "one designated cylinder",
    WHOLE_ENGINE: "the engine as a whole",
}
INCONCLUSIVE_ACTIONS: dict[str, str] = {
    "measure_again": "measure again",
    "teardown": "teardown",
    "benefit_of_doubt": "benefit of the doubt",
}


@dataclass(frozen=True, slots=True)
class RuleKind:
    """A limit on one side. `sign` is +1 where more is worse (maximum), −1 where less is worse (minimum)."""

    key: str
    label: str
    sign: int
    beyond: str  # the word for the wrong side
    within: str  # the word for the right side

    def tolerance_limit(self, limit: float, tolerance: float) -> float:
        """Limit and granted tolerance together, same unit, added as the decimals written: 10.4 + 0.2 is 10.6."""
        return float(Decimal(repr(limit)) + self.sign * Decimal(repr(tolerance)))

    def margin(self, value: float, bound: float) -> float:
        """How far the value stands on the right side of the bound, same unit; negative on the wrong side.

        A difference that is only noise of the arithmetic is none: three times 10.77 indicated is 10.77, at the limit.
        """
        margin = self.sign * (bound - value)
        return 0.0 if abs(margin) < ARITHMETIC_NOISE else margin

    def shifted(self, bound: float, inwards: float) -> float:
        """The bound moved towards the right side by this much; outwards when negative."""
        return bound - self.sign * inwards


MAXIMUM = RuleKind("maximum", "at most", +1, beyond="above", within="at or below")
MINIMUM = RuleKind("minimum", "at least", -1, beyond="below", within="at or above")
SIDES: dict[str, RuleKind] = {side.key: side for side in (MAXIMUM, MINIMUM)}
RANGE = "range"  # judged on both sides, each like a limit of its own
RULE_KINDS: dict[str, tuple[RuleKind, ...]] = {"maximum": (MAXIMUM,), "minimum": (MINIMUM,), RANGE: (MAXIMUM, MINIMUM)}


def written_limit(rule: Rule, side: RuleKind) -> float:
    """The rule book's number on this side."""
    return rule.limit if rule.lower_limit is None or side is MAXIMUM else rule.lower_limit


def tolerance_limits(rule: Rule) -> tuple[tuple[RuleKind, float], ...]:
    """Every side that the rule limits, with its limit and granted tolerance together, in the quantity's unit."""
    return tuple(
        (side, side.tolerance_limit(written_limit(rule, side), rule.tolerance)) for side in RULE_KINDS[rule.kind]
    )
