"""Questions to the instrument book that need no one's leave: what is in force, what is open, how it scatters."""

from collections.abc import Collection, Sequence
from datetime import date, datetime
from uuid import UUID

from sqlalchemy import Select, func, select
from sqlalchemy.orm import InstrumentedAttribute, Session, joinedload, selectinload

from app.database import now, row_of
from app.instruments.causes import causes_under
from app.instruments.models import (
    Calibration,
    CertificateFile,
    Condemnation,
    Instrument,
    InstrumentNote,
    ReferenceVolume,
    Verification,
    Withdrawal,
)
from app.instruments.schemas import InstrumentView, VerificationView
from app.instruments.standing import days_allowed, hindrance_of, hindrances, may_be_used
from app.instruments.views import instrument_view, is_off_airflow, verification_view
from app.instruments.wording import SCATTERS_MORE
from app.metrology.indications import parse_indication
from app.metrology.repeatability import pooled_history, scatters_wider
from app.regulations.service import event_of

_CONDEMNED = joinedload(ReferenceVolume.condemnation).joinedload(Condemnation.condemned_by)
_CERTIFICATE = (
    joinedload(Calibration.withdrawal).joinedload(Withdrawal.withdrawn_by),
    joinedload(Calibration.file).joinedload(CertificateFile.attached_by),
)
_BOOK = select(Instrument).options(
    selectinload(Instrument.reference_volumes).options(_CONDEMNED),
    selectinload(Instrument.calibrations).options(*_CERTIFICATE),
    selectinload(Instrument.notes).joinedload(InstrumentNote.noted_by),
)
_WHOLE = (
    joinedload(Verification.event),
    joinedload(Verification.instrument),
    joinedload(Verification.reference_volume).options(_CONDEMNED),
    joinedload(Verification.performed_by),
)
_LATEST_FIRST = (Verification.performed_at.desc(), Verification.stage)  # within one moment the later stage


def instrument_of(session: Session, instrument_id: UUID) -> Instrument:
    return row_of(session, Instrument, instrument_id, "instrument")


def verification_of(session: Session, verification_id: UUID) -> Verification:
    return row_of(session, Verification, verification_id, "verification")


def instrument_views(session: Session, rows: Sequence[Instrument]) -> list[InstrumentView]:
    """A fixed number of queries, however many instruments."""
    today = now(session).date()
    latest = {check.instrument_id: check for check in session.scalars(_latest_of_each(Verification.instrument_id))}
    shown = {view.instrument_id: view for view in verification_views(session, list(latest.values()))}
    against = hindrances(session, rows, today)
    return [instrument_view(row, row.calibration_on(today), against[row.id], shown.get(row.id), today) for row in rows]


def view_of(session: Session, row: Instrument) -> InstrumentView:
    today = now(session).date()
    last = verification_views(session, verifications_of(session, row.id, most=1))
    against = hindrance_of(session, row, today)
    return instrument_view(row, row.calibration_on(today), against, last[0] if last else None, today)


def all_instruments(session: Session) -> Sequence[Instrument]:
    return session.scalars(_BOOK.order_by(Instrument.name)).all()


def calibration_in_force(session: Session, instrument_id: UUID, on: date) -> Calibration | None:
    return instrument_of(session, instrument_id).calibration_on(on)


def verifications_of(
    session: Session, instrument_id: UUID, event_id: UUID | None = None, most: int | None = None
) -> list[Verification]:
    """Latest first."""
    query = select(Verification).where(Verification.instrument_id == instrument_id).options(*_WHOLE)
    if event_id is not None:
        query = query.where(Verification.event_id == event_id)
    return list(session.scalars(query.order_by(*_LATEST_FIRST).limit(most)))


def latest_verification(session: Session, instrument_id: UUID, event_id: UUID) -> Verification | None:
    checks = verifications_of(session, instrument_id, event_id, most=1)
    return checks[0] if checks else None


def latest_at(session: Session, event_ids: Collection[UUID]) -> list[Verification]:
    """The latest word on each instrument at each of these events."""
    found = _latest_of_each(Verification.event_id, Verification.instrument_id)
    return list(session.scalars(found.where(Verification.event_id.in_(event_ids))))


