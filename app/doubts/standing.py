"""How signed results stand: sound, in doubt, or decided about. Asked for many at once, in two queries."""

from collections import defaultdict
from collections.abc import Collection
from uuid import UUID

from sqlalchemy import ColumnElement, Select, and_, or_, select
from sqlalchemy.orm import Session, aliased, joinedload

from app.doubts.models import DoubtDecision, DoubtedVerdict, DoubtResolution
from app.doubts.schemas import DECISIONS, STATES, CauseOfDoubt, DecisionView, StandingView
from app.inspections.models import Verdict
from app.instruments.models import DoubtCause
from app.intake import utc_moment


def standing_of(session: Session, verdict_ids: Collection[UUID]) -> dict[UUID, StandingView]:
    """Of every one asked for, known or not: what nobody doubted is sound."""
    causes: dict[UUID, list[CauseOfDoubt]] = defaultdict(list)
    for row in session.execute(
        select(
            DoubtedVerdict.verdict_id,
            DoubtCause.id,
            DoubtCause.kind,
            DoubtCause.reason,
            DoubtCause.raised_at,
            DoubtResolution.decision_id,
        )
        .join(DoubtedVerdict.cause)
        .outerjoin(DoubtedVerdict.resolution)
        .where(DoubtedVerdict.verdict_id.in_(verdict_ids))
        .order_by(DoubtCause.raised_at, DoubtCause.id)
    ):
        causes[row.verdict_id].append(
            CauseOfDoubt(
                cause_id=row.id,
                kind=row.kind,
                reason=row.reason,
                raised_at=row.raised_at,
                is_open=row.decision_id is None,
            )
        )
    decisions: dict[UUID, list[DoubtDecision]] = defaultdict(list)
    for decision in session.scalars(
        select(DoubtDecision)
        .where(DoubtDecision.verdict_id.in_(verdict_ids))
        .order_by(DoubtDecision.decided_at, DoubtDecision.id)
        .options(joinedload(DoubtDecision.decided_by))
    ):
        decisions[decision.verdict_id].append(decision)
    return {verdict_id: _standing(verdict_id, causes[verdict_id], decisions[verdict_id]) for verdict_id in verdict_ids}


def _standing(verdict_id: UUID, causes: list[CauseOfDoubt], decisions: list[DoubtDecision]) -> StandingView:
    """Withdrawn is for good. Otherwise a doubt nobody decided about counts; then the last decision."""
    still_open = [cause for cause in causes if cause.is_open]
    withdrawn = [decision for decision in decisions if decision.decision == "withdrawn"]
    counts = withdrawn[0] if withdrawn else decisions[-1] if decisions else None
    decided = decision_view(counts) if counts else None
    state, since, sentence = "sound", None, ""
    if decided is not None and (withdrawn or not still_open):
        state, since, sentence = decided.decision, decided.decided_at, _said_of(decided)
    elif still_open:
        state, since = "in_doubt", still_open[0].raised_at
        sentence = (
            f"In doubt since {utc_moment(since)}. The result stays as it was signed; "
            "an official decides whether it is upheld, measured again or withdrawn."
        )
    return StandingView.model_validate(
        {
            "verdict_id": verdict_id,
            "state": state,
            "words": STATES.get(state, ""),
            "sentence": sentence,
            "since": since,
            "causes": causes,
            "decision": decided,
        }
    )


def _said_of(decided: DecisionView) -> str:
    by = f"by {decided.decided_by} on {utc_moment(decided.decided_at)}"
    return {
        "upheld": f"It was in doubt and was upheld {by}: the result stands as it was signed.",
        "measured_again": f"It was in doubt, and a later sheet took its place, as decided {by}. "
        "What counts is the later result.",
        "withdrawn": f"It was in doubt and was withdrawn {by}: the result no longer stands.",
    }[decided.decision]


def decision_view(row: DoubtDecision) -> DecisionView:
    return DecisionView(
        act_id=row.act_id,
        decision=row.decision,
        words=DECISIONS[row.decision],
        reasons=row.reasons,
        decided_by=row.decided_by.full_name,
        decided_at=row.decided_at,
        measured_again_as=row.measured_again_as_id,
    )


# ---- the same as a condition, for searches -----------------------------------------------------------------------


def stands_as(state: str) -> ColumnElement[bool]:
    """Of a verdict in a query that has `Verdict` in it. By sets, so that a search begins with the few concerned."""
    is_withdrawn = Verdict.id.in_(_decided_as("withdrawn"))
    if state == "withdrawn":
        return is_withdrawn
    if state == "in_doubt":
        return and_(Verdict.id.in_(_open()), ~is_withdrawn)
    later = aliased(DoubtDecision)
    after = or_(
        later.decided_at > DoubtDecision.decided_at,
        and_(later.decided_at == DoubtDecision.decided_at, later.id > DoubtDecision.id),
    )
    overtaken = select(later.id).where(later.verdict_id == DoubtDecision.verdict_id, after).exists()
    return and_(Verdict.id.in_(_decided_as(state).where(~overtaken)), Verdict.id.not_in(_open()), ~is_withdrawn)


def _decided_as(decision: str) -> Select[UUID]:
    return select(DoubtDecision.verdict_id).where(DoubtDecision.decision == decision)


def _open() -> Select[UUID]:
    """Verdicts about which some doubt waits for a decision."""
    return (
        select(DoubtedVerdict.verdict_id)
        .outerjoin(DoubtedVerdict.resolution)
        .where(DoubtResolution.decision_id.is_(None))
    )
