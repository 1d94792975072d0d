"""Questions to the instrument book that need no one's leave: what is in force, what is open, what is in doubt."""

import math
from datetime import date, datetime
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.database import now
from app.errors import NotFound
from app.instruments.models import Calibration, Instrument, Verification
from app.instruments.schemas import DoubtView, InstrumentView
from app.instruments.views import instrument_view, is_off_airflow, verification_view


def instrument_of(session: Session, instrument_id: UUID) -> Instrument:
    row = session.get(Instrument, instrument_id)
    if row is None:
        raise NotFound("instrument")
    return row


def verification_of(session: Session, verification_id: UUID) -> Verification:
    row = session.get(Verification, verification_id)
    if row is None:
        raise NotFound("verification")
    return row


def view_of(session: Session, row: Instrument) -> InstrumentView:
    today = now(session).date()
    checks = verifications_of(session, row.id, most=1)
    last = verification_view(checks[0], doubt_behind(session, checks[0])) if checks else None
    return instrument_view(row, calibration_in_force(session, row.id, today), last, today)


def calibration_in_force(session: Session, instrument_id: UUID, on: date) -> Calibration | None:
    """The latest made by that day, due or overdue: `due_on` says which."""
    return session.scalars(
        select(Calibration)
        .where(Calibration.instrument_id == instrument_id, Calibration.calibrated_on <= on)
        .order_by(Calibration.calibrated_on.desc(), Calibration.created_at.desc())
        .limit(1)
    ).first()


def verifications_of(
    session: Session, instrument_id: UUID, event_id: UUID | None = None, most: int | None = None
) -> list[Verification]:
    """Latest first; within one moment the later stage first."""
    query = select(Verification).where(Verification.instrument_id == instrument_id)
    if event_id is not None:
        query = query.where(Verification.event_id == event_id)
    return list(session.scalars(query.order_by(Verification.performed_at.desc(), Verification.stage).limit(most)))


def latest_verification(session: Session, instrument_id: UUID, event_id: UUID) -> Verification | None:
    checks = verifications_of(session, instrument_id, event_id, most=1)
    return checks[0] if checks else None


def is_open(latest: Verification | None) -> bool:
    """The latest word at this event counts, whatever came before it."""
    return latest is not None and latest.accepted and latest.stage != "closing"


def open_instruments(session: Session, event_id: UUID) -> list[InstrumentView]:
    rows = session.scalars(
        select(Instrument)
        .where(Instrument.id.in_(select(Verification.instrument_id).where(Verification.event_id == event_id)))
        .order_by(Instrument.name)
    )
    return [view_of(session, row) for row in rows if is_open(latest_verification(session, row.id, event_id))]


def repeatability_of(session: Session, instrument_id: UUID) -> tuple[float, float] | None:
    """Standard deviation of one indication and its degrees of freedom, pooled over the instrument's verifications.

    JCGM 100:2008, 4.2.4. Those off the airflow set-point are left out: there the instrument was not as it measures.
    """
    squares, dof = 0.0, 0
    for check in verifications_of(session, instrument_id):
        own = len(check.indications) - 1
        if own > 0 and not is_off_airflow(check):
            squares += own * float(check.standard_deviation) ** 2
            dof += own
    return (math.sqrt(squares / dof), float(dof)) if dof else None


# ---- looking back -----------------------------------------------------------------------------------------------


def missed_its_mark(check: Verification) -> bool:
    return not check.accepted and not is_off_airflow(check)


def failed_closings(session: Session) -> list[Verification]:
    """Closing verifications that missed the mark, latest first. One that was only off its airflow is not among them:
    it says nothing about the instrument and is made again."""
    rows = session.scalars(
        select(Verification)
        .where(Verification.stage == "closing", Verification.accepted.is_(False))
        .order_by(Verification.performed_at.desc(), Verification.id)
    )
    return [row for row in rows if missed_its_mark(row)]


def doubt_behind(session: Session, check: Verification) -> datetime | None:
    """For a missed closing: when the last good verification before it was made; None where nothing is in doubt."""
    if check.stage != "closing" or not missed_its_mark(check):
        return None
    return session.scalar(
        select(Verification.performed_at)
        .where(
            Verification.instrument_id == check.instrument_id,
            Verification.event_id == check.event_id,
            Verification.accepted.is_(True),
            Verification.performed_at <= check.performed_at,
        )
        .order_by(Verification.performed_at.desc())
        .limit(1)
    )


def doubts(session: Session, instrument_id: UUID | None = None, event_id: UUID | None = None) -> list[DoubtView]:
    """Each stretch of time whose results rest on a verification that failed later, latest first.

    A good verification afterwards does not lift a doubt: a person decides that.
    """
    found = []
    for check in failed_closings(session):
        if instrument_id not in (None, check.instrument_id) or event_id not in (None, check.event_id):
            continue
        since = doubt_behind(session, check)
        if since is not None:
            found.append(
                DoubtView(
                    verification_id=check.id,
                    instrument_id=check.instrument_id,
                    instrument_name=check.instrument.name,
                    event_id=check.event_id,
                    since=since,
                    until=check.performed_at,
                    reason=check.reason,
                )
            )
    return found


def in_doubt_since(session: Session, instrument_id: UUID, event_id: UUID) -> datetime | None:
    """The earliest moment from which results with this instrument at this event are in doubt; None when none are."""
    return min((doubt.since for doubt in doubts(session, instrument_id, event_id)), default=None)
