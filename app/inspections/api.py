from uuid import UUID

from fastapi import APIRouter

from app.inspections import checks, readings, service, start, whatif_api
from app.inspections.schemas import (
    CheckIn,
    CorrectedConditionsIn,
    InspectionIn,
    InspectionView,
    ReadingIn,
    ReadingsIn,
    WaitingList,
)
from app.inspections.start import StartView
from app.officials.access import Inspector, Staff
from app.web import Db

router = APIRouter(prefix="/api", tags=["inspections"])
router.add_api_route("/evaluate", whatif_api.evaluate, methods=["POST"], route_class_override=whatif_api.AsWrittenRoute)


@router.get("/events/{event_id}/waiting")
def read_waiting_list(event_id: UUID, db: Db, me: Staff) -> WaitingList:
    with db.read() as session:
        return service.waiting_list(session, event_id)


@router.get("/entries/{entry_id}/start")
def read_start(
    entry_id: UUID, db: Db, me: Inspector, instrument_id: UUID | None = None, repeats_id: UUID | None = None
) -> StartView:
    with db.read() as session:
        return start.start_view(session, entry_id, instrument_id, repeats_id)


@router.put("/inspections/{inspection_id}")
def put_inspection(inspection_id: UUID, data: InspectionIn, db: Db, me: Inspector) -> InspectionView:
    with db.write() as session:
        service.open_inspection(session, me, inspection_id, data)
        return service.inspection_view(session, inspection_id)


@router.get("/inspections/{inspection_id}")
def read_inspection(inspection_id: UUID, db: Db, me: Staff) -> InspectionView:
    with db.read() as session:
        return service.inspection_view(session, inspection_id)


@router.put("/inspections/{inspection_id}/conditions/{conditions_id}")
def put_conditions(
    inspection_id: UUID, conditions_id: UUID, data: CorrectedConditionsIn, db: Db, me: Inspector
) -> InspectionView:
    with db.write() as session:
        service.correct_conditions(session, me, inspection_id, conditions_id, data)
        return service.inspection_view(session, inspection_id)


@router.put("/inspections/{inspection_id}/readings/{reading_id}")
def put_reading(inspection_id: UUID, reading_id: UUID, data: ReadingIn, db: Db, me: Inspector) -> InspectionView:
    with db.write() as session:
        inspection = service.inspection_of(session, inspection_id, lock=True)
        readings.enter_reading(session, me, inspection, reading_id, data)
        return service.inspection_view(session, inspection_id)


@router.put("/inspections/{inspection_id}/readings")
def put_readings(inspection_id: UUID, data: ReadingsIn, db: Db, me: Inspector) -> InspectionView:
    """Several readings, all or none of them kept."""
    with db.write() as session:
        readings.enter_readings(session, me, inspection_id, data.readings)
        return service.inspection_view(session, inspection_id)


@router.put("/inspections/{inspection_id}/checks/{check_id}")
def put_check(inspection_id: UUID, check_id: UUID, data: CheckIn, db: Db, me: Inspector) -> InspectionView:
    """A leak-down test and what it showed, or that the adapter was refitted: it settles a suspicion, or confirms it."""
    with db.write() as session:
        checks.note_check(session, me, inspection_id, check_id, data)
        return service.inspection_view(session, inspection_id)
