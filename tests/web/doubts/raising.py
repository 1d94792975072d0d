"""Results and what puts them in doubt, for tests: a day in the shed told by its times."""

from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import select

from app import audit
from app.database import now
from app.doubts import service
from app.doubts.models import DoubtedVerdict
from app.doubts.schemas import DecideIn
from app.inspections.models import Verdict
from app.instruments.models import DoubtCause
from tests import builders
from tests.builders import INSTRUMENT, put
from tests.conftest import START, Logbook, an_id
from tests.web.history import rows

SECOND, SECOND_VOLUME = an_id("second instrument"), an_id("second volume")
CALIBRATION = an_id("calibration")


def at(clock: str) -> datetime:
    """That time on the first day of the event: "12:30"."""
    hours, minutes = clock.split(":")
    return START.replace(hour=int(hours), minute=int(minutes))


def go(book: Logbook, clock: str) -> None:
    """To that time; everybody signs in anew, since a session left alone for hours has ended."""
    book.clock.moment = at(clock)
    for client in book.clients.values():
        client.close()
    book.clients.clear()


def measured(book: Logbook, car: str, clock: str, competitor: str = "competitor", shown: str = rows.INSIDE) -> UUID:
    """Opened, read and signed at that time; its verdict's id."""
    go(book, clock)
    rows.a_result(book, car, competitor, shown)
    return verdict_of(book, car)


def sheet_of(car: str) -> UUID:
    return an_id(f"sheet {an_id(f'entry {car}')}")


def verdict_of(book: Logbook, car: str) -> UUID:
    with book.database.read() as session:
        return session.scalars(select(Verdict.id).where(Verdict.inspection_id == sheet_of(car))).one()


def raise_cause(
    book: Logbook,
    since: datetime | None = None,
    until: datetime | None = None,
    *,
    instrument_id: UUID = INSTRUMENT,
    calibration_id: UUID | None = None,
    kind: str = "missed_mark",
    name: str = "cause",
    reason: str = "Instrument 2 missed its mark at its closing verification.",
    look: bool = True,
) -> UUID:
    """As the facts about instruments raise it: written with its log entry, then looked back."""
    with book.database.write() as session:
        session.add(
            DoubtCause(
                id=an_id(name),
                kind=kind,
                instrument_id=instrument_id,
                calibration_id=calibration_id,
                since=since,
                until=until or now(session),
                reason=reason,
                raised_by_id=an_id("inspector"),
                raised_at=now(session),
            )
        )
        audit.record(session, "Ines Tarn", "doubt raised", an_id(name), {"reason": reason})
    if look:
        book.app.state.look_back(book.database)
    return an_id(name)


def doubted(book: Logbook, name: str = "cause") -> set[UUID]:
    with book.database.read() as session:
        found = select(DoubtedVerdict.verdict_id).where(DoubtedVerdict.cause_id == an_id(name))
        return set(session.scalars(found))


def decide(book: Logbook, verdict_ids: list[UUID], decision: str = "upheld", act: str = "act", **more: Any) -> Any:
    """By the official, through the service: the operation with its PIN stands above."""
    reasons = more.pop("reasons", "The closing was made again and read right.")
    data = DecideIn(verdict_ids=verdict_ids, decision=decision, reasons=reasons, **more)  # type: ignore[arg-type]
    with book.database.write() as session:
        return service.decide(session, book.person("official"), an_id(act), data)


def measured_again(book: Logbook, car: str, name: str = "again", repeats: UUID | None = None) -> UUID:
    """A second sheet of that car, signed now, on an instrument that was seen to read right again before."""
    builders.verify(book, "during", name=f"before {name} {car}")
    sheet = builders.a_sheet(
        book,
        an_id(f"entry {car}"),
        name,
        set_displacement="2866",
        set_cylinders=4,
        repeats_id=str(repeats or sheet_of(car)),
        repeat_reason="The instrument had missed its mark",
    )
    builders.readings(book, sheet, [[rows.INSIDE, rows.INSIDE]] * 4)
    rows.sign(book, sheet)
    return sheet


def a_second_instrument(book: Logbook) -> UUID:
    """Beside the first one, opened at the event."""
    official = book.client("official")
    known = official.get(f"/api/instruments/{INSTRUMENT}").json()["instrument"]
    kept = ("method", "resolution", "stated_accuracy", "accuracy_meaning", "settable_cylinders")
    flow = {"airflow_set_point": "4.72", "airflow_tolerance": "0.10"}
    sizes = {"displacement_min": "1000", "displacement_max": "9000"}
    named = {"name": "Instrument 3", "serial": "AR-0003"}
    put(official, f"/instruments/{SECOND}", {**{one: known[one] for one in kept}, **flow, **sizes, **named})
    mark = {"mark_low": "11.20", "mark_high": "11.30", "permitted_deviation": "0.05", "serial": "RV-8"}
    held = {"mark_displacement": "5733", "mark_cylinders": 8}
    put(official, f"/instruments/{SECOND}/reference-volumes/{SECOND_VOLUME}", {**mark, **held})
    builders.a_calibration(book, SECOND, " second")
    builders.verify(book, "opening", name="second", instrument_id=str(SECOND), reference_volume_id=str(SECOND_VOLUME))
    return SECOND


def minutes(count: float) -> timedelta:
    return timedelta(minutes=count)
