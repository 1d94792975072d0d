"""Whether an instrument may be used: after a miss, a fault, a repair, past its due date, without a certificate."""

from datetime import date
from typing import Any
from uuid import UUID

import pytest

from app.instruments import ledger
from app.instruments.standing import hindrance_of
from tests import builders
from tests.builders import CLASS, EVENT, INSTRUMENT, RULE, VOLUME, a_calibration, a_class, an_instrument, put, verify
from tests.conftest import Logbook, an_id

MISSED = ("11.44", "11.45", "11.44")
DUE_ON = date(2026, 4, 25)  # a week before the event


@pytest.fixture
def shed(logbook: Logbook) -> Logbook:
    a_class(logbook)
    an_instrument(logbook)
    return logbook


def state(book: Logbook) -> dict[str, Any]:
    found: dict[str, Any] = book.client("inspector").get(f"/api/events/{EVENT}/instruments").json()["instruments"][0]
    return found


def refused(book: Logbook, stage: str = "opening", name: str = "refused") -> str:
    """What the operation says to a verification of this stage that would read right."""
    body = {
        "instrument_id": str(INSTRUMENT),
        "reference_volume_id": str(VOLUME),
        "stage": stage,
        "indications": ["11.24", "11.25", "11.26"],
        "airflow": "4.72",
        "ambient_temperature": "21.0",
        **builders.PROCEDURE,
    }
    answer = book.client("inspector").put(f"/api/events/{EVENT}/verifications/{an_id(name)}", json=body)
    assert answer.status_code == 403, answer.text
    said: str = answer.json()["detail"]
    return said


def hindrance(book: Logbook) -> str | None:
    with book.database.read() as session:
        found = hindrance_of(session, ledger.instrument_of(session, INSTRUMENT), book.clock().date())
    return None if found is None else found.kind


def note(book: Logbook, kind: str, happened_at: str, affects: bool = True, name: str = "") -> None:
    body = {"kind": kind, "happened_at": happened_at, "text": "The hose fitting is loose", "place": ""}
    address = f"/instruments/{INSTRUMENT}/notes/{an_id(f'note {kind} {name}')}"
    put(book.client("inspector"), address, {**body, "affects_indication": affects})


def an_edition(book: Logbook, days: int, class_id: UUID = CLASS, name: str = "next", on: str = "2026-04-01") -> None:
    body = {"in_force_from": on, "protest_minutes": 30, "overdue_days_allowed": days, "rule": RULE}
    put(book.client("official"), f"/classes/{class_id}/editions/{an_id(name)}", body)


# ---- after a miss ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("missed_at", ["opening", "during", "closing"])
def test_a_miss_at_any_stage_closes_the_instrument_until_it_is_calibrated(shed: Logbook, missed_at: str) -> None:
    if missed_at != "opening":
        verify(shed)
    shed.clock.advance(minutes=1)
    assert not verify(shed, missed_at, *MISSED)["accepted"]
    shed.clock.advance(minutes=1)
    for stage in ("opening", "during", "closing"):
        said = refused(shed, stage, f"{missed_at} {stage}")
        assert said.startswith("Instrument 2 missed its mark on 2 May 2026 at Round one. It stays closed until a ")
        assert "Take another instrument. An official has this one calibrated and records it here." in said
        assert said.endswith("The miss stays in its history.")
    assert (state(shed)["is_open"], state(shed)["stages"]) == (False, [])
    shed.clock.advance(minutes=1)
    a_calibration(shed, name=" again", calibrated_on="2026-05-02")
    assert (state(shed)["state_words"], state(shed)["stages"]) == (
        "Closed: missed its mark, calibrated since",
        ["opening"],
    )
    assert verify(shed, name="again")["accepted"]
    assert state(shed)["is_open"]


def test_the_page_of_a_barred_instrument_says_why_and_offers_no_form(shed: Logbook) -> None:
    verify(shed, "opening", *MISSED)
    inspector = shed.client("inspector")
    for stage in ("opening", "during", "closing"):
        page = inspector.get(f"/events/{EVENT}/verification/{stage}?instrument={INSTRUMENT}").text
        assert "Instrument 2 missed its mark on 2 May 2026 at Round one." in page
        assert "Judge this verification" not in page
        assert "Another instrument" in page
    assert "Take another one." in inspector.get(f"/events/{EVENT}/verification/opening").text
    page = inspector.get("/shed").text
    assert "Closed until it is calibrated: it missed its mark" in page
    assert "An official has this one calibrated and records it here." in page
    assert "?instrument=" not in page


