"""The verdict on an engine from judged results alone: what is missing, what may leak, what may be obstructed."""

import pytest

from app.metrology.conformity import Decision
from app.metrology.distributions import INFINITE, t_quantile
from app.metrology.measurement import Measurement
from app.metrology.rejection import Parts, rejection_factor
from app.metrology.rules import MAXIMUM, MINIMUM, RuleKind
from app.metrology.spread import Spread
from app.metrology.uncertainty import effective_degrees_of_freedom, mean_of
from app.metrology.verdict import Doubts, EngineVerdict, Judged, judge_engine
from tests.unit.metrology.builders import a_rule, parts_of

GOOD, OPEN, BAD = "conforming", "inconclusive", "nonconforming"
NONE = Doubts((), ())


def a_result(cylinder: int, verdict: str, side: RuleKind = MAXIMUM, probability: float | None = None) -> Judged:
    usual = {GOOD: 0.99, OPEN: 0.5, BAD: 0.01}[verdict]
    return Judged(cylinder, Decision(verdict, side, 10.6, 10.5, 10.7), probability or usual, 0.0)


def judged(
    *results: Judged, doubts: Doubts = NONE, missing: tuple[int, ...] = (), **rule: str | float
) -> EngineVerdict:
    return judge_engine(a_rule(**rule), results, missing, doubts)


def test_the_worst_proven_failure_decides_and_nothing_stood_in_the_way() -> None:
    found = judged(a_result(2, BAD, probability=0.02), a_result(1, BAD, probability=0.04), a_result(3, GOOD))
    assert found == EngineVerdict(BAD, "", a_result(2, BAD, probability=0.02), (), (), ())


def test_all_good_conforms_and_the_least_certain_decides() -> None:
    found = judged(a_result(1, GOOD, probability=0.999), a_result(2, GOOD, probability=0.98))
    assert found == EngineVerdict(GOOD, "", a_result(2, GOOD, probability=0.98), (), (), ())


@pytest.mark.parametrize("action", ["measure_again", "teardown", "benefit_of_doubt"])
def test_doubt_about_a_value_has_the_action_of_the_edition(action: str) -> None:
    assert judged(a_result(1, OPEN), inconclusive_action=action).action == action


@pytest.mark.parametrize(
    ("doubts", "missing"), [(Doubts((2,), ()), ()), (NONE, (2,))], ids=["a leak", "a missing cylinder"]
)
def test_the_benefit_of_the_doubt_is_not_for_what_is_not_there(doubts: Doubts, missing: tuple[int, ...]) -> None:
    found = judged(a_result(1, GOOD), doubts=doubts, missing=missing, inconclusive_action="benefit_of_doubt")
    assert (found.verdict, found.action) == (OPEN, "measure_again")
    assert (found.leaking, found.missing, found.obstructed) == (doubts.lowered, missing, ())
    again = judged(a_result(1, GOOD), doubts=doubts, missing=missing, inconclusive_action="teardown")
    assert again.action == "teardown"


def test_under_a_maximum_only_a_leak_hides_something() -> None:
    assert judged(a_result(1, GOOD), doubts=Doubts((), (1,))).verdict == GOOD
    assert judged(a_result(1, GOOD), doubts=Doubts((1,), ())).verdict == OPEN
    assert judged(a_result(1, BAD), doubts=Doubts((1,), (1,))).verdict == BAD


def test_under_a_minimum_only_an_obstruction_hides_something() -> None:
    minimum = {"kind": "minimum"}
    assert judged(a_result(1, GOOD, MINIMUM), doubts=Doubts((1,), ()), **minimum).verdict == GOOD
    found = judged(a_result(1, GOOD, MINIMUM), doubts=Doubts((), (1,)), **minimum)
    assert (found.verdict, found.obstructed, found.leaking) == (OPEN, (1,), ())


def test_under_a_minimum_a_failure_that_may_be_a_leak_is_unproven_and_another_is_proven() -> None:
    minimum = {"kind": "minimum"}
    leaking = judged(a_result(1, BAD, MINIMUM), a_result(2, GOOD, MINIMUM), doubts=Doubts((1,), ()), **minimum)
    assert (leaking.verdict, leaking.leaking) == (OPEN, (1,))
    elsewhere = judged(a_result(1, BAD, MINIMUM), a_result(2, GOOD, MINIMUM), doubts=Doubts((2,), ()), **minimum)
    assert elsewhere.verdict == BAD


def test_a_mean_may_be_false_when_any_cylinder_may_leak() -> None:
    rule = {"kind": "minimum", "applies_to": "mean_of_cylinders"}
    assert judged(a_result(0, BAD, MINIMUM), doubts=Doubts((3,), ()), **rule).verdict == OPEN
    assert judged(a_result(0, BAD, MINIMUM), **rule).verdict == BAD


def test_the_mean_of_some_cylinders_fails_nobody() -> None:
    found = judged(a_result(0, BAD), missing=(4,), applies_to="mean_of_cylinders")
    assert (found.verdict, found.missing) == (OPEN, (4,))
    assert judged(a_result(1, BAD), missing=(4,)).verdict == BAD


# ---- sharp edges of the figures behind it ---------------------------------------------------------------------------


def test_without_a_shared_part_the_factor_is_that_of_independent_errors() -> None:
    parts = Parts(0.0, 0.0, 0.1, 10.0)
    assert rejection_factor(parts, Spread(0.0, 0.1, 10.0), 8, 0.95) == pytest.approx(t_quantile(0.95 ** (1 / 8), 10.0))


def test_a_budget_without_any_part_is_endlessly_certain() -> None:
    assert effective_degrees_of_freedom([]) == INFINITE
    assert effective_degrees_of_freedom([(0.0, 3.0)]) == INFINITE
    assert effective_degrees_of_freedom([(1.0, 3.0)]) == pytest.approx(3.0)


def test_the_mean_of_one_cylinder_is_that_cylinder_and_shares_nothing_more() -> None:
    sources, one = parts_of((0.03, 2.0, 6.0, 1.0), (0.04, 1.0, INFINITE, 0.0, 3.0))
    mean = mean_of(Measurement(tuple(sources), (one,)))
    assert (mean.u[0], mean.dof[0], mean.sensitivity[0]) == (0.03, 6.0, 2.0)
    assert (mean.u[1], mean.dof[1]) == (0.04, INFINITE)
    assert mean.dof_in_common == (0.0, 0.0)
