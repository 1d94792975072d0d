from uuid import UUID

from fastapi import APIRouter

from app.officials.access import Official
from app.protests import service
from app.protests.schemas import ProtestableView, ProtestIn, ProtestLine, ProtestView, StepIn
from app.web import Db

router = APIRouter(prefix="/api", tags=["protests"])


@router.get("/protests")
def list_protests(db: Db, me: Official) -> list[ProtestLine]:
    with db.read() as session:
        return service.protest_lines(session)


@router.get("/protests/{protest_id}")
def read_protest(protest_id: UUID, db: Db, me: Official) -> ProtestView:
    with db.read() as session:
        return service.protest_view(session, me, protest_id)


@router.get("/inspections/{inspection_id}/protest")
def read_protestable(inspection_id: UUID, db: Db, me: Official) -> ProtestableView:
    """The signed result, the time limit, and who may protest: what the form needs."""
    with db.read() as session:
        return service.protestable(session, inspection_id)


@router.put("/inspections/{inspection_id}/protests/{protest_id}")
def put_protest(inspection_id: UUID, protest_id: UUID, data: ProtestIn, db: Db, me: Official) -> ProtestView:
    with db.write() as session:
        return service.lodge(session, me, inspection_id, protest_id, data)


@router.put("/protests/{protest_id}/steps/{step_id}")
def put_step(protest_id: UUID, step_id: UUID, data: StepIn, db: Db, me: Official) -> ProtestView:
    with db.write() as session:
        return service.add_step(session, me, protest_id, step_id, data)
