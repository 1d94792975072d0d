"""The shed's instruments at an event: verify one, and say which may measure now."""

from collections.abc import Sequence
from datetime import datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from app import audit
from app.database import now
from app.errors import Invalid, Refused
from app.instruments import ledger
from app.instruments.models import Instrument, ReferenceVolume, Verification
from app.instruments.schemas import (
    STAGES,
    InstrumentStateView,
    InstrumentView,
    ShedView,
    Stage,
    VerificationIn,
    VerificationView,
)
from app.instruments.wording import when
from app.intake import plain_json
from app.metrology.verification import judge_verification
from app.officials.service import CurrentPerson
from app.regulations.models import Event
from app.regulations.service import event_of


def verify_instrument(
    session: Session, me: CurrentPerson, event_id: UUID, verification_id: UUID, data: VerificationIn
) -> VerificationView:
    """Judged and kept, whatever the judgement: what missed its mark is evidence too."""
    event = event_of(session, event_id)
    kept = session.get(Verification, verification_id)
    if kept is not None:
        audit.same_or_conflict(kept.digest, data)
        return _view(session, kept)
    instrument = session.get(Instrument, data.instrument_id)
    if instrument is None:
        raise Invalid({"instrument_id": "Choose one of the instruments of the book."})
    volume = _own_reference_volume(session, instrument, data.reference_volume_id)
    _check_stage(session, instrument, event, data.stage)
    judgement = judge_verification(
        tuple(data.indications),
        float(volume.mark_low),
        float(volume.mark_high),
        float(volume.permitted_deviation),
        float(data.airflow),
        float(instrument.airflow_set_point_l_min),
        float(instrument.airflow_tolerance_l_min),
    )
    row = Verification(
        id=verification_id,
        event=event,
        instrument=instrument,
        reference_volume=volume,
        stage=data.stage,
        indications=data.indications,
        airflow_l_min=data.airflow,
        ambient_temperature_c=data.ambient_temperature,
        steps_confirmed=[],
        mean=_kept(judgement.mean),
        standard_deviation=_kept(judgement.standard_deviation or 0.0),
        deviation=_kept(judgement.deviation),
        accepted=judgement.accepted,
        reason=judgement.reason,
        performed_by_id=me.id,
        performed_at=now(session),
        digest=audit.digest_of(data),
    )
    session.add(row)
    session.flush()
    said = "verification accepted" if judgement.accepted else "verification not accepted"
    about = {"event": event.name, "stage": STAGES[data.stage].lower(), "reason": row.reason}
    audit.record(session, me.full_name, said, row.id, {**plain_json(data.model_dump(mode="json")), **about})
    return _view(session, row)


def verification(session: Session, verification_id: UUID) -> VerificationView:
    return _view(session, ledger.verification_of(session, verification_id))


def _view(session: Session, row: Verification) -> VerificationView:
    (view,) = ledger.verification_views(session, [row])
    return view


def _own_reference_volume(session: Session, instrument: Instrument, volume_id: UUID) -> ReferenceVolume:
    volume = session.get(ReferenceVolume, volume_id)
    if volume is None:
        raise Invalid({"reference_volume_id": "Choose the reference volume that lies on the bench."})
    if volume.instrument_id != instrument.id:
        own = ", ".join(item.serial for item in instrument.reference_volumes)
        raise Invalid(
            {
                "reference_volume_id": f"Reference volume {volume.serial} belongs to {volume.instrument.name}; its "
                f"mark says nothing about {instrument.name}. "
                + (
                    f"Take its own: {own}."
                    if own
                    else f"{instrument.name} has none of its own yet; an official adds it."
                )
            }
        )
    return volume


def _check_stage(session: Session, instrument: Instrument, event: Event, stage: Stage) -> None:
    """What was never opened can be neither checked half-way nor closed."""
    if stage == "opening":
        return
    if not any(check.accepted for check in ledger.verifications_of(session, instrument.id, event.id)):
        raise Refused(f"{instrument.name} has not been opened at {event.name}. Make its opening verification first.")


def _kept(value: float) -> Decimal:
    return round(Decimal(repr(value)), 9)


# ---- the shed ---------------------------------------------------------------------------------------------------


def sheds(session: Session, *, everything: bool) -> list[ShedView]:
    """Events of today and to come, the nearest first; with `everything` the past ones too, latest first after them."""
    today = now(session).date()
    rows = list(session.scalars(select(Event).order_by(Event.starts_on, Event.name)))
    coming = [row for row in rows if row.ends_on >= today]
    past = [row for row in reversed(rows) if row.ends_on < today] if everything else []
    return _sheds(session, [*coming, *past])


def shed_of(session: Session, event_id: UUID) -> ShedView:
    (shed,) = _sheds(session, [event_of(session, event_id)])
    return shed


def _sheds(session: Session, events: Sequence[Event]) -> list[ShedView]:
    """Every instrument at every event, in a fixed number of queries."""
    today = now(session).date()
    event_ids = [event.id for event in events]
    instruments = ledger.instrument_views(session, ledger.all_instruments(session))
    checks = ledger.verification_views(session, ledger.latest_at(session, event_ids))
    latest = {(check.event_id, check.instrument_id): check for check in checks}
    since: dict[tuple[UUID, UUID], datetime] = {}
    for doubt in ledger.doubts(session, None, *event_ids):
        place = (doubt.event_id, doubt.instrument_id)
        since[place] = min(doubt.since, since.get(place, doubt.since))
    return [
        ShedView(
            event_id=event.id,
            event_name=event.name,
            venue=event.venue,
            starts_on=event.starts_on,
            ends_on=event.ends_on,
            when_words=when(event.starts_on, event.ends_on, today),
            is_today=event.starts_on <= today <= event.ends_on,
            instruments=[
                _state_of(instrument, latest.get((event.id, instrument.id)), since.get((event.id, instrument.id)))
                for instrument in instruments
            ],
        )
        for event in events
    ]


def _state_of(
    instrument: InstrumentView, latest: VerificationView | None, in_doubt_since: datetime | None
) -> InstrumentStateView:
    words, next_stage = _words_of(latest)
    return InstrumentStateView(
        instrument=instrument,
        is_open=ledger.is_open(latest),
        state_words=words,
        latest=latest,
        next_stage=next_stage,
        in_doubt_since=in_doubt_since,
    )


def _words_of(latest: VerificationView | None) -> tuple[str, Stage]:
    if latest is None:
        return "Not yet verified here", "opening"
    if latest.accepted:
        return ("Closed in order", "opening") if latest.stage == "closing" else ("Open", "closing")
    if latest.off_airflow:
        return "Closed: airflow was off its set-point", latest.stage
    return "Closed: missed its mark", "opening"
