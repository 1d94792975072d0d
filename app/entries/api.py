from uuid import UUID

from fastapi import APIRouter

from app.entries import service
from app.entries.schemas import (
    AccountIn,
    CompetitorIn,
    CompetitorView,
    EngineIn,
    EngineView,
    EntryIn,
    EntryView,
)
from app.officials.access import Official, Staff
from app.officials.schemas import PersonView
from app.regulations import service as regulations
from app.web import Db

router = APIRouter(prefix="/api", tags=["entries"])


@router.get("/competitors")
def list_competitors(db: Db, me: Staff) -> list[CompetitorView]:
    with db.read() as session:
        return service.competitors(session)


@router.put("/competitors/{competitor_id}")
def put_competitor(competitor_id: UUID, data: CompetitorIn, db: Db, me: Official) -> CompetitorView:
    with db.write() as session:
        return service.add_competitor(session, me, competitor_id, data)


@router.get("/competitors/accounts")
def list_accounts(db: Db, me: Official) -> list[PersonView]:
    with db.read() as session:
        return service.accounts(session)


@router.put("/competitors/{competitor_id}/account")
def put_account(competitor_id: UUID, data: AccountIn, db: Db, me: Official) -> CompetitorView:
    with db.write() as session:
        return service.link_account(session, me, competitor_id, data)


@router.get("/engines/{engine_id}")
def read_engine(engine_id: UUID, db: Db, me: Staff) -> EngineView:
    with db.read() as session:
        return service.engine_view(service.engine_of(session, engine_id))


@router.put("/engines/{engine_id}")
def put_engine(engine_id: UUID, data: EngineIn, db: Db, me: Official) -> EngineView:
    with db.write() as session:
        return service.add_engine(session, me, engine_id, data)


@router.get("/events/{event_id}/entries")
def list_entries(event_id: UUID, db: Db, me: Staff) -> list[EntryView]:
    with db.read() as session:
        regulations.event_of(session, event_id)
        return [service.entry_view(entry) for entry in service.entries_of_event(session, event_id)]


@router.get("/entries/{entry_id}")
def read_entry(entry_id: UUID, db: Db, me: Staff) -> EntryView:
    with db.read() as session:
        return service.entry_view(service.entry_of(session, entry_id))


@router.put("/events/{event_id}/entries/{entry_id}")
def put_entry(event_id: UUID, entry_id: UUID, data: EntryIn, db: Db, me: Official) -> EntryView:
    with db.write() as session:
        return service.add_entry(session, me, event_id, entry_id, data)
