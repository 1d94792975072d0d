"""Figures and reasons as people read them."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.assessment import CylinderReading
from app.metrology.rounding import as_written, at_place, percent, rounded, telling_place, told, uncertainty_place
from tests.unit.metrology.builders import HEALTHY, assessed, readings


@pytest.mark.parametrize(
    ("value", "uncertainty", "shown"),
    [
        (10.3821, 0.1294, ("10.38", "0.13")),
        (10.3821, 0.0994, ("10.382", "0.099")),
        (10.3821, 0.0996, ("10.38", "0.10")),
        (10.3821, 0.00123, ("10.3821", "0.0012")),
        (10.3821, 1.26, ("10.4", "1.3")),
        (10.3821, 12.6, ("10", "13")),
        (10.3821, 126.0, ("10", "126")),
        (0.125, 0.10, ("0.12", "0.10")),  # ties to even
    ],
)
def test_uncertainty_has_two_digits_and_the_value_as_many_places(
    value: float, uncertainty: float, shown: tuple[str, str]
) -> None:
    assert rounded(value, uncertainty) == shown


@given(st.floats(1.01, 99.0), st.floats(1e-6, 5.0))
def test_rounding_moves_a_value_by_at_most_half_a_place(value: float, uncertainty: float) -> None:
    place = uncertainty_place(uncertainty)
    shown, _ = rounded(value, uncertainty)
    assert abs(Decimal(shown) - Decimal(repr(value))) <= place / 2
    assert "e" not in shown.lower()


def test_a_value_beyond_a_limit_never_reads_as_the_limit() -> None:
    assert telling_place(10.6004, (10.6,), Decimal("0.01")) == Decimal("0.0001")
    assert telling_place(10.6, (10.6,), Decimal("0.01")) == Decimal("0.01")
    assert telling_place(10.72, (10.6,), Decimal("0.01")) == Decimal("0.01")
    assert telling_place(10.6 + 6e-9, (10.6,), Decimal("0.01")) == Decimal("1e-8")
    assert told(10.6004, 0.131, (10.6, None)) == ("10.6004", "0.1310")
    assert told(10.55, 0.131, (10.6, 10.4916)) == ("10.55", "0.13")


def test_noise_of_the_arithmetic_is_no_digit_worth_showing() -> None:
    assert telling_place(10.6 + 1e-14, (10.6,), Decimal("0.01")) == Decimal("0.01")


def test_a_limit_reads_as_a_rule_book_prints_it() -> None:
    assert [as_written(value) for value in (10.5, 11.0, 10.25, 10.125)] == ["10.50", "11.00", "10.25", "10.125"]


def test_a_probability_never_reads_as_certain() -> None:
    shown = [percent(value) for value in (1.0, 0.9995, 0.5, 0.0004, 0.0)]
    assert shown == ["more than 99.9 %", "more than 99.9 %", "50.0 %", "less than 0.1 %", "less than 0.1 %"]
    assert at_place(0.5, Decimal("0.1")) == "0.5"


@pytest.mark.parametrize(
    ("probability", "required", "shown"),
    [
        (0.9497, 0.95, "94.97 %"),
        (0.95004, 0.95, "95.004 %"),
        (0.95, 0.95, "95.0 %"),
        (0.0503, 0.95, "5.03 %"),
        (0.93, 0.95, "93.0 %"),
        (0.99895, 0.999, "99.895 %"),
        (0.99996, 0.999, "more than 99.9 %"),
        (0.9497, None, "95.0 %"),
    ],
)
def test_a_probability_that_misses_what_is_required_never_reads_as_that(
    probability: float, required: float | None, shown: str
) -> None:
    assert percent(probability, required) == shown


@given(st.floats(0.0, 1.0), st.sampled_from([0.8, 0.9, 0.95, 0.975, 0.99, 0.999]))
def test_a_probability_reads_on_its_own_side_of_what_is_required(probability: float, required: float) -> None:
    shown = percent(probability, required)
    digits = float(shown.removeprefix("more than ").removeprefix("less than ").removesuffix(" %"))
    for bound in (100.0 * required, 100.0 * (1.0 - required)):
        if 100.0 * probability > bound + 2e-6:
            assert digits > bound - 1e-9
            assert not shown.startswith("less")
        elif 100.0 * probability < bound - 2e-6:
            assert digits < bound + 1e-9
            assert not shown.startswith("more")


REASONS = [
    ("simple_acceptance", "10.20", "is at or below 10.60, and the value alone decides"),
    ("simple_acceptance", "10.70", "is above 10.60, and the value alone decides"),
    ("guarded_acceptance", "10.20", "is at or below the acceptance limit 10.49"),
    ("guarded_acceptance", "10.55", "is above the acceptance limit 10.49"),
    ("guarded_rejection", "10.65", "is at or below the rejection limit 10.71"),
    ("guarded_rejection", "10.95", "is above the rejection limit 10.71"),
    ("three_zones", "10.20", "is at or below the acceptance limit 10.49"),
    ("three_zones", "10.60", "lies between the acceptance limit 10.49 and the rejection limit 10.71, too near the"),
    ("three_zones", "10.95", "is above the rejection limit 10.71"),
]


@pytest.mark.parametrize(("decision_rule", "indication", "says"), REASONS)
def test_the_reason_holds_the_value_against_the_limit_that_decided(
    decision_rule: str, indication: str, says: str
) -> None:
    found = assessed({"decision_rule": decision_rule}, readings=readings((indication,)))
    assert says in found.reason
    assert f"{indication} ± 0.1" in found.reason
    assert "the rule allows at most 10.60 (10.50 with 0.10 granted)" in found.reason


def test_a_minimum_is_worded_as_one_and_no_tolerance_is_not_mentioned() -> None:
    found = assessed({"kind": "minimum", "limit": 10.5, "tolerance": 0.0}, readings=readings(("9.80",)))
    assert "is below the rejection limit" in found.reason
    assert "the rule allows at least 10.50, kept" in found.reason


def test_a_value_a_hair_beyond_the_limit_shows_the_hair() -> None:
    found = assessed({"decision_rule": "simple_acceptance"}, readings=readings(("10.6004",)))
    assert "10.6004 ± 0.1" in found.reason
    assert found.verdict == "nonconforming"


def test_the_reason_never_rounds_a_probability_to_the_confidence_it_misses() -> None:
    found = assessed({"decision_rule": "guarded_acceptance"}, readings=readings(("10.4880",)))
    assert found.verdict == "nonconforming"
    assert 0.9495 < found.decided.conformance_probability < 0.95
    assert "kept with a probability of 94.996 %" in found.reason
    assert "95.0 %" not in found.reason


def test_what_was_measured_follows_what_stood_in_the_way() -> None:
    found = assessed(readings=(*HEALTHY[:3], CylinderReading(4, (), " plug seized "), *HEALTHY[4:]))
    assert found.reason.startswith(
        "Cylinder 4 (plug seized) was not measured, and an engine conforms only when every cylinder was. "
        "What was measured: cylinder 2: 10.24 ± 0.12"
    )
    assert found.reason.endswith("What follows: measure again.")


def test_several_cylinders_are_listed() -> None:
    sheet = (*HEALTHY[:3], *(CylinderReading(n, ()) for n in (4, 5, 6)), *HEALTHY[6:])
    assert assessed(readings=sheet).reason.startswith("Cylinders 4, 5 and 6 were not measured")


def test_leaks_in_two_cylinders_are_both_named() -> None:
    sheet = [reading.indications for reading in HEALTHY]
    sheet[1], sheet[6] = ("9.10", "9.11"), ("9.16", "9.15")
    assert "a leak in cylinders 2 and 7:" in assessed(readings=readings(*sheet)).reason


def test_a_doubtful_value_comes_before_what_else_stood_in_the_way() -> None:
    sheet = readings(("10.55", "10.56"), ("10.57", "10.55"), ())
    found = assessed(readings=sheet)
    assert found.reason.startswith("Cylinder 2: 10.56 ± 0.1")
    assert "Cylinder 3 (plug seized) was not measured" in found.reason
