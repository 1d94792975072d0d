"""Two results compared: the words, the edge, and what is refused."""

import math

import pytest

from app.metrology.agreement import StatedResult, compare, covariance_of
from app.metrology.errors import MeasurementError

FIRST, SECOND = StatedResult(10.62, 0.12, 2.0), StatedResult(10.50, 0.09, 2.0)


def refusal(first: StatedResult, second: StatedResult, covariance: float = 0.0) -> tuple[str, str]:
    with pytest.raises(MeasurementError) as caught:
        compare(first, second, covariance)
    return caught.value.field, caught.value.sentence


def test_agreement_is_said_with_the_difference_and_what_was_allowed() -> None:
    said = "The two differ by 0.12; their uncertainties allow 0.15: they agree, E_n = 0.80."
    assert compare(FIRST, SECOND).sentence == said
    assert compare(SECOND, FIRST).sentence == said


def test_the_sign_of_e_n_tells_which_is_higher() -> None:
    assert compare(FIRST, SECOND).difference == pytest.approx(0.12)
    assert compare(SECOND, FIRST).e_n == pytest.approx(-0.8)


def test_disagreement_is_said_as_plainly() -> None:
    found = compare(StatedResult(10.80, 0.12, 2.0), SECOND)
    assert found.sentence == "The two differ by 0.30; their uncertainties allow 0.15: they do not agree, E_n = 2.00."
    assert not found.agree


def test_exactly_at_the_edge_they_agree_whatever_the_arithmetic_leaves() -> None:
    at_the_edge = compare(StatedResult(10.65, 0.12, 2.0), SECOND)  # 10.65 − 10.50 comes out above 0.15
    assert at_the_edge.difference > 0.15
    assert at_the_edge.agree
    assert at_the_edge.sentence.endswith("they agree, E_n = 1.00.")


def test_just_past_the_edge_the_figures_show_as_many_digits_as_tell_it() -> None:
    found = compare(StatedResult(10.6504, 0.12, 2.0), SECOND)
    assert not found.agree
    assert found.sentence == (
        "The two differ by 0.1504; their uncertainties allow 0.1500: they do not agree, E_n = 1.003."
    )


def test_just_past_the_noise_of_the_arithmetic_they_do_not_agree() -> None:
    assert compare(StatedResult(0.15 + 0.9e-9, 0.12, 2.0), StatedResult(0.0, 0.09, 2.0)).agree
    assert not compare(StatedResult(0.15 + 1.1e-9, 0.12, 2.0), StatedResult(0.0, 0.09, 2.0)).agree


def test_a_unit_stands_behind_both_figures() -> None:
    found = compare(StatedResult(5733.0, 3.0, 2.0), StatedResult(5730.0, 4.0, 2.0), unit="cm³")
    assert found.sentence == "The two differ by 3.0 cm³; their uncertainties allow 5.0 cm³: they agree, E_n = 0.60."


def test_sources_of_one_name_are_one_error_and_signs_count() -> None:
    first = {"bore": 0.3, "stroke": -0.2, "instrument 1": 0.5}
    second = {"stroke": 0.1, "bore": 0.2, "instrument 2": 0.5}
    assert covariance_of(first, second) == pytest.approx(0.06 - 0.02)
    assert covariance_of(first, {}) == 0.0


def test_an_error_that_moves_them_apart_allows_more() -> None:
    apart, together = compare(FIRST, SECOND, covariance=-0.001), compare(FIRST, SECOND, covariance=0.001)
    assert apart.allowed == pytest.approx(math.sqrt(0.15**2 + 0.008))
    assert together.allowed == pytest.approx(math.sqrt(0.15**2 - 0.008))


@pytest.mark.parametrize("uncertainty", [0.0, -0.1, math.nan, math.inf])
def test_a_result_without_uncertainty_is_refused(uncertainty: float) -> None:
    field, sentence = refusal(StatedResult(10.5, uncertainty, 2.0), SECOND)
    assert field == "first.expanded_uncertainty"
    assert sentence == (
        f"The first result is stated with an uncertainty of {uncertainty:g}. No measurement is exact: give its "
        "expanded uncertainty, above 0."
    )
    assert refusal(FIRST, StatedResult(10.5, uncertainty, 2.0))[0] == "second.expanded_uncertainty"


@pytest.mark.parametrize("factor", [0.0, -2.0, math.nan, math.inf])
def test_a_factor_that_cannot_be_is_refused(factor: float) -> None:
    field, sentence = refusal(FIRST, StatedResult(10.5, 0.1, factor))
    assert field == "second.coverage_factor"
    assert sentence == (f"The coverage factor of the second result is given as {factor:g}; it is above 0, usually 2.")


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_value_that_is_no_figure_is_refused(value: float) -> None:
    assert refusal(StatedResult(value, 0.1, 2.0), SECOND) == (
        "first.value",
        "The first result has no figure. Give what was measured.",
    )


@pytest.mark.parametrize("covariance", [0.0027001, -0.0027001, math.nan])
def test_more_shared_than_there_is_is_refused(covariance: float) -> None:
    """u₁·u₂ = 0.06 · 0.045 = 0.0027."""
    field, sentence = refusal(FIRST, SECOND, covariance)
    assert field == "covariance"
    assert sentence.startswith("What the two results share cannot be more than the uncertainty that they have.")
    assert compare(FIRST, SECOND, covariance=0.0027).allowed == pytest.approx(0.03)


def test_one_result_held_against_itself_is_refused() -> None:
    field, sentence = refusal(FIRST, FIRST, covariance=0.06**2)
    assert field == "covariance"
    assert sentence == (
        "The two results rest on the very same measurement, so nothing in them could differ. Compare results that were "
        "measured apart."
    )
    nearly = 0.06**2 * (1.0 - 1e-9)  # leaves a variance of 2e-9 parts
    assert compare(FIRST, FIRST, covariance=nearly).agree
