from typing import Any
from uuid import UUID

from fastapi import APIRouter, Request, Response

from app.errors import Invalid
from app.metrology.inputs import TEMPERATURE_SOURCES
from app.officials.access import Staff
from app.parsing import parse
from app.planning import api
from app.planning.schemas import OddsView, PlanIn, PlanningView
from app.plots.axis import Limits
from app.web import Db, page

router = APIRouter(include_in_schema=False)


@router.get("/rule-book/{class_id}/planning")
def planning_page(request: Request, class_id: UUID, db: Db, me: Staff) -> Response:
    form = {name: request.query_params[name] for name in PlanIn.model_fields if name in request.query_params}
    try:
        view = api.read_planning(class_id, parse(PlanIn, form), db, me)
    except Invalid as invalid:
        return _planning_page(request, api.read_planning(class_id, PlanIn(), db, me), invalid=invalid, form=form)
    return _planning_page(request, view, form=form)


def _planning_page(request: Request, view: PlanningView, **again: Any) -> Response:
    more: dict[str, Any] = {}
    if view.plan is not None:
        plan = view.plan
        more["places"] = [odds.ratio for odds in plan.curve]
        more["shares"] = {
            "conforming": [odds.conforming for odds in plan.curve],
            "inconclusive": [odds.inconclusive for odds in plan.curve],
            "nonconforming": [odds.nonconforming for odds in plan.curve],
        }
        more["limits"] = Limits(
            plan.kind, plan.limit, plan.tolerance_limit, plan.acceptance_limit, plan.rejection_limit
        )
        more["curve_words"] = " ".join(_said(odds) for odds in plan.table)
    return page(
        request,
        "planning/planning_page.html",
        view,
        instrument_options=[(one.id, one.name) for one in view.instruments],
        sources=list(TEMPERATURE_SOURCES.items()),
        **more,
        **again,
    )


def _said(odds: OddsView) -> str:
    return (
        f"At a true ratio of {odds.ratio:.2f}: conforming {100 * odds.conforming:.0f} %, "
        f"inconclusive {100 * odds.inconclusive:.0f} %, nonconforming {100 * odds.nonconforming:.0f} %."
    )
