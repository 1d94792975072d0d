from collections.abc import Collection
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from app.database import Database
from app.errors import Refused
from app.officials import api as officials
from app.officials.access import Anyone, Official, Staff
from app.officials.api import Keys, UnlockedKey
from app.officials.service import CurrentPerson
from app.slips import notices
from app.slips.api import ThePress, handed_out
from app.slips.models import Notice
from app.slips.notice_content import notice_number
from app.slips.schemas import DecisionIn, NoticeMark, NoticesView, NoticeView, SignatureIn
from app.web import Db

router = APIRouter(prefix="/api", tags=["notices"])
Page = Annotated[int, Query(ge=1, le=1_000_000, title="Page")]


@router.put("/doubts/{cause_id}/notices/{notice_id}")
def put_doubt_notice(
    request: Request,
    cause_id: UUID,
    notice_id: UUID,
    data: SignatureIn,
    db: Db,
    me: Official,
    keys: Keys,
    press: ThePress,
) -> NoticeView:
    """Names the slips of this cause that no earlier notice of it names, and signs. Cut off half way, it waits."""
    key = officials.unlock_signing_key(db, me, data.pin, keys)
    with db.write() as session:
        public_url = request.app.state.settings.public_url
        notice = notices.issue_doubt(session, me, cause_id, notice_id, key.id, public_url)
        waits_for, view = _waits_for(notice), notices.notice_view(session, me, notice)
    return view if view.signed else _finished(db, me, notice_id, data.pin, keys, press, key, waits_for)


@router.put("/doubts/{cause_id}/decisions/{act_id}")
def put_decision(
    request: Request,
    cause_id: UUID,
    act_id: UUID,
    data: DecisionIn,
    db: Db,
    me: Official,
    keys: Keys,
    press: ThePress,
) -> NoticeView:
    """Decides about these results and numbers the notice of it together; then the notice is made and signed."""
    key = officials.unlock_signing_key(db, me, data.pin, keys)
    with db.write() as session:
        public_url = request.app.state.settings.public_url
        notice = notices.issue_decision(session, me, cause_id, act_id, data, key.id, public_url)
        waits_for, view = _waits_for(notice), notices.notice_view(session, me, notice)
    return view if view.signed else _finished(db, me, data.notice_id, data.pin, keys, press, key, waits_for)


@router.put("/notices/{notice_id}/signature")
def put_notice_signature(
    notice_id: UUID, data: SignatureIn, db: Db, me: Official, keys: Keys, press: ThePress
) -> NoticeView:
    """Finishes a notice that was numbered but whose signing was cut off."""
    with db.read() as session:
        notice = notices.notice_of(session, notice_id)
        waits_for, view = _waits_for(notice), notices.notice_view(session, me, notice)
    return view if view.signed else _finished(db, me, notice_id, data.pin, keys, press, None, waits_for)


def _waits_for(notice: Notice) -> tuple[UUID, UUID]:
    """The person and the key it was numbered for: both are named in its record."""
    return notice.signing_key.person_id, notice.signing_key_id


def _finished(
    db: Database,
    me: CurrentPerson,
    notice_id: UUID,
    pin: str,
    keys: Keys,
    press: ThePress,
    key: UnlockedKey | None,
    waits_for: tuple[UUID, UUID],
) -> NoticeView:
    person_id, key_id = waits_for
    if person_id != me.id:
        raise Refused("This notice waits for the official who issued it. Ask them to sign it.")
    if key is None or key.id != key_id:  # a PIN chosen since opens a newer key than the record names
        key = officials.unlock_signing_key(db, me, pin, keys, key_id)
    with db.read() as session:
        record = notices.record_of(notices.notice_of(session, notice_id))
    made = press.press_notice(record, key.private_pem, key.certificate_pem, keys.authority_certificate_pem)
    with db.write() as session:
        notice = notices.keep_file(session, me.full_name, notice_id, made)
        return notices.notice_view(session, me, notice)


def notices_about(db: Database, about_ids: Collection[UUID]) -> dict[UUID, list[NoticeMark]]:
    """For the pages of causes, which stand below slips and ask for this through the application."""
    with db.read() as session:
        return notices.notices_about(session, about_ids)


def left_to_name(db: Database, cause_id: UUID) -> int:
    """The same way: how many slips a notice of this cause would name."""
    with db.read() as session:
        return notices.left_to_name(session, cause_id)


@router.get("/notices")
def list_notices(db: Db, me: Staff, page: Page = 1) -> NoticesView:
    with db.read() as session:
        return notices.notice_lines(session, page)


@router.get("/notices/{notice_id}")
def read_notice(notice_id: UUID, db: Db, me: Anyone) -> NoticeView:
    with db.read() as session:
        return notices.notice_view(session, me, notices.visible_notice(session, me, notice_id))


@router.get("/notices/{notice_id}/file", response_class=Response)
def read_notice_file(notice_id: UUID, db: Db, me: Anyone) -> Response:
    with db.read() as session:
        number, pdf = notices.notice_file(session, me, notice_id)
    return handed_out(pdf, f"{number}.pdf", "application/pdf")


@router.get("/notices/{notice_id}/record", response_class=Response)
def read_notice_record(notice_id: UUID, db: Db, me: Anyone) -> Response:
    """The canonical record, byte for byte as it is attached to the notice."""
    with db.read() as session:
        notice = notices.visible_notice(session, me, notice_id)
        body, number = notice.record, notice_number(notice.number)
    return handed_out(body, f"{number}.json", "application/json")
