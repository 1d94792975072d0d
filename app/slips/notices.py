"""Notices in the three steps of a slip: number and record in a transaction, the file made outside, the file kept."""

import json
from collections import defaultdict
from collections.abc import Collection, Mapping
from typing import Any
from uuid import UUID, uuid5

import rfc8785
from sqlalchemy import func, select
from sqlalchemy.orm import Session, defer, joinedload

from app import audit
from app.database import now, row_of
from app.doubts import service as doubts
from app.doubts.models import DoubtDecision, DoubtedVerdict
from app.doubts.schemas import DecidedView
from app.entries import service as entries
from app.entries.models import Entry
from app.errors import Conflict, Invalid, NotFound, Refused
from app.inspections.models import Inspection, Verdict
from app.instruments.models import DoubtCause
from app.officials.access import STAFF
from app.officials.models import SigningKey
from app.officials.service import CurrentPerson
from app.slips import notice_content as content
from app.slips import notice_wording as wording
from app.slips.content import slip_number
from app.slips.findings import SignedSlip
from app.slips.models import Notice, NoticeFile, NoticeSlip, Slip
from app.slips.notice_content import MOST_SLIPS, notice_number
from app.slips.record import slip_code
from app.slips.schemas import DecisionIn, NamedSlip, NoticeLine, NoticeMark, NoticesView, NoticeView

PAGE_ROWS = 50


def issue_doubt(
    session: Session, me: CurrentPerson, cause_id: UUID, notice_id: UUID, key_id: UUID, public_url: str
) -> Notice:
    """Numbers a notice for the slips of this cause that no earlier one names, at most `MOST_SLIPS`; the rest waits."""
    audit.wait_for_turn(session)  # two officials at once: the second finds what the first has named
    row_of(session, DoubtCause, cause_id, "cause of doubt")
    kept = _kept(session, notice_id, "doubt", cause_id)
    if kept is not None:
        return kept
    slips = session.execute(content.unnamed_slips(cause_id, now(session)).limit(MOST_SLIPS)).all()
    if not slips:
        raise Refused("No slip of this cause is left to name: each is on a notice already, or decided about.")
    return _numbered(session, me, notice_id, key_id, public_url, cause_id, content.causes(session, [cause_id]), slips)


def issue_decision(
    session: Session, me: CurrentPerson, cause_id: UUID, act_id: UUID, data: DecisionIn, key_id: UUID, public_url: str
) -> Notice:
    """Decides, and numbers the notice that tells it: both or neither."""
    audit.wait_for_turn(session)
    row_of(session, DoubtCause, cause_id, "cause of doubt")
    if session.get(DoubtCause, act_id) is not None:
        raise Conflict("A decision has an id of its own, not that of its cause. Load the page again and decide there.")
    kept = _kept(session, data.notice_id, "decision", act_id)
    if kept is None and session.scalar(select(Notice.id).where(Notice.about_id == act_id)) is not None:
        raise Conflict("This decision has its notice already. Open it from the list of notices.")
    _all_of_this_cause(session, cause_id, data.verdict_ids)
    decided = doubts.decide(session, me, act_id, data.decide())
    if kept is not None:
        return kept
    slips = session.execute(content.decided_slips(act_id)).all()
    causes = content.causes_of_act(session, act_id)
    return _numbered(session, me, data.notice_id, key_id, public_url, act_id, causes, slips, decided)


def notice_id_of(act_id: UUID) -> UUID:
    """Of a decision made on the page: the same act has the same notice, however often it is sent."""
    return uuid5(act_id, "notice")


def waits_for(session: Session, me: CurrentPerson, notice_id: UUID, about_id: UUID) -> bool:
    """Is it numbered, about this, and only its signature missing, which this person gives?"""
    notice = session.get(Notice, notice_id)
    return (
        notice is not None
        and notice.file is None
        and notice.about_id == about_id
        and notice.signing_key.person_id == me.id
    )


def _kept(session: Session, notice_id: UUID, kind: str, about_id: UUID) -> Notice | None:
    notice = session.get(Notice, notice_id)
    if notice is not None and (notice.kind, notice.about_id) != (kind, about_id):
        raise Conflict
    return notice


def _all_of_this_cause(session: Session, cause_id: UUID, verdict_ids: Collection[UUID]) -> None:
    doubted = select(func.count()).where(
        DoubtedVerdict.cause_id == cause_id, DoubtedVerdict.verdict_id.in_(verdict_ids)
    )
    if (session.scalar(doubted) or 0) < len(verdict_ids):
        words = "One of these results is not in doubt by this cause. Load the page and choose again."
        raise Invalid({"verdict_ids": words})


