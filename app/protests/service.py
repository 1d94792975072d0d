"""A protest against a signed result: taken in, commented, decided. Everything is added; its state is read from that."""

from collections.abc import Sequence
from datetime import UTC, datetime
from uuid import UUID

from sqlalchemy import Select, select
from sqlalchemy.orm import Session, joinedload, selectinload

from app import audit
from app.database import now
from app.entries import service as entries
from app.entries.models import Competitor, Entry
from app.errors import Conflict, Invalid, NotFound, Refused
from app.happenings import happened
from app.inspections import service as inspections
from app.inspections.models import Inspection, Reading, Verdict
from app.inspections.signed_result import signed_result
from app.intake import day
from app.officials.service import CurrentPerson
from app.protests.models import Protest, ProtestStep
from app.protests.schemas import (
    DECISIONS,
    STATES,
    ProtestableView,
    ProtesterView,
    ProtestIn,
    ProtestLine,
    ProtestView,
    StepIn,
    StepView,
)

OPEN = "open"


# ---- taking in ---------------------------------------------------------------------------------------------------


def lodge(session: Session, me: CurrentPerson, inspection_id: UUID, protest_id: UUID, data: ProtestIn) -> ProtestView:
    kept = session.get(Protest, protest_id)
    if kept is not None:
        if kept.inspection_id != inspection_id:
            raise Conflict("The logbook already holds a protest against another result under this id. Start again.")
        audit.same_or_conflict(kept.digest, data)
        return protest_view(session, me, protest_id)
    inspection, verdict = _signed(session, inspection_id)
    competitor = session.get(Competitor, data.lodged_by_id)
    if competitor is None or not _is_entered(session, competitor.id, inspection.entry.event_id):
        raise Invalid({"lodged_by_id": "Only a competitor entered in this event may protest. Choose one of the list."})
    is_late = now(session) > verdict.protest_until
    if is_late and not data.late_reason:
        raise Invalid({"late_reason": _time_words(session, inspection, verdict)})
    if data.late_reason and not is_late:
        in_time = _time_words(session, inspection, verdict)
        raise Invalid({"late_reason": f"{in_time} Leave the reason for lateness empty."})
    session.add(
        Protest(
            id=protest_id,
            inspection_id=inspection.id,
            lodged_by_id=competitor.id,
            grounds=data.grounds,
            fee=data.fee,
            late_reason=data.late_reason,
            taken_in_by_id=me.id,
            lodged_at=now(session),
            digest=audit.digest_of(data),
        )
    )
    audit.record(
        session,
        me.full_name,
        "protest taken in late" if is_late else "protest taken in",
        protest_id,
        {
            "inspection": str(inspection.id),
            "car": inspection.entry.car_number,
            "lodged by": competitor.name,
            "asked": data.model_dump(mode="json"),
        },
    )
    return protest_view(session, me, protest_id)


def _signed(session: Session, inspection_id: UUID) -> tuple[Inspection, Verdict]:
    inspection = inspections.inspection_of(session, inspection_id)
    if inspection.verdict is None:
        raise Refused("This sheet has no signed result yet, so there is nothing to protest against. Wait for its slip.")
    return inspection, inspection.verdict


def _is_entered(session: Session, competitor_id: UUID, event_id: UUID) -> bool:
    found = select(Entry.id).where(Entry.event_id == event_id, Entry.competitor_id == competitor_id).limit(1)
    return session.scalar(found) is not None


def _time_words(session: Session, inspection: Inspection, verdict: Verdict) -> str:
    """The time limit as a sentence, before and after it."""
    until, edition = verdict.protest_until, inspection.rule.edition
    given = f"rule {inspection.rule.clause}, edition {edition.number}: {edition.protest_minutes} minutes"
    if now(session) > until:
        return (
            f"The time for protests on this result ended at {_clock(until, now(session))} ({given}). "
            "Take it in as late and say why, or stop here."
        )
    return f"Protests on this result are in time until {_clock(until, now(session))} ({given})."


