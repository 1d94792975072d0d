from uuid import UUID

from fastapi import APIRouter

from app.happenings import HappenedView, happened
from app.officials.access import Official, Staff
from app.regulations import service
from app.regulations.schemas import (
    ClassBookView,
    ClassIn,
    ClassView,
    EditionIn,
    EditionPreview,
    EditionView,
    EventIn,
    EventView,
    SeriesIn,
    SeriesView,
)
from app.web import Db

router = APIRouter(prefix="/api", tags=["rule book"])


@router.get("/series")
def list_series(db: Db, me: Staff) -> list[SeriesView]:
    with db.read() as session:
        return service.all_series(session)


@router.put("/series/{series_id}")
def put_series(series_id: UUID, data: SeriesIn, db: Db, me: Official) -> SeriesView:
    with db.write() as session:
        return service.add_series(session, me, series_id, data)


@router.get("/events")
def list_events(db: Db, me: Staff) -> list[EventView]:
    with db.read() as session:
        return service.events(session)


@router.get("/events/{event_id}")
def read_event(event_id: UUID, db: Db, me: Staff) -> EventView:
    with db.read() as session:
        return service.event_view(service.event_of(session, event_id))


@router.get("/events/{event_id}/history")
def read_event_history(event_id: UUID, db: Db, me: Staff) -> list[HappenedView]:
    with db.read() as session:
        return happened(session, [service.event_of(session, event_id).id])


@router.put("/events/{event_id}")
def put_event(event_id: UUID, data: EventIn, db: Db, me: Official) -> EventView:
    with db.write() as session:
        return service.add_event(session, me, event_id, data)


@router.get("/classes")
def list_classes(db: Db, me: Staff) -> list[ClassView]:
    with db.read() as session:
        return service.classes(session)


@router.get("/classes/{class_id}")
def read_class(class_id: UUID, db: Db, me: Staff) -> ClassBookView:
    with db.read() as session:
        return service.class_book(session, class_id)


@router.put("/classes/{class_id}")
def put_class(class_id: UUID, data: ClassIn, db: Db, me: Official) -> ClassView:
    with db.write() as session:
        return service.add_class(session, me, class_id, data)


@router.put("/classes/{class_id}/editions/{edition_id}")
def put_edition(class_id: UUID, edition_id: UUID, data: EditionIn, db: Db, me: Official) -> EditionView:
    with db.write() as session:
        return service.publish_edition(session, me, class_id, edition_id, data)


@router.post("/classes/{class_id}/editions/preview")
def preview_edition(class_id: UUID, data: EditionIn, db: Db, me: Official) -> EditionPreview:
    with db.read() as session:
        return service.preview_edition(session, class_id, data)
