"""What makes a reading suspicious, and what does not."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.assessment import Assessment
from app.metrology.results import Suspicion
from app.metrology.screening import (
    allowed_difference,
    grubbs_critical_value,
    low_outliers,
    suspected_leaks,
)
from tests.unit.metrology.builders import HEALTHY, an_instrument, assessed, readings

AS_TYPED = [reading.indications for reading in HEALTHY]


def kinds(assessment: Assessment) -> list[tuple[str, int]]:
    return [(suspicion.kind, suspicion.cylinder) for suspicion in assessment.suspicions]


def with_cylinder(number: int, *typed: str) -> Assessment:
    changed = [*AS_TYPED]
    changed[number - 1] = typed
    return assessed(readings=readings(*changed))


def test_a_healthy_engine_raises_no_suspicion() -> None:
    assert assessed().suspicions == ()


def test_a_cylinder_well_below_its_siblings_may_leak() -> None:
    found = with_cylinder(5, "9.12", "9.10")
    assert kinds(found) == [("low_cylinder", 5)]
    (suspicion,) = found.suspicions
    assert "9.11" in suspicion.seen
    assert "Grubbs" in suspicion.seen
    assert "leak" in suspicion.look_for.lower()
    assert "leak-down test" in suspicion.do
    assert "ignition off" in suspicion.do


def test_a_cylinder_well_above_its_siblings_is_no_leak() -> None:
    assert with_cylinder(5, "11.30", "11.31").suspicions == ()


def test_two_leaking_cylinders_do_not_hide_each_other() -> None:
    changed = [*AS_TYPED]
    changed[1], changed[6] = ("9.10", "9.11"), ("9.16", "9.15")
    assert kinds(assessed(readings=readings(*changed))) == [("low_cylinder", 2), ("low_cylinder", 7)]


def test_two_cylinders_are_too_few_to_compare() -> None:
    assert assessed(readings=readings(("10.2", "10.2"), ("8.0", "8.0"))).suspicions == ()


def test_equal_cylinders_have_no_outlier() -> None:
    assert assessed(readings=readings(*[("10.20", "10.20")] * 4)).suspicions == ()


def test_a_difference_within_its_own_uncertainty_is_no_suspicion() -> None:
    """Grubbs' statistic knows no size: three figures a hair apart are as far out as three a mile apart."""
    close = readings(("10.2", "10.2"), ("10.2", "10.2"), ("10.2", "10.2"), ("10.1", "10.2"))
    assert low_outliers([10.2, 10.2, 10.2, 10.15]) == 1
    assert assessed(readings=close).suspicions == ()


def test_a_majority_of_cylinders_is_never_suspected() -> None:
    for count in range(3, 13):
        low = (count - 1) // 2
        assert low_outliers([9.0 + 0.001 * n for n in range(low + 1)] + [10.2] * (count - low - 1)) <= low


@given(st.lists(st.floats(9.0, 11.0), min_size=3, max_size=12), st.floats(-0.5, 0.5))
def test_the_count_of_outliers_does_not_depend_on_where_zero_is(values: list[float], shift: float) -> None:
    in_hundredths = [round(value, 2) for value in values]
    moved = [round(value + round(shift, 2), 2) for value in in_hundredths]
    assert low_outliers(in_hundredths) == low_outliers(moved)


@given(st.integers(3, 40))
def test_the_critical_value_stays_below_the_greatest_that_can_occur(count: int) -> None:
    assert 0.0 < grubbs_critical_value(count) < (count - 1) / count**0.5


def test_repeats_that_sink_may_show_a_leak() -> None:
    found = with_cylinder(3, "10.30", "10.24", "10.15")
    assert kinds(found) == [("sinking_repeats", 3)]
    assert "from 10.30 to 10.15" in found.suspicions[0].seen
    assert "0.15" in found.suspicions[0].seen


def test_repeats_that_rise_or_waver_are_wide_but_no_leak() -> None:
    for typed in (("10.15", "10.24", "10.30"), ("10.30", "10.15", "10.24")):
        found = with_cylinder(3, *typed)
        assert kinds(found) == [("wide_repeats", 3)]
        assert suspected_leaks(found.suspicions) == ()
        assert found.verdict != "nonconforming"


def test_repeats_exactly_as_far_apart_as_allowed_pass() -> None:
    assert with_cylinder(3, "10.30", "10.20").suspicions == ()
    assert kinds(with_cylinder(3, "10.30", "10.19")) == [("sinking_repeats", 3)]


def test_one_indication_can_neither_sink_nor_waver() -> None:
    assert assessed(readings=readings(("10.20",))).suspicions == ()


def test_what_is_allowed_follows_the_history_where_there_is_one() -> None:
    instrument = an_instrument()
    assert allowed_difference(1, 0.01, instrument, (0.02, 12.0)) == pytest.approx(2**0.5 * 1.7823 * 0.02, rel=1e-4)
    assert allowed_difference(8, 0.01, instrument, (0.02, 12.0)) == pytest.approx(2**0.5 * 2.9236 * 0.02, rel=1e-2)
    assert allowed_difference(1, 0.01, instrument, None) == 0.10
    assert allowed_difference(1, 0.01, an_instrument(accuracy_meaning="standard"), None) == 0.20
    assert allowed_difference(1, 0.1, instrument, None) == pytest.approx(0.2)
    assert allowed_difference(1, 0.01, instrument, (0.0, 12.0)) == 0.02


def test_repeats_are_held_against_the_history() -> None:
    sheet = readings(("10.30", "10.28"), ("10.30", "10.23"), ("10.23", "10.30"))
    found = assessed(readings=sheet, repeatability=(0.02, 40.0))
    assert kinds(found) == [("sinking_repeats", 2)]
    assert kinds(assessed(readings=sheet, repeatability=(0.01, 40.0))) == [("sinking_repeats", 2), ("wide_repeats", 3)]


def test_honest_repeats_of_many_cylinders_are_seldom_suspected() -> None:
    """Eight equal cylinders, two repeats of known scatter, fixed seed: at most one sheet in ten, by design."""
    chance = random.Random(20261125)
    suspected = 0
    for _ in range(300):
        typed = [tuple(f"{chance.gauss(10.2, 0.03):.2f}" for _ in range(2)) for _ in range(8)]
        found = assessed(readings=readings(*typed), repeatability=(0.03, 60.0))
        suspected += bool(suspected_leaks(found.suspicions))
    assert suspected <= 300 * 0.10


def test_each_cylinder_is_named_once_among_the_suspected_leaks() -> None:
    twice = [Suspicion(kind, 4, "", "", "") for kind in ("low_cylinder", "sinking_repeats", "wide_repeats")]
    assert suspected_leaks([*twice, Suspicion("low_cylinder", 2, "", "", "")]) == (2, 4)
