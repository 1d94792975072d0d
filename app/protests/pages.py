from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response

from app.errors import LogbookError, NotFound
from app.officials.access import Official
from app.parsing import parse
from app.protests import api
from app.protests.schemas import DECISION_NOTES, DECISIONS, ProtestIn, StepIn
from app.web import Db, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "protest-taken-in": "The protest is taken in. Read its number to whoever lodged it.",
        "protest-note": "The note is added.",
        "protest-decided": "The decision is added. Tell both sides; they find the reasons on their record pages.",
    }
)
_CHOICES = [("note", "A note", "What was heard, from whom, what happens next."), *(
    (key, words, DECISION_NOTES[key]) for key, words in DECISIONS.items()
)]  # fmt: skip


@router.get("/protests")
def protests_list(request: Request, db: Db, me: Official) -> Response:
    return page(request, "protests/protests_list.html", api.list_protests(db, me))


@router.get("/inspections/{inspection_id}/protest/new")
def protest_new(request: Request, inspection_id: UUID, db: Db, me: Official) -> Response:
    return _protest_new(request, inspection_id, uuid4(), db, me)


def _protest_new(
    request: Request, inspection_id: UUID, protest_id: UUID, db: Db, me: Official, **again: Any
) -> Response:
    view = api.read_protestable(inspection_id, db, me)
    options = [(one.competitor_id, one.words) for one in view.competitors]
    return page(request, "protests/protest_new.html", view, protest_id=protest_id, competitor_options=options, **again)


@router.post("/inspections/{inspection_id}/protests/{protest_id}")
def take_in_protest(
    request: Request, inspection_id: UUID, protest_id: UUID, form: PostedForm, db: Db, me: Official
) -> Response:
    try:
        api.put_protest(inspection_id, protest_id, parse(ProtestIn, form), db, me)
    except NotFound:
        raise
    except LogbookError as invalid:
        return _protest_new(request, inspection_id, protest_id, db, me, invalid=invalid, form=form)
    return see_other(request, "protest_page", done="protest-taken-in", protest_id=protest_id)


@router.get("/protests/{protest_id}")
def protest_page(request: Request, protest_id: UUID, db: Db, me: Official) -> Response:
    return _protest_page(request, protest_id, uuid4(), db, me)


def _protest_page(request: Request, protest_id: UUID, step_id: UUID, db: Db, me: Official, **again: Any) -> Response:
    view = api.read_protest(protest_id, db, me)
    with db.read() as session:  # app.doubts, which knows, stands beside
        standing = request.app.state.standing_of_sheet(session, view.line.inspection_id)
    more = {"step_id": step_id, "choices": _CHOICES, "standing": standing}
    return page(request, "protests/protest_page.html", view, **more, **again)


@router.post("/protests/{protest_id}/steps/{step_id}")
def add_step(request: Request, protest_id: UUID, step_id: UUID, form: PostedForm, db: Db, me: Official) -> Response:
    try:
        data = parse(StepIn, form)
        api.put_step(protest_id, step_id, data, db, me)
    except NotFound:
        raise
    except LogbookError as invalid:
        return _protest_page(request, protest_id, step_id, db, me, invalid=invalid, form=form)
    done = "protest-note" if data.kind == "note" else "protest-decided"
    return see_other(request, "protest_page", done=done, protest_id=protest_id)
