"""The gauge study: planned, read one indication at a time, corrected by further readings. Nothing is changed."""

import secrets
from collections.abc import Sequence
from decimal import Decimal
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from app import audit
from app.database import now
from app.errors import Conflict, Invalid, NotFound, Refused
from app.instruments import ledger
from app.instruments import service as instruments
from app.intake import plain_json
from app.metrology.errors import MeasurementError
from app.metrology.studies.design import Plan, Step, run_order
from app.officials.models import Person
from app.officials.service import CurrentPerson
from app.regulations import service as regulations
from app.studies.adopting import was_adopted
from app.studies.models import GaugeStudy, StudyReading
from app.studies.schemas import (
    ChoiceView,
    GaugeStudyIn,
    StudyReadingIn,
    StudyReadingsIn,
    StudyStartView,
)
from app.studies.wording import OWN_TOLERANCE, class_words

Place = tuple[UUID, int, int]  # inspector, part from 1, repeat from 1


def study_of(session: Session, study_id: UUID, *, lock: bool = False) -> GaugeStudy:
    """Whoever adds a reading locks the study first: two tablets cannot fill one place twice."""
    study = session.get(
        GaugeStudy,
        study_id,
        options=[
            selectinload(GaugeStudy.readings),
            joinedload(GaugeStudy.instrument),
            joinedload(GaugeStudy.planned_by),
        ],
        with_for_update={"of": GaugeStudy} if lock else None,
        populate_existing=lock,
    )
    if study is None:
        raise NotFound("gauge study")
    return study


# ---- planning ---------------------------------------------------------------------------------------------------


def start_view(session: Session, instrument_id: UUID) -> StudyStartView:
    instrument = ledger.view_of(session, instruments.instrument_of(session, instrument_id))
    today = now(session).date()
    classes = [
        ChoiceView(id=one.id, label=f"{one.code}, {one.name}: ±{rule.tolerance.normalize():f}")
        for one in regulations.classes(session)
        if (rule := regulations.rule_in_force(session, one.id, today)) is not None and rule.tolerance
    ]
    inspectors = [ChoiceView(id=one.id, label=one.full_name) for one in _inspectors(session)]
    return StudyStartView(instrument=instrument, inspectors=inspectors, classes=classes)


def _inspectors(session: Session) -> list[Person]:
    """Who may measure today."""
    today = now(session).date()
    everyone = session.scalars(select(Person).order_by(Person.full_name, Person.id))
    return [one for one in everyone if "inspector" in one.roles and (one.ends_on is None or one.ends_on >= today)]


def plan_study(session: Session, me: CurrentPerson, study_id: UUID, data: GaugeStudyIn) -> GaugeStudy:
    kept = session.get(GaugeStudy, study_id)
    if kept is not None:
        audit.same_or_conflict(kept.digest, data)
        return study_of(session, study_id)
    instrument = instruments.instrument_of(session, data.instrument_id)
    errors: dict[str, str] = {}
    may_measure = {one.id for one in _inspectors(session)}
    if not may_measure.issuperset(data.inspector_ids):
        errors["inspector_ids"] = "One of these is not an inspector today. Choose among those listed."
    try:
        plan_of(data.parts, data.inspector_ids, data.repeats)
    except MeasurementError as error:
        field = {"inspectors": "inspector_ids"}.get(error.field, error.field)
        errors.setdefault(field, error.sentence)
    tolerance, held_against = _held_against(session, data, errors)
    if errors:
        raise Invalid(errors)
    study = GaugeStudy(
        id=study_id,
        instrument=instrument,
        title=data.title,
        parts=data.parts,
        inspector_ids=[str(one) for one in data.inspector_ids],
        repeats=data.repeats,
        seed=secrets.token_hex(16),
        tolerance=tolerance,
        note=held_against,
        planned_by_id=me.id,
        planned_at=now(session),
        digest=audit.digest_of(data),
    )
    session.add(study)
    about = {"title": study.title, "instrument": instrument.serial, "seed": study.seed, "held against": held_against}
    audit.record(
        session,
        me.full_name,
        "gauge study planned",
        study_id,
        {**about, "asked": plain_json(data.model_dump(mode="json"))},
    )
    session.flush()
    return study_of(session, study_id)


