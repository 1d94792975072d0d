"""Checks of cylinders under suspicion: what was done and found. Noted beside the readings, never in their place."""

from uuid import UUID

from sqlalchemy.orm import Session

from app import audit
from app.database import now
from app.errors import Conflict, Invalid
from app.inspections.assembly import standing_readings
from app.inspections.models import CylinderCheck, Inspection
from app.inspections.schemas import CheckIn
from app.inspections.service import inspection_of, must_be_open
from app.inspections.wording import check_words
from app.officials.service import CurrentPerson


def note_check(session: Session, me: CurrentPerson, inspection_id: UUID, check_id: UUID, data: CheckIn) -> Inspection:
    inspection = inspection_of(session, inspection_id, lock=True)
    kept = session.get(CylinderCheck, check_id)
    if kept is not None:
        if kept.inspection_id != inspection_id:
            raise Conflict
        audit.same_or_conflict(kept.digest, data)
        return inspection
    must_be_open(inspection)
    _must_be_possible(inspection, data)
    reading = standing_readings(inspection).get(data.cylinder)
    check = CylinderCheck(
        id=check_id,
        inspection=inspection,
        place=len(inspection.checks) + 1,
        cylinder=data.cylinder,
        kind=data.check,
        leak_percent=data.leak_percent,
        pressure_kpa=data.pressure,
        note=data.note,
        reading_id=reading.id if reading else None,
        made_by_id=me.id,
        made_at=now(session),
        digest=audit.digest_of(data),
    )
    session.add(check)
    audit.record(
        session,
        me.full_name,
        "cylinder checked",
        inspection_id,
        {
            "cylinder": data.cylinder,
            "done": check_words(data.check),
            "asked": {"check": str(check_id), **data.model_dump(mode="json")},
        },
    )
    return inspection


def _must_be_possible(inspection: Inspection, data: CheckIn) -> None:
    errors: dict[str, str] = {}
    cylinders = inspection.entry.engine.cylinders
    if data.cylinder > cylinders:
        errors["cylinder"] = f"This engine has {cylinders} cylinders; there is no cylinder {data.cylinder}."
    if data.check == "leak_down":
        if data.leak_percent is None:
            errors["leak_percent"] = "Write the percentage that the leak-down test showed, such as 8."
        if data.pressure is None:
            errors["pressure"] = "Write the pressure that the tester was set to, such as 7 bar or 100 psi."
    else:
        for field in ("leak_percent", "pressure"):
            if getattr(data, field) is not None:
                errors[field] = "This belongs to a leak-down test. Leave it out, or choose the leak-down test."
        reading = standing_readings(inspection).get(data.cylinder)
        if reading is None or reading.replaces_id is None or not reading.indications:
            errors["check"] = (
                f"Measure cylinder {data.cylinder} again first, and correct its reading to what it shows refitted. "
                "Then note that it was refitted."
            )
    if errors:
        raise Invalid(errors)
