"""The work sheet: opened, filled, closed. Whatever was accepted is added to, never changed."""

import json
from typing import Any
from uuid import UUID

import rfc8785
from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from app import audit
from app.database import now
from app.entries import service as entries
from app.entries.models import Entry
from app.errors import Conflict, Invalid, NotFound, Refused
from app.inspections import views
from app.inspections.assembly import assemble, calibration_of, measured_between, missing_cylinders, standing_conditions
from app.inspections.doubtful import doubtful_if_signed
from app.inspections.known import known_of
from app.inspections.models import Conditions, Inspection, Verdict
from app.inspections.rule_today import rule_today
from app.inspections.schemas import (
    AcknowledgementIn,
    ConditionsIn,
    CorrectedConditionsIn,
    InspectionIn,
    InspectionView,
    WaitingList,
)
from app.instruments import service as instruments
from app.instruments.models import Instrument
from app.instruments.standing import hindrance_of, may_be_used, why_not_under
from app.intake import show
from app.metrology.assessment import (
    Assessment,
    AssessmentInputs,
    MeasurementError,
    assess,
    assessment_to_data,
    inputs_to_data,
)
from app.officials.service import CurrentPerson
from app.regulations import service as regulations
from app.regulations.models import Edition
from app.studies.flow import not_verified_since


def inspection_of(session: Session, inspection_id: UUID, *, lock: bool = False) -> Inspection:
    """Whoever adds to a sheet locks it first: nothing may slip in beside a signature."""
    inspection = session.get(
        Inspection,
        inspection_id,
        options=[
            selectinload(Inspection.readings),
            selectinload(Inspection.conditions),
            selectinload(Inspection.checks),
        ],
        with_for_update=True if lock else None,
    )
    if inspection is None:
        raise NotFound("work sheet")
    return inspection


def must_be_open(inspection: Inspection) -> None:
    if inspection.verdict is not None:
        raise Conflict("This sheet is signed and stays as it is. Measure again opens a second one; both stay.")


# ---- opening -----------------------------------------------------------------------------------------------------


def open_inspection(session: Session, me: CurrentPerson, inspection_id: UUID, data: InspectionIn) -> Inspection:
    kept = session.get(Inspection, inspection_id)
    if kept is not None:
        audit.same_or_conflict(kept.digest, data)
        return kept
    entry = entries.entry_of(session, data.entry_id)
    instrument = instruments.instrument_of(session, data.instrument_id)
    rule = rule_today(session, entry)
    _must_be_usable(session, entry, instrument, rule.edition)
    _check_conditions(data, instrument, me.units)
    repeated = inspection_of(session, data.repeats_id) if data.repeats_id else None
    if repeated is not None and (repeated.entry_id != entry.id or repeated.verdict is None):
        raise Invalid({"repeats_id": "Only a signed sheet of the same entry can be measured again."})
    if repeated is not None and not data.repeat_reason:
        raise Invalid({"repeat_reason": "Say why this is measured again."})
    inspection = Inspection(
        id=inspection_id,
        entry=entry,
        rule=rule,
        instrument=instrument,
        opened_by_id=me.id,
        opened_at=now(session),
        cautions_confirmed=data.cautions_confirmed,
        repeats_id=data.repeats_id,
        repeat_reason=data.repeat_reason,
        digest=audit.digest_of(data),
    )
    session.add(inspection)
    _add_conditions(session, me, inspection, data.conditions_id, data, audit.digest_of(data))
    audit.record(
        session,
        me.full_name,
        "work sheet opened",
        inspection_id,
        {
            "car": entry.car_number,
            "engine": entry.engine.serial,
            "instrument": instrument.serial,
            "rule": str(rule.id),
            "cautions confirmed": data.cautions_confirmed,
            "measured again because": data.repeat_reason,
            "asked": data.model_dump(mode="json"),
        },
    )
    return inspection


