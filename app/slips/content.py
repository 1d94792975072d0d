"""What a slip says: the record in its one form, put together from the rows of a signed sheet."""

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.inspections.assembly import standing_conditions, standing_readings
from app.inspections.models import Inspection, Verdict
from app.instruments import service as instruments
from app.instruments.models import Instrument, Verification
from app.metrology.temperature import STANDARD_UNCERTAINTY_K
from app.officials.models import SigningKey
from app.slips.models import Slip
from app.slips.opinion import opinion_on
from app.slips.record import FORMAT, slip_code

SOFTWARE = "shedbook 0.1.0"


def slip_number(number: int) -> str:
    return f"SL-{number:06d}"


def compose(
    session: Session,
    verdict: Verdict,
    slip_id: UUID,
    number: int,
    key: SigningKey,
    issued_at: datetime,
    public_url: str,
) -> dict[str, Any]:
    inspection = verdict.inspection
    entry, engine, rule = inspection.entry, inspection.entry.engine, inspection.rule
    code = slip_code(slip_id)
    measured = [row.taken_at for row in standing_readings(inspection).values()]
    return {
        "format": FORMAT,
        "slip": {
            "number": slip_number(number),
            "code": code,
            "issued_at": moment(issued_at),
            "software": SOFTWARE,
            "core_version": verdict.core_version,
            "verify_url": f"{public_url.rstrip('/')}/verify/{code}",
        },
        "series": {"name": entry.event.series.name},
        "event": {
            "name": entry.event.name,
            "venue": entry.event.venue,
            "starts_on": entry.event.starts_on.isoformat(),
        },
        "inspector": {
            "name": verdict.decided_by.full_name,
            "certificate_serial": key.certificate_serial,
            "role": "inspector",
        },
        "competitor": {"name": entry.competitor.name, "licence": entry.competitor.licence},
        "entry": {
            "car_number": entry.car_number,
            "class_code": entry.race_class.code,
            "class_name": entry.race_class.name,
        },
        "engine": {
            "serial": engine.serial,
            "bore_mm": text(engine.bore_mm),
            "stroke_mm": text(engine.stroke_mm),
            "cylinders": str(engine.cylinders),
            "declared_displacement_cm3": text(engine.declared_displacement_cm3),
            "seals": list(engine.seals),
        },
        "rule": {
            "clause": rule.clause,
            "edition": str(rule.edition.number),
            "in_force_from": rule.edition.in_force_from.isoformat(),
            "text": rule.text,
            "kind": rule.kind,
            "quantity": rule.quantity,
            "limit": text(rule.limit),
            "tolerance": text(rule.tolerance),
            "applies_to": rule.applies_to,
            "decision_rule": rule.decision_rule,
            "confidence": text(rule.confidence),
            "inconclusive_action": rule.inconclusive_action,
            "lower_limit": text(rule.lower_limit),
            "designated_cylinder": "" if rule.designated_cylinder is None else str(rule.designated_cylinder),
            "tolerance_covers_uncertainty": rule.tolerance_covers_uncertainty,
            "overdue_days_allowed": str(rule.edition.overdue_days_allowed),
        },
        "instrument": _instrument(session, inspection),
        "settings": _settings(inspection),
        "conditions": _conditions(inspection),
        "earlier": _earlier(session, inspection),
        "measured_at": moment(max(measured)),
        "decided_at": moment(verdict.decided_at),
        "readings": _readings(inspection),
        "inputs": json.loads(verdict.inputs),
        "result": json.loads(verdict.result),
        "second_opinion": opinion_on(verdict.inputs),
        "acknowledgement": {
            "kind": verdict.acknowledgement_kind,
            "name": verdict.acknowledgement_name,
            "path": verdict.acknowledgement_path,
            "note": verdict.acknowledgement_note,
        },
        "protest_until": moment(verdict.protest_until),
    }


