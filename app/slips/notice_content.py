"""What a notice says: the record in its one form. Neither names nor codes: it hangs on the notice board."""

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any
from uuid import UUID

from sqlalchemy import Integer, Row, Select, literal, or_, select
from sqlalchemy.orm import Session, aliased, joinedload

from app.doubts.models import DoubtDecision, DoubtedVerdict, DoubtResolution
from app.doubts.schemas import DecidedView
from app.entries.models import Entry
from app.inspections.models import Inspection, Verdict
from app.instruments.models import DoubtCause
from app.officials.models import SigningKey
from app.regulations.models import Event, Series
from app.slips.content import SOFTWARE, moment, slip_number
from app.slips.models import Notice, NoticeFile, NoticeSlip, Slip, SlipFile
from app.slips.record import NOTICE_FORMAT, slip_code

MOST_SLIPS = 500
AT_ITS_SIGNING = timedelta(minutes=5)  # longer than a page may take to be made
SlipRow = Row[Any]


def notice_number(number: int) -> str:
    return f"NT-{number:06d}"


def compose(
    notice_id: UUID,
    number: int,
    key: SigningKey,
    issued_at: datetime,
    public_url: str,
    causes: Sequence[DoubtCause],
    slips: Sequence[SlipRow],
    decided: DecidedView | None = None,
) -> dict[str, Any]:
    code = slip_code(notice_id)
    return {
        "format": NOTICE_FORMAT,
        "notice": {
            "number": notice_number(number),
            "code": code,
            "kind": "doubt" if decided is None else "decision",
            "issued_at": moment(issued_at),
            "software": SOFTWARE,
            "verify_url": f"{public_url.rstrip('/')}/verify/{code}",
        },
        "series": sorted({row.series for row in slips}),
        "official": {
            "name": key.person.full_name,
            "certificate_serial": key.certificate_serial,
            "role": "official",
        },
        "causes": [_cause(cause) for cause in causes],
        "decision": None
        if decided is None
        else {
            "decision": decided.decision,
            "reasons": decided.reasons,
            "decided_by": decided.decided_by,
            "decided_at": moment(decided.decided_at),
        },
        "slips": [_slip(row) for row in slips],
    }


def _cause(cause: DoubtCause) -> dict[str, Any]:
    return {
        "reason": cause.reason,
        "since": "" if cause.since is None else moment(cause.since),
        "until": moment(cause.until),
        "certificate": "" if cause.calibration is None else cause.calibration.certificate,
        "instrument": {"name": cause.instrument.name, "serial": cause.instrument.serial},
        "raised_at": moment(cause.raised_at),
        "raised_by": cause.raised_by.full_name,
    }


def _slip(row: SlipRow) -> dict[str, Any]:
    return {
        "number": slip_number(row.number),
        "sha256": row.sha256 or "",
        "event": f"{row.event}, {row.starts_on.isoformat()}",
        "measured_again_as": None if row.later is None else slip_number(row.later),
    }


# ---- what it is put together from ---------------------------------------------------------------------------------


def unnamed_slips(cause_id: UUID, at: datetime) -> Select[Any]:
    """Slips still in doubt by this cause that no notice of it names, in the order of their numbers.

    A notice that was never signed names nobody: whoever numbered it may have lost the PIN. One numbered a moment ago
    may still be at its signing. A result withdrawn for another cause is told of already.
    """
    named = (
        select(NoticeSlip.slip_id)
        .join(NoticeSlip.notice)
        .outerjoin(Notice.file)
        .where(
            NoticeSlip.slip_id == Slip.id,
            Notice.kind == "doubt",
            Notice.about_id == cause_id,
            or_(NoticeFile.notice_id.is_not(None), Notice.numbered_at > at - AT_ITS_SIGNING),
        )
    )
    withdrawn = select(DoubtDecision.id).where(
        DoubtDecision.verdict_id == Slip.verdict_id, DoubtDecision.decision == "withdrawn"
    )
    return (
        _slips()
        .join(DoubtedVerdict, DoubtedVerdict.verdict_id == Slip.verdict_id)
        .outerjoin(DoubtedVerdict.resolution)
        .where(
            DoubtedVerdict.cause_id == cause_id,
            DoubtResolution.decision_id.is_(None),
            ~named.exists(),
            ~withdrawn.exists(),
        )
    )


def decided_slips(act_id: UUID) -> Select[Any]:
    """Slips of the results decided together, each with the later slip where one takes its place."""
    later = aliased(Slip)
    later_verdict = aliased(Verdict)
    return (
        _slips(later.number)
        .join(DoubtDecision, DoubtDecision.verdict_id == Slip.verdict_id)
        .outerjoin(later_verdict, later_verdict.inspection_id == DoubtDecision.measured_again_as_id)
        .outerjoin(later, later.verdict_id == later_verdict.id)
        .where(DoubtDecision.act_id == act_id)
    )


def _slips(later: Any = None) -> Select[Any]:
    return (
        select(
            Slip.id,
            Slip.number,
            SlipFile.sha256,
            Event.name.label("event"),
            Event.starts_on,
            Series.name.label("series"),
            (literal(None, Integer) if later is None else later).label("later"),
        )
        .outerjoin(SlipFile, SlipFile.slip_id == Slip.id)
        .join(Slip.verdict)
        .join(Verdict.inspection)
        .join(Inspection.entry)
        .join(Entry.event)
        .join(Event.series)
        .order_by(Slip.number)
    )


def causes_of_act(session: Session, act_id: UUID) -> list[DoubtCause]:
    ended = (
        select(DoubtResolution.cause_id).join(DoubtResolution.decision).where(DoubtDecision.act_id == act_id).distinct()
    )
    return causes(session, ended)


def causes(session: Session, ids: Select[UUID] | Sequence[UUID]) -> list[DoubtCause]:
    found = select(DoubtCause).where(DoubtCause.id.in_(ids)).order_by(DoubtCause.raised_at, DoubtCause.id)
    whole = (joinedload(DoubtCause.instrument), joinedload(DoubtCause.calibration), joinedload(DoubtCause.raised_by))
    return list(session.scalars(found.options(*whole)))