def _held_against(session: Session, data: GaugeStudyIn, errors: dict[str, str]) -> tuple[Decimal | None, str]:
    """The tolerance in ratio, on either side, and whose it is."""
    if data.class_id is None:
        return data.tolerance, OWN_TOLERANCE if data.tolerance is not None else ""
    if data.tolerance is not None:
        errors["tolerance"] = "Choose a class or write a tolerance, not both: the study is held against one of them."
        return None, ""
    rule = regulations.rule_in_force(session, data.class_id, now(session).date())
    if rule is None or not rule.tolerance:
        errors["class_id"] = (
            "This class grants no tolerance on the ratio today, so there is nothing to hold the study against. "
            "Choose another, or write a tolerance."
        )
        return None, ""
    return rule.tolerance, class_words(rule.edition.race_class.code, rule.clause, rule.edition.number)


def plan_of(parts: Sequence[str], inspector_ids: Sequence[UUID | str], repeats: int) -> Plan:
    """Inspectors go by their ids: two of them may have one name."""
    return Plan(tuple(parts), tuple(str(one) for one in inspector_ids), repeats)


def order_of(study: GaugeStudy) -> tuple[Step, ...]:
    return run_order(plan_of(study.parts, study.inspector_ids, study.repeats), study.seed)


# ---- reading ----------------------------------------------------------------------------------------------------


def standing_readings(study: GaugeStudy) -> dict[Place, StudyReading]:
    """One in each place: the one no later reading replaces."""
    replaced = {row.replaces_id for row in study.readings}
    return {(row.inspector_id, row.part, row.repeat): row for row in study.readings if row.id not in replaced}


def is_complete(study: GaugeStudy) -> bool:
    return len(standing_readings(study)) == len(study.parts) * len(study.inspector_ids) * study.repeats


def enter_readings(session: Session, me: CurrentPerson, study_id: UUID, data: StudyReadingsIn) -> GaugeStudy:
    """All or none: the errors of every reading come together, each under its place."""
    study = study_of(session, study_id, lock=True)
    errors: dict[str, str] = {}
    for place, one in enumerate(data.readings):
        try:
            enter_reading(session, me, study, one.id, StudyReadingIn(**one.model_dump(exclude={"id"})))
        except Invalid as invalid:
            errors |= {f"readings.{place}.{field}": sentence for field, sentence in invalid.errors.items()}
    if errors:
        raise Invalid(errors)
    return study


def enter_reading(
    session: Session, me: CurrentPerson, study: GaugeStudy, reading_id: UUID, data: StudyReadingIn
) -> None:
    """`study` is locked. Everyone enters their own only."""
    kept = session.get(StudyReading, reading_id)
    if kept is not None:
        if kept.study_id != study.id or kept.inspector_id != me.id:
            raise Conflict
        audit.same_or_conflict(kept.digest, data)
        return
    if str(me.id) not in study.inspector_ids:
        raise Refused("You are not one of the inspectors of this study. Only what they read themselves counts in it.")
    if was_adopted(session, study.id):
        raise Conflict("This study was adopted, and budgets rest on it: it stays as it is. Plan a new one.")
    _check_place(study, data)
    what = f"Part {data.part}, reading {data.repeat}"
    standing = standing_readings(study).get((me.id, data.part, data.repeat))
    if standing is not None and data.replaces_id != standing.id:
        raise Conflict(f"{what} is read already. Load the page again for the next one, or correct that one.")
    if standing is None and data.replaces_id is not None:
        raise Conflict(f"{what} has nothing to correct. Load the page again and look.")
    if standing is not None and not data.reason:
        raise Invalid({"reason": "Say why this reading is corrected; the earlier one stays in the record."})
    row = StudyReading(
        id=reading_id,
        study=study,
        part=data.part,
        inspector_id=me.id,
        repeat=data.repeat,
        indication=data.indication,
        taken_at=now(session),
        replaces_id=data.replaces_id,
        reason=data.reason,
        digest=audit.digest_of(data),
    )
    session.add(row)
    audit.record(
        session,
        me.full_name,
        "study reading entered" if standing is None else "study reading corrected",
        study.id,
        {
            "part": study.parts[data.part - 1],
            "reading": str(data.repeat),
            "because": data.reason,
            # a whole document is not told on pages: figures stay hidden while the study runs
            "asked": {"id": str(reading_id), **plain_json(data.model_dump(mode="json"))},
        },
    )


def _check_place(study: GaugeStudy, data: StudyReadingIn) -> None:
    errors: dict[str, str] = {}
    if data.part > len(study.parts):
        errors["part"] = f"The study has {len(study.parts)} parts; there is no part {data.part}."
    if data.repeat > study.repeats:
        errors["repeat"] = f"Each part is read {study.repeats} times; there is no reading {data.repeat}."
    if errors:
        raise Invalid(errors)
