"""The work list of results in doubt: by cause, each result with its figures and who decided what about it."""

import json
from collections.abc import Collection
from uuid import UUID

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, joinedload

from app.audit import LogEntry
from app.database import now, row_of
from app.doubts.deciding import act, decide, later_sheets
from app.doubts.models import DoubtDecision, DoubtedVerdict, DoubtResolution, LookBack
from app.doubts.schemas import PAGE_ROWS, CauseLine, CauseView, DoubtedRow, LaterSheet, StandingView, WorkListView
from app.doubts.standing import decision_view, standing_of, stands_as
from app.entries.models import Entry
from app.happenings import happened
from app.inspections.models import Inspection, Verdict
from app.inspections.signed_result import reported_figures
from app.instruments.ledger_schemas import DOUBT_KINDS
from app.instruments.models import DoubtCause

__all__ = ["act", "cause_view", "decide", "standing_of", "standing_of_sheet", "stands_as", "work_list"]
Found = tuple[DoubtedVerdict, DoubtDecision | None]


def standing_of_sheet(session: Session, inspection_id: UUID) -> StandingView | None:
    """None while the sheet is not signed."""
    verdict_id = session.scalar(select(Verdict.id).where(Verdict.inspection_id == inspection_id))
    return None if verdict_id is None else standing_of(session, [verdict_id])[verdict_id]


def work_list(session: Session) -> WorkListView:
    """Latest first: causes with something open or not yet looked back to the end, and those that are settled."""
    lines = _lines(session, select(DoubtCause))
    waiting = [line for line in lines if line.open or not line.is_looked_back]
    settled = [line for line in lines if not line.open and line.is_looked_back]
    return WorkListView(waiting=waiting, settled=settled, open=sum(line.open for line in waiting))


def _lines(session: Session, causes: Select[DoubtCause]) -> list[CauseLine]:
    whole = causes.options(joinedload(DoubtCause.instrument), joinedload(DoubtCause.raised_by))
    rows = session.scalars(whole.order_by(DoubtCause.raised_at.desc(), DoubtCause.id)).all()
    ids = [row.id for row in rows]
    counts = (
        select(DoubtedVerdict.cause_id, func.count(), func.count(DoubtResolution.decision_id))
        .outerjoin(DoubtedVerdict.resolution)
        .where(DoubtedVerdict.cause_id.in_(ids))
        .group_by(DoubtedVerdict.cause_id)
    )
    counted = {cause_id: (total, decided) for cause_id, total, decided in session.execute(counts)}
    done = set(session.scalars(select(LookBack.cause_id).where(LookBack.cause_id.in_(ids))))
    return [_line(row, *counted.get(row.id, (0, 0)), is_looked_back=row.id in done) for row in rows]


def _line(row: DoubtCause, total: int, decided: int, *, is_looked_back: bool) -> CauseLine:
    return CauseLine(
        cause_id=row.id,
        kind=row.kind,
        kind_words=DOUBT_KINDS[row.kind],
        instrument_id=row.instrument_id,
        instrument_name=row.instrument.name,
        reason=row.reason,
        since=row.since,
        until=row.until,
        raised_at=row.raised_at,
        raised_by=row.raised_by.full_name,
        open=total - decided,
        decided=decided,
        is_looked_back=is_looked_back,
    )


# ---- one cause ---------------------------------------------------------------------------------------------------


def cause_view(session: Session, cause_id: UUID, *, only_open: bool = False, page: int = 1) -> CauseView:
    """In the order in which the engines were measured, the latest first."""
    row_of(session, DoubtCause, cause_id, "cause of doubt")
    (line,) = _lines(session, select(DoubtCause).where(DoubtCause.id == cause_id))
    total = line.open if only_open else line.open + line.decided
    pages = max(1, -(-total // PAGE_ROWS))
    page = min(page, pages)
    query = _rows_of(cause_id).order_by(Verdict.measured_until.desc(), Verdict.id)
    if only_open:
        query = query.where(DoubtResolution.decision_id.is_(None))
    found: list[Found] = [
        (doubted, decision)
        for doubted, decision in session.execute(query.limit(PAGE_ROWS).offset((page - 1) * PAGE_ROWS))
    ]
    acts = list(dict.fromkeys(decision.act_id for _, decision in found if decision is not None))
    return CauseView(
        as_of=now(session),
        line=line,
        rows=_doubted_rows(session, found),
        only_open=only_open,
        total=total,
        page=page,
        pages=pages,
        acts=acts,
        happened=happened(session, [cause_id, *acts]),
    )


def _rows_of(cause_id: UUID) -> Select[*tuple[DoubtedVerdict, DoubtDecision | None]]:
    """With all that a line says, so that it takes one query however long the list."""
    verdict = joinedload(DoubtedVerdict.verdict)
    inspection = verdict.joinedload(Verdict.inspection)
    entry = inspection.joinedload(Inspection.entry)
    return (
        select(DoubtedVerdict, DoubtDecision)
        .join(DoubtedVerdict.verdict)
        .outerjoin(DoubtedVerdict.resolution)
        .outerjoin(DoubtResolution.decision)
        .where(DoubtedVerdict.cause_id == cause_id)
        .options(
            verdict.defer(Verdict.inputs),
            inspection.joinedload(Inspection.rule),
            entry.joinedload(Entry.competitor),
            entry.joinedload(Entry.race_class),
            entry.joinedload(Entry.event),
            joinedload(DoubtDecision.decided_by),
        )
    )


def _doubted_rows(session: Session, found: list[Found]) -> list[DoubtedRow]:
    sheets = [doubted.verdict.inspection_id for doubted, _ in found]
    standing = standing_of(session, [doubted.verdict_id for doubted, _ in found])
    again = later_sheets(session, [sheet for sheet, (_, decision) in zip(sheets, found, strict=True) if not decision])
    slips = _slip_numbers(session, sheets)
    return [
        _doubted_row(
            doubted.verdict,
            decision,
            standing[doubted.verdict_id],
            again.get(doubted.verdict.inspection_id, []),
            slips.get(doubted.verdict.inspection_id, ""),
        )
        for doubted, decision in found
    ]


def _slip_numbers(session: Session, inspection_ids: Collection[UUID]) -> dict[UUID, str]:
    """As the log has them: slips stand above doubts, and what is logged stays."""
    rows = session.scalars(
        select(LogEntry).where(LogEntry.subject.in_(inspection_ids), LogEntry.action == "slip numbered")
    )
    return {row.subject: json.loads(row.entry)["body"]["slip"] for row in rows if row.subject}


def _doubted_row(
    verdict: Verdict,
    decision: DoubtDecision | None,
    standing: StandingView,
    again: list[LaterSheet],
    slip_number: str,
) -> DoubtedRow:
    entry = verdict.inspection.entry
    value, expanded = reported_figures(json.loads(verdict.result))
    return DoubtedRow(
        verdict_id=verdict.id,
        inspection_id=verdict.inspection_id,
        car_number=entry.car_number,
        competitor=entry.competitor.name,
        class_code=entry.race_class.code,
        event_name=entry.event.name,
        measured_until=verdict.measured_until,
        decided_at=verdict.decided_at,
        verdict=verdict.verdict,
        picture=verdict.picture,
        kind=verdict.side,
        value=value,
        expanded_uncertainty=expanded,
        slip_number=slip_number,
        is_open=decision is None,
        decision=decision_view(decision) if decision else None,
        standing=standing,
        later_sheets=again,
    )
