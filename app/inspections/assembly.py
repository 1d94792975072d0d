"""From the rows of a sheet to the core's inputs: the one place where the two meet."""

from dataclasses import replace
from datetime import datetime
from uuid import UUID

from app.inspections.known import Known
from app.inspections.models import Conditions, CylinderCheck, Inspection, Reading
from app.instruments import in_the_core
from app.instruments.models import Calibration, Instrument
from app.metrology import assessment as core
from app.metrology.temperature import STANDARD_UNCERTAINTY_K
from app.regulations.ruled import core_rule

ASSUMED_ROD_RATIO = 1.75  # rod length over stroke where nobody knows it: the middle of what engines have


def standing_conditions(inspection: Inspection) -> Conditions:
    """Those that no later row replaces."""
    replaced = {row.replaces_id for row in inspection.conditions}
    return next(row for row in reversed(inspection.conditions) if row.id not in replaced)


def standing_readings(inspection: Inspection) -> dict[int, Reading]:
    """One reading a cylinder: the one no later reading replaces."""
    replaced = {row.replaces_id for row in inspection.readings}
    return {row.cylinder: row for row in inspection.readings if row.id not in replaced}


def missing_cylinders(inspection: Inspection) -> list[int]:
    """Cylinders with neither a reading nor a reason why there is none."""
    standing = standing_readings(inspection)
    return [number for number in range(1, inspection.entry.engine.cylinders + 1) if number not in standing]


def measured_between(inspection: Inspection) -> tuple[datetime, datetime]:
    """When the first and the last reading that stands was taken, by the tablet's clock; the opening without any.

    A tablet's clock may be fast or slow: no reading was taken after the logbook had it, nor before its sheet was open.
    """
    standing, opened_at = standing_readings(inspection).values(), inspection.opened_at
    taken = [max(min(row.taken_at, row.received_at), opened_at) for row in standing] or [opened_at]
    return min(taken), max(taken)


def calibration_of(inspection: Inspection) -> Calibration | None:
    """The one in force when the sheet was opened; a certificate withdrawn before the sheet is signed does not count."""
    return inspection.instrument.calibration_on(inspection.opened_at.date())


def calibrations_behind(inspection: Inspection) -> set[UUID]:
    """The one that counts now, and the one in force when the sheet was opened: that may be withdrawn since."""
    opened_at = inspection.opened_at
    then = [
        row
        for row in inspection.instrument.calibrations
        if row.calibrated_on <= opened_at.date()
        and row.created_at <= opened_at
        and (row.withdrawal is None or row.withdrawal.withdrawn_at >= opened_at)
    ]
    in_force_then = max(then, key=lambda row: (row.calibrated_on, row.created_at), default=None)
    return {row.id for row in (calibration_of(inspection), in_force_then) if row is not None}


def checks_that_apply(inspection: Inspection) -> list[CylinderCheck]:
    """In the order noted. A refitted adapter speaks for the reading taken after it, not for a later one."""
    standing = standing_readings(inspection)
    return [
        row
        for row in inspection.checks
        if row.kind != "refitted" or (row.cylinder in standing and standing[row.cylinder].id == row.reading_id)
    ]


def assemble(inspection: Inspection, known: Known) -> core.AssessmentInputs:
    engine, instrument, rule = inspection.entry.engine, inspection.instrument, inspection.rule
    conditions = standing_conditions(inspection)
    observations = core.AcousticObservations(
        instrument=core_instrument(instrument, calibration_of(inspection), known),
        settings=core.Settings(
            float(conditions.set_displacement_cm3), conditions.set_cylinders, float(conditions.set_gas_temperature_c)
        ),
        conditions=core.Conditions(
            float(conditions.gas_temperature_c),
            STANDARD_UNCERTAINTY_K[conditions.temperature_source],
            conditions.temperature_source,
            float(conditions.crank_step_degrees),
            ASSUMED_ROD_RATIO if conditions.rod_ratio is None else float(conditions.rod_ratio),
        ),
        readings=tuple(
            core.CylinderReading(number, tuple(reading.indications), reading.not_measured_reason)
            for number, reading in sorted(standing_readings(inspection).items())
        ),
        repeatability=known.repeatability,
        checks=tuple(
            core.CylinderCheck(row.cylinder, row.kind, None if row.leak_percent is None else float(row.leak_percent))
            for row in checks_that_apply(inspection)
        ),
        reproducibility=known.reproducibility,
    )
    return core.AssessmentInputs(
        method=instrument.method,
        engine=core.Engine(float(engine.bore_mm), float(engine.stroke_mm), engine.cylinders),
        observations=observations,
        rule=core_rule(rule),
    )


def core_instrument(row: Instrument, calibration: Calibration | None, known: Known) -> core.Instrument:
    """As the instrument book hands it over, with what is known of its airflow."""
    return replace(
        in_the_core.core_instrument(row, calibration),
        airflow_tolerance_l_min=float(row.airflow_tolerance_l_min),
        airflow_sensitivity=known.airflow_sensitivity,
        airflow_sensitivity_standard_uncertainty=known.airflow_sensitivity_u,
    )
