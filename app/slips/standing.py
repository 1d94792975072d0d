"""How a slip stands today, for whoever holds it: the slip stays as it was signed, what became of its result is said."""

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from app.doubts import service as doubts
from app.doubts.schemas import StandingView
from app.inspections.models import Verdict
from app.slips import notices
from app.slips.content import slip_number
from app.slips.models import Notice, NoticeFile, Slip, SlipFile
from app.slips.notice_content import notice_number
from app.slips.notice_wording import said_by
from app.slips.record import normalise_code
from app.slips.schemas import PaperStanding, SlipStanding


def standing_of_slip(session: Session, slip: Slip) -> PaperStanding:
    """Also where no notice was issued yet: the doubt itself counts."""
    found = doubts.standing_of(session, [slip.verdict_id])[slip.verdict_id]
    if found.state == "sound":
        return PaperStanding()
    marks = notices.notices_of_slips(session, [slip.id]).get(slip.id, [])
    return PaperStanding(state=found.state, standing=_said(session, found), notices=marks)


def _said(session: Session, found: StandingView) -> str:
    because = [cause.reason for cause in found.causes if cause.is_open or found.state != "in_doubt"]
    parts = [found.sentence]
    if found.decision is not None and found.decision.measured_again_as is not None and found.state == "measured_again":
        later = session.scalar(
            select(Slip.number).join(Slip.verdict).where(Verdict.inspection_id == found.decision.measured_again_as)
        )
        parts += [f"See slip {slip_number(later)}."] if later is not None else []
    parts += [f"Why it was in doubt: {one}" if found.state != "in_doubt" else f"Because: {one}" for one in because]
    if found.decision is not None and found.state != "in_doubt":
        parts.append(f"Reasons of the decision: {found.decision.reasons}")
    return " ".join(parts)


def standing(session: Session, code: str) -> SlipStanding:
    """What anyone may know who holds a code: that the paper exists, how it stands, and the digest its file has."""
    wanted = normalise_code(code)
    slip = session.scalars(select(Slip).where(Slip.code == wanted)).first()
    if slip is not None:
        stands = standing_of_slip(session, slip)
        return SlipStanding(
            known=True,
            code=slip.code,
            number=slip_number(slip.number),
            event=slip.verdict.inspection.entry.event.name,
            signed_at=slip.file.signed_at if slip.file else None,
            sha256=slip.file.sha256 if slip.file else "",
            state=stands.state,
            standing=stands.standing,
            notices=stands.notices,
        )
    notice = session.scalars(select(Notice).where(Notice.code == wanted)).first()
    if notice is None:
        return SlipStanding(known=False, code=wanted[:20])
    record = notices.record_of(notice)
    return SlipStanding(
        known=True,
        code=notice.code,
        kind="notice",
        number=notice_number(notice.number),
        event=", ".join(sorted({one["event"] for one in record["slips"]})),
        signed_at=notice.file.signed_at if notice.file else None,
        sha256=notice.file.sha256 if notice.file else "",
        standing=said_by(record),
    )


def kept_file(session: Session, sha256: str) -> tuple[str, PaperStanding]:
    """The number of the slip or notice whose stored file has this digest, and how that slip stands; else empty."""
    slip = session.scalars(
        select(Slip).join(Slip.file).where(SlipFile.sha256 == sha256).options(joinedload(Slip.file))
    ).first()
    if slip is not None:
        return slip_number(slip.number), standing_of_slip(session, slip)
    notice = session.scalars(select(Notice).join(Notice.file).where(NoticeFile.sha256 == sha256)).first()
    return (notice_number(notice.number) if notice else ""), PaperStanding()
