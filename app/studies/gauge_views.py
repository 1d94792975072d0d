"""The gauge study as it is shown: plan, order and progress; once complete, what it found. Blind until then."""

from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from app import audit
from app.happenings import happened_view
from app.metrology.errors import MeasurementError
from app.metrology.studies.wording import plan_words
from app.officials.models import Person
from app.officials.service import CurrentPerson
from app.studies import gauge
from app.studies.adopting import adopted_study, was_adopted
from app.studies.gauge_result import result_of
from app.studies.models import GaugeStudy
from app.studies.schemas import GaugeStudyView, NextView, OwnReadingView, ProgressView, StepView
from app.studies.wording import letter_of, missing_words

# so many that they would hide everything else; progress and readings have places of their own
READ = "study reading entered"


def names_of(session: Session, study: GaugeStudy) -> dict[UUID, str]:
    """The inspectors in the order of the plan."""
    ids = [UUID(one) for one in study.inspector_ids]
    rows = {row.id: row.full_name for row in session.scalars(select(Person).where(Person.id.in_(ids)))}
    return {one: rows[one] for one in ids}


def study_view(session: Session, me: CurrentPerson, study: GaugeStudy) -> GaugeStudyView:
    names = names_of(session, study)
    standing = gauge.standing_readings(study)
    order = [
        StepView(
            number=number,
            inspector_id=UUID(step.inspector),
            inspector=names[UUID(step.inspector)],
            part_number=study.parts.index(step.part) + 1,
            part=step.part,
            repeat=step.repeat,
            is_done=(UUID(step.inspector), study.parts.index(step.part) + 1, step.repeat) in standing,
        )
        for number, step in enumerate(gauge.order_of(study), 1)
    ]
    open_steps = [step for step in order if not step.is_done]
    result, problem = None, ""
    if not open_steps:
        try:
            result = result_of(study)
        except MeasurementError as error:
            problem = error.sentence
    is_mine, planned = me.id in names, len(study.parts) * study.repeats
    return GaugeStudyView(
        id=study.id,
        instrument_id=study.instrument_id,
        instrument_name=study.instrument.name,
        title=study.title,
        parts=study.parts,
        repeats=study.repeats,
        tolerance=study.tolerance,
        held_against=study.note,
        planned_by=study.planned_by.full_name,
        planned_at=study.planned_at,
        plan_sentences=list(plan_words(gauge.plan_of(study.parts, study.inspector_ids, study.repeats))),
        inspectors=[
            ProgressView(
                id=one,
                name=name,
                letter=letter_of(place) if me.may("official") or one == me.id else "",
                taken=sum(step.is_done for step in order if step.inspector_id == one),
                planned=planned,
            )
            for place, (one, name) in enumerate(names.items())
        ],
        order=order,
        taken=len(order) - len(open_steps),
        planned=len(order),
        missing_words=missing_words(
            [
                (name, [(step.part, step.repeat) for step in open_steps if step.inspector_id == one])
                for one, name in names.items()
            ]
        ),
        next=_next(open_steps, me.id, planned),
        own_readings=_own(session, study, me.id),
        is_mine=is_mine,
        result=result,
        problem=problem,
        adopted=adopted_study(session, study.instrument_id, study.id),
        happened=[happened_view(row) for row in audit.entries_about(session, [study.id]) if row.action != READ],
    )


def _next(open_steps: list[StepView], mine: UUID, planned: int) -> NextView | None:
    own = [step for step in open_steps if step.inspector_id == mine]
    if not own:
        return None
    earlier = [step.inspector for step in open_steps if step.repeat < own[0].repeat]
    return NextView(step=own[0], number=planned - len(own) + 1, of=planned, waiting_for=list(dict.fromkeys(earlier)))


def _own(session: Session, study: GaugeStudy, mine: UUID) -> list[OwnReadingView]:
    """The latest first; none once budgets rest on the study."""
    if was_adopted(session, study.id):
        return []
    own = [row for row in gauge.standing_readings(study).values() if row.inspector_id == mine]
    return [
        OwnReadingView(
            id=row.id,
            part_number=row.part,
            part=study.parts[row.part - 1],
            repeat=row.repeat,
            taken_at=row.taken_at,
        )
        for row in sorted(own, key=lambda row: (row.taken_at, row.repeat, row.part), reverse=True)
    ]
