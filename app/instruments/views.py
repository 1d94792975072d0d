"""Rows of the instrument book to the views that leave it."""

from datetime import UTC, date
from decimal import Decimal
from typing import cast

from app.instruments.bearing_out import beyond_accuracy, counting_place, passing_too_wide
from app.instruments.ledger_schemas import CalibrationPointView
from app.instruments.ledger_views import condemnation_view, file_view, place_of, withdrawal_view
from app.instruments.models import Calibration, DoubtCause, Instrument, ReferenceVolume, Verification
from app.instruments.procedure import STEPS
from app.instruments.schemas import (
    ACCURACY_MEANINGS,
    STAGES,
    AccuracyMeaning,
    CalibrationView,
    HindranceView,
    InstrumentView,
    ReferenceVolumeView,
    Stage,
    VerificationView,
)
from app.instruments.wording import due, flow_study, headline, mark_text, off_set_point, read_between, what_to_do
from app.metrology.methods import METHODS
from app.metrology.verification import agreement_sentence


def calibration_view(row: Calibration) -> CalibrationView:
    counts = counting_place(row.points)
    return CalibrationView(
        id=row.id,
        laboratory=row.laboratory,
        certificate=row.certificate,
        calibrated_on=row.calibrated_on,
        due_on=row.due_on,
        deviation=row.deviation,
        expanded_uncertainty=row.expanded_uncertainty,
        coverage_factor=row.coverage_factor,
        points=[
            CalibrationPointView.model_validate({**point, "counts": place == counts})
            for place, point in enumerate(row.points)
        ],
        beyond_accuracy=beyond_accuracy(row.instrument, row),
        file=file_view(row.file),
        withdrawal=withdrawal_view(row.withdrawal),
    )


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
        mark_expanded_uncertainty=row.mark_expanded_uncertainty,
        mark_displacement_cm3=row.mark_displacement_cm3,
        mark_cylinders=row.mark_cylinders,
        passing_too_wide=passing_too_wide(row.instrument, row),
        condemnation=condemnation_view(row.condemnation),
    )


def is_off_airflow(row: Verification) -> bool:
    away: Decimal = abs(row.airflow_l_min - row.instrument.airflow_set_point_l_min)
    return away > row.instrument.airflow_tolerance_l_min


def verification_view(row: Verification, raised: DoubtCause | None) -> VerificationView:
    stage, instrument, volume = cast(Stage, row.stage), row.instrument, reference_volume_view(row.reference_volume)
    off = is_off_airflow(row)
    sentence = (
        off_set_point(row.airflow_l_min, instrument.airflow_set_point_l_min, instrument.airflow_tolerance_l_min)
        if off
        else read_between(volume.serial, row.mean, volume.lowest_accepted, volume.highest_accepted)
    )
    return VerificationView(
        id=row.id,
        event_id=row.event_id,
        event_name=row.event.name,
        instrument_id=row.instrument_id,
        instrument_name=instrument.name,
        reference_volume=volume,
        stage=stage,
        stage_words=STAGES[stage],
        indications=row.indications,
        airflow_l_min=row.airflow_l_min,
        airflow_set_point_l_min=instrument.airflow_set_point_l_min,
        ambient_temperature_c=row.ambient_temperature_c,
        set_gas_temperature_c=row.set_gas_temperature_c,
        steps=[words for key, (words, _) in STEPS.items() if key in row.steps_confirmed],
        mean=row.mean,
        standard_deviation=row.standard_deviation,
        deviation=row.deviation,
        e_n=row.e_n,
        e_n_sentence="" if row.e_n is None else agreement_sentence(float(row.e_n), row.accepted),
        accepted=row.accepted,
        off_airflow=off,
        reason=row.reason,
        headline=headline(instrument.name, stage, accepted=row.accepted, off_airflow=off),
        sentence=sentence,
        what_to_do=what_to_do(
            stage,
            row.performed_at.astimezone(UTC).date(),
            accepted=row.accepted,
            off_airflow=off,
            was_in_order=raised is not None and raised.since is not None,
        ),
        performed_by=row.performed_by.full_name,
        performed_at=row.performed_at,
        raises_doubt=raised is not None,
        in_doubt_since=raised.since if raised else None,
    )


def instrument_view(
    row: Instrument,
    calibration: Calibration | None,
    hindrance: HindranceView | None,
    last: VerificationView | None,
    today: date,
) -> InstrumentView:
    state, words = due(calibration.due_on if calibration else None, today)
    meaning, label = cast(AccuracyMeaning, row.accuracy_meaning), METHODS[row.method].label
    return InstrumentView(
        id=row.id,
        name=row.name,
        serial=row.serial,
        method=row.method,
        method_words=label[:1].upper() + label[1:],
        resolution=row.resolution,
        stated_accuracy=row.stated_accuracy,
        accuracy_meaning=meaning,
        accuracy_words=ACCURACY_MEANINGS[meaning],
        airflow_set_point_l_min=row.airflow_set_point_l_min,
        airflow_tolerance_l_min=row.airflow_tolerance_l_min,
        airflow_sensitivity=row.airflow_sensitivity,
        airflow_sensitivity_words=flow_study(row.airflow_sensitivity),
        settable_cylinders=row.settable_cylinders,
        displacement_min_cm3=row.displacement_min_cm3,
        displacement_max_cm3=row.displacement_max_cm3,
        reference_volumes=[reference_volume_view(volume) for volume in row.reference_volumes],
        calibration=calibration_view(calibration) if calibration else None,
        due_state=state,
        due_words=words,
        place=place_of(row),
        hindrance=hindrance,
        last_verification=last,
    )
