from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query

from app.officials.access import Staff
from app.planning.schemas import PlanIn, PlanningView
from app.web import Db

router = APIRouter(prefix="/api", tags=["planning"])


@router.get("/classes/{class_id}/planning")
def read_planning(class_id: UUID, data: Annotated[PlanIn, Query()], db: Db, me: Staff) -> PlanningView:
    from app.planning.service import basis_of  # with what reckons: not loaded before somebody plans
    from app.planning.working_out import planning_view

    with db.read() as session:
        basis = basis_of(session, class_id, data)
    return planning_view(basis, data)
