"""What makes a reading suspicious, and what does not."""

import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.assessment import Assessment, CylinderCheck
from app.metrology.outliers import grubbs_critical_value, low_outliers
from app.metrology.screening import LOWERED, allowed_difference
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


def test_a_cylinder_well_above_its_siblings_may_be_obstructed_and_is_no_leak() -> None:
    found = with_cylinder(5, "11.30", "11.31")
    assert kinds(found) == [("high_cylinder", 5)]
    (suspicion,) = found.suspicions
    assert "Cylinder 5 measures 11.30, 1.09 above the mean of the 7 others (10.21, the highest of them 10.23)" in (
        suspicion.seen
    )
    assert "obstruction" in suspicion.look_for
    assert "refit" in suspicion.do
    assert found.verdict == "nonconforming"  # too high stands; it is looked at before somebody signs


def test_under_a_minimum_a_cylinder_that_may_be_obstructed_keeps_the_engine_from_conforming() -> None:
    changed = [*AS_TYPED]
    changed[4] = ("11.30", "11.31")
    rule = {"kind": "minimum", "limit": 9.0, "tolerance": 0.0}
    found = assessed(rule, readings=readings(*changed))
    assert found.verdict == "inconclusive"
    assert "suspicion of an obstruction in cylinder 5: a high figure" in found.reason
    settled = assessed(rule, readings=readings(*changed), checks=(CylinderCheck(5, "refitted"),))
    assert settled.verdict == "conforming"
    assert settled.suspicions[0].settled_by.endswith("the figure stands.")


def test_a_leak_down_test_settles_a_leak_or_confirms_it() -> None:
    changed = [*AS_TYPED]
    changed[4] = ("9.12", "9.10")
    sheet = readings(*changed)

    def after(*checks: CylinderCheck) -> Assessment:
        return assessed(readings=sheet, checks=checks)

    assert after().verdict == after(CylinderCheck(4, "leak_down", 3.0)).verdict == "inconclusive"  # another cylinder
    assert after(CylinderCheck(5, "refitted")).verdict == "inconclusive"  # another check
    sound = after(CylinderCheck(5, "leak_down", 10.0))
    assert sound.verdict == "conforming"
    assert "A leak-down test showed 10 %; up to 10 % a cylinder counts as sound." in sound.suspicions[0].settled_by
    leaking = after(CylinderCheck(5, "leak_down", 10.1))
    assert (leaking.verdict, leaking.suspicions[0].settled_by) == ("inconclusive", "")
    assert leaking.suspicions[0].seen.endswith("A leak-down test showed 10.1 %: this cylinder leaks.")
    assert after(CylinderCheck(5, "leak_down", 40.0), CylinderCheck(5, "leak_down", 4.0)).verdict == "conforming"
    assert after(CylinderCheck(5, "leak_down", 4.0), CylinderCheck(5, "leak_down", 40.0)).verdict == "inconclusive"


def test_cylinders_of_a_sound_engine_may_differ_by_a_tenth() -> None:
    """Grubbs' test alone would suspect one honest engine in twenty; less than 0.10 is never worth it."""
    for low, suspected in (("10.11", 0), ("10.09", 1)):
        found = assessed(readings=readings(*[("10.20", "10.20")] * 7, (low, low)))
        assert len(found.suspicions) == suspected


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


def test_repeats_that_waver_are_wide_but_no_leak() -> None:
    found = with_cylinder(3, "10.30", "10.15", "10.24")
    assert kinds(found) == [("wide_repeats", 3)]
    assert found.verdict == "conforming"


def test_repeats_that_rise_had_not_settled_and_prove_nothing_low() -> None:
    found = with_cylinder(3, "10.15", "10.24", "10.30")
    assert kinds(found) == [("rising_repeats", 3)]
    assert "rose from 10.15 to 10.30 over 3 repeats, by 0.15, and had not settled" in found.suspicions[0].seen
    assert found.verdict == "inconclusive"
    assert kinds(with_cylinder(3, "10.15", "10.30")) == [("wide_repeats", 3)]  # two repeats are no trend upwards


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
        suspected += bool(LOWERED & {suspicion.kind for suspicion in found.suspicions})
    assert suspected <= 300 * 0.10


def test_each_cylinder_is_named_once_among_the_suspected_leaks() -> None:
    changed = [*AS_TYPED]
    changed[4] = ("9.22", "9.15", "9.05")
    found = assessed(readings=readings(*changed))
    assert kinds(found) == [("low_cylinder", 5), ("sinking_repeats", 5)]
    assert "a leak in cylinder 5: a low figure" in found.reason