def opened_at(session: Session, event_ids: Collection[UUID]) -> set[tuple[UUID, UUID]]:
    """(event, instrument) of each that was accepted there once: what was never opened can be neither checked nor
    closed."""
    found = select(Verification.event_id, Verification.instrument_id).distinct()
    rows = session.execute(found.where(Verification.event_id.in_(event_ids), Verification.accepted.is_(True)))
    return {(event_id, instrument_id) for event_id, instrument_id in rows}


def is_open(latest: Verification | VerificationView | None) -> bool:
    """The latest word at this event counts, whatever came before it."""
    return latest is not None and latest.accepted and latest.stage != "closing" and not lost_its_volume(latest)


def lost_its_volume(check: Verification | VerificationView) -> bool:
    """Its reference volume was found damaged since, and nobody knows that it was sound then."""
    found = check.reference_volume.condemnation
    return found is not None and (found.last_sound_at is None or check.performed_at > found.last_sound_at)


def open_instruments(session: Session, event_id: UUID, most_overdue_days: int | None = None) -> list[InstrumentView]:
    """Those that may measure here now: open by their latest verification, and nothing has come up against them since.

    `most_overdue_days` is what the edition allows that a sheet is opened under; without one, the editions of the
    series decide.
    """
    ready = [check.instrument_id for check in latest_at(session, [event_id]) if is_open(check)]
    rows = session.scalars(_BOOK.where(Instrument.id.in_(ready)).order_by(Instrument.name)).all()
    if most_overdue_days is None:
        series_id = event_of(session, event_id).series_id
        most_overdue_days = days_allowed(session, [series_id], now(session).date())[series_id]
    return [view for view in instrument_views(session, rows) if may_be_used(view.hindrance, most_overdue_days)]


def _latest_of_each(*group: InstrumentedAttribute[UUID]) -> Select[Verification]:
    place = func.row_number().over(partition_by=group, order_by=_LATEST_FIRST).label("place")
    ranked = select(Verification.id, place).subquery()
    return select(Verification).join(ranked, ranked.c.id == Verification.id).where(ranked.c.place == 1).options(*_WHOLE)


def last_repair_of(session: Session, instrument_id: UUID, until: datetime | None = None) -> datetime | None:
    """When it was last repaired, by then, so that what it shows may have changed."""
    repaired = select(func.max(InstrumentNote.happened_at)).where(
        InstrumentNote.instrument_id == instrument_id,
        InstrumentNote.kind == "repair",
        InstrumentNote.affects_indication.is_(True),
    )
    return session.scalar(repaired if until is None else repaired.where(InstrumentNote.happened_at <= until))


def repeatability_of(
    session: Session, instrument_id: UUID, before: datetime | None = None
) -> tuple[float, float] | None:
    """Standard deviation of one indication and its degrees of freedom, pooled over the instrument's verifications.

    JCGM 100:2008, 4.2.4. Those off the airflow set-point are left out: there the instrument was not as it measures.
    So are those from before the latest repair that affects what it shows: it may scatter otherwise since. `before`:
    as it was known at that moment, from what was made earlier.
    """
    since = last_repair_of(session, instrument_id, before)
    return pooled_history(
        [
            _indications(check)
            for check in verifications_of(session, instrument_id)
            if not is_off_airflow(check)
            and (since is None or check.performed_at > since)
            and (before is None or check.performed_at < before)
        ]
    )


def scatter_caution(session: Session, check: Verification) -> str:
    """Said of one verification that scatters wider than those before it; "" otherwise. It is judged by its mean."""
    if is_off_airflow(check):
        return ""
    history = repeatability_of(session, check.instrument_id, check.performed_at)
    wider = scatters_wider(_indications(check), history, float(check.instrument.resolution))
    return SCATTERS_MORE if wider else ""


def _indications(check: Verification) -> list[float]:
    return [parse_indication(text, "indications").value for text in check.indications]


def verification_views(session: Session, checks: Sequence[Verification]) -> list[VerificationView]:
    raised = causes_under(session, [check.id for check in checks if not check.accepted])
    return [verification_view(check, raised.get(check.id)) for check in checks]