def _must_be_usable(session: Session, entry: Entry, instrument: Instrument, edition: Edition) -> None:
    """Open at this event, its airflow not moved since, and nothing that the entry's own edition does not allow."""
    hindrance = hindrance_of(session, instrument, now(session).date())
    if hindrance is not None and not may_be_used(hindrance, edition.overdue_days_allowed):
        raise Invalid({"instrument_id": why_not_under(hindrance, edition)})
    if instrument.id not in {view.id for view in instruments.open_instruments(session, entry.event_id)}:
        raise Invalid(
            {
                "instrument_id": f"{instrument.name} is not open at this event. "
                "Verify it on its reference volume first, or choose another instrument."
            }
        )
    moved = not_verified_since(session).get(instrument.id)
    if moved is not None:
        raise Invalid({"instrument_id": moved})


def _check_conditions(data: ConditionsIn, instrument: Instrument, units: str) -> None:
    errors: dict[str, str] = {}
    if data.set_cylinders not in instrument.settable_cylinders:
        can = ", ".join(str(number) for number in instrument.settable_cylinders)
        errors["set_cylinders"] = (
            f"{instrument.name} cannot be set to {data.set_cylinders} cylinders; it takes {can}. "
            "The settings finder gives the displacement to dial with one of these."
        )
    if not instrument.displacement_min_cm3 <= data.set_displacement <= instrument.displacement_max_cm3:
        dialled, low, high = (
            show(volume, "volume", units)
            for volume in (data.set_displacement, instrument.displacement_min_cm3, instrument.displacement_max_cm3)
        )
        errors["set_displacement"] = f"{instrument.name} cannot be set to {dialled}; it takes {low} to {high}."
    off = abs(data.airflow - instrument.airflow_set_point_l_min)
    if off > instrument.airflow_tolerance_l_min:
        point, allowed = (
            show(number, "flow", units)
            for number in (instrument.airflow_set_point_l_min, instrument.airflow_tolerance_l_min)
        )
        errors["airflow"] = (
            f"The airflow is {show(data.airflow, 'flow', units)}; {instrument.name} reads true only at {point} "
            f"± {allowed}. Set the flow there and read again."
        )
    if errors:
        raise Invalid(errors)


def _add_conditions(
    session: Session,
    me: CurrentPerson,
    inspection: Inspection,
    conditions_id: UUID,
    data: ConditionsIn,
    digest: str,
    replaces_id: UUID | None = None,
    reason: str = "",
) -> Conditions:
    conditions = Conditions(
        id=conditions_id,
        inspection=inspection,
        set_displacement_cm3=data.set_displacement,
        set_cylinders=data.set_cylinders,
        set_gas_temperature_c=data.set_gas_temperature,
        gas_temperature_c=data.gas_temperature,
        temperature_source=data.temperature_source,
        airflow_l_min=data.airflow,
        ambient_temperature_c=data.ambient_temperature,
        pressure_kpa=data.pressure,
        humidity_percent=data.humidity,
        crank_step_degrees=data.crank_step,
        rod_ratio=data.rod_ratio,
        taken_by_id=me.id,
        taken_at=now(session),
        replaces_id=replaces_id,
        reason=reason,
        digest=digest,
    )
    session.add(conditions)
    return conditions


def correct_conditions(
    session: Session, me: CurrentPerson, inspection_id: UUID, conditions_id: UUID, data: CorrectedConditionsIn
) -> Inspection:
    inspection = inspection_of(session, inspection_id, lock=True)
    kept = session.get(Conditions, conditions_id)
    if kept is not None:
        audit.same_or_conflict(kept.digest, data)
        return inspection
    must_be_open(inspection)
    if data.replaces_id != standing_conditions(inspection).id:
        raise Conflict("Somebody corrected the conditions a moment ago. Load the sheet again and look.")
    _check_conditions(data, inspection.instrument, me.units)
    _add_conditions(session, me, inspection, conditions_id, data, audit.digest_of(data), data.replaces_id, data.reason)
    audit.record(session, me.full_name, "conditions corrected", inspection_id, {"asked": data.model_dump(mode="json")})
    return inspection


# ---- judging and closing -----------------------------------------------------------------------------------------


def judge(session: Session, inspection: Inspection) -> Assessment:
    """The core's view of the sheet as it stands now."""
    return assess(inputs_of(session, inspection))


def inputs_of(session: Session, inspection: Inspection) -> AssessmentInputs:
    """What a verdict on the sheet as it stands now would be frozen from."""
    return assemble(inspection, known_of(session, inspection.instrument))


