"""Decision rules on one value."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.conformity import DECISION_RULES, conformance_probability, decide, guard_band
from app.metrology.distributions import INFINITE
from app.metrology.rules import MAXIMUM, MINIMUM, RuleKind
from tests.unit.metrology.builders import ORDER

KINDS = st.sampled_from([MAXIMUM, MINIMUM])
RULES = st.sampled_from(sorted(DECISION_RULES))
DOF = st.sampled_from([1.0, 3.0, 17.0, INFINITE])
CONFIDENCES = st.sampled_from([0.5, 0.8, 0.95, 0.99])


def verdict(kind: RuleKind, rule: str, value: float, u: float = 0.1, confidence: float = 0.95) -> str:
    return decide(kind, rule, confidence, 10.6, value, u, INFINITE).verdict


@pytest.mark.parametrize("kind", [MAXIMUM, MINIMUM])
def test_simple_acceptance_holds_the_value_alone_against_the_limit(kind: RuleKind) -> None:
    assert verdict(kind, "simple_acceptance", 10.6) == "conforming"
    assert verdict(kind, "simple_acceptance", 10.6 + kind.sign * 0.0001) == "nonconforming"
    assert verdict(kind, "simple_acceptance", 10.6 - kind.sign * 0.0001) == "conforming"


# the guard band of u = 0.1 at 95 % is 0.1645
@pytest.mark.parametrize("kind", [MAXIMUM, MINIMUM])
@pytest.mark.parametrize(
    ("rule", "far_inside", "just_inside", "just_outside", "far_outside"),
    [
        ("guarded_acceptance", "conforming", "nonconforming", "nonconforming", "nonconforming"),
        ("guarded_rejection", "conforming", "conforming", "conforming", "nonconforming"),
        ("three_zones", "conforming", "inconclusive", "inconclusive", "nonconforming"),
    ],
)
def test_guarded_rules_decide_only_beyond_their_guard_band(
    kind: RuleKind, rule: str, far_inside: str, just_inside: str, just_outside: str, far_outside: str
) -> None:
    for inwards, expected in ((0.165, far_inside), (0.164, just_inside), (-0.164, just_outside), (-0.165, far_outside)):
        assert verdict(kind, rule, 10.6 - kind.sign * inwards) == expected


@pytest.mark.parametrize(
    ("rule", "acceptance", "rejection", "guard"),
    [
        ("simple_acceptance", 10.6, None, 0.0),
        ("guarded_acceptance", 10.4355, None, 0.1645),
        ("guarded_rejection", None, 10.7645, 0.1645),
        ("three_zones", 10.4355, 10.7645, 0.1645),
    ],
)
def test_each_rule_gives_the_limits_it_has_and_none_that_it_has_not(
    rule: str, acceptance: float | None, rejection: float | None, guard: float
) -> None:
    decision = decide(MAXIMUM, rule, 0.95, 10.6, 10.0, 0.1, INFINITE)
    assert decision.acceptance_limit == (acceptance and pytest.approx(acceptance, abs=5e-5))
    assert decision.rejection_limit == (rejection and pytest.approx(rejection, abs=5e-5))
    assert decision.guard_band == pytest.approx(guard, abs=5e-5)


@given(KINDS, st.floats(9.0, 12.0), st.floats(0.01, 0.5), DOF, CONFIDENCES)
def test_verdict_and_conformance_probability_agree(
    kind: RuleKind, value: float, u: float, dof: float, confidence: float
) -> None:
    probability = conformance_probability(kind, value, u, dof, 10.6)
    near = 1e-9
    verdicts = {rule: decide(kind, rule, confidence, 10.6, value, u, dof).verdict for rule in DECISION_RULES}
    if probability > confidence + near:
        assert set(verdicts.values()) == {"conforming"}
    if 1.0 - probability > confidence + near:
        assert set(verdicts.values()) == {"nonconforming"}
    if 1.0 - confidence + near < probability < confidence - near:
        assert verdicts["three_zones"] == "inconclusive"
        assert verdicts["guarded_acceptance"] == "nonconforming"
        assert verdicts["guarded_rejection"] == "conforming"


@given(KINDS, RULES, st.floats(9.0, 12.0), st.floats(0.0, 2.0), st.floats(0.01, 0.5), DOF, CONFIDENCES)
def test_a_kinder_limit_never_worsens_a_verdict(
    kind: RuleKind, rule: str, value: float, kinder: float, u: float, dof: float, confidence: float
) -> None:
    before = decide(kind, rule, confidence, 10.6, value, u, dof)
    after = decide(kind, rule, confidence, 10.6 + kind.sign * kinder, value, u, dof)
    assert ORDER[after.verdict] >= ORDER[before.verdict]
    assert after.conformance_probability >= before.conformance_probability


@given(RULES, st.floats(9.0, 12.0), st.floats(0.01, 0.5), DOF, CONFIDENCES)
def test_minimum_mirrors_maximum(rule: str, value: float, u: float, dof: float, confidence: float) -> None:
    mirrored = decide(MINIMUM, rule, confidence, -10.6, -value, u, dof)
    decision = decide(MAXIMUM, rule, confidence, 10.6, value, u, dof)
    assert mirrored.verdict == decision.verdict
    assert mirrored.conformance_probability == decision.conformance_probability
    assert mirrored.acceptance_limit == (decision.acceptance_limit and -decision.acceptance_limit)


@pytest.mark.parametrize("kind", [MAXIMUM, MINIMUM])
def test_exactly_at_the_rejection_limit_the_confidence_is_reached(kind: RuleKind) -> None:
    """At 50 % the guard band is nothing, so both limits meet the tolerance limit itself."""
    at_the_limit = {rule: verdict(kind, rule, 10.6, confidence=0.5) for rule in DECISION_RULES}
    assert at_the_limit == {
        "simple_acceptance": "conforming",
        "guarded_acceptance": "conforming",
        "guarded_rejection": "nonconforming",
        "three_zones": "conforming",
    }


def test_few_degrees_of_freedom_widen_the_guard_band() -> None:
    assert guard_band(0.1, 3.0, 0.95) == pytest.approx(0.2353, abs=5e-5)
    assert guard_band(0.1, INFINITE, 0.95) == pytest.approx(0.1645, abs=5e-5)


@given(st.integers(200, 9900), st.integers(0, 99))
def test_limit_and_tolerance_add_as_the_decimals_that_were_written(hundredths: int, granted: int) -> None:
    assert MAXIMUM.tolerance_limit(hundredths / 100, granted / 100) == (hundredths + granted) / 100
    assert MINIMUM.tolerance_limit(hundredths / 100, granted / 100) == (hundredths - granted) / 100