def test_what_was_typed_for_an_instrument_that_turned_out_barred_is_kept(shed: Logbook) -> None:
    """Two inspectors at one bench: the other one's check missed while this form was being filled."""
    verify(shed, "opening", *MISSED)
    typed = {
        "instrument_id": str(INSTRUMENT),
        "reference_volume_id": str(VOLUME),
        **{f"step_{key}": "yes" for key in builders.PROCEDURE["steps_confirmed"]},
        "ambient_temperature": "21.0",
        "gas_temperature_set": "21.0",
        "airflow": "4.72",
        **{f"indication_{number}": f"11.2{number}" for number in range(1, 5)},
    }
    address = f"/events/{EVENT}/verification/opening/{an_id('late')}"
    answer = shed.client("inspector").post(address, data=typed)
    assert answer.status_code == 403
    assert "Instrument 2 missed its mark on 2 May 2026 at Round one." in answer.text.split('role="alert"')[1]
    assert all(f'value="11.2{number}"' in answer.text for number in range(1, 5))


def test_only_a_calibration_of_that_day_or_later_recorded_afterwards_opens_it_again(shed: Logbook) -> None:
    shed.clock.advance(minutes=-5)
    a_calibration(shed, name=" before the miss", calibrated_on="2026-05-02")
    shed.clock.advance(minutes=5)
    verify(shed, "opening", *MISSED)
    assert hindrance(shed) == "missed"  # recorded before it
    shed.clock.advance(minutes=5)
    a_calibration(shed, name=" an old paper", calibrated_on="2026-05-01")
    assert hindrance(shed) == "missed"  # made before it
    a_calibration(shed, name=" today", calibrated_on="2026-05-02")
    assert hindrance(shed) is None


def test_a_withdrawn_certificate_closes_again_what_it_opened(shed: Logbook) -> None:
    verify(shed, "opening", *MISSED)
    shed.clock.advance(minutes=5)
    calibration = a_calibration(shed, name=" today", calibrated_on="2026-05-02")
    assert hindrance(shed) is None
    withdraw(shed, calibration)
    assert hindrance(shed) == "missed"


def withdraw(book: Logbook, calibration_id: UUID) -> None:
    address = (
        f"/instruments/{INSTRUMENT}/calibrations/{calibration_id}/withdrawal/{an_id(f'withdrawal {calibration_id}')}"
    )
    put(book.client("official"), address, {"reason": "The laboratory's standard was wrong."})


def test_an_instrument_or_a_volume_that_the_book_does_not_have_is_said_at_its_field(shed: Logbook) -> None:
    typed = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "stage": "opening"}
    met = {"indications": ["11.25"] * 3, "airflow": "4.72", "ambient_temperature": "21", **builders.PROCEDURE}
    for field, sentence in (
        ("instrument_id", "Choose one of the instruments of the book."),
        ("reference_volume_id", "Choose the reference volume that lies on the bench."),
    ):
        body = {**typed, **met, field: str(an_id("nowhere"))}
        answer = shed.client("inspector").put(f"/api/events/{EVENT}/verifications/{an_id('x')}", json=body)
        assert answer.json()["errors"] == {field: sentence}


def test_one_off_its_airflow_bars_nothing_and_is_made_again(shed: Logbook) -> None:
    verify(shed)
    shed.clock.advance(minutes=1)
    verify(shed, "during", *MISSED, airflow="4.90")
    found = state(shed)
    assert (hindrance(shed), found["may_be_used"], found["is_open"]) == (None, True, False)
    assert found["stages"] == ["during", "closing"]
    shed.clock.advance(minutes=1)
    verify(shed, "closing", airflow="4.90", name="off")
    assert state(shed)["stages"] == ["closing"]
    shed.clock.advance(minutes=1)
    assert verify(shed, "closing")["accepted"]
    shed.clock.advance(minutes=1)
    verify(shed, "opening", airflow="4.90", name="next off")
    assert state(shed)["stages"] == ["opening", "closing"]


