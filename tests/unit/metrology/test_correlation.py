"""Correlated inputs: by hand, at the boundaries, and what cannot be."""

import math

import pytest

from app.metrology.correlation import (
    combined_standard_uncertainty,
    correlations_of,
    covariance_of_results,
    simultaneous_means,
)
from app.metrology.errors import MeasurementError

NONE = [[1.0, 0.0], [0.0, 1.0]]


def together(r: float) -> list[list[float]]:
    return [[1.0, r], [r, 1.0]]


def test_uncorrelated_parts_add_by_root_sum_of_squares() -> None:
    assert combined_standard_uncertainty([1.0, -2.0], [3.0, 2.0], NONE) == 5.0


def test_fully_correlated_parts_add_linearly_with_their_signs() -> None:
    """JCGM 100:2008, 5.2.2."""
    assert combined_standard_uncertainty([1.0, 2.0], [3.0, 2.0], together(1.0)) == 7.0
    assert combined_standard_uncertainty([1.0, -2.0], [3.0, 2.0], together(1.0)) == 1.0
    assert combined_standard_uncertainty([1.0, 2.0], [3.0, 2.0], together(-1.0)) == 1.0


def test_ten_resistors_from_one_standard_add_linearly() -> None:
    """JCGM 100:2008, 5.2.2 example, from memory: ten of 1000 Ω, u = 0.1 Ω each, r ≈ 1: u = 1 Ω, not 0.32 Ω."""
    ones = [[1.0] * 10] * 10
    assert combined_standard_uncertainty([1.0] * 10, [0.1] * 10, ones) == pytest.approx(1.0)


def test_what_cancels_exactly_has_no_uncertainty() -> None:
    assert combined_standard_uncertainty([0.1, -0.3], [0.3, 0.1], together(1.0)) == pytest.approx(0.0, abs=1e-9)
    # three thirds of one whole: the terms sum to noise below nothing
    third = [1.0 / 3.0, 0.1, -(1.0 / 3.0 + 0.1)]
    assert combined_standard_uncertainty(third, [1.0] * 3, [[1.0] * 3] * 3) == pytest.approx(0.0, abs=1e-8)


def test_two_results_of_the_same_inputs() -> None:
    """By hand: sum and difference of uncorrelated 3 and 4 have variance 25 each and covariance 9 − 16."""
    found = covariance_of_results([[1.0, 1.0], [1.0, -1.0]], [3.0, 4.0], NONE)
    assert found == ((25.0, -7.0), (-7.0, 25.0))
    assert correlations_of(found) == ((1.0, -0.28), (-0.28, 1.0))


def test_covariance_with_a_correlation_by_hand() -> None:
    """u = 2, 3, r = 0.5: cov(2a, a + b) = 2·4 + 2·2·3·0.5 = 14; var(a + b) = 4 + 9 + 6 = 19."""
    found = covariance_of_results([[2.0, 0.0], [1.0, 1.0]], [2.0, 3.0], together(0.5))
    assert found == ((16.0, 14.0), (14.0, 19.0))


def test_means_and_covariances_of_three_sets_by_hand() -> None:
    """Of 1, 2, 3 with 2, 4, 9: s² 1 and 13, covariance 3.5; of the means a third of it. JCGM 100, (17)."""
    means, covariances = simultaneous_means([[1.0, 2.0], [2.0, 4.0], [3.0, 9.0]])
    assert means == (2.0, 5.0)
    assert covariances[0] == pytest.approx((1.0 / 3.0, 3.5 / 3.0))
    assert covariances[1] == pytest.approx((3.5 / 3.0, 13.0 / 3.0))


def test_two_sets_are_enough() -> None:
    assert simultaneous_means([[1.0], [3.0]]) == ((2.0,), ((1.0,),))


