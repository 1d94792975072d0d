"""After the second event: the closing of the second bench missed, so its afternoon is in doubt, told, and half decided.

One result was measured again on the other bench and one is upheld; the rest waits for whoever signs in as official.
"""

from collections.abc import Callable, Mapping
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import select

from app.demo import bench
from app.demo.calendar import SECOND_DAYS_AGO, Calendar
from app.demo.logbook import DemoLogbook, an_id
from app.demo.measuring import sheet_id
from app.doubts.sweeping import look_back
from app.inspections.models import Verdict
from app.instruments import upkeep
from app.instruments.ledger_schemas import NoteIn
from app.slips import notices
from app.slips.schemas import DecisionIn

CAUSE = an_id("verification", 2, bench.TWO, "closing", 230)
_UPHELD = "48"


def look_after(book: DemoLogbook, calendar: Calendar) -> None:
    """From the evening of the second event to the day on which the mended bench went to the laboratory."""
    look_back(book.database)
    evening = calendar.moment(SECOND_DAYS_AGO, 18, 30)
    _issue_doubt(book, evening)
    _uphold(book, calendar.moment(SECOND_DAYS_AGO - 3, 19))
    for ago, hour, asked in _WHAT_BECAME_OF_IT:
        happened = calendar.moment(SECOND_DAYS_AGO - ago, hour)
        with book.at(happened) as session:
            data = NoteIn.model_validate({**asked, "happened_at": happened})
            me = book.people["official2"]
            upkeep.add_note(session, me, bench.instrument_id(bench.TWO), an_id("note", ago, hour), data)


_WHAT_BECAME_OF_IT: tuple[tuple[int, int, dict[str, object]], ...] = (
    (
        6,
        10,
        {
            "kind": "repair",
            "text": "The plug of the microphone cable had worked loose. New plug, cable clamped.",
            "affects_indication": True,
        },
    ),
    (8, 9, {"kind": "moved", "text": "Sent to be calibrated.", "place": "Hollin Moss Measurement"}),
    (21, 15, {"kind": "moved", "text": "Back with its certificate.", "place": "The series' store"}),
)


def _issue_doubt(book: DemoLogbook, moment: datetime) -> None:
    notice_id = an_id("notice", CAUSE)
    key = book.keys["official"]
    with book.at(moment) as session:
        notices.issue_doubt(session, book.people["official"], CAUSE, notice_id, key.id, book.public_url)
    _press(book, notice_id, "official", moment)


def _uphold(book: DemoLogbook, moment: datetime) -> None:
    """A low engine: what the bench reads too high cannot have made it conform."""
    with book.database.read() as session:
        verdict_id = session.scalars(select(Verdict.id).where(Verdict.inspection_id == sheet_id(2, _UPHELD))).one()
    act = an_id("decision", CAUSE, _UPHELD)
    notice_id = notices.notice_id_of(act)
    asked = {
        "verdict_ids": [verdict_id],
        "decision": "upheld",
        "reasons": "The bench read too high, not too low, so the engine is further inside its limit than the sheet "
        "says. The result stands.",
        "notice_id": notice_id,
        "pin": "-",
    }
    key = book.keys["official2"]
    with book.at(moment) as session:
        data = DecisionIn.model_validate(asked)
        notices.issue_decision(session, book.people["official2"], CAUSE, act, data, key.id, book.public_url)
    _press(book, notice_id, "official2", moment)


def _press(book: DemoLogbook, notice_id: UUID, who: str, moment: datetime) -> None:
    with book.database.read() as session:
        record: Mapping[str, Any] = notices.record_of(notices.notice_of(session, notice_id))
    make: Callable[..., Any] = book.press.press_notice
    key = book.keys[who]
    made = make(record, key.private_pem, key.certificate_pem, book.keyring.authority_certificate_pem)
    with book.at(moment) as session:
        notices.keep_file(session, book.people[who].full_name, notice_id, made)