def _clock(moment: datetime, today: datetime) -> str:
    moment, today = moment.astimezone(UTC), today.astimezone(UTC)
    time = f"{moment:%H:%M} UTC"
    return time if moment.date() == today.date() else f"{time} on {day(moment)}"


# ---- steps -------------------------------------------------------------------------------------------------------


def add_step(session: Session, me: CurrentPerson, protest_id: UUID, step_id: UUID, data: StepIn) -> ProtestView:
    protest = protest_of(session, protest_id, lock=True)
    kept = session.get(ProtestStep, step_id)
    if kept is not None:
        if kept.protest_id != protest_id:
            raise Conflict("The logbook already holds a step of another protest under this id. Load the page again.")
        audit.same_or_conflict(kept.digest, data)
        return protest_view(session, me, protest_id)
    if data.kind in DECISIONS:
        _check_may_decide(session, me, protest)
        if not data.text:
            raise Invalid({"text": "Write the reasons; the parties will read them."})
    elif not data.text:
        raise Invalid({"text": "Write the note."})
    session.add(
        ProtestStep(
            id=step_id,
            protest=protest,
            kind=data.kind,
            text=data.text,
            by_id=me.id,
            at=now(session),
            digest=audit.digest_of(data),
        )
    )
    action = "protest note added" if data.kind == "note" else f"protest decided: {DECISIONS[data.kind].lower()}"
    audit.record(
        session, me.full_name, action, protest_id, {"step": str(step_id), "asked": data.model_dump(mode="json")}
    )
    return protest_view(session, me, protest_id)


def _check_may_decide(session: Session, me: CurrentPerson, protest: Protest) -> None:
    decision = decision_of(protest.steps)
    if decision is not None:
        raise Conflict(
            f"This protest is already decided: {DECISIONS[decision.kind].lower()}, by {decision.by.full_name}. "
            "The decision stays; add a note for whatever follows."
        )
    reason = _reason_not_to_decide(session, me, protest)
    if reason:
        raise Refused(reason)


def _reason_not_to_decide(session: Session, me: CurrentPerson, protest: Protest) -> str:
    """Whoever measured the car does not decide on its protest."""
    verdict = protest.inspection.verdict
    signed = verdict is not None and verdict.decided_by_id == me.id
    readings = select(Reading.id).where(Reading.inspection_id == protest.inspection_id, Reading.taken_by_id == me.id)
    if signed or session.scalar(readings.limit(1)) is not None:
        did = "signed this result" if signed else "took readings for this result"
        return f"You {did}, so another official has to decide this protest. You can add a note."
    return ""


def decision_of(steps: Sequence[ProtestStep]) -> ProtestStep | None:
    return next((step for step in steps if step.kind in DECISIONS), None)


# ---- looking -----------------------------------------------------------------------------------------------------


def protest_of(session: Session, protest_id: UUID, *, lock: bool = False) -> Protest:
    protest = session.get(Protest, protest_id, with_for_update=True if lock else None)
    if protest is None:
        raise NotFound("protest")
    return protest


def protest_lines(session: Session) -> list[ProtestLine]:
    """Open ones first, the longest waiting on top; then the decided ones, latest first."""
    lines = [protest_line(protest) for protest in session.scalars(_with_all_of_a_line())]
    waiting = [line for line in lines if line.state == OPEN]
    decided = [line for line in lines if line.state != OPEN]
    decided.sort(key=lambda line: line.decided_at or line.lodged_at, reverse=True)
    return waiting + decided


def protests_against(session: Session, inspection_id: UUID) -> list[Protest]:
    return list(session.scalars(_with_all_of_a_line().where(Protest.inspection_id == inspection_id)))


def protests_lodged_by(session: Session, competitor_id: UUID) -> list[Protest]:
    return list(session.scalars(_with_all_of_a_line().where(Protest.lodged_by_id == competitor_id)))


