"""Looking back: from a cause to every verdict that it puts in doubt, a piece at a time, again and again until done.

The cause is committed with the fact itself. This finds the verdicts afterwards, in transactions of a bounded size; cut
off anywhere it is simply called again, because a verdict is entered under a cause only once.
"""

from uuid import UUID, uuid5

from sqlalchemy import ColumnElement, Select, and_, func, or_, select
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import Session

from app import audit
from app.database import Database, now
from app.doubts.models import DoubtedVerdict, LookBack
from app.inspections.models import Verdict
from app.instruments.models import DoubtCause

PIECE = 500


def look_back(database: Database) -> int:
    """Finds what every unfinished cause puts in doubt; how many verdicts were entered by this call."""
    entered = 0
    while True:
        with database.read() as session:
            cause_id = session.scalar(_unfinished().limit(1))
        if cause_id is None:
            return entered
        with database.write() as session:
            entered += _take_a_piece(session, cause_id)


def _unfinished() -> Select[UUID]:
    done = select(LookBack.cause_id).where(LookBack.cause_id == DoubtCause.id).exists()
    return select(DoubtCause.id).where(~done).order_by(DoubtCause.raised_at, DoubtCause.id)


def _take_a_piece(session: Session, cause_id: UUID) -> int:
    """The next verdicts of this cause, or the note that there are no more."""
    cause = session.scalars(select(DoubtCause).where(DoubtCause.id == cause_id).with_for_update()).one()
    if session.get(LookBack, cause_id) is not None:
        return 0  # another process was faster
    entered = select(DoubtedVerdict.id).where(
        DoubtedVerdict.cause_id == cause_id, DoubtedVerdict.verdict_id == Verdict.id
    )
    found = session.scalars(select(Verdict.id).where(concerned_by(cause), ~entered.exists()).limit(PIECE)).all()
    for verdict_id in found:
        enter(session, cause_id, verdict_id)
    if len(found) < PIECE:
        session.flush()
        count = session.scalar(select(func.count()).where(DoubtedVerdict.cause_id == cause_id)) or 0
        session.add(LookBack(cause_id=cause_id, found=count, finished_at=now(session)))
        audit.record(session, "Shedbook", "looked back", cause_id, {"verdicts": str(count), "reason": cause.reason})
    return len(found)


def concerned_by(cause: DoubtCause) -> ColumnElement[bool]:
    """Which verdicts this cause puts in doubt: those that rest on the calibration, or were measured in between."""
    if cause.calibration_id is not None:
        return Verdict.calibration_id == cause.calibration_id
    between = and_(
        Verdict.instrument_id == cause.instrument_id,
        Verdict.measured_from <= cause.until,
    )
    return between if cause.since is None else and_(between, Verdict.measured_until >= cause.since)


def causes_concerning(session: Session, verdict: Verdict) -> list[DoubtCause]:
    """The same question from the other side, for a sheet that is signed after the looking back was done."""
    measured = and_(
        DoubtCause.calibration_id.is_(None),
        DoubtCause.instrument_id == verdict.instrument_id,
        DoubtCause.until >= verdict.measured_from,
        or_(DoubtCause.since.is_(None), DoubtCause.since <= verdict.measured_until),
    )
    rests = and_(DoubtCause.calibration_id.is_not(None), DoubtCause.calibration_id == verdict.calibration_id)
    return list(session.scalars(select(DoubtCause).where(or_(measured, rests)).order_by(DoubtCause.raised_at)))


def doubt_where_concerned(session: Session, verdict: Verdict) -> list[DoubtCause]:
    """In the transaction of the sign-off: a verdict may be in doubt from its first moment."""
    session.flush()
    causes = causes_concerning(session, verdict)
    for cause in causes:
        enter(session, cause.id, verdict.id)
    return causes


def enter(session: Session, cause_id: UUID, verdict_id: UUID) -> None:
    """Once, however often it is asked, by however many processes."""
    insert = postgresql.insert if session.get_bind().dialect.name == "postgresql" else sqlite.insert
    row = {
        "id": uuid5(cause_id, verdict_id.hex),
        "cause_id": cause_id,
        "verdict_id": verdict_id,
        "found_at": now(session),
    }
    session.execute(insert(DoubtedVerdict).values(**row).on_conflict_do_nothing())
