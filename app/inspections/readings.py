"""Readings of an open sheet, as typed. What was accepted stays; a correction is a further reading that names it."""

from datetime import datetime, timedelta
from uuid import UUID

from sqlalchemy.orm import Session

from app import audit
from app.database import now
from app.errors import Conflict, Invalid
from app.inspections.assembly import standing_readings
from app.inspections.models import Inspection, Reading
from app.inspections.schemas import ReadingIn, ReadingWithId
from app.inspections.service import inspection_of, must_be_open
from app.metrology.errors import MeasurementError
from app.metrology.indications import parse_indication
from app.officials.service import CurrentPerson

# The tablet says when a reading was taken: its clock may be a little fast, and it may have waited for the network.
CLOCK_AHEAD, WAITED = timedelta(minutes=5), timedelta(days=1)


def enter_readings(
    session: Session, me: CurrentPerson, inspection_id: UUID, readings: list[ReadingWithId]
) -> Inspection:
    """All or none: the errors of every reading come together, each under its place."""
    inspection = inspection_of(session, inspection_id, lock=True)
    errors: dict[str, str] = {}
    for place, data in enumerate(readings):
        try:
            enter_reading(session, me, inspection, data.id, ReadingIn(**data.model_dump(exclude={"id"})))
        except Invalid as invalid:
            errors |= {f"readings.{place}.{field}": sentence for field, sentence in invalid.errors.items()}
    if errors:
        raise Invalid(errors)
    return inspection


def enter_reading(
    session: Session, me: CurrentPerson, inspection: Inspection, reading_id: UUID, data: ReadingIn
) -> Reading:
    kept = session.get(Reading, reading_id)
    if kept is not None:
        audit.same_or_conflict(kept.digest, data)
        return kept
    must_be_open(inspection)
    _check_reading(inspection, data, now(session))
    standing = standing_readings(inspection).get(data.cylinder)
    if standing is not None and data.replaces_id != standing.id:
        shown = ", ".join(standing.indications) or "not measured"
        raise Conflict(
            f"Cylinder {data.cylinder} already has a reading ({shown}). Load the sheet again and correct that one."
        )
    if standing is None and data.replaces_id is not None:
        raise Conflict(f"Cylinder {data.cylinder} has no reading to correct. Load the sheet again and look.")
    if standing is not None and not data.reason:
        raise Invalid(
            {
                "reason": f"Say why the reading of cylinder {data.cylinder} is corrected; "
                "the earlier one stays in the record."
            }
        )
    reading = Reading(
        id=reading_id,
        inspection=inspection,
        cylinder=data.cylinder,
        indications=[text.strip() for text in data.indications],
        not_measured_reason=data.not_measured_reason,
        taken_by_id=me.id,
        taken_at=data.taken_at or now(session),
        received_at=now(session),
        replaces_id=data.replaces_id,
        reason=data.reason,
        digest=audit.digest_of(data),
    )
    session.add(reading)
    audit.record(
        session,
        me.full_name,
        "reading corrected" if standing is not None else "reading entered",
        inspection.id,
        {"reading": str(reading_id), **data.model_dump(mode="json")},
    )
    return reading


def _check_reading(inspection: Inspection, data: ReadingIn, moment: datetime) -> None:
    errors: dict[str, str] = {}
    if data.taken_at and not inspection.opened_at - WAITED <= data.taken_at <= moment + CLOCK_AHEAD:
        errors["taken_at"] = (
            "This reading cannot have been taken then: the sheet was opened later, or that time has not come yet. "
            "Set the tablet's clock, then enter it again."
        )
    cylinders = inspection.entry.engine.cylinders
    if data.cylinder > cylinders:
        errors["cylinder"] = f"This engine has {cylinders} cylinders; there is no cylinder {data.cylinder}."
    for place, typed in enumerate(data.indications):
        try:
            parse_indication(typed, f"indications.{place}")
        except MeasurementError as error:
            errors.setdefault(error.field, f"Cylinder {data.cylinder}: {error.sentence}")
    if not data.indications and not data.not_measured_reason:
        errors["indications"] = f"Cylinder {data.cylinder} has no reading. Enter one, or say why it was not measured."
    if data.indications and data.not_measured_reason:
        errors["not_measured_reason"] = (
            f"Cylinder {data.cylinder} has a reading and a reason why there is none. Keep one of the two."
        )
    if errors:
        raise Invalid(errors)
