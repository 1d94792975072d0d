from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Query

from app.history import log_reading, search, service
from app.history.schemas import (
    FiltersView,
    LogView,
    OwnRecordsView,
    OwnRecordView,
    RecordView,
    SearchIn,
    SearchView,
)
from app.officials.access import CompetitorSelf, Staff, requires
from app.officials.service import CurrentPerson
from app.web import Db

router = APIRouter(prefix="/api", tags=["records"])
LogReader = Annotated[CurrentPerson, Depends(requires("administrator", "official"))]


@router.get("/records")
def search_records(data: Annotated[SearchIn, Query()], db: Db, me: Staff) -> SearchView:
    with db.read() as session:
        return search.search(session, data)


@router.get("/records/filters")
def read_filters(db: Db, me: Staff) -> FiltersView:
    with db.read() as session:
        return search.filters(session)


@router.get("/records/{inspection_id}")
def read_record(inspection_id: UUID, db: Db, me: Staff) -> RecordView:
    with db.read() as session:
        return service.record_view(session, inspection_id)


@router.get("/my-record")
def read_my_records(db: Db, me: CompetitorSelf) -> OwnRecordsView:
    with db.read() as session:
        return service.own_records(session, me)


@router.get("/my-record/{inspection_id}")
def read_my_record(inspection_id: UUID, db: Db, me: CompetitorSelf) -> OwnRecordView:
    with db.read() as session:
        return service.own_record(session, me, inspection_id)


@router.get("/log")
def read_log(
    db: Db,
    me: LogReader,
    before: Annotated[int | None, Query(ge=0, le=2**31 - 1, title="Number")] = None,
    check: bool = False,
) -> LogView:
    """The latest entries, or those before a number; a long log's chain is checked only when asked for."""
    with db.read() as session:
        return log_reading.log_page(session, before, check)
