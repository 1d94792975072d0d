from dataclasses import dataclass, field
from typing import Annotated, Any, Literal
from uuid import UUID

from fastapi import APIRouter, Depends, Request
from pydantic import ValidationError

from app.entries import importing, service
from app.entries.entry_sheet import text_of
from app.entries.schemas import (
    AccountIn,
    CompetitorIn,
    CompetitorPageView,
    CompetitorView,
    EngineIn,
    EngineView,
    EntryIn,
    EntryPageView,
    EntryView,
    ImportView,
    NameIn,
    SheetIn,
)
from app.errors import Invalid
from app.officials.access import Official, Staff
from app.officials.schemas import PersonView
from app.parsing import sentences
from app.regulations import service as regulations
from app.web import Db

router = APIRouter(prefix="/api", tags=["entries"])
MOST_BYTES = 4_000_000


@dataclass(frozen=True, slots=True)
class SentList:
    """An entry list as text, with what there is to say about how its letters were read."""

    text: str
    notes: list[str] = field(default_factory=list)


async def _sent_list(request: Request) -> SentList:
    """The list is the body itself, as it lies in a file; or, for those who speak JSON, the text in `text`."""
    sent = b""
    async for part in request.stream():
        sent += part
        if len(sent) > MOST_BYTES:
            raise Invalid({"file": "The list is larger than 4 MB. Send it in parts."})
    if request.headers.get("content-type", "").startswith("application/json"):
        try:
            return SentList(SheetIn.model_validate_json(sent).text)
        except ValidationError as error:
            raise Invalid(sentences(error.errors(), SheetIn)) from error
    return SentList(*text_of(sent))


List = Annotated[SentList, Depends(_sent_list)]
_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "text/csv": {"schema": {"type": "string"}},
            "application/json": {"schema": SheetIn.model_json_schema()},
        },
    }
}


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


@router.get("/competitors/{competitor_id}")
def read_competitor(competitor_id: UUID, db: Db, me: Staff) -> CompetitorPageView:
    with db.read() as session:
        return service.competitor_page(session, competitor_id)


@router.put("/competitors/{competitor_id}/name")
def put_name(competitor_id: UUID, data: NameIn, db: Db, me: Official) -> CompetitorView:
    with db.write() as session:
        return service.rename_competitor(session, me, competitor_id, data)


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


@router.get("/entries/{entry_id}/page")
def read_entry_page(entry_id: UUID, db: Db, me: Staff) -> EntryPageView:
    with db.read() as session:
        return service.entry_page(session, entry_id)


@router.put("/events/{event_id}/entries/{entry_id}")
def put_entry(event_id: UUID, entry_id: UUID, data: EntryIn, db: Db, me: Official) -> EntryView:
    with db.write() as session:
        return service.add_entry(session, me, event_id, entry_id, data)


@router.post("/events/{event_id}/entries/import", openapi_extra=_BODY)
def import_entries(
    event_id: UUID,
    db: Db,
    me: Official,  # before the list: nobody else's is even read
    sent: List,
    dry_run: bool = False,
    units: Literal["metric", "inch"] = "metric",
    plan: str = "",
) -> ImportView:
    """`dry_run` shows what the list would do. `units` counts only under headings that name no unit."""
    if dry_run:
        with db.read() as session:
            return importing.preview(session, event_id, sent.text, sent.notes, units)
    with db.write() as session:
        return importing.take_in(session, me, event_id, sent.text, sent.notes, units, plan)
