"""A named official decides about results in doubt: upheld, measured again, or withdrawn. Decisions are only added."""

from collections import defaultdict
from collections.abc import Collection, Mapping, Sequence
from datetime import UTC, datetime
from uuid import UUID, uuid5

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from app import audit
from app.database import now
from app.doubts.models import DoubtDecision, DoubtedVerdict, DoubtResolution
from app.doubts.schemas import DECISIONS, DecidedView, DecideIn, LaterSheet
from app.doubts.standing import standing_of
from app.entries.models import Entry
from app.errors import Conflict, Invalid, NotFound, Refused
from app.inspections.models import Inspection, Reading, Verdict
from app.intake import day
from app.officials.service import CurrentPerson

_MOST_NAMED = 8


def decide(session: Session, me: CurrentPerson, act_id: UUID, data: DecideIn) -> DecidedView:
    """All or none: every doubt about these results that is open now ends with this decision."""
    kept = session.scalars(select(DoubtDecision).where(DoubtDecision.act_id == act_id).limit(1)).first()
    if kept is not None:
        audit.same_or_conflict(kept.digest, data)
        return act(session, act_id)
    verdicts = _verdicts(session, data.verdict_ids)
    open_doubts = _open_doubts(session, data.verdict_ids)
    settled = [verdict for verdict in verdicts if verdict.id not in open_doubts]
    if settled:
        raise Refused(
            f"Nothing is left to decide about {_cars(settled)}: not in doubt, or decided about already. "
            "Load the page again and choose among those that are open."
        )
    _must_be_measured_by_others(session, me, verdicts)
    if data.known_at is not None:
        _must_be_known(session, data.verdict_ids, data.known_at)
    if data.decision != "withdrawn":
        _must_not_be_withdrawn(session, verdicts)
    later = _later_sheets_for(session, verdicts, data) if data.decision == "measured_again" else {}
    for verdict in verdicts:
        _add(session, me, act_id, verdict, data, open_doubts[verdict.id], later.get(verdict.id))
    session.flush()
    for verdict in verdicts:
        about = {"decision": DECISIONS[data.decision].lower(), "reasons": data.reasons, "act": str(act_id)}
        audit.record(session, me.full_name, "doubt decided", verdict.inspection_id, about)
    how_many = "1 result" if len(verdicts) == 1 else f"{len(verdicts)} results"
    asked = {"decision": DECISIONS[data.decision].lower(), "results": how_many, "reasons": data.reasons}
    audit.record(session, me.full_name, "doubts decided", act_id, {**asked, "asked": data.model_dump(mode="json")})
    return act(session, act_id)


def act(session: Session, act_id: UUID) -> DecidedView:
    """What was decided together."""
    found = select(DoubtDecision).where(DoubtDecision.act_id == act_id).options(joinedload(DoubtDecision.decided_by))
    rows = session.scalars(found.order_by(DoubtDecision.verdict_id)).all()
    if not rows:
        raise NotFound("decision")
    first = rows[0]
    return DecidedView(
        act_id=act_id,
        decision=first.decision,
        words=DECISIONS[first.decision],
        reasons=first.reasons,
        decided_by=first.decided_by.full_name,
        decided_at=first.decided_at,
        verdict_ids=[row.verdict_id for row in rows],
        measured_again_as={row.verdict_id: row.measured_again_as_id for row in rows if row.measured_again_as_id},
    )


def _add(
    session: Session,
    me: CurrentPerson,
    act_id: UUID,
    verdict: Verdict,
    data: DecideIn,
    cause_ids: Sequence[UUID],
    measured_again_as: UUID | None,
) -> None:
    decision = DoubtDecision(
        id=uuid5(act_id, verdict.id.hex),
        act_id=act_id,
        verdict=verdict,
        decision=data.decision,
        reasons=data.reasons,
        measured_again_as_id=measured_again_as,
        decided_by_id=me.id,
        decided_at=now(session),
        digest=audit.digest_of(data),
    )
    session.add(decision)
    for cause_id in cause_ids:
        session.add(DoubtResolution(cause_id=cause_id, verdict_id=verdict.id, decision=decision))


def _verdicts(session: Session, verdict_ids: Collection[UUID]) -> list[Verdict]:
    entry = joinedload(Verdict.inspection).joinedload(Inspection.entry)
    query = select(Verdict).where(Verdict.id.in_(verdict_ids)).order_by(Verdict.measured_until, Verdict.id)
    rows = list(session.scalars(query.options(entry.joinedload(Entry.event))))
    if len(rows) < len(verdict_ids):
        raise Invalid({"verdict_ids": "One of these results is not in this logbook. Load the page and choose again."})
    return rows


def _open_doubts(session: Session, verdict_ids: Collection[UUID]) -> dict[UUID, list[UUID]]:
    """By verdict, the causes nobody decided about yet."""
    found: dict[UUID, list[UUID]] = defaultdict(list)
    query = (
        select(DoubtedVerdict.verdict_id, DoubtedVerdict.cause_id)
        .outerjoin(DoubtedVerdict.resolution)
        .where(DoubtedVerdict.verdict_id.in_(verdict_ids), DoubtResolution.decision_id.is_(None))
        .order_by(DoubtedVerdict.cause_id)
    )
    for row in session.execute(query):
        found[row.verdict_id].append(row.cause_id)
    return dict(found)


