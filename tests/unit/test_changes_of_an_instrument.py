"""When an instrument became another than it was: repairs, and of the calibrations the first that answers a miss."""

from datetime import UTC, date, datetime
from decimal import Decimal

import pytest

from app.instruments.charting import began_anew, changes_of
from app.instruments.models import Calibration, Instrument, InstrumentNote, Verification, Withdrawal
from tests.conftest import an_id

INSTRUMENT = Instrument(airflow_set_point_l_min=Decimal("4.72"), airflow_tolerance_l_min=Decimal("0.10"))


def at(day: int, hour: int = 9) -> datetime:
    return datetime(2026, 5, day, hour, tzinfo=UTC)


def check(moment: datetime, accepted: bool = False, airflow: str = "4.72") -> Verification:
    return Verification(performed_at=moment, accepted=accepted, airflow_l_min=Decimal(airflow), instrument=INSTRUMENT)


def calibration(name: str, day: int, recorded: datetime, withdrawn: bool = False) -> Calibration:
    return Calibration(
        id=an_id(name),
        certificate=name,
        calibrated_on=date(2026, 5, day),
        created_at=recorded,
        withdrawal=Withdrawal(reason="Wrong serial number") if withdrawn else None,
    )


def repair(moment: datetime, kind: str = "repair", affects: bool = True) -> InstrumentNote:
    return InstrumentNote(kind=kind, happened_at=moment, text="New microphone", affects_indication=affects)


def after_a_miss(name: str) -> str:
    return f"calibrated after a miss, certificate {name}"


def test_nothing_happened_to_it() -> None:
    instrument = Instrument(notes=[], calibrations=[calibration("A", 4, at(4))])
    assert changes_of(instrument, [check(at(2), accepted=True), check(at(3), airflow="5.10")]) == []
    assert began_anew(instrument, []) == (None, "")


def test_of_the_calibrations_after_a_miss_only_the_first_makes_it_another() -> None:
    """B, C and D confirm what A has put right, in whatever order the book holds them."""
    rows = [calibration(name, day, at(day, 15)) for name, day in (("D", 25), ("B", 11), ("A", 8), ("C", 11))]
    instrument = Instrument(notes=[], calibrations=rows)
    checks = [check(at(5)), check(at(14), accepted=True)]
    assert changes_of(instrument, checks) == [(at(8, 15), after_a_miss("A"))]
    assert began_anew(instrument, checks) == (at(8, 15), after_a_miss("A"))


@pytest.mark.parametrize(
    ("first", "is_answer"),
    [
        (calibration("A", 5, at(5, 9)), True),  # on the day of the miss, recorded at its moment
        (calibration("A", 5, at(5, 8)), False),  # recorded before it
        (calibration("A", 4, at(6)), False),  # made on the day before
        (calibration("A", 6, at(7), withdrawn=True), False),
    ],
)
def test_what_answers_a_miss(first: Calibration, is_answer: bool) -> None:
    instrument = Instrument(notes=[], calibrations=[first, calibration("B", 9, at(9, 15))])
    expected = (at(5), after_a_miss("A")) if is_answer else (at(9, 15), after_a_miss("B"))
    assert changes_of(instrument, [check(at(5))]) == [expected]


def test_a_certificate_recorded_late_counts_from_the_end_of_its_day() -> None:
    instrument = Instrument(notes=[], calibrations=[calibration("A", 8, at(20))])
    assert changes_of(instrument, [check(at(5))]) == [(at(9, 0), after_a_miss("A"))]


def test_each_miss_has_its_own_answer_and_two_may_share_one() -> None:
    rows = [calibration("A", 8, at(8)), calibration("B", 16, at(16))]
    instrument = Instrument(notes=[], calibrations=rows)
    shared = [check(at(7)), check(at(5))]
    assert changes_of(instrument, shared) == [(at(8), after_a_miss("A"))]
    assert changes_of(instrument, [*shared, check(at(12))]) == [(at(8), after_a_miss("A")), (at(16), after_a_miss("B"))]
    unanswered = [*shared, check(at(12)), check(at(20))]
    assert [moment for moment, _ in changes_of(instrument, unanswered)] == [at(8), at(16)]


def test_it_is_another_only_after_every_miss_that_the_calibration_answers() -> None:
    """Missed again on the day of the calibration, which was recorded the next morning."""
    instrument = Instrument(notes=[], calibrations=[calibration("A", 5, datetime(2026, 5, 6, 8, tzinfo=UTC))])
    assert changes_of(instrument, [check(at(4)), check(at(5, 12))]) == [(at(6, 0), after_a_miss("A"))]


def test_a_repair_counts_where_it_may_have_changed_what_is_shown_and_all_stand_oldest_first() -> None:
    notes = [repair(at(12)), repair(at(13), affects=False), repair(at(14), kind="fault"), repair(at(3))]
    instrument = Instrument(notes=notes, calibrations=[calibration("A", 8, at(8))])
    found = changes_of(instrument, [check(at(5))])
    assert found == [
        (at(3), "repaired on 3 May 2026: New microphone"),
        (at(8), after_a_miss("A")),
        (at(12), "repaired on 12 May 2026: New microphone"),
    ]
    assert began_anew(instrument, [check(at(5))]) == found[-1]
