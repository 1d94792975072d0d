"""From a value with its uncertainty to a verdict against a limit: JCGM 106:2012, clauses 7 and 8; ILAC-G8:09/2019.

The verdict compares the unrounded value with the limits given here, so whoever has the slip can repeat it.
"""

from dataclasses import dataclass

from app.metrology.distributions import t_probability, t_quantile
from app.metrology.rules import RuleKind

CONFORMING = "conforming"
NONCONFORMING = "nonconforming"
INCONCLUSIVE = "inconclusive"
VERDICTS = (CONFORMING, NONCONFORMING, INCONCLUSIVE)

DECISION_RULES: dict[str, str] = {
    "simple_acceptance": "simple acceptance: the value alone is held against the limit (shared risk)",
    "guarded_acceptance": "guarded acceptance: conforming only when that is sufficiently certain",
    "guarded_rejection": "guarded rejection: nonconforming only when that is sufficiently certain",
    "three_zones": "three zones: either verdict only when it is sufficiently certain, inconclusive between",
}


@dataclass(frozen=True, slots=True)
class Decision:
    """A verdict on one value, the limits it followed from, and the probability that the true value conforms."""

    verdict: str
    conformance_probability: float
    acceptance_limit: float | None  # conforming up to here; None where the rule sets none
    rejection_limit: float | None  # nonconforming beyond here; None where the rule sets none
    guard_band: float  # ratio, never negative


def conformance_probability(
    kind: RuleKind, value: float, standard_uncertainty: float, degrees_of_freedom: float, tolerance_limit: float
) -> float:
    """p_c = P(true value on the right side of the tolerance limit), Student's t about the value. JCGM 106:2012, 7.3."""
    return t_probability(kind.margin(value, tolerance_limit) / standard_uncertainty, degrees_of_freedom)


def guard_band(standard_uncertainty: float, degrees_of_freedom: float, confidence: float) -> float:
    """Distance from the tolerance limit at which the one-sided confidence is just reached. JCGM 106:2012, 8.3."""
    return t_quantile(confidence, degrees_of_freedom) * standard_uncertainty


def decide(
    kind: RuleKind,
    decision_rule: str,
    confidence: float,
    tolerance_limit: float,
    value: float,
    standard_uncertainty: float,
    degrees_of_freedom: float,
) -> Decision:
    """The verdict on one value by one decision rule. JCGM 106:2012, 8.2 (simple), 8.3.2 and 8.3.3 (guarded)."""
    guard = guard_band(standard_uncertainty, degrees_of_freedom, confidence)
    accept_at, reject_beyond = _limits(kind, decision_rule, tolerance_limit, guard)
    if accept_at is not None and kind.margin(value, accept_at) >= 0.0:
        verdict = CONFORMING
    elif reject_beyond is not None and kind.margin(value, reject_beyond) > 0.0:
        verdict = CONFORMING if accept_at is None else INCONCLUSIVE
    else:
        verdict = NONCONFORMING
    return Decision(
        verdict=verdict,
        conformance_probability=conformance_probability(
            kind, value, standard_uncertainty, degrees_of_freedom, tolerance_limit
        ),
        acceptance_limit=accept_at,
        rejection_limit=reject_beyond,
        guard_band=0.0 if decision_rule == "simple_acceptance" else guard,
    )


def _limits(
    kind: RuleKind, decision_rule: str, tolerance_limit: float, guard: float
) -> tuple[float | None, float | None]:
    accept_at, reject_beyond = kind.shifted(tolerance_limit, guard), kind.shifted(tolerance_limit, -guard)
    match decision_rule:
        case "simple_acceptance":
            return tolerance_limit, None
        case "guarded_acceptance":
            return accept_at, None
        case "guarded_rejection":
            return None, reject_beyond
        case _:
            return accept_at, reject_beyond
