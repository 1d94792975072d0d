"""Rows of the instrument book to the views that leave it."""

import json
from datetime import date, datetime
from decimal import Decimal
from typing import cast

from app.audit import LogEntry
from app.instruments.models import Calibration, Instrument, ReferenceVolume, Verification
from app.instruments.schemas import (
    ACCURACY_MEANINGS,
    STAGES,
    AccuracyMeaning,
    CalibrationView,
    HappenedView,
    InstrumentView,
    ReferenceVolumeView,
    Stage,
    VerificationView,
)
from app.instruments.wording import due, mark_text
from app.metrology.methods import METHODS

_DETAILS = ("name", "serial", "certificate", "event", "stage", "mean", "reason")


def calibration_view(row: Calibration) -> CalibrationView:
    return CalibrationView.model_validate(row)


def reference_volume_view(row: ReferenceVolume) -> ReferenceVolumeView:
    return ReferenceVolumeView(
        id=row.id,
        instrument_id=row.instrument_id,
        instrument_name=row.instrument.name,
        serial=row.serial,
        mark_low=row.mark_low,
        mark_high=row.mark_high,
        mark_text=mark_text(row.mark_low, row.mark_high),
        permitted_deviation=row.permitted_deviation,
        lowest_accepted=row.mark_low - row.permitted_deviation,
        highest_accepted=row.mark_high + row.permitted_deviation,
        mark_displacement_cm3=row.mark_displacement_cm3,
        mark_cylinders=row.mark_cylinders,
    )


def is_off_airflow(row: Verification) -> bool:
    away: Decimal = abs(row.airflow_l_min - row.instrument.airflow_set_point_l_min)
    return away > row.instrument.airflow_tolerance_l_min


def verification_view(row: Verification, in_doubt_since: datetime | None) -> VerificationView:
    stage = cast(Stage, row.stage)
    return VerificationView(
        id=row.id,
        event_id=row.event_id,
        event_name=row.event.name,
        instrument_id=row.instrument_id,
        instrument_name=row.instrument.name,
        reference_volume=reference_volume_view(row.reference_volume),
        stage=stage,
        stage_words=STAGES[stage],
        indications=row.indications,
        airflow_l_min=row.airflow_l_min,
        airflow_set_point_l_min=row.instrument.airflow_set_point_l_min,
        ambient_temperature_c=row.ambient_temperature_c,
        mean=row.mean,
        standard_deviation=row.standard_deviation,
        deviation=row.deviation,
        accepted=row.accepted,
        off_airflow=is_off_airflow(row),
        reason=row.reason,
        performed_by=row.performed_by.full_name,
        performed_at=row.performed_at,
        in_doubt_since=in_doubt_since,
    )


def instrument_view(
    row: Instrument, calibration: Calibration | None, last: VerificationView | None, today: date
) -> InstrumentView:
    state, words = due(calibration.due_on if calibration else None, today)
    meaning = cast(AccuracyMeaning, row.accuracy_meaning)
    return InstrumentView(
        id=row.id,
        name=row.name,
        serial=row.serial,
        method=row.method,
        method_words=METHODS[row.method].label,
        resolution=row.resolution,
        stated_accuracy=row.stated_accuracy,
        accuracy_meaning=meaning,
        accuracy_words=ACCURACY_MEANINGS[meaning],
        airflow_set_point_l_min=row.airflow_set_point_l_min,
        airflow_tolerance_l_min=row.airflow_tolerance_l_min,
        settable_cylinders=row.settable_cylinders,
        displacement_min_cm3=row.displacement_min_cm3,
        displacement_max_cm3=row.displacement_max_cm3,
        reference_volumes=[reference_volume_view(volume) for volume in row.reference_volumes],
        calibration=calibration_view(calibration) if calibration else None,
        due_state=state,
        due_words=words,
        last_verification=last,
    )


def happened_view(entry: LogEntry) -> HappenedView:
    body = json.loads(entry.entry)["body"]
    details = ", ".join(str(body[key]) for key in _DETAILS if key in body)
    what = entry.action[:1].upper() + entry.action[1:]
    return HappenedView(at=entry.at, who=entry.actor, what=f"{what}: {details}" if details else what)
