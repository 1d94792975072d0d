"""A sheet that was open when its instrument turned out bad goes on being read: its verdict is in doubt too."""

from uuid import UUID

import pytest
from sqlalchemy import select

from app.doubts import service
from app.doubts.schemas import DecideIn
from app.errors import Conflict
from app.inspections.models import Verdict
from tests import builders
from tests.builders import INSTRUMENT, an_instrument, put, readings, signed, verify
from tests.conftest import Logbook, an_id
from tests.web.doubts.raising import at, go, measured, raise_cause
from tests.web.history import rows

MISSED = ("11.45", "11.45", "11.45")
PEAKS = [["10.20", "10.21"]] * 8


def states(book: Logbook, *sheets: UUID) -> list[str]:
    with book.database.read() as session:
        verdicts = [session.scalars(select(Verdict.id).where(Verdict.inspection_id == sheet)).one() for sheet in sheets]
        found = service.standing_of(session, verdicts)
        return [found[verdict].state for verdict in verdicts]


def two_open_sheets(book: Logbook) -> tuple[UUID, UUID]:
    builders.a_class(book)
    an_instrument(book)
    verify(book)
    go(book, "09:30")
    return builders.a_sheet(book, builders.an_entry(book)), builders.a_sheet(book, builders.an_entry(book, "42"))


def test_what_is_read_after_the_miss_on_a_sheet_opened_before_it_is_in_doubt(logbook: Logbook) -> None:
    sheet, corrected = two_open_sheets(logbook)
    readings(logbook, corrected, PEAKS)
    go(logbook, "10:00")
    verify(logbook, "during", *MISSED)
    go(logbook, "10:20")
    readings(logbook, sheet, PEAKS)
    doubtful = logbook.client("inspector").get(f"/api/inspections/{sheet}").json()["doubtful"]
    assert len(doubtful) == 1
    again = [
        {
            "id": str(an_id(f"corrected {cylinder}")),
            "cylinder": cylinder,
            "indications": ["10.20", "10.22"],
            "replaces_id": str(an_id(f"reading {corrected} {cylinder}")),
            "reason": "Typed wrong.",
        }
        for cylinder in range(1, 9)
    ]
    put(logbook.client("inspector"), f"/inspections/{corrected}/readings", {"readings": again})
    signed(logbook, sheet)
    signed(logbook, corrected)
    assert states(logbook, sheet, corrected) == ["in_doubt", "in_doubt"]


def test_what_is_read_after_the_instrument_was_seen_to_read_right_again_is_not(logbook: Logbook) -> None:
    sheet, _ = two_open_sheets(logbook)
    go(logbook, "10:00")
    verify(logbook, "during", *MISSED)
    certificate = {
        "laboratory": "Northmoor Calibration",
        "certificate": "NC-2026-130",
        "calibrated_on": "2026-05-02",
        "due_on": "2027-05-02",
        "deviation": "0.00",
        "expanded_uncertainty": "0.04",
        "coverage_factor": "2",
    }
    go(logbook, "11:00")
    put(logbook.client("official"), f"/instruments/{INSTRUMENT}/calibrations/{an_id('after')}", certificate)
    verify(logbook, name="again")
    go(logbook, "11:10")
    readings(logbook, sheet, PEAKS)
    signed(logbook, sheet)
    assert states(logbook, sheet) == ["sound"]


def test_a_certificate_withdrawn_before_the_signature_puts_the_sheet_opened_on_it_in_doubt(logbook: Logbook) -> None:
    sheet, _ = two_open_sheets(logbook)
    readings(logbook, sheet, PEAKS)
    go(logbook, "10:00")
    place = f"/instruments/{INSTRUMENT}/calibrations/{an_id('calibration')}/withdrawal/{an_id('withdrawal')}"
    put(logbook.client("official"), place, {"reason": "The laboratory's standard was off."})
    assert len(logbook.client("inspector").get(f"/api/inspections/{sheet}").json()["doubtful"]) == 1
    signed(logbook, sheet)
    assert states(logbook, sheet) == ["in_doubt"]


def test_a_second_miss_with_nothing_measured_in_between_doubts_nothing_again(logbook: Logbook) -> None:
    sheet, _ = two_open_sheets(logbook)
    readings(logbook, sheet, PEAKS)
    signed(logbook, sheet)
    go(logbook, "10:00")
    verify(logbook, "closing", *MISSED)
    official = logbook.client("official")
    assert official.get("/api/doubts").json()["open"] == 1
    certificate = {"laboratory": "Northmoor Calibration", "certificate": "NC-2026-131", "deviation": "0.00"}
    certificate |= {"calibrated_on": "2026-05-02", "due_on": "2027-05-02"}
    certificate |= {"expanded_uncertainty": "0.04", "coverage_factor": "2"}
    go(logbook, "11:00")
    put(logbook.client("official"), f"/instruments/{INSTRUMENT}/calibrations/{an_id('after')}", certificate)
    verify(logbook, "opening", *MISSED, name="again")
    work = logbook.client("official").get("/api/doubts").json()
    assert work["open"] == 1
    assert sorted(line["open"] + line["decided"] for line in work["waiting"] + work["settled"]) == [0, 1]
    second = next(line for line in work["waiting"] + work["settled"] if line["open"] + line["decided"] == 0)
    assert "It had missed it before, on 2 May 2026, 10:00 UTC." in second["reason"]


def test_a_repair_noted_late_puts_in_doubt_what_was_measured_since_it(logbook: Logbook) -> None:
    before, after = two_open_sheets(logbook)
    readings(logbook, before, PEAKS)
    signed(logbook, before)
    go(logbook, "10:30")
    readings(logbook, after, PEAKS)
    signed(logbook, after)
    go(logbook, "12:00")
    note = {
        "kind": "repair",
        "happened_at": "2026-05-02T10:00:00Z",
        "text": "New microphone.",
        "affects_indication": True,
    }
    put(logbook.client("official"), f"/instruments/{INSTRUMENT}/notes/{an_id('note')}", note)
    assert states(logbook, before, after) == ["sound", "in_doubt"]


def test_a_decision_settles_no_cause_that_came_after_its_page_was_loaded(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    verdict = measured(logbook, "41", "13:00")
    go(logbook, "16:00")
    raise_cause(logbook, at("12:00"), at("16:00"))
    loaded = at("16:05")
    go(logbook, "16:10")
    raise_cause(logbook, at("12:30"), at("16:10"), name="second")
    data = DecideIn(verdict_ids=[verdict], decision="upheld", reasons="It was sound.", known_at=loaded)
    with logbook.database.write() as session, pytest.raises(Conflict) as refused:
        service.decide(session, logbook.person("official"), an_id("act"), data)
    assert "A further cause" in refused.value.message
