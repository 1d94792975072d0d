"""Decision rules on one value."""

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.conformity import DECISION_RULES, Decision, conformance_probability, decide
from app.metrology.distributions import INFINITE
from app.metrology.inputs import Rule
from app.metrology.rules import MAXIMUM, MINIMUM, RuleKind, tolerance_limits, written_limit
from app.metrology.spread import Spread
from tests.unit.metrology.builders import ORDER, a_rule

KINDS = st.sampled_from([MAXIMUM, MINIMUM])
RULES = st.sampled_from(sorted(DECISION_RULES))
SPREADS = st.builds(Spread, st.floats(0.0, 0.3), st.floats(0.01, 0.3), st.sampled_from([1.0, 3.0, 17.0, INFINITE]))
CONFIDENCES = st.sampled_from([0.5, 0.8, 0.95, 0.99])
BELL = Spread(0.0, 0.1, INFINITE)


def the_rule(kind: RuleKind = MAXIMUM, decision_rule: str = "three_zones", **changes: Any) -> Rule:
    given = {"kind": kind.key, "decision_rule": decision_rule, "limit": 10.6, "tolerance": 0.0}
    return a_rule(**{**given, **changes})


def decided(rule: Rule, value: float, spread: Spread = BELL, confidence: float = 0.95) -> Decision:
    guard = spread.quantile(confidence)
    return decide(rule, value, guard, guard)


@pytest.mark.parametrize("kind", [MAXIMUM, MINIMUM])
def test_simple_acceptance_holds_the_value_alone_against_the_limit(kind: RuleKind) -> None:
    rule = the_rule(kind, "simple_acceptance")
    assert decided(rule, 10.6).verdict == "conforming"
    assert decided(rule, 10.6 + kind.sign * 0.0001).verdict == "nonconforming"
    assert decided(rule, 10.6 - kind.sign * 0.0001).verdict == "conforming"


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
        assert decided(the_rule(kind, rule), 10.6 - kind.sign * inwards).verdict == expected


@pytest.mark.parametrize(
    ("rule", "acceptance", "rejection"),
    [
        ("simple_acceptance", 10.6, None),
        ("guarded_acceptance", 10.4355, None),
        ("guarded_rejection", None, 10.7645),
        ("three_zones", 10.4355, 10.7645),
    ],
)
def test_each_rule_gives_the_limits_it_has_and_none_that_it_has_not(
    rule: str, acceptance: float | None, rejection: float | None
) -> None:
    decision = decided(the_rule(MAXIMUM, rule), 10.0)
    assert decision.acceptance_limit == (acceptance and pytest.approx(acceptance, abs=5e-5))
    assert decision.rejection_limit == (rejection and pytest.approx(rejection, abs=5e-5))
    assert (decision.side, decision.tolerance_limit) == (MAXIMUM, 10.6)


def test_accepting_and_rejecting_are_guarded_each_by_its_own_band() -> None:
    decision = decide(the_rule(), 10.5, 0.2, 0.3)
    assert (decision.acceptance_limit, decision.rejection_limit) == (pytest.approx(10.4), pytest.approx(10.9))


@given(KINDS, st.floats(9.0, 12.0), SPREADS, CONFIDENCES)
def test_verdict_and_conformance_probability_agree(
    kind: RuleKind, value: float, spread: Spread, confidence: float
) -> None:
    probability = conformance_probability(the_rule(kind), value, spread)
    near = 1e-7
    verdicts = {name: decided(the_rule(kind, name), value, spread, confidence).verdict for name in DECISION_RULES}
    if probability > confidence + near:
        assert set(verdicts.values()) == {"conforming"}
    if 1.0 - probability > confidence + near:
        assert set(verdicts.values()) == {"nonconforming"}
    if 1.0 - confidence + near < probability < confidence - near:
        assert verdicts["three_zones"] == "inconclusive"
        assert verdicts["guarded_acceptance"] == "nonconforming"
        assert verdicts["guarded_rejection"] == "conforming"


@given(KINDS, RULES, st.floats(9.0, 12.0), st.floats(0.0, 2.0), SPREADS, CONFIDENCES)
def test_a_kinder_limit_never_worsens_a_verdict(
    kind: RuleKind, name: str, value: float, kinder: float, spread: Spread, confidence: float
) -> None:
    before, after = the_rule(kind, name), the_rule(kind, name, limit=10.6 + kind.sign * kinder)
    assert (
        ORDER[decided(after, value, spread, confidence).verdict]
        >= ORDER[decided(before, value, spread, confidence).verdict]
    )
    assert conformance_probability(after, value, spread) >= conformance_probability(before, value, spread) - 1e-15