def test_quantities_that_follow_each_other_wholly_correlate_by_exactly_one() -> None:
    """Of these the quotient computes to a hair beyond 1, which the propagation would refuse."""
    _, covariances = simultaneous_means([[5.0, 5.0, -5.0], [5.0, 5.0, -5.0], [5.001, 5.001, -5.001]])
    found = correlations_of(covariances)
    assert found == ((1.0, 1.0, -1.0), (1.0, 1.0, -1.0), (-1.0, -1.0, 1.0))
    u = [math.sqrt(row[place]) for place, row in enumerate(covariances)]
    assert combined_standard_uncertainty([1.0, 0.0, 1.0], u, found) == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize(
    ("sets", "words"),
    [([], "at least twice"), ([[1.0, 2.0]], "at least twice"), ([[1.0, 2.0], [1.0]], "one observation of each")],
)
def test_sets_that_are_none_are_refused(sets: list[list[float]], words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        simultaneous_means(sets)
    assert refused.value.field == "sets"


def test_what_does_not_vary_has_no_correlation() -> None:
    with pytest.raises(MeasurementError, match="does not vary") as refused:
        correlations_of([[4.0, 0.0], [0.0, 0.0]])
    assert refused.value.field == "covariances"


@pytest.mark.parametrize(
    ("table", "words"),
    [
        ([[1.0]], "2 by 2"),
        ([[1.0, 0.0], [0.0]], "2 by 2"),
        ([[1.0, 0.0], [0.0, 0.99]], "with itself"),
        ([[1.0, 1.01], [1.01, 1.0]], "between −1 and 1"),
        ([[1.0, -1.01], [-1.01, 1.0]], "between −1 and 1"),
        ([[1.0, math.nan], [math.nan, 1.0]], "between −1 and 1"),
        ([[1.0, 0.5], [0.4, 1.0]], "both ways round"),
    ],
)
def test_correlations_that_are_none_are_refused(table: list[list[float]], words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        combined_standard_uncertainty([1.0, 1.0], [1.0, 1.0], table)
    assert refused.value.field == "correlations"


@pytest.mark.parametrize(
    "table",
    [
        [[1.0, 0.9, -0.9], [0.9, 1.0, 0.9], [-0.9, 0.9, 1.0]],
        [[1.0, 0.8, 0.0], [0.8, 1.0, 0.7], [0.0, 0.7, 1.0]],
        [[1.0, 1.0, 0.5], [1.0, 1.0, 0.4], [0.5, 0.4, 1.0]],  # the second follows the first wholly, but not in this
    ],
)
def test_correlations_that_contradict_one_another_are_refused(table: list[list[float]]) -> None:
    with pytest.raises(MeasurementError, match="contradict") as refused:
        combined_standard_uncertainty([1.0] * 3, [1.0] * 3, table)
    assert refused.value.field == "correlations"


def test_correlations_on_the_very_edge_of_what_can_be_are_taken() -> None:
    edge = math.cos(math.radians(60.0))
    table = [[1.0, edge, -edge], [edge, 1.0, edge], [-edge, edge, 1.0]]  # three directions in one plane
    assert combined_standard_uncertainty([1.0, -1.0, 1.0], [1.0] * 3, table) == pytest.approx(0.0, abs=1e-7)
    wholly = [[1.0, 1.0, 0.5], [1.0, 1.0, 0.5], [0.5, 0.5, 1.0]]
    assert combined_standard_uncertainty([1.0, -1.0, 0.0], [1.0] * 3, wholly) == 0.0


def test_sensitivities_are_as_many_as_inputs() -> None:
    for row in ([1.0], [1.0, 1.0, 1.0]):
        with pytest.raises(MeasurementError, match="2 sensitivities") as refused:
            covariance_of_results([[1.0, 1.0], row], [1.0, 1.0], NONE)
        assert refused.value.field == "sensitivities"


@pytest.mark.parametrize("u", [-1.0, math.nan, math.inf])
def test_a_standard_uncertainty_that_is_none_is_refused(u: float) -> None:
    with pytest.raises(MeasurementError, match="0 or more") as refused:
        combined_standard_uncertainty([1.0, 1.0], [0.0, u], NONE)
    assert refused.value.field == "standard_uncertainties"


def test_an_exactly_known_input_adds_nothing() -> None:
    assert combined_standard_uncertainty([1.0, 9.0], [2.0, 0.0], together(0.5)) == 2.0