def close_inspection(
    session: Session, me: CurrentPerson, inspection_id: UUID, verdict_id: UUID, data: AcknowledgementIn
) -> Verdict:
    """Freezes inputs, result and core version. From here on the sheet is evidence."""
    inspection = inspection_of(session, inspection_id, lock=True)
    if inspection.verdict is not None:
        if inspection.verdict.id != verdict_id:
            raise Conflict("This sheet is already signed. Open its slip, or measure again on a second sheet.")
        audit.same_or_conflict(inspection.verdict.digest, data)
        return inspection.verdict
    missing = missing_cylinders(inspection)
    if missing:
        which = ", ".join(str(number) for number in missing)
        raise Refused(f"These cylinders have no reading yet: {which}. Enter them, or say why they were not measured.")
    _check_acknowledgement(data)
    inputs = inputs_of(session, inspection)
    try:
        assessment = assess(inputs)
    except MeasurementError as error:
        raise Refused(error.sentence) from error
    measured_from, measured_until = measured_between(inspection)
    calibration = calibration_of(inspection)
    verdict = Verdict(
        id=verdict_id,
        inspection=inspection,
        instrument_id=inspection.instrument_id,
        calibration_id=calibration.id if calibration else None,
        measured_from=measured_from,
        measured_until=measured_until,
        verdict=assessment.verdict,
        inputs=rfc8785.dumps(inputs_to_data(inputs)).decode(),
        result=rfc8785.dumps(assessment_to_data(assessment)).decode(),
        core_version=assessment.core_version,
        decided_by_id=me.id,
        decided_at=now(session),
        acknowledgement_kind=data.acknowledgement_kind,
        acknowledgement_name=data.acknowledgement_name,
        acknowledgement_path=data.acknowledgement_path,
        acknowledgement_note=data.acknowledgement_note,
        digest=audit.digest_of(data),
    )
    session.add(verdict)
    audit.record(
        session,
        me.full_name,
        "verdict signed",
        inspection_id,
        {
            "verdict": verdict.verdict,
            "inputs": json.loads(verdict.inputs),
            "result": json.loads(verdict.result),
            "acknowledgement": data.model_dump(mode="json"),
        },
    )
    return verdict


def _check_acknowledgement(data: AcknowledgementIn) -> None:
    kind = data.acknowledgement_kind
    if kind == "typed" and not data.acknowledgement_name:
        raise Invalid({"acknowledgement_name": "Type the full name of whoever has seen the result."})
    if kind == "drawn" and len(data.acknowledgement_path) < 20:
        raise Invalid(
            {"acknowledgement_path": "The box is empty. Draw in it, type the full name, or choose Refuses to sign."}
        )
    if kind == "refused" and not data.acknowledgement_note:
        raise Invalid({"acknowledgement_note": "Write the reason given, and who saw it."})


# ---- looking -----------------------------------------------------------------------------------------------------


def inspection_view(session: Session, inspection_id: UUID) -> InspectionView:
    inspection = inspection_of(session, inspection_id)
    result: dict[str, Any] | None = None
    problem = ""
    if inspection.verdict is not None:
        result = json.loads(inspection.verdict.result)
    else:
        try:
            result = assessment_to_data(judge(session, inspection))
        except MeasurementError as error:
            problem = error.sentence
    return views.inspection_view(inspection, result, problem, doubtful_if_signed(session, inspection))


def waiting_list(session: Session, event_id: UUID) -> WaitingList:
    event = regulations.event_of(session, event_id)
    latest: dict[UUID, Inspection] = {}
    rows = session.scalars(
        select(Inspection)
        .join(Inspection.entry)
        .where(Entry.event_id == event_id)
        .order_by(Inspection.opened_at, Inspection.id)
        .options(selectinload(Inspection.verdict), selectinload(Inspection.opened_by), selectinload(Inspection.rule))
    )
    for row in rows:
        latest[row.entry_id] = row
    return WaitingList(
        event_id=event.id,
        event_name=event.name,
        venue=event.venue,
        open_instruments=[view.name for view in instruments.open_instruments(session, event_id)],
        entries=[
            views.waiting_entry(entry, latest.get(entry.id)) for entry in entries.entries_of_event(session, event_id)
        ],
    )
