"""What becomes of an instrument between its verifications: faults, repairs, moves; a reference volume found damaged."""

from datetime import datetime
from uuid import UUID

from sqlalchemy.orm import Session

from app import audit
from app.database import now, row_of
from app.errors import Conflict, Invalid, NotFound
from app.instruments import ledger
from app.instruments.causes import raise_for_damaged, raise_for_fault, raise_for_repair
from app.instruments.ledger_schemas import CondemnationIn, NoteIn
from app.instruments.models import Condemnation, InstrumentNote, ReferenceVolume
from app.instruments.schemas import InstrumentView
from app.officials.service import CurrentPerson

_NOTED = {"fault": "fault noted", "repair": "repair noted", "moved": "instrument moved"}
IN_THE_FUTURE = "This lies in the future. Write when it was, as near as anybody knows."


def add_note(session: Session, me: CurrentPerson, instrument_id: UUID, note_id: UUID, data: NoteIn) -> InstrumentView:
    instrument = ledger.instrument_of(session, instrument_id)
    kept = session.get(InstrumentNote, note_id)
    if kept is not None:
        if kept.instrument_id != instrument_id:
            raise Conflict
        audit.same_or_conflict(kept.digest, data)
        return ledger.view_of(session, instrument)
    errors = {"happened_at": IN_THE_FUTURE} if data.happened_at > now(session) else {}
    if data.kind == "moved" and not data.place:
        errors["place"] = f"Write where {instrument.name} is now, such as the shed or the laboratory."
    if data.kind != "moved" and data.place:
        errors["place"] = "A place is asked for with a move only. Note the move for itself."
    if data.kind != "moved" and data.affects_indication is None:
        errors["affects_indication"] = "Say whether what it shows may have changed by it. If nobody knows, say yes."
    if data.kind == "moved" and data.affects_indication:
        errors["affects_indication"] = "A move by itself changes nothing it shows. Note a fault where it was damaged."
    if errors:
        raise Invalid(errors)
    row = InstrumentNote(
        id=note_id,
        instrument=instrument,
        kind=data.kind,
        happened_at=data.happened_at,
        text=data.text,
        place=data.place,
        affects_indication=bool(data.affects_indication),
        noted_by_id=me.id,
        noted_at=now(session),
        digest=audit.digest_of(data),
    )
    session.add(row)
    about = {
        "instrument": str(instrument_id),
        "happened_at": data.happened_at.isoformat(),
        "text": data.text,
        "place": data.place,
        "affects_indication": "yes" if data.affects_indication else "no",
    }
    audit.record(session, me.full_name, _NOTED[data.kind], note_id, about)
    raise_for_fault(session, me, row)
    raise_for_repair(session, me, row)
    return ledger.view_of(session, instrument)


def reference_volume_of(session: Session, instrument_id: UUID, volume_id: UUID) -> ReferenceVolume:
    row = row_of(session, ReferenceVolume, volume_id, "reference volume")
    if row.instrument_id != instrument_id:
        raise NotFound("reference volume")
    return row


def condemn(
    session: Session,
    me: CurrentPerson,
    instrument_id: UUID,
    volume_id: UUID,
    condemnation_id: UUID,
    data: CondemnationIn,
) -> InstrumentView:
    """It verifies nothing from here on, and what it verified since it was last sound counts no more."""
    volume = reference_volume_of(session, instrument_id, volume_id)
    kept = session.get(Condemnation, condemnation_id)
    if kept is not None:
        if kept.reference_volume_id != volume_id:
            raise Conflict
        audit.same_or_conflict(kept.digest, data)
        return ledger.view_of(session, volume.instrument)
    if volume.condemnation is not None:
        raise Conflict(f"Reference volume {volume.serial} is out of use already. What was found first stays.")
    if data.last_sound_at is not None and data.last_sound_at > now(session):
        raise Invalid({"last_sound_at": IN_THE_FUTURE})
    row = Condemnation(
        id=condemnation_id,
        reference_volume=volume,
        reason=data.reason,
        last_sound_at=data.last_sound_at,
        condemned_by_id=me.id,
        condemned_at=now(session),
        digest=audit.digest_of(data),
    )
    session.add(row)
    about = {
        "volume": volume.serial,
        "reference_volume": str(volume_id),
        "reason": data.reason,
        "last_sound_at": _iso(data.last_sound_at),
    }
    audit.record(session, me.full_name, "reference volume condemned", condemnation_id, about)
    raise_for_damaged(session, me, row)
    return ledger.view_of(session, volume.instrument)


def _iso(moment: datetime | None) -> str:
    return moment.isoformat() if moment is not None else ""