def _numbered(
    session: Session,
    me: CurrentPerson,
    notice_id: UUID,
    key_id: UUID,
    public_url: str,
    about_id: UUID,
    causes: list[DoubtCause],
    slips: Collection[content.SlipRow],
    decided: DecidedView | None = None,
) -> Notice:
    key = row_of(session, SigningKey, key_id, "signing key")
    number = (session.scalar(select(func.max(Notice.number))) or 0) + 1
    record = content.compose(notice_id, number, key, now(session), public_url, causes, list(slips), decided)
    code = slip_code(notice_id)
    if session.scalar(select(Slip.id).where(Slip.code == code)) is not None:
        raise Conflict("A slip has this notice's code by chance. Load the page again and issue it once more.")
    notice = Notice(
        id=notice_id,
        number=number,
        code=code,
        kind=record["notice"]["kind"],
        about_id=about_id,
        record=rfc8785.dumps(record).decode(),
        signing_key=key,
        numbered_at=now(session),
        slips=[NoticeSlip(slip_id=row.id) for row in slips],
    )
    session.add(notice)
    body = {"notice": notice_number(number), "slips": str(len(slips)), "code": code}
    audit.record(session, me.full_name, "notice numbered", about_id, body)
    return notice


def keep_file(session: Session, who: str, notice_id: UUID, made: SignedSlip) -> Notice:
    """The first file made for a notice is the notice; a second one is dropped unseen."""
    notice = notice_of(session, notice_id)
    if notice.file is None:
        notice.file = NoticeFile(notice_id=notice_id, pdf=made.pdf, sha256=made.sha256, signed_at=now(session))
        body = {
            "notice": notice_number(notice.number),
            "sha256": made.sha256,
            "certificate": notice.signing_key.certificate_serial,
        }
        audit.record(session, who, "notice signed", notice.about_id, body)
    return notice


# ---- reading -----------------------------------------------------------------------------------------------------


def notice_of(session: Session, notice_id: UUID) -> Notice:
    return row_of(session, Notice, notice_id, "notice")


def record_of(notice: Notice) -> Mapping[str, Any]:
    record: dict[str, Any] = json.loads(notice.record)
    return record


def visible_notice(session: Session, me: CurrentPerson, notice_id: UUID) -> Notice:
    """A competitor sees the notices that name a slip of theirs; any other one does not exist for them."""
    notice = notice_of(session, notice_id)
    if not me.may(*STAFF) and not _own_slips(session, me, notice_id):
        raise NotFound("notice")
    return notice


def _own_slips(session: Session, me: CurrentPerson, notice_id: UUID) -> set[UUID]:
    competitor = entries.competitor_of_person(session, me.id)
    if competitor is None:
        return set()
    named = (
        select(NoticeSlip.slip_id)
        .join(NoticeSlip.slip)
        .join(Slip.verdict)
        .join(Verdict.inspection)
        .join(Inspection.entry)
        .where(NoticeSlip.notice_id == notice_id, Entry.competitor_id == competitor.id)
    )
    return set(session.scalars(named))


def notice_file(session: Session, me: CurrentPerson, notice_id: UUID) -> tuple[str, bytes]:
    notice = visible_notice(session, me, notice_id)
    if notice.file is None:
        raise Conflict("This notice is numbered but not yet signed. Its official signs it with the PIN.")
    return notice_number(notice.number), notice.file.pdf


def notice_view(session: Session, me: CurrentPerson, notice: Notice) -> NoticeView:
    record, decision = record_of(notice), record_of(notice)["decision"]
    ids = dict(
        session.execute(
            select(Slip.number, Slip.id)
            .join(NoticeSlip, NoticeSlip.slip_id == Slip.id)
            .where(NoticeSlip.notice_id == notice.id)
        ).all()
    )
    may_open = set(ids.values()) if me.may(*STAFF) else _own_slips(session, me, notice.id)
    numbers = {slip_number(number): slip_id for number, slip_id in ids.items() if slip_id in may_open}
    return NoticeView(
        id=notice.id,
        number=notice_number(notice.number),
        code=notice.code,
        kind=notice.kind,
        about_id=notice.about_id,
        heading=wording.heading(record),
        meaning=wording.meaning(record),
        reasons_of_doubt=[cause["reason"] for cause in record["causes"]],
        decision="" if decision is None else wording.DECISIONS[decision["decision"]],
        reasons="" if decision is None else decision["reasons"],
        issued_by=record["official"]["name"],
        numbered_at=notice.numbered_at,
        signed=notice.file is not None,
        is_mine=notice.signing_key.person_id == me.id,
        sha256=notice.file.sha256 if notice.file else "",
        verify_url=record["notice"]["verify_url"],
        slips=[
            NamedSlip(
                number=one["number"],
                sha256=one["sha256"],
                event=one["event"],
                measured_again_as=one["measured_again_as"] or "",
                slip_id=numbers.get(one["number"]),
            )
            for one in record["slips"]
        ],
        left_over=left_to_name(session, notice.about_id) if notice.kind == "doubt" and me.may("official") else 0,
    )


