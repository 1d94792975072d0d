"""What takes the ground from under results: written with the fact itself, under its id. app.doubts then looks back.

The stretch in doubt begins with the last good verification and ends with the fact. A calibration does not end it: a
certificate does not say whether the laboratory adjusted the instrument before it measured, and only what it found
before that would speak for earlier results.
"""

from collections.abc import Collection, Mapping, Sequence
from datetime import UTC, datetime, time
from typing import cast
from uuid import UUID

from sqlalchemy import ColumnElement, and_, func, or_, select
from sqlalchemy.orm import Session

from app import audit
from app.database import now
from app.instruments.models import (
    Condemnation,
    DoubtCause,
    Instrument,
    InstrumentNote,
    ReferenceVolume,
    Verification,
    Withdrawal,
)
from app.instruments.schemas import STAGES, Stage
from app.instruments.views import is_off_airflow, reference_volume_view
from app.instruments.wording import read_between, whole_sentence
from app.intake import utc_moment
from app.officials.service import CurrentPerson
from app.regulations.models import Event


def missed_its_mark(check: Verification) -> bool:
    """Not so where only the airflow was off: that says nothing about the instrument and is made again."""
    return not check.accepted and not is_off_airflow(check)


def last_good_verification(session: Session, instrument_id: UUID, until: datetime) -> datetime | None:
    """The last moment by then, at any event, at which the instrument was seen to read right on a sound volume."""
    return session.scalar(
        select(func.max(Verification.performed_at))
        .join(ReferenceVolume, ReferenceVolume.id == Verification.reference_volume_id)
        .outerjoin(Condemnation, Condemnation.reference_volume_id == ReferenceVolume.id)
        .where(Verification.instrument_id == instrument_id, Verification.performed_at <= until, _is_good())
    )


def _is_good() -> ColumnElement[bool]:
    """Accepted, on a volume that was never condemned, or that is known to have been sound then."""
    sound = or_(Condemnation.id.is_(None), Verification.performed_at <= Condemnation.last_sound_at)
    return and_(Verification.accepted.is_(True), sound)


# ---- one for each kind of fact ----------------------------------------------------------------------------------


def raise_for_missed(session: Session, me: CurrentPerson, verification: Verification) -> DoubtCause | None:
    """Whatever its stage; None where the mark was not missed."""
    if not missed_its_mark(verification):
        return None
    good = last_good_verification(session, verification.instrument_id, verification.performed_at)
    before = _missed_before(session, verification)
    # what the miss before this one put in doubt is in doubt, or decided about, already
    since = max((moment for moment in (good, before) if moment is not None), default=None)
    stage = cast(Stage, verification.stage)
    volume = reference_volume_view(verification.reference_volume)
    when = "verification during the day" if stage == "during" else f"{STAGES[stage].lower()} verification"
    reason = (
        f"{verification.instrument.name} missed its mark at its {when}, {verification.event.name}, "
        f"{utc_moment(verification.performed_at)}. "
        f"{read_between(volume.serial, verification.mean, volume.lowest_accepted, volume.highest_accepted)} "
        f"{_last_good(good) if before is None or since == good else _missed_on(before)}"
    )
    return _raise(
        session, me, verification.id, "missed_mark", verification.instrument, since, verification.performed_at, reason
    )


def _missed_before(session: Session, verification: Verification) -> datetime | None:
    """When the miss before this one ended what it put in doubt."""
    return session.scalar(
        select(func.max(DoubtCause.until)).where(
            DoubtCause.instrument_id == verification.instrument_id,
            DoubtCause.kind == "missed_mark",
            DoubtCause.until < verification.performed_at,
        )
    )


def raise_for_withdrawn(session: Session, me: CurrentPerson, withdrawal: Withdrawal) -> DoubtCause:
    """Every verdict that rests on the certificate, whenever it was measured."""
    calibration = withdrawal.calibration
    reason = (
        f"Certificate {calibration.certificate} of {calibration.laboratory} for {calibration.instrument.name} was "
        f"withdrawn on {utc_moment(withdrawal.withdrawn_at)}. {whole_sentence(withdrawal.reason)}"
    )
    moment, kind = withdrawal.withdrawn_at, "certificate_withdrawn"
    return _raise(session, me, withdrawal.id, kind, calibration.instrument, None, moment, reason, calibration.id)


def raise_for_damaged(session: Session, me: CurrentPerson, condemnation: Condemnation) -> DoubtCause | None:
    """None where no good verification is lost by it: a spare that nobody used, or one last used before another.

    The condemnation must stand in the session: what was made on the volume since it was sound counts no more.
    """
    session.flush()
    volume, moment = condemnation.reference_volume, condemnation.condemned_at
    since = last_good_verification(session, volume.instrument_id, moment)
    lost = select(Verification.id).where(
        Verification.reference_volume_id == volume.id,
        Verification.accepted.is_(True),
        Verification.performed_at <= moment,
        *([Verification.performed_at > since] if since is not None else []),
    )
    if session.scalar(lost.limit(1)) is None:
        return None
    sound = condemnation.last_sound_at
    reason = (
        f"Reference volume {volume.serial} of {volume.instrument.name} was found damaged on {utc_moment(moment)}; "
        + (f"it was last known to be sound on {utc_moment(sound)}. " if sound else "nobody can say since when. ")
        + f"{whole_sentence(condemnation.reason)} {_last_good(since)}"
    )
    return _raise(session, me, condemnation.id, "volume_damaged", volume.instrument, since, moment, reason)


