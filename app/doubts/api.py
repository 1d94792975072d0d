from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query

from app.doubts import service
from app.doubts.schemas import CauseView, WorkListView
from app.officials.access import Official
from app.web import Db

router = APIRouter(prefix="/api", tags=["doubts"])
Page = Annotated[int, Query(ge=1, le=1_000_000, title="Page")]


@router.get("/doubts")
def list_doubts(db: Db, me: Official) -> WorkListView:
    with db.read() as session:
        return service.work_list(session)


@router.get("/doubts/{cause_id}")
def read_cause(cause_id: UUID, db: Db, me: Official, only_open: bool = False, page: Page = 1) -> CauseView:
    with db.read() as session:
        return service.cause_view(session, cause_id, only_open=only_open, page=page)