def left_to_name(session: Session, cause_id: UUID) -> int:
    """How many slips of this cause no notice names yet, of those that are not decided about."""
    unnamed = content.unnamed_slips(cause_id, now(session)).order_by(None).with_only_columns(Slip.id).subquery()
    return session.scalar(select(func.count()).select_from(unnamed)) or 0


# ---- notices of many things at once --------------------------------------------------------------------------------


def notice_lines(session: Session, page: int) -> NoticesView:
    """Every notice, latest first, a page at a time."""
    total = session.scalar(select(func.count()).select_from(Notice)) or 0
    pages = max(1, -(-total // PAGE_ROWS))
    page = min(page, pages)
    latest = select(Notice).order_by(Notice.number.desc()).limit(PAGE_ROWS).offset((page - 1) * PAGE_ROWS)
    signer = joinedload(Notice.signing_key).joinedload(SigningKey.person)
    rows = session.scalars(latest.options(joinedload(Notice.file), signer, defer(Notice.record))).all()
    said = _what_they_say(session, rows)
    counted = select(NoticeSlip.notice_id, func.count()).where(NoticeSlip.notice_id.in_([row.id for row in rows]))
    counts = dict(session.execute(counted.group_by(NoticeSlip.notice_id)).all())
    lines = [
        NoticeLine(
            id=row.id,
            number=notice_number(row.number),
            kind=row.kind,
            heading=wording.heading_of(said[row.id][0]),
            why=said[row.id][1],
            issued_by=row.signing_key.person.full_name,
            numbered_at=row.numbered_at,
            signed=row.file is not None,
            slips=counts.get(row.id, 0),
        )
        for row in rows
    ]
    return NoticesView(lines=lines, total=total, page=page, pages=pages)


def notices_about(session: Session, about_ids: Collection[UUID]) -> dict[UUID, list[NoticeMark]]:
    """By cause or act of deciding, the notices that tell of it, oldest first."""
    rows = session.scalars(
        select(Notice)
        .where(Notice.about_id.in_(about_ids))
        .options(joinedload(Notice.file), defer(Notice.record))
        .order_by(Notice.number)
    ).all()
    said = _what_they_say(session, rows)
    found: dict[UUID, list[NoticeMark]] = defaultdict(list)
    for row in rows:
        found[row.about_id].append(_mark(row, said[row.id][0]))
    return dict(found)


def notices_of_slips(session: Session, slip_ids: Collection[UUID]) -> dict[UUID, list[NoticeMark]]:
    """By slip, the notices that name it, oldest first. As many queries for many slips as for one."""
    pairs = session.execute(
        select(NoticeSlip.slip_id, Notice)
        .join(NoticeSlip.notice)
        .where(NoticeSlip.slip_id.in_(slip_ids))
        .options(joinedload(Notice.file), defer(Notice.record))
        .order_by(Notice.number)
    ).all()
    said = _what_they_say(session, [notice for _, notice in pairs])
    found: dict[UUID, list[NoticeMark]] = defaultdict(list)
    for slip_id, notice in pairs:
        found[slip_id].append(_mark(notice, said[notice.id][0]))
    return dict(found)


def _what_they_say(session: Session, notices: Collection[Notice]) -> dict[UUID, tuple[str, str]]:
    """By notice, its outcome and the reason it gives: without reading their records, which name every slip."""
    about = {notice.about_id for notice in notices}
    causes = select(DoubtCause.id, DoubtCause.reason).where(DoubtCause.id.in_(about))
    said = {("doubt", cause_id): ("doubt", reason) for cause_id, reason in session.execute(causes)}
    acts = select(DoubtDecision.act_id, DoubtDecision.decision, DoubtDecision.reasons).distinct()
    for act_id, decision, reasons in session.execute(acts.where(DoubtDecision.act_id.in_(about))):
        said["decision", act_id] = (decision, reasons)
    return {notice.id: said[notice.kind, notice.about_id] for notice in notices}


def _mark(notice: Notice, outcome: str) -> NoticeMark:
    return NoticeMark(
        id=notice.id,
        number=notice_number(notice.number),
        code=notice.code,
        kind=notice.kind,
        signed=notice.file is not None,
        issued_at=notice.numbered_at,
        sentence=wording.of_one(outcome),
    )
