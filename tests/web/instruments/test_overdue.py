"""Past its due date, or without a certificate: what editions allow, in the shed, on a sheet, on a slip."""

from datetime import date
from typing import Any
from uuid import UUID

import pytest

from tests import builders
from tests.builders import EVENT, INSTRUMENT, a_calibration, a_class, an_instrument, put, verify
from tests.conftest import Logbook, an_id
from tests.web.instruments.sheds import an_edition, hindrance, refused, state, withdraw

DUE_ON = date(2026, 4, 25)  # a week before the event


@pytest.fixture
def shed(logbook: Logbook) -> Logbook:
    a_class(logbook)
    an_instrument(logbook)
    return logbook


# ---- due dates ---------------------------------------------------------------------------------------------------


def overdue(book: Logbook, due_on: date = DUE_ON) -> None:
    """An instrument whose certificate was due on that day."""
    a_class(book)
    builders.an_instrument(book)
    a_calibration(book, name=" short", calibrated_on="2026-03-01", due_on=due_on.isoformat())


@pytest.mark.parametrize(("due_on", "kind"), [("2026-05-02", None), ("2026-05-01", "overdue"), ("2026-05-03", None)])
def test_the_due_date_itself_is_in_time(logbook: Logbook, due_on: str, kind: str | None) -> None:
    overdue(logbook, date.fromisoformat(due_on))
    assert hindrance(logbook) == kind


def test_an_overdue_instrument_opens_no_shed_where_no_edition_allows_it(logbook: Logbook) -> None:
    overdue(logbook)
    said = refused(logbook)
    assert said == (
        "The calibration of Instrument 2 was due on 25 April 2026, 7 days ago. The rules of this series allow none "
        "that is overdue, so it cannot be used. Take another instrument. An official has this one calibrated and "
        "records it here."
    )
    found = state(logbook)
    assert (found["state_words"], found["stages"]) == ("Calibration overdue by 7 days", [])
    assert said in logbook.client("inspector").get("/shed").text
    form = logbook.client("inspector").get(f"/events/{EVENT}/verification/opening?instrument={INSTRUMENT}").text
    assert said in form
    assert "Judge this verification" not in form


@pytest.mark.parametrize(("days", "opens"), [(7, True), (6, False), (8, True)])
def test_an_edition_may_allow_some_days_and_not_one_more(logbook: Logbook, days: int, opens: bool) -> None:
    overdue(logbook)
    an_edition(logbook, days)
    if not opens:
        assert "The rules of this series allow 6 days at most" in refused(logbook)
        return
    assert f"The rules allow it up to {days} days after that" in state(logbook)["warning"]
    form = logbook.client("inspector").get(f"/events/{EVENT}/verification/opening?instrument={INSTRUMENT}").text
    assert "every slip says it" in form
    assert "Judge this verification" in form
    assert verify(logbook)["accepted"]
    assert state(logbook)["is_open"]


def test_only_the_edition_in_force_today_and_of_this_series_counts(logbook: Logbook) -> None:
    overdue(logbook)
    an_edition(logbook, 30, on="2026-05-03")
    official, other = logbook.client("official"), an_id("other class")
    put(official, f"/series/{an_id('other')}", {"name": "Hill Cup"})
    put(official, f"/classes/{other}", {"series_id": str(an_id("other")), "code": "H", "name": "Hill"})
    an_edition(logbook, 30, other, "of the other")
    still_unwritten = {"series_id": str(builders.SERIES), "code": "NEW", "name": "No edition yet"}
    put(official, f"/classes/{an_id('unwritten')}", still_unwritten)
    assert "allow none that is overdue" in refused(logbook)


def test_when_the_last_day_allowed_is_over_it_can_only_be_closed(logbook: Logbook) -> None:
    overdue(logbook)
    an_edition(logbook, 7)
    verify(logbook)
    logbook.clock.advance(hours=16)
    logbook.clients.clear()
    found = state(logbook)
    assert (found["is_open"], found["stages"], found["state_words"]) == (
        False,
        ["closing"],
        "Calibration overdue by 8 days",
    )
    assert "8 days ago. The rules of this series allow 7 days at most" in refused(logbook, "during")
    form = logbook.client("inspector").get(f"/events/{EVENT}/verification/during?instrument={INSTRUMENT}").text
    assert f'href="/events/{EVENT}/verification/closing?instrument={INSTRUMENT}">Close Instrument 2' in form
    assert verify(logbook, "closing")["accepted"]


