import math

import pytest
from scipy import stats

from app.metrology.errors import MeasurementError
from app.metrology.risk.intervals import DecisionLimits, Interval, decision_limits
from app.metrology.risk.processes import Normal
from app.metrology.risk.sampling import capability, probability_accepted


def test_an_interval_counts_its_ends_and_may_be_open() -> None:
    between = Interval(9.0, 11.0)
    assert [between.contains(value) for value in (8.999, 9.0, 10.0, 11.0, 11.001)] == [False, True, True, True, False]
    assert between.ends == (9.0, 11.0)
    assert Interval(upper=11.0).ends == (11.0,)
    assert Interval(lower=9.0).ends == (9.0,)
    assert Interval().ends == ()
    assert Interval().contains(1e300)


@pytest.mark.parametrize(("lower", "upper"), [(11.0, 9.0), (10.0, 10.0), (math.nan, 9.0)])
def test_an_interval_upside_down_says_so(lower: float, upper: float) -> None:
    with pytest.raises(MeasurementError, match="must lie below the upper one"):
        Interval(lower, upper)


@pytest.mark.parametrize(
    ("rule", "acceptance", "rejection"),
    [
        ("simple_acceptance", (9.0, 11.0), (9.0, 11.0)),
        ("guarded_acceptance", (9.1, 10.9), (9.1, 10.9)),
        ("guarded_rejection", (8.75, 11.25), (8.75, 11.25)),
        ("three_zones", (9.1, 10.9), (8.75, 11.25)),
    ],
)
def test_each_decision_rule_accepts_and_rejects_where_it_says(
    rule: str, acceptance: tuple[float, float], rejection: tuple[float, float]
) -> None:
    limits = decision_limits(rule, Interval(9.0, 11.0), acceptance_guard=0.1, rejection_guard=0.25)
    assert limits == DecisionLimits(Interval(*acceptance), Interval(*rejection))
    assert limits.ends == (*acceptance, *rejection)


def test_a_one_sided_limit_stays_one_sided() -> None:
    limits = decision_limits("three_zones", Interval(upper=10.5), 0.125, 0.25)
    assert limits == DecisionLimits(Interval(upper=10.375), Interval(upper=10.75))
    limits = decision_limits("three_zones", Interval(lower=10.5), 0.125, 0.25)
    assert limits == DecisionLimits(Interval(lower=10.625), Interval(lower=10.25))


@pytest.mark.parametrize("rejection", [Interval(9.0, 10.9), Interval(9.2, 11.0)])
def test_nothing_is_accepted_and_rejected_at_once(rejection: Interval) -> None:
    with pytest.raises(MeasurementError, match="accepted and rejected at once") as raised:
        DecisionLimits(Interval(9.1, 10.95), rejection)
    assert raised.value.field == "rejection"


@pytest.mark.parametrize("p", [0.0, 0.03, 0.5, 1.0])
@pytest.mark.parametrize(("n", "c"), [(1, 0), (6, 0), (24, 2), (5, 5)])
def test_a_sampling_plan_accepts_as_the_binomial_distribution_says(n: int, c: int, p: float) -> None:
    assert probability_accepted(n, c, p) == pytest.approx(stats.binom.cdf(c, n, p), abs=1e-14)


@pytest.mark.parametrize(
    ("n", "c", "p", "field"),
    [
        (5, 6, 0.1, "acceptance_number"),
        (5, -1, 0.1, "acceptance_number"),
        (5, 1, 1.1, "nonconforming"),
        (5, 1, -0.1, "nonconforming"),
        (5, 1, math.nan, "nonconforming"),
    ],
)
def test_a_sampling_plan_that_cannot_be_says_why(n: int, c: int, p: float, field: str) -> None:
    with pytest.raises(MeasurementError, match="between 0 and") as raised:
        probability_accepted(n, c, p)
    assert raised.value.field == field


def test_capability_against_one_limit_has_no_width() -> None:
    found = capability(Normal(10.3, 0.1), Interval(upper=10.5))
    assert found.cp is None
    assert found.k is None
    assert found.cpk == pytest.approx(2.0 / 3.0)
    assert found.nonconforming == pytest.approx(stats.norm.sf(2.0), rel=1e-12)
    assert capability(Normal(10.8, 0.1), Interval(lower=10.5)).cpk == pytest.approx(1.0)


def test_capability_off_the_middle_counts_the_nearer_limit() -> None:
    low = capability(Normal(10.0, 2.0), Interval(8.0, 20.0))
    assert low.cpk == pytest.approx(1.0 / 3.0)
    assert low.k == pytest.approx(4.0 / 6.0)
    assert low.cp == pytest.approx(1.0)


def test_capability_without_a_limit_says_so() -> None:
    with pytest.raises(MeasurementError, match="at least one limit"):
        capability(Normal(10.0, 1.0), Interval())
