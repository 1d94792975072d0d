"""The kinds of limit a rule book sets, and the words that an edition chooses from."""

from dataclasses import dataclass
from decimal import Decimal

ARITHMETIC_NOISE = (
    1e-9  # ratio; the mean of three times 10.77 comes out 2e-15 above 10.77, and no verdict hangs on that
)

APPLIES_TO: dict[str, str] = {
    "every_cylinder": "every cylinder",
    "mean_of_cylinders": "the mean of all cylinders",
}
INCONCLUSIVE_ACTIONS: dict[str, str] = {
    "measure_again": "measure again",
    "teardown": "teardown",
    "benefit_of_doubt": "benefit of the doubt",
}


@dataclass(frozen=True, slots=True)
class RuleKind:
    """A one-sided limit. `sign` is +1 where more is worse (maximum), −1 where less is worse (minimum)."""

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
RULE_KINDS: dict[str, RuleKind] = {kind.key: kind for kind in (MAXIMUM, MINIMUM)}
