"""Mean squares tested and combined, by hand and where the formulas must be exact."""

import math

import pytest

from app.metrology.distributions import variance_ratio_quantile
from app.metrology.errors import MeasurementError
from app.metrology.studies.mean_squares import (
    Interval,
    MeanSquare,
    Term,
    VarianceRatioTest,
    estimate,
    interval_of_combination,
    satterthwaite,
    variance_ratio_test,
)


def test_the_ratio_of_two_mean_squares_and_its_probability() -> None:
    """For 1 and 1 degrees of freedom P(F > f) = 1 − (2/π)·atan √f: 0.5 at 1, a third at 3."""
    assert variance_ratio_test(MeanSquare(2.0, 1.0), MeanSquare(2.0, 1.0)) == VarianceRatioTest(1.0, pytest.approx(0.5))
    found = variance_ratio_test(MeanSquare(6.0, 1.0), MeanSquare(2.0, 1.0))
    assert found.ratio == 3.0
    assert found.probability == pytest.approx(1.0 / 3.0)


def test_the_degrees_of_freedom_keep_their_sides() -> None:
    """F(0.95; 2, 10) = 4.1028, F(0.95; 10, 2) = 19.396: tables."""
    assert variance_ratio_test(MeanSquare(4.1028, 2.0), MeanSquare(1.0, 10.0)).probability == pytest.approx(
        0.05, abs=1e-5
    )
    assert variance_ratio_test(MeanSquare(19.396, 10.0), MeanSquare(1.0, 2.0)).probability == pytest.approx(
        0.05, abs=1e-5
    )


def test_where_nothing_varies_nothing_differs() -> None:
    nothing, something = MeanSquare(0.0, 3.0), MeanSquare(1e-9, 3.0)
    assert variance_ratio_test(nothing, nothing) == VarianceRatioTest(1.0, 1.0)
    assert variance_ratio_test(something, nothing) == VarianceRatioTest(math.inf, 0.0)
    assert variance_ratio_test(nothing, something) == VarianceRatioTest(0.0, 1.0)


def test_a_combination_and_its_degrees_of_freedom_by_hand() -> None:
    """(2 + 3)²/(4/4 + 9/9) = 12.5; (5 − 1)²/(25/2 + 1/10) = 16/12.6; the factor counts: (2·1 + 3)²/(4/4 + 9/9)."""
    added = [Term(1.0, MeanSquare(2.0, 4.0)), Term(1.0, MeanSquare(3.0, 9.0))]
    assert estimate(added) == 5.0
    assert satterthwaite(added) == pytest.approx(12.5)
    taken = [Term(1.0, MeanSquare(5.0, 2.0)), Term(-1.0, MeanSquare(1.0, 10.0))]
    assert estimate(taken) == 4.0
    assert satterthwaite(taken) == pytest.approx(16.0 / 12.6)
    assert satterthwaite([Term(2.0, MeanSquare(1.0, 4.0)), added[1]]) == pytest.approx(12.5)
    assert satterthwaite([Term(0.25, MeanSquare(8.0, 7.0))]) == pytest.approx(7.0)


def test_small_units_change_no_degrees_of_freedom() -> None:
    tiny = [Term(1.0, MeanSquare(2e-160, 4.0)), Term(1.0, MeanSquare(3e-160, 9.0))]
    assert satterthwaite(tiny) == pytest.approx(12.5)


def test_what_is_not_above_nothing_has_no_degrees_of_freedom_to_lose() -> None:
    assert satterthwaite([]) == math.inf
    assert satterthwaite([Term(1.0, MeanSquare(0.0, 4.0))]) == math.inf
    assert satterthwaite([Term(1.0, MeanSquare(1.0, 4.0)), Term(-1.0, MeanSquare(1.0, 4.0))]) == math.inf
    assert satterthwaite([Term(1.0, MeanSquare(1.0, 4.0)), Term(-1.0, MeanSquare(2.0, 4.0))]) == math.inf