def test_a_miss_at_one_event_closes_the_instrument_at_every_other(shed: Logbook) -> None:
    body = {"series_id": str(builders.SERIES), "name": "Round two", "venue": "Hill Ring"}
    event = an_id("round two")
    put(shed.client("official"), f"/events/{event}", {**body, "starts_on": "2026-05-02", "ends_on": "2026-05-02"})
    verify(shed, "opening", *MISSED)
    other = shed.client("inspector").get(f"/api/events/{event}/instruments").json()["instruments"][0]
    assert other["latest"] is None
    assert (other["may_be_used"], other["stages"]) == (False, [])
    assert other["state_words"] == "Closed until it is calibrated: it missed its mark"


# ---- faults and repairs ------------------------------------------------------------------------------------------


def test_a_fault_that_affects_what_it_shows_takes_it_out_of_use_but_lets_it_be_closed(shed: Logbook) -> None:
    verify(shed)
    shed.clock.advance(hours=1)
    note(shed, "fault", "2026-05-02T09:30:00Z")
    assert hindrance(shed) == "fault"
    found = state(shed)
    assert (found["is_open"], found["stages"]) == (False, ["closing"])
    assert (
        "A fault of Instrument 2 that affects what it shows was noted on 2 May 2026: The hose fitting is loose."
        in (found["warning"])
    )
    assert "It is out of use until a calibration is recorded after that." in refused(shed, "during")
    with shed.database.read() as session:
        assert ledger.open_instruments(session, EVENT) == []
    shed.clock.advance(minutes=1)
    assert verify(shed, "closing")["accepted"]
    shed.clock.advance(minutes=1)
    assert refused(shed, "opening").startswith("A fault of Instrument 2")
    a_calibration(shed, name=" after the fault", calibrated_on="2026-05-02")
    assert hindrance(shed) is None


def test_a_fault_that_leaves_the_indication_alone_and_a_move_bar_nothing(shed: Logbook) -> None:
    note(shed, "fault", "2026-05-01T09:00:00Z", affects=False)
    note(shed, "repair", "2026-05-01T09:00:00Z", affects=False)
    assert hindrance(shed) is None
    assert verify(shed)["accepted"]


def test_a_calibration_from_before_a_fault_was_noted_does_not_lift_it(shed: Logbook) -> None:
    a_calibration(shed, name=" early", calibrated_on="2026-05-02")
    shed.clock.advance(minutes=5)
    note(shed, "fault", "2026-05-02T08:00:00Z")
    assert hindrance(shed) == "fault"


def test_a_repair_is_followed_by_a_calibration_of_a_later_day_however_late_it_is_written_down(shed: Logbook) -> None:
    a_calibration(shed, name=" of April", calibrated_on="2026-04-20")
    shed.clock.advance(minutes=5)
    note(shed, "repair", "2026-04-19T12:00:00Z", name="in April")
    assert hindrance(shed) is None
    note(shed, "repair", "2026-04-20T12:00:00Z", name="the same day")  # before the calibration or after it?
    assert hindrance(shed) == "repair"
    assert "Instrument 2 was repaired on 20 April 2026 so that what it shows may have changed" in refused(shed)
    shed.clock.advance(minutes=5)
    a_calibration(shed, name=" told late", calibrated_on="2026-04-20")
    assert hindrance(shed) is None


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


def test_a_condemned_reference_volume_verifies_nothing(shed: Logbook) -> None:
    body = {"reason": "Dropped; its seat is bent."}
    address = f"/instruments/{INSTRUMENT}/reference-volumes/{VOLUME}/condemnation/{an_id('condemned')}"
    put(shed.client("official"), address, body)
    typed = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "stage": "opening"}
    met = {"indications": ["11.25"] * 3, "airflow": "4.72", "ambient_temperature": "21", **builders.PROCEDURE}
    answer = shed.client("inspector").put(f"/api/events/{EVENT}/verifications/{an_id('x')}", json={**typed, **met})
    assert answer.json()["errors"] == {
        "reference_volume_id": "Reference volume RV-7 was found damaged and verifies nothing any more. "
        "It has no other one; an official adds one."
    }
    form = shed.client("inspector").get(f"/events/{EVENT}/verification/opening?instrument={INSTRUMENT}").text
    assert "Instrument 2 has no sound reference volume of its own." in form
