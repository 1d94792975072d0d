"""The shed's instruments at an event: verify one, and say which may measure now."""

from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from app import audit
from app.database import now
from app.errors import Invalid, Refused
from app.instruments import ledger
from app.instruments.causes import in_doubt_since, raise_for_missed
from app.instruments.in_the_core import core_instrument, core_mark
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
from app.instruments.standing import allowed_all_the_same, days_allowed, hindrance_of, may_be_used, why_not
from app.instruments.wording import when
from app.intake import plain_json
from app.metrology.verification import agreement_with_mark, judge_verification
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
    _check_standing(session, instrument, event, data.stage)
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
    moment = now(session)
    row = Verification(
        id=verification_id,
        event=event,
        instrument=instrument,
        reference_volume=volume,
        stage=data.stage,
        indications=data.indications,
        airflow_l_min=data.airflow,
        ambient_temperature_c=data.ambient_temperature,
        set_gas_temperature_c=data.gas_temperature_set,
        steps_confirmed=list(data.steps_confirmed),
        mean=_kept(judgement.mean),
        standard_deviation=_kept(judgement.standard_deviation or 0.0),
        deviation=_kept(judgement.deviation),
        e_n=_e_n(instrument, volume, data, moment.date()),
        accepted=judgement.accepted,
        reason=judgement.reason,
        performed_by_id=me.id,
        performed_at=moment,
        digest=audit.digest_of(data),
    )
    session.add(row)
    session.flush()
    raise_for_missed(session, me, row)
    said = "verification accepted" if judgement.accepted else "verification not accepted"
    about = {"event": event.name, "stage": STAGES[data.stage].lower(), "reason": row.reason}
    audit.record(session, me.full_name, said, row.id, {**plain_json(data.model_dump(mode="json")), **about})
    return _view(session, row)


def verification(session: Session, verification_id: UUID) -> VerificationView:
    return _view(session, ledger.verification_of(session, verification_id))


def _view(session: Session, row: Verification) -> VerificationView:
    """By itself, as lists do not: how it scatters beside those before it is asked here only."""
    (view,) = ledger.verification_views(session, [row])
    return view.model_copy(update={"scatter_caution": ledger.scatter_caution(session, row)})


def _own_reference_volume(session: Session, instrument: Instrument, volume_id: UUID) -> ReferenceVolume:
    volume = session.get(ReferenceVolume, volume_id)
    if volume is None:
        raise Invalid({"reference_volume_id": "Choose the reference volume that lies on the bench."})
    sound = [item.serial for item in instrument.reference_volumes if item.condemnation is None]
    if volume.instrument_id == instrument.id and volume.condemnation is not None:
        others = f"Take {' or '.join(sound)}." if sound else "It has no other one; an official adds one."
        raise Invalid(
            {
                "reference_volume_id": f"Reference volume {volume.serial} was found damaged and verifies nothing any "
                f"more. {others}"
            }
        )
    if volume.instrument_id != instrument.id:
        own = ", ".join(sound)
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


def _e_n(instrument: Instrument, volume: ReferenceVolume, data: VerificationIn, today: date) -> Decimal | None:
    """None off the airflow set-point, where the instrument was not as it measures and nothing is judged."""
    if abs(data.airflow - instrument.airflow_set_point_l_min) > instrument.airflow_tolerance_l_min:
        return None
    calibration = instrument.calibration_on(today)
    found = agreement_with_mark(tuple(data.indications), core_instrument(instrument, calibration), core_mark(volume))
    return _kept(found.e_n)


def _check_standing(session: Session, instrument: Instrument, event: Event, stage: Stage) -> None:
    """After a miss nothing more is taken; whatever else stands against it, it may still be closed."""
    today = now(session).date()
    hindrance = hindrance_of(session, instrument, today)
    if hindrance is None or (stage == "closing" and hindrance.kind != "missed"):
        return
    allowed = days_allowed(session, [event.series_id], today)[event.series_id]
    if not may_be_used(hindrance, allowed):
        raise Refused(f"{why_not(hindrance, allowed)} {hindrance.what_to_do}")


def _check_stage(session: Session, instrument: Instrument, event: Event, stage: Stage) -> None:
    """What was never opened can be neither checked half-way nor closed."""
    if stage == "opening":
        return
    if (event.id, instrument.id) not in ledger.opened_at(session, [event.id]):
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
    allowed = days_allowed(session, {event.series_id for event in events}, today)
    opened = ledger.opened_at(session, event_ids)
    checks = ledger.verification_views(session, ledger.latest_at(session, event_ids))
    latest = {(check.event_id, check.instrument_id): check for check in checks}
    closed = {
        place: check.performed_at for place, check in latest.items() if check.accepted and check.stage == "closing"
    }
    since = in_doubt_since(session, events, opened, closed)
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
                _state_of(
                    instrument,
                    latest.get((event.id, instrument.id)),
                    allowed[event.series_id],
                    since.get((event.id, instrument.id)),
                    was_opened=(event.id, instrument.id) in opened,
                )
                for instrument in instruments
            ],
        )
        for event in events
    ]


def _state_of(
    instrument: InstrumentView,
    latest: VerificationView | None,
    allowed: int,
    in_doubt_since: datetime | None,
    *,
    was_opened: bool,
) -> InstrumentStateView:
    hindrance = instrument.hindrance
    usable = may_be_used(hindrance, allowed)
    words, stages = _words_of(latest, was_opened=was_opened)
    warning = ""
    if hindrance is not None and not usable:
        warning = f"{why_not(hindrance, allowed)} {hindrance.what_to_do}"
        closes = hindrance.kind != "missed" and "closing" in stages
        words, stages = hindrance.words, ["closing"] if closes else []
    elif hindrance is not None:
        warning = allowed_all_the_same(hindrance, allowed)
    return InstrumentStateView(
        instrument=instrument,
        is_open=ledger.is_open(latest) and usable,
        state_words=words,
        latest=latest,
        may_be_used=usable,
        warning=warning,
        stages=stages,
        next_stage=stages[0] if stages else None,
        in_doubt_since=in_doubt_since,
    )


def _words_of(latest: VerificationView | None, *, was_opened: bool) -> tuple[str, list[Stage]]:
    """How it stands by its verifications alone, and which of them can be made now, the next one first."""
    if latest is None:
        return "Not yet verified here", ["opening"]
    if latest.accepted and latest.stage != "closing" and ledger.lost_its_volume(latest):
        return "Closed: its reference volume was found damaged", ["opening", "closing"]
    if latest.accepted:
        return ("Closed in order", ["opening"]) if latest.stage == "closing" else ("Open", ["during", "closing"])
    if not latest.off_airflow:
        return "Closed: missed its mark, calibrated since", ["opening"]  # else that stands against it
    again: list[Stage] = [latest.stage]
    if was_opened and latest.stage != "closing":
        again.append("closing")
    return "Closed: airflow was off its set-point", again