def test_the_interval_of_one_mean_square_is_that_of_chi_square() -> None:
    """χ²(0.975; 10) = 20.4832, χ²(0.025; 10) = 3.24697; χ²(0.95; 10) = 18.3070, χ²(0.05; 10) = 3.94030: tables."""
    term = [Term(1.0, MeanSquare(2.0, 10.0))]
    assert interval_of_combination(term) == pytest.approx((20.0 / 20.4832, 20.0 / 3.24697), rel=1e-5)
    assert interval_of_combination(term, 0.90) == pytest.approx((20.0 / 18.3070, 20.0 / 3.94030), rel=1e-5)
    assert interval_of_combination([Term(0.5, MeanSquare(4.0, 10.0))]) == pytest.approx(interval_of_combination(term))


def test_the_interval_of_a_sum_by_hand() -> None:
    """Graybill and Wang: γ ∓ √Σ(G·c·MS)², G = 1 − ν/χ² and H = ν/χ² − 1, χ² as tabled for 10 and 2 (7.37776)."""
    low, high = interval_of_combination([Term(1.0, MeanSquare(2.0, 10.0)), Term(3.0, MeanSquare(1.0, 2.0))])
    assert low == pytest.approx(5.0 - math.hypot(2.0 * (1 - 10 / 20.4832), 3.0 * (1 - 2 / 7.37776)), rel=1e-5)
    assert high == pytest.approx(5.0 + math.hypot(2.0 * (10 / 3.24697 - 1), 3.0 * (2 / 0.0506356 - 1)), rel=1e-5)


@pytest.mark.parametrize("confidence", [0.90, 0.95])
def test_the_ends_of_a_difference_reach_nothing_where_the_f_test_turns(confidence: float) -> None:
    tail = (1.0 - confidence) / 2.0
    turns = variance_ratio_quantile(1.0 - tail, 4.0, 12.0)
    for factor, above in ((0.999, False), (1.001, True)):
        difference = [Term(0.5, MeanSquare(6.0 * turns * factor, 4.0)), Term(-1.5, MeanSquare(2.0, 12.0))]
        low, high = interval_of_combination(difference, confidence)
        assert (low > 0.0) is above
        assert high > estimate(difference)
    turns = variance_ratio_quantile(tail, 4.0, 12.0)
    for factor, above in ((0.999, False), (1.001, True)):
        difference = [Term(0.5, MeanSquare(6.0 * turns * factor, 4.0)), Term(-1.5, MeanSquare(2.0, 12.0))]
        low, high = interval_of_combination(difference, confidence)
        assert low == 0.0
        assert (high > 0.0) is above


def test_what_is_taken_off_and_known_well_only_moves_the_interval() -> None:
    """χ² of very many degrees of freedom: nothing is left of its own scatter."""
    one = Term(1.0, MeanSquare(20.0, 10.0))
    low, high = interval_of_combination([one, Term(-1.0, MeanSquare(1.0, 1e9))])
    alone = interval_of_combination([one])
    assert low == pytest.approx(alone.low - 1.0, rel=1e-2)
    assert high == pytest.approx(alone.high - 1.0, rel=1e-2)


def test_two_that_make_up_one_chi_square_are_as_exact_as_it() -> None:
    """MS in the ratio of their degrees of freedom, nothing taken off: 10 with 10 dof, χ²(0.975; 10) = 20.4832."""
    sum_of_two = [Term(1.0, MeanSquare(4.0, 4.0)), Term(1.0, MeanSquare(6.0, 6.0)), Term(-1.0, MeanSquare(0.0, 5.0))]
    assert interval_of_combination(sum_of_two).low == pytest.approx(100.0 / 20.4832, rel=1e-5)
    # without anything taken off the sum is Graybill and Wang's, which does not ask for this
    shrunk = math.hypot(4.0 * (1 - 4 / 11.1433), 6.0 * (1 - 6 / 14.4494))
    assert interval_of_combination(sum_of_two[:2]).low == pytest.approx(10.0 - shrunk, rel=1e-5)


def test_nothing_that_varies_has_no_interval() -> None:
    assert interval_of_combination([Term(1.0, MeanSquare(0.0, 5.0))]) == Interval(0.0, 0.0)


@pytest.mark.parametrize("confidence", [0.0, 1.0, -0.5, 95.0, math.nan])
def test_a_confidence_lies_between_nothing_and_one(confidence: float) -> None:
    with pytest.raises(MeasurementError, match="between 0 and 1") as refused:
        interval_of_combination([Term(1.0, MeanSquare(1.0, 5.0))], confidence)
    assert refused.value.field == "confidence"
