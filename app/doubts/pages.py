from collections.abc import Collection
from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response

from app.database import Database
from app.doubts import api
from app.doubts.schemas import DECISION_NOTES, DECISIONS
from app.officials import api as officials
from app.officials.access import Official
from app.officials.service import CurrentPerson
from app.web import Db, notices, page

router = APIRouter(include_in_schema=False)
notices(
    {
        "doubts-decided": "Decided. The notice about it is signed and kept; hand it to the competitors concerned.",
        "doubt-notice": "The notice is signed and kept; hand it to the competitors concerned.",
    }
)
_CHOICES = [(key, words, DECISION_NOTES[key]) for key, words in DECISIONS.items()]


def _notices_about(request: Request, db: Database, about: Collection[UUID]) -> dict[UUID, list[Any]]:
    """Signed notices by what they tell about; slips, which make them, stand above and say how to ask."""
    found: dict[UUID, list[Any]] = request.app.state.notices_about(db, about)
    return found


@router.get("/doubts")
def work_list(request: Request, db: Db, me: Official) -> Response:
    view = api.list_doubts(db, me)
    told = _notices_about(request, db, [line.cause_id for line in (*view.waiting, *view.settled)])
    return page(request, "doubts/work_list.html", view, told=told)


@router.get("/doubts/{cause_id}")
def cause_page(
    request: Request,
    cause_id: UUID,
    db: Db,
    me: Official,
    only_open: bool = False,
    chosen: str = "",
    page: api.Page = 1,
) -> Response:
    return cause_page_answer(request, cause_id, db, me, only_open, page, all_chosen=chosen == "all")


def cause_page_answer(
    request: Request,
    cause_id: UUID,
    db: Database,
    me: CurrentPerson,
    only_open: bool = False,
    number: int = 1,
    **again: Any,
) -> Response:
    """The page of one cause. `again` takes `invalid` and `form` to show it once more with what was typed, the
    `act_id` or `notice_id` it was posted under, and `refused="notice"` where that was the form refused."""
    view = api.read_cause(cause_id, db, me, only_open, number)
    told = _notices_about(request, db, [cause_id, *view.acts])
    ids: dict[str, Any] = {"act_id": uuid4(), "notice_id": uuid4(), "all_chosen": False, "refused": "decision"}
    return page(
        request,
        "doubts/cause_page.html",
        view,
        choices=_CHOICES,
        chosen_ids=_chosen(again.get("form")),
        has_pin=officials.read_me(db, me).has_pin,
        left_to_name=request.app.state.left_to_name(db, cause_id),
        later_options=[
            (sheet.inspection_id, f"Car {row.car_number}, {sheet.words}")
            for row in view.rows
            for sheet in row.later_sheets
        ],
        **{"told": told, "notices": told.get(cause_id, []), **ids, **again},
    )


def _chosen(form: Any) -> list[str]:
    """The boxes that were ticked, one or many."""
    typed = form.get("verdict_ids", []) if form else []
    return typed if isinstance(typed, list) else [typed]