def raise_for_fault(session: Session, me: CurrentPerson, note: InstrumentNote) -> DoubtCause | None:
    """From when it was last seen in order, or from a good verification after that, until the fault was noted."""
    if note.kind != "fault" or not note.affects_indication:
        return None
    good = last_good_verification(session, note.instrument_id, note.noted_at)
    since = note.happened_at if good is None else max(good, note.happened_at)
    reason = (
        f"A fault of {note.instrument.name} that affects what it shows was noted on {utc_moment(note.noted_at)}; it "
        f"was last in order on {utc_moment(since)}. {whole_sentence(note.text)}"
    )
    return _raise(session, me, note.id, "fault", note.instrument, since, note.noted_at, reason)


def raise_for_repair(session: Session, me: CurrentPerson, note: InstrumentNote) -> DoubtCause | None:
    """A repair noted after the instrument was used again without a calibration: from the repair to the note.

    None where nothing can have been measured in between: it had been closed, and nobody had opened it since.
    """
    if note.kind != "repair" or not note.affects_indication:
        return None
    repaired_on, noted_on = note.happened_at.astimezone(UTC).date(), note.noted_at.astimezone(UTC).date()
    calibrated = any(
        repaired_on < row.calibrated_on <= noted_on and row.withdrawal is None for row in note.instrument.calibrations
    )
    if calibrated or not _was_open(session, note):
        return None
    reason = (
        f"{note.instrument.name} was repaired on {utc_moment(note.happened_at)} so that what it shows may have "
        f"changed, and was used without a calibration until that was noted on {utc_moment(note.noted_at)}. "
        f"{whole_sentence(note.text)}"
    )
    return _raise(session, me, note.id, "repair", note.instrument, note.happened_at, note.noted_at, reason)


def _was_open(session: Session, note: InstrumentNote) -> bool:
    """At the repair, or at some time from then until it was noted."""
    own = select(Verification).where(Verification.instrument_id == note.instrument_id, Verification.accepted.is_(True))
    since = own.where(Verification.performed_at > note.happened_at, Verification.performed_at <= note.noted_at)
    if session.scalars(since.limit(1)).first() is not None:
        return True
    before = own.where(Verification.performed_at <= note.happened_at)
    last = session.scalars(before.order_by(Verification.performed_at.desc(), Verification.stage).limit(1)).first()
    return last is not None and last.stage != "closing"


def _raise(
    session: Session,
    me: CurrentPerson,
    fact_id: UUID,
    kind: str,
    instrument: Instrument,
    since: datetime | None,
    until: datetime,
    reason: str,
    calibration_id: UUID | None = None,
) -> DoubtCause:
    cause = DoubtCause(
        id=fact_id,
        kind=kind,
        instrument_id=instrument.id,
        calibration_id=calibration_id,
        since=since,
        until=until,
        reason=reason,
        raised_by_id=me.id,
        raised_at=now(session),
    )
    session.add(cause)
    about = {
        "kind": kind,
        "instrument": str(instrument.id),
        "calibration": str(calibration_id or ""),
        "since": since.isoformat() if since else "",
        "until": until.isoformat(),
        "reason": reason,
    }
    audit.record(session, me.full_name, "doubt raised", fact_id, about)
    return cause


def _last_good(since: datetime | None) -> str:
    if since is None:
        return "No good verification was made before that."
    return f"The last good verification before that was made on {utc_moment(since)}."


def _missed_on(before: datetime) -> str:
    return f"It had missed it before, on {utc_moment(before)}."


# ---- asked of them ----------------------------------------------------------------------------------------------


def causes_under(session: Session, fact_ids: Collection[UUID]) -> dict[UUID, DoubtCause]:
    """The causes that stand under these facts' ids: of verifications, withdrawals, condemnations, notes."""
    rows = session.scalars(select(DoubtCause).where(DoubtCause.id.in_(fact_ids)))
    return {row.id: row for row in rows}


def causes_of(session: Session, instrument_id: UUID) -> list[DoubtCause]:
    """Latest first."""
    query = select(DoubtCause).where(DoubtCause.instrument_id == instrument_id)
    return list(session.scalars(query.order_by(DoubtCause.raised_at.desc(), DoubtCause.id)))


Place = tuple[UUID, UUID]  # event, instrument
_EVER = datetime.max.replace(tzinfo=UTC)


def in_doubt_since(
    session: Session, events: Sequence[Event], opened: Collection[Place], closed: Mapping[Place, datetime]
) -> dict[Place, datetime]:
    """For each instrument opened at one of these events: the earliest moment from which results there are in doubt.

    `closed`: those that stand closed in order, and since when; nothing was measured after that. What is in doubt for
    its certificate alone has no moment, and is not among these.
    """
    query = select(DoubtCause).where(
        DoubtCause.calibration_id.is_(None),
        DoubtCause.instrument_id.in_({instrument_id for _event_id, instrument_id in opened}),
    )
    causes = session.scalars(query).all()
    found: dict[Place, datetime] = {}
    for event in events:
        first = datetime.combine(event.starts_on, time.min, UTC)
        last = datetime.combine(event.ends_on, time.max, UTC)
        for cause in causes:
            place, since = (event.id, cause.instrument_id), max(cause.since or first, first)
            if place in opened and since <= last and since <= cause.until and since < closed.get(place, _EVER):
                found[place] = min(since, found.get(place, since))
    return found
