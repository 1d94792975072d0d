"""Whether the first-order interval stands up to the simulated one, and what the page says of it."""

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.intervals import Interval
from app.metrology.monte_carlo.validation import OF_VALIDATION, validate


def test_ends_within_the_tolerance_validate() -> None:
    found = validate(10.500, 0.0607, 0.119, Interval(10.383, 10.616))
    assert (found.d_low, found.d_high) == pytest.approx((0.002, 0.003))
    assert found.tolerance == pytest.approx(0.005)
    assert found.validated
    assert found.sentences == (
        "The budget gives 10.381 to 10.619, the simulation 10.383 to 10.616.",
        "The ends differ by 0.002 below and 0.003 above, within 0.005: the simulation bears the budget out.",
    )


def test_the_very_tolerance_still_validates_and_a_hair_more_does_not() -> None:
    """Binary fractions, so that the differences are exact."""
    assert validate(8.0, 1.0, 2.0, Interval(6.5, 9.5)).validated
    assert not validate(8.0, 1.0, 2.0, Interval(6.5, 9.499)).validated
    assert not validate(8.0, 1.0, 2.0, Interval(6.501, 9.5)).validated


@pytest.mark.parametrize(
    ("simulated", "said"),
    [
        (
            Interval(10.391, 10.609),
            "The budget's interval holds the simulated one: it claims less than it could.",
        ),
        (
            Interval(10.371, 10.629),
            "The simulated interval is wider at both ends: the budget claims more than it can.",
        ),
        (
            Interval(10.370, 10.615),
            "The simulated interval reaches further below, by 0.011: the budget claims too much on that side.",
        ),
        (
            Interval(10.391, 10.639),
            "The simulated interval reaches further above, by 0.02: the budget claims too much on that side.",
        ),
    ],
)
def test_what_a_failed_validation_means_is_said(simulated: Interval, said: str) -> None:
    found = validate(10.500, 0.0607, 0.119, simulated)
    assert not found.validated
    assert found.sentences[1].endswith("more than 0.005: the simulation does not bear the budget out.")
    assert len(found.sentences) == 3
    assert found.sentences[2] == said


def test_an_equal_end_is_no_claim_too_much() -> None:
    held = "The budget's interval holds the simulated one"
    assert validate(8.0, 0.1, 2.0, Interval(6.0, 9.5)).sentences[2].startswith(held)
    assert validate(8.0, 0.1, 2.0, Interval(6.5, 10.0)).sentences[2].startswith(held)
    assert "further above" in validate(8.0, 0.1, 2.0, Interval(6.0, 10.5)).sentences[2]
    assert "further below" in validate(8.0, 0.1, 2.0, Interval(5.5, 10.0)).sentences[2]


def test_a_simulation_is_good_to_a_fifth_of_the_tolerance_it_judges_by() -> None:
    """JCGM 101:2008, 8.2 (from memory)."""
    assert OF_VALIDATION == 5.0


def test_more_digits_make_a_finer_tolerance_and_finer_figures() -> None:
    found = validate(10.500, 0.0607, 0.119, Interval(10.381, 10.6192), significant_digits=2)
    assert found.tolerance == pytest.approx(0.0005)
    assert found.validated
    assert found.sentences[0] == "The budget gives 10.3810 to 10.6190, the simulation 10.3810 to 10.6192."


def test_large_figures_are_told_in_whole_numbers_with_their_unit() -> None:
    found = validate(5000.0, 40.0, 80.0, Interval(4919.0, 5081.0), unit="cm³")
    assert found.tolerance == 5.0
    assert found.sentences == (
        "The budget gives 4920 to 5080 cm³, the simulation 4919 to 5081 cm³.",
        "The ends differ by 1 cm³ below and 1 cm³ above, within 5 cm³: the simulation bears the budget out.",
    )
    further = validate(5000.0, 40.0, 80.0, Interval(4900.0, 5080.0), unit="cm³")
    assert further.sentences[1].startswith("The ends differ by 20 cm³ below and 0 cm³ above, more than 5 cm³:")
    assert further.sentences[2].startswith("The simulated interval reaches further below, by 20 cm³:")


def test_without_an_uncertainty_there_is_nothing_to_validate_by() -> None:
    with pytest.raises(MeasurementError):
        validate(10.5, 0.0, 0.0, Interval(10.5, 10.5))