@pytest.mark.parametrize("days", [0, 366])
def test_what_was_never_calibrated_is_allowed_by_no_edition(logbook: Logbook, days: int) -> None:
    a_class(logbook)
    builders.an_instrument(logbook)
    withdraw(logbook, an_id("calibration"))
    if days:
        an_edition(logbook, days)
    assert refused(logbook) == (
        "Instrument 2 has no calibration in force. Every certificate of it was withdrawn, so nobody can say how truly "
        "it reads. Take another instrument. An official has this one calibrated and records it here."
    )
    assert state(logbook)["state_words"] == "Not calibrated"


def test_one_that_comes_due_soon_is_said_in_the_shed(logbook: Logbook) -> None:
    overdue(logbook, date(2026, 5, 20))
    page = logbook.client("inspector").get("/shed").text
    assert "Its calibration is due in 18 days. Tell an official;" in page
    assert state(logbook)["stages"] == ["opening"]


# ---- sheets and slips --------------------------------------------------------------------------------------------


def sheet_body(entry_id: UUID) -> dict[str, Any]:
    asked = {"entry_id": str(entry_id), "instrument_id": str(INSTRUMENT), "conditions_id": str(an_id("conditions"))}
    return {**asked, "cautions_confirmed": True, **builders.conditions()}


@pytest.fixture
def two_classes(logbook: Logbook) -> Logbook:
    """TR-8 allows ten days, GT-8 none; the instrument is seven days overdue and open."""
    overdue(logbook)
    an_edition(logbook, 10)
    a_class(logbook, an_id("strict"), "GT-8")
    verify(logbook)
    return logbook


def test_a_sheet_asks_the_edition_of_its_own_entry(two_classes: Logbook) -> None:
    entry = builders.an_entry(two_classes, "52", class_id=an_id("strict"))
    inspector = two_classes.client("inspector")
    answer = inspector.put(f"/api/inspections/{an_id('sheet')}", json=sheet_body(entry))
    assert answer.status_code == 422
    said = answer.json()["errors"]["instrument_id"]
    assert said.startswith(
        "The calibration of Instrument 2 was due on 25 April 2026, 7 days ago. Edition 1 of the rules "
    )
    assert "of class GT-8 allows none that is overdue, so it cannot be used for this entry." in said
    start = inspector.get(f"/entries/{entry}/start").text
    assert said in start
    assert "No instrument that may be used for this entry is open at this event." in start
    assert inspector.get(f"/api/inspections/{an_id('sheet')}").status_code == 404


def test_the_slip_says_by_how_long_the_calibration_was_overdue_and_what_the_edition_allows(
    two_classes: Logbook,
) -> None:
    entry, inspector = builders.an_entry(two_classes), two_classes.client("inspector")
    start = inspector.get(f"/entries/{entry}/start").text
    assert "Edition 2 of the rules of class TR-8 allows 10 days at most; the slip says so." in start
    sheet = builders.a_sheet(two_classes, entry)
    builders.readings(two_classes, sheet, [["10.31"]] * 8)
    slip = builders.signed(two_classes, sheet)
    record = inspector.get(f"/api/slips/{slip['id']}/record").json()
    assert record["instrument"]["calibration"]["overdue_days"] == "7"
    assert record["rule"]["overdue_days_allowed"] == "10"


def test_a_slip_in_time_says_zero(shed: Logbook) -> None:
    verify(shed)
    sheet = builders.a_sheet(shed, builders.an_entry(shed))
    builders.readings(shed, sheet, [["10.31"]] * 8)
    record = shed.client("inspector").get(f"/api/slips/{builders.signed(shed, sheet)['id']}/record").json()
    assert record["instrument"]["calibration"]["overdue_days"] == "0"
    assert record["rule"]["overdue_days_allowed"] == "0"
