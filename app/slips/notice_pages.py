from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from app.database import Database
from app.doubts.pages import cause_page_answer
from app.errors import LogbookError
from app.officials.access import Anyone, Official, Staff
from app.officials.api import Keys
from app.officials.service import CurrentPerson
from app.parsing import parse
from app.slips import notice_api as api
from app.slips import notices as service
from app.slips.api import ThePress
from app.slips.schemas import DecisionIn, SignatureIn
from app.web import Db, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "notice-signed": "Signed and kept. Put the notice up, and hand it out.",
        "notice-not-signed": "The record is safe, the notice still waits for its signature.",
        "decided-not-signed": "The decision is kept, its notice still waits for its signature.",
    }
)


@router.post("/doubts/{cause_id}/notices/{notice_id}")
def issue_notice(
    request: Request,
    cause_id: UUID,
    notice_id: UUID,
    form: PostedForm,
    db: Db,
    me: Official,
    keys: Keys,
    press: ThePress,
) -> Response:
    try:
        api.put_doubt_notice(request, cause_id, notice_id, parse(SignatureIn, form), db, me, keys, press)
    except LogbookError as invalid:
        if _waits_for(db, me, notice_id, cause_id):  # the number stands; only the file is missing
            return see_other(request, "notice_page", notice_id=notice_id, done="notice-not-signed")
        return cause_page_answer(request, cause_id, db, me, invalid=invalid, notice_id=notice_id, refused="notice")
    return see_other(request, "cause_page", cause_id=cause_id, done="doubt-notice")


@router.post("/doubts/{cause_id}/decisions/{act_id}")
def decide(
    request: Request,
    cause_id: UUID,
    act_id: UUID,
    form: PostedForm,
    db: Db,
    me: Official,
    keys: Keys,
    press: ThePress,
) -> Response:
    """The notice gets the id that is made of the act's, so that a second tap finds the first one's notice."""
    notice_id = service.notice_id_of(act_id)
    try:
        asked = parse(DecisionIn, {**form, "notice_id": str(notice_id)})
        api.put_decision(request, cause_id, act_id, asked, db, me, keys, press)
    except LogbookError as invalid:
        form.pop("pin", None)
        if _waits_for(db, me, notice_id, act_id):
            return see_other(request, "notice_page", notice_id=notice_id, done="decided-not-signed")
        return cause_page_answer(request, cause_id, db, me, invalid=invalid, form=form, act_id=act_id)
    return see_other(request, "cause_page", cause_id=cause_id, done="doubts-decided")


def _waits_for(db: Database, me: CurrentPerson, notice_id: UUID, about_id: UUID) -> bool:
    with db.read() as session:
        return service.waits_for(session, me, notice_id, about_id)


@router.get("/notices")
def notices_list(request: Request, db: Db, me: Staff, number: Annotated[api.Page, Query(alias="page")] = 1) -> Response:
    return page(request, "slips/notices_list.html", api.list_notices(db, me, number))


@router.get("/notices/{notice_id}.pdf")
def notice_pdf(notice_id: UUID, db: Db, me: Anyone) -> Response:
    return api.read_notice_file(notice_id, db, me)


@router.get("/notices/{notice_id}")
def notice_page(request: Request, notice_id: UUID, db: Db, me: Anyone) -> Response:
    return page(request, "slips/notice_page.html", api.read_notice(notice_id, db, me))


@router.post("/notices/{notice_id}/signature")
def finish_notice(
    request: Request, notice_id: UUID, form: PostedForm, db: Db, me: Official, keys: Keys, press: ThePress
) -> Response:
    try:
        api.put_notice_signature(notice_id, parse(SignatureIn, form), db, me, keys, press)
    except LogbookError as invalid:
        return page(request, "slips/notice_page.html", api.read_notice(notice_id, db, me), invalid=invalid)
    return see_other(request, "notice_page", notice_id=notice_id, done="notice-signed")
