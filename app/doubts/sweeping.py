"""Looking back: from a cause to every verdict that it puts in doubt, a piece at a time, again and again until done.

The cause is committed with the fact itself. This finds the verdicts afterwards, in transactions of a bounded size, so
that the shed goes on measuring meanwhile. Nothing is remembered but what was found: cut off anywhere, and by whatever,
it is called again, starts at the beginning and passes over what is entered already, since a cause and a verdict
together are the key. Several processes may do it at once; one of them writes that it is done.

None is missed between the two sides. A cause and a verdict are both written under the lock of the log, so one of them
is committed first. Was it the verdict, it is found here; was it the cause, `doubt_where_concerned` sees it at the
sign-off.
"""

from collections.abc import Sequence
from datetime import datetime
from typing import Any
from uuid import UUID

from sqlalchemy import ColumnElement, CursorResult, Select, Tuple, and_, func, literal, select, tuple_
from sqlalchemy.dialects import postgresql, sqlite
from sqlalchemy.orm import InstrumentedAttribute, Session

from app import audit
from app.database import Database, UtcDateTime, now
from app.doubts.models import DoubtedVerdict, LookBack
from app.inspections.assembly import calibrations_behind
from app.inspections.doubtful import causes_concerning
from app.inspections.models import Verdict
from app.instruments.models import DoubtCause

PIECE = 2000
Key = tuple[Any, ...]  # how far the looking back has come, in the order of the index it reads


def look_back(database: Database, *, piece: int = PIECE) -> int:
    """Finds what every unfinished cause puts in doubt; how many verdicts were entered by this call."""
    entered = 0
    while True:
        with database.read() as session:
            cause_id = session.scalar(_unfinished().limit(1))
        if cause_id is None:
            return entered
        entered += _look_back_at(database, cause_id, piece)


def _unfinished() -> Select[UUID]:
    done = select(LookBack.cause_id).where(LookBack.cause_id == DoubtCause.id).exists()
    return select(DoubtCause.id).where(~done).order_by(DoubtCause.raised_at, DoubtCause.id)


def _look_back_at(database: Database, cause_id: UUID, piece: int) -> int:
    entered, after = 0, None
    while True:
        with database.write() as session:
            # one process a piece; `key_share` leaves sign-offs free to enter their own verdict under this cause
            query = select(DoubtCause).where(DoubtCause.id == cause_id).with_for_update(key_share=True)
            cause = session.scalars(query).one()
            if session.get(LookBack, cause_id) is not None:
                return entered  # another process came to the end before
            last = session.execute(last_of_piece(cause, after, piece)).first()
            entered += _enter(session, cause.id, _of_piece(cause, after, last))
            if last is None:
                _finish(session, cause)
                return entered
            after = tuple(last)


def _finish(session: Session, cause: DoubtCause) -> None:
    found = session.scalar(select(func.count()).where(DoubtedVerdict.cause_id == cause.id)) or 0
    session.add(LookBack(cause_id=cause.id, found=found, finished_at=now(session)))
    audit.record(session, "Shedbook", "looked back", cause.id, {"verdicts": str(found), "reason": cause.reason})


def concerned_by(cause: DoubtCause, after: Key | None = None) -> ColumnElement[bool]:
    """Which verdicts this cause puts in doubt: those that rest on the calibration, or were measured in between.

    Beyond a key the beginning need not be asked for again; asked for twice, SQLite would start there each time.
    """
    key = _key(cause)
    if cause.calibration_id is not None:
        rests = Verdict.calibration_id == cause.calibration_id
        return rests if after is None else and_(rests, tuple_(*key) > _bound(key, after))
    ends = and_(Verdict.instrument_id == cause.instrument_id, Verdict.measured_from <= cause.until)
    if after is not None:
        return and_(ends, tuple_(*key) > _bound(key, after))
    return ends if cause.since is None else and_(ends, Verdict.measured_until >= cause.since)


def last_of_piece(cause: DoubtCause, after: Key | None, piece: int) -> Select[*tuple[Any, ...]]:
    """The key of the last verdict of the next piece; no row where fewer than a whole piece are left."""
    key = _key(cause)
    return select(*key).where(concerned_by(cause, after)).order_by(*key).offset(piece - 1).limit(1)


def _of_piece(cause: DoubtCause, after: Key | None, last: Sequence[Any] | None) -> ColumnElement[bool]:
    here = concerned_by(cause, after)
    key = _key(cause)
    return here if last is None else and_(here, tuple_(*key) <= _bound(key, last))


def _key(cause: DoubtCause) -> list[InstrumentedAttribute[Any]]:
    """The order of `ix_verdict_calibration` and of `ix_verdict_measured` after what they are asked for."""
    return [Verdict.id] if cause.calibration_id is not None else [Verdict.measured_until, Verdict.id]


def _bound(key: list[InstrumentedAttribute[Any]], values: Sequence[Any]) -> Tuple:
    return tuple_(*(literal(value, column.type) for column, value in zip(key, values, strict=True)))


# ---- entering ----------------------------------------------------------------------------------------------------


def _enter(session: Session, cause_id: UUID, which: ColumnElement[bool]) -> int:
    """Each once, however often it is asked, by however many processes; how many were new."""
    insert = postgresql.insert if session.get_bind().dialect.name == "postgresql" else sqlite.insert
    found_at: datetime = now(session)
    rows = select(literal(cause_id, DoubtCause.id.type), Verdict.id, literal(found_at, UtcDateTime())).where(which)
    into = insert(DoubtedVerdict).from_select(["cause_id", "verdict_id", "found_at"], rows).on_conflict_do_nothing()
    done = session.execute(into, execution_options={"preserve_rowcount": True})
    return done.rowcount if isinstance(done, CursorResult) else 0


def doubt_where_concerned(session: Session, verdict: Verdict) -> list[DoubtCause]:
    """In the transaction of the sign-off, after its log entry: a verdict may be in doubt from its first moment."""
    session.flush()
    certificates = calibrations_behind(verdict.inspection)
    causes = causes_concerning(
        session, verdict.instrument_id, certificates, verdict.measured_from, verdict.measured_until
    )
    for cause in causes:
        _enter(session, cause.id, Verdict.id == verdict.id)
    return causes