@given(RULES, st.floats(9.0, 12.0), SPREADS, CONFIDENCES)
def test_minimum_mirrors_maximum(name: str, value: float, spread: Spread, confidence: float) -> None:
    mirrored = decided(the_rule(MINIMUM, name, limit=-10.6), -value, spread, confidence)
    decision = decided(the_rule(MAXIMUM, name), value, spread, confidence)
    assert mirrored.verdict == decision.verdict
    assert mirrored.acceptance_limit == (decision.acceptance_limit and -decision.acceptance_limit)
    assert mirrored.rejection_limit == (decision.rejection_limit and -decision.rejection_limit)


@pytest.mark.parametrize("kind", [MAXIMUM, MINIMUM])
def test_exactly_at_either_limit_the_engine_has_the_benefit(kind: RuleKind) -> None:
    """At 50 % the guard band is nothing, so both limits meet the tolerance limit itself."""
    at_the_limit = {name: decided(the_rule(kind, name), 10.6, confidence=0.5).verdict for name in DECISION_RULES}
    assert set(at_the_limit.values()) == {"conforming"}
    guarded = decide(the_rule(kind, "guarded_rejection"), 10.6 + kind.sign * 0.25, 0.25, 0.25)
    assert guarded.verdict == "conforming"
    assert decide(the_rule(kind), 10.6 + kind.sign * 0.25, 0.25, 0.25).verdict == "inconclusive"
    assert decide(the_rule(kind), 10.6 + kind.sign * 0.2501, 0.25, 0.25).verdict == "nonconforming"


RANGE = {"kind": "range", "limit": 10.6, "lower_limit": 10.0, "tolerance": 0.05}


@pytest.mark.parametrize(
    ("value", "verdict", "side", "limit"),
    [
        (10.30, "conforming", MAXIMUM, 10.65),
        (10.29, "conforming", MINIMUM, 9.95),
        (10.60, "inconclusive", MAXIMUM, 10.65),
        (10.00, "inconclusive", MINIMUM, 9.95),
        (10.90, "nonconforming", MAXIMUM, 10.65),
        (9.70, "nonconforming", MINIMUM, 9.95),
    ],
)
def test_a_range_is_judged_on_both_sides_and_the_worse_one_decides(
    value: float, verdict: str, side: RuleKind, limit: float
) -> None:
    decision = decide(a_rule(**RANGE), value, 0.1, 0.2)
    assert (decision.verdict, decision.side.key) == (verdict, side.key)
    assert decision.tolerance_limit == pytest.approx(limit)
    assert decision.acceptance_limit == pytest.approx(limit - side.sign * 0.1)
    assert decision.rejection_limit == pytest.approx(limit + side.sign * 0.2)


def test_a_range_narrower_than_its_guard_bands_accepts_nobody() -> None:
    for hundredths in range(900, 1200):
        assert decide(a_rule(**RANGE), hundredths / 100, 0.4, 0.4).verdict != "conforming"


@given(st.floats(9.5, 11.0), SPREADS)
def test_in_a_range_either_side_takes_its_part_of_the_probability(value: float, spread: Spread) -> None:
    inside = conformance_probability(a_rule(**RANGE), value, spread)
    too_high = 1.0 - conformance_probability(a_rule(limit=10.6, tolerance=0.05), value, spread)
    too_low = 1.0 - conformance_probability(a_rule(kind="minimum", limit=10.0, tolerance=0.05), value, spread)
    assert inside == pytest.approx(1.0 - too_high - too_low, abs=1e-12)


def test_the_written_limit_is_that_of_its_side() -> None:
    rule = a_rule(**RANGE)
    assert (written_limit(rule, MAXIMUM), written_limit(rule, MINIMUM)) == (10.6, 10.0)
    assert [limit for _, limit in tolerance_limits(rule)] == [10.65, 9.95]
    assert written_limit(a_rule(kind="minimum", limit=9.0), MINIMUM) == 9.0


@given(st.integers(200, 9900), st.integers(0, 99))
def test_limit_and_tolerance_add_as_the_decimals_that_were_written(hundredths: int, granted: int) -> None:
    assert MAXIMUM.tolerance_limit(hundredths / 100, granted / 100) == (hundredths + granted) / 100
    assert MINIMUM.tolerance_limit(hundredths / 100, granted / 100) == (hundredths - granted) / 100