def _with_all_of_a_line() -> Select[Protest]:
    """One query and one for the steps, however many protests there are."""
    inspection = joinedload(Protest.inspection)
    entry = inspection.joinedload(Inspection.entry)
    return (
        select(Protest)
        .order_by(Protest.lodged_at, Protest.id)
        .options(
            joinedload(Protest.lodged_by),
            selectinload(Protest.steps).joinedload(ProtestStep.by),
            inspection.joinedload(Inspection.verdict).defer(Verdict.inputs),
            inspection.joinedload(Inspection.rule),
            entry.joinedload(Entry.competitor),
            entry.joinedload(Entry.race_class),
            entry.joinedload(Entry.event),
        )
    )


def protest_line(protest: Protest) -> ProtestLine:
    inspection, decision = protest.inspection, decision_of(protest.steps)
    entry = inspection.entry
    state = decision.kind if decision else OPEN
    return ProtestLine(
        id=protest.id,
        reference=reference(protest.id),
        inspection_id=inspection.id,
        car_number=entry.car_number,
        class_code=entry.race_class.code,
        event_name=entry.event.name,
        defending=entry.competitor.name,
        lodged_by=protest.lodged_by.name,
        lodged_at=protest.lodged_at,
        is_late=bool(protest.late_reason),
        state=state,
        state_words=STATES[state],
        decided_at=decision.at if decision else None,
        verdict=inspection.verdict.verdict if inspection.verdict else "",
        picture=inspection.verdict.picture if inspection.verdict else "",
        kind=inspection.verdict.side if inspection.verdict else "maximum",
    )


def reference(protest_id: UUID) -> str:
    """What is said at the table and written on the receipt."""
    return f"P-{protest_id.hex[:6].upper()}"


def protest_view(session: Session, me: CurrentPerson, protest_id: UUID) -> ProtestView:
    protest = protest_of(session, protest_id)
    inspection, verdict = _signed(session, protest.inspection_id)
    sheet = inspections.inspection_view(session, inspection.id)
    return ProtestView(
        line=protest_line(protest),
        grounds=protest.grounds,
        fee=protest.fee,
        late_reason=protest.late_reason,
        taken_in_by=protest.taken_in_by.full_name,
        protest_until=verdict.protest_until,
        steps=[step_view(step) for step in protest.steps],
        reason_not_to_decide=_reason_not_to_decide(session, me, protest),
        sheet=sheet,
        result=signed_result(inspection, verdict, sheet),
        happened=happened(session, [protest.id]),
    )


def step_view(step: ProtestStep) -> StepView:
    words = "Note" if step.kind == "note" else DECISIONS[step.kind]
    return StepView(id=step.id, kind=step.kind, words=words, text=step.text, by=step.by.full_name, at=step.at)


def protestable(session: Session, inspection_id: UUID) -> ProtestableView:
    inspection, verdict = _signed(session, inspection_id)
    until = verdict.protest_until
    sheet = inspections.inspection_view(session, inspection_id)
    return ProtestableView(
        inspection_id=inspection_id,
        sheet=sheet,
        result=signed_result(inspection, verdict, sheet),
        protest_until=until,
        is_late=now(session) > until,
        time_words=_time_words(session, inspection, verdict),
        competitors=_protesters(session, inspection),
        earlier=[protest_line(protest) for protest in protests_against(session, inspection_id)],
    )


def _protesters(session: Session, inspection: Inspection) -> list[ProtesterView]:
    """Everybody entered in the event, once, with all their cars."""
    cars: dict[UUID, list[str]] = {}
    names: dict[UUID, str] = {}
    for entry in entries.entries_of_event(session, inspection.entry.event_id):
        cars.setdefault(entry.competitor_id, []).append(entry.car_number)
        names[entry.competitor_id] = entry.competitor.name
    own = inspection.entry.competitor_id
    listed = [
        ProtesterView(
            competitor_id=competitor,
            words=f"{names[competitor]}, car {' and '.join(numbers)}"
            + (" (their own result)" if competitor == own else ""),
        )
        for competitor, numbers in cars.items()
    ]
    return sorted(listed, key=lambda one: one.words.casefold())