def _instrument(session: Session, inspection: Inspection) -> dict[str, Any]:
    instrument: Instrument = inspection.instrument
    calibration = instruments.calibration_in_force(session, instrument.id, inspection.opened_at.date())
    verification = instruments.latest_verification(session, instrument.id, inspection.entry.event_id)
    return {
        "name": instrument.name,
        "serial": instrument.serial,
        "method": instrument.method,
        "resolution": text(instrument.resolution),
        "stated_accuracy": text(instrument.stated_accuracy),
        "accuracy_meaning": instrument.accuracy_meaning,
        "airflow_set_point_l_min": text(instrument.airflow_set_point_l_min),
        "airflow_tolerance_l_min": text(instrument.airflow_tolerance_l_min),
        "calibration": None
        if calibration is None
        else {
            "laboratory": calibration.laboratory,
            "certificate": calibration.certificate,
            "calibrated_on": calibration.calibrated_on.isoformat(),
            "due_on": calibration.due_on.isoformat(),
            "overdue_days": str(max(0, (inspection.opened_at.date() - calibration.due_on).days)),
            "deviation": text(calibration.deviation),
            "expanded_uncertainty": text(calibration.expanded_uncertainty),
            "coverage_factor": text(calibration.coverage_factor),
        },
        "verification": None if verification is None else _verification(verification),
    }


def _verification(row: Verification) -> dict[str, Any]:
    return {
        "stage": row.stage,
        "at": moment(row.performed_at),
        "reference_volume": row.reference_volume.serial,
        "mark_low": text(row.reference_volume.mark_low),
        "mark_high": text(row.reference_volume.mark_high),
        "mean": text(row.mean.normalize()),
        "deviation": text(row.deviation.normalize()),
        "accepted": row.accepted,
        "inspector": row.performed_by.full_name,
    }


def _settings(inspection: Inspection) -> Mapping[str, str]:
    row = standing_conditions(inspection)
    return {
        "displacement_cm3": text(row.set_displacement_cm3),
        "cylinders": str(row.set_cylinders),
        "gas_temperature_c": text(row.set_gas_temperature_c),
    }


def _conditions(inspection: Inspection) -> Mapping[str, Any]:
    row = standing_conditions(inspection)
    return {
        "gas_temperature_c": text(row.gas_temperature_c),
        "gas_temperature_standard_uncertainty_k": repr(STANDARD_UNCERTAINTY_K[row.temperature_source]),
        "temperature_source": row.temperature_source,
        "airflow_l_min": text(row.airflow_l_min),
        "ambient_temperature_c": text(row.ambient_temperature_c),
        "pressure_kpa": text(row.pressure_kpa),
        "humidity_percent": text(row.humidity_percent),
        "set_aside": _conditions_set_aside(inspection),
    }


def _conditions_set_aside(inspection: Inspection) -> list[dict[str, str]]:
    """What was noted first and corrected since, with the reason: it moves every figure of the slip."""
    replaced_by = {row.replaces_id: row for row in inspection.conditions if row.replaces_id}
    return [
        {
            "set_displacement_cm3": text(row.set_displacement_cm3),
            "set_cylinders": str(row.set_cylinders),
            "set_gas_temperature_c": text(row.set_gas_temperature_c),
            "gas_temperature_c": text(row.gas_temperature_c),
            "temperature_source": row.temperature_source,
            "airflow_l_min": text(row.airflow_l_min),
            "reason": replaced_by[row.id].reason,
        }
        for row in inspection.conditions
        if row.id in replaced_by
    ]


def _earlier(session: Session, inspection: Inspection) -> dict[str, str] | None:
    """The signed sheet that this one measures again: both stand, and each slip is read beside the other."""
    if inspection.repeats_id is None:
        return None
    verdict = session.scalars(select(Verdict).where(Verdict.inspection_id == inspection.repeats_id)).one()
    number = session.scalar(select(Slip.number).where(Slip.verdict_id == verdict.id))
    return {
        "slip": "without number" if number is None else slip_number(number),
        "verdict": verdict.verdict,
        "decided_at": moment(verdict.decided_at),
        "reason": inspection.repeat_reason,
    }


def _readings(inspection: Inspection) -> list[dict[str, Any]]:
    replaced_by = {row.replaces_id: row for row in inspection.readings if row.replaces_id}
    return [
        {
            "cylinder": str(number),
            "indications": list(row.indications),
            "taken_at": moment(row.taken_at),
            "not_measured_reason": row.not_measured_reason,
            "set_aside": [
                {"indications": list(earlier.indications), "reason": replaced_by[earlier.id].reason}
                for earlier in inspection.readings
                if earlier.cylinder == number and earlier.id in replaced_by
            ],
        }
        for number, row in sorted(standing_readings(inspection).items())
    ]


def moment(value: datetime) -> str:
    return value.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def text(value: Decimal | None) -> str:
    return "" if value is None else format(value, "f")