def _must_be_known(session: Session, verdict_ids: Collection[UUID], known_at: datetime) -> None:
    """A decision ends every open doubt about a result; one found after the page was loaded was in nobody's mind."""
    later = select(DoubtedVerdict.verdict_id).where(
        DoubtedVerdict.verdict_id.in_(verdict_ids), DoubtedVerdict.found_at > known_at
    )
    if session.scalar(later.limit(1)) is not None:
        raise Conflict(
            "A further cause put one of these results in doubt while this page was open. Load it again and look."
        )


def _must_be_measured_by_others(session: Session, me: CurrentPerson, verdicts: Sequence[Verdict]) -> None:
    """Whoever measured an engine does not decide whether its result stands; as with protests."""
    sheets = [verdict.inspection_id for verdict in verdicts]
    read = select(Reading.inspection_id).where(Reading.inspection_id.in_(sheets), Reading.taken_by_id == me.id)
    own = set(session.scalars(read)) | {one.inspection_id for one in verdicts if one.decided_by_id == me.id}
    mine = [verdict for verdict in verdicts if verdict.inspection_id in own]
    if mine:
        raise Refused(f"You measured or signed {_cars(mine)}, so another official has to decide about that.")


def _must_not_be_withdrawn(session: Session, verdicts: Sequence[Verdict]) -> None:
    standing = standing_of(session, [verdict.id for verdict in verdicts])
    gone = [verdict for verdict in verdicts if standing[verdict.id].state == "withdrawn"]
    if gone:
        raise Conflict(
            f"{_first_up(_cars(gone))}: withdrawn before, and that stays. "
            "Choose Withdrawn here too, with the reason of this doubt."
        )


def _cars(verdicts: Sequence[Verdict]) -> str:
    entries = [verdict.inspection.entry for verdict in verdicts[:_MOST_NAMED]]
    named = ", ".join(f"car {entry.car_number} ({entry.event.name})" for entry in entries)
    return named if len(verdicts) <= _MOST_NAMED else f"{named} and {len(verdicts) - _MOST_NAMED} more"


def _first_up(words: str) -> str:
    """As a sentence begins; names further on keep their letters."""
    return words[:1].upper() + words[1:]


# ---- measured again ----------------------------------------------------------------------------------------------


def later_sheets(session: Session, inspection_ids: Collection[UUID]) -> dict[UUID, list[LaterSheet]]:
    """By sheet, the signed ones that measured it again, also by way of a third, and that stand themselves."""
    again = (
        select(Inspection.repeats_id.label("first_id"), Inspection.id)
        .where(Inspection.repeats_id.in_(inspection_ids))
        .cte("again", recursive=True)
    )
    again = again.union(select(again.c.first_id, Inspection.id).join(again, Inspection.repeats_id == again.c.id))
    rows = session.execute(
        select(again.c.first_id, Verdict.id, Verdict.inspection_id, Verdict.decided_at)
        .join(Verdict, Verdict.inspection_id == again.c.id)
        .order_by(Verdict.decided_at, Verdict.id)
    ).all()
    standing = standing_of(session, {row.id for row in rows})
    found: dict[UUID, list[LaterSheet]] = defaultdict(list)
    for row in rows:
        if standing[row.id].state in ("sound", "upheld"):
            at = row.decided_at.astimezone(UTC)
            words = f"signed {day(at)}, {at:%H:%M} UTC"
            found[row.first_id].append(LaterSheet(inspection_id=row.inspection_id, words=words))
    return dict(found)


def _later_sheets_for(session: Session, verdicts: Sequence[Verdict], data: DecideIn) -> Mapping[UUID, UUID]:
    """By verdict. Where one result has several later sheets, one of them has to be named."""
    asked = data.measured_again_as
    if asked is not None and len(verdicts) > 1:
        raise Invalid(
            {"measured_again_as": "One later sheet cannot take the place of several results. Choose one result."}
        )
    offered = later_sheets(session, [verdict.inspection_id for verdict in verdicts])
    found: dict[UUID, UUID] = {}
    for verdict in verdicts:
        sheets = [sheet.inspection_id for sheet in offered.get(verdict.inspection_id, [])]
        if not sheets:
            raise Invalid(
                {
                    "measured_again_as": f"{_first_up(_cars([verdict]))} has no later signed sheet that stands "
                    "itself. Measure the engine again from its record and sign that sheet; then decide."
                }
            )
        if asked is not None and asked not in sheets:
            raise Invalid(
                {
                    "measured_again_as": f"This is no later sheet of {_cars([verdict])} that stands itself. "
                    "Choose one of those offered."
                }
            )
        if asked is None and len(sheets) > 1:
            raise Invalid(
                {
                    "measured_again_as": f"{_first_up(_cars([verdict]))} was measured again {len(sheets)} times. "
                    "Decide about it by itself and choose which sheet takes its place."
                }
            )
        found[verdict.id] = asked or sheets[0]
    return found
