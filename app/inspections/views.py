"""Rows of a sheet to what pages and the API show."""

from collections.abc import Mapping, Sequence
from typing import Any

from app.entries import service as entries
from app.entries.models import Entry
from app.inspections.assembly import checks_that_apply, missing_cylinders, standing_conditions, standing_readings
from app.inspections.gas_effects import gas_sentences
from app.inspections.models import Conditions, CylinderCheck, Inspection, Reading, Verdict
from app.inspections.schemas import (
    CheckView,
    ConditionsView,
    CylinderRow,
    InspectionView,
    InstrumentOnSheet,
    ReadingView,
    SuspicionOnSheet,
    VerdictView,
    WaitingEntry,
)
from app.inspections.wording import check_words, crank_words, set_aside_words
from app.metrology.inputs import TEMPERATURE_SOURCES
from app.metrology.screening import SETTLED_BY
from app.regulations import service as regulations


def inspection_view(
    inspection: Inspection, result: dict[str, Any] | None, problem: str, doubtful: list[str]
) -> InspectionView:
    standing = standing_conditions(inspection)
    rows = _rows(inspection)
    counting = {(row.cylinder, row.kind): row for row in checks_that_apply(inspection)}  # the latest of each
    checks = [_check_view(row, counts=counting.get((row.cylinder, row.kind)) is row) for row in inspection.checks]
    return InspectionView(
        id=inspection.id,
        entry=entries.entry_view(inspection.entry),
        rule=regulations.rule_view(inspection.rule),
        instrument=InstrumentOnSheet.model_validate(inspection.instrument),
        opened_by=inspection.opened_by.full_name,
        opened_at=inspection.opened_at,
        repeats_id=inspection.repeats_id,
        repeat_reason=inspection.repeat_reason,
        conditions=conditions_view(standing),
        earlier_conditions=[conditions_view(row) for row in inspection.conditions if row.id != standing.id],
        rows=rows,
        missing=missing_cylinders(inspection),
        set_aside_words=set_aside_words(sum(len(row.set_aside) for row in rows)),
        checks=checks,
        suspicions=_suspicions(result, checks) if result else [],
        gas=gas_sentences(float(result["decided"]["value"]), standing) if result else [],
        assessment=result,
        assessment_problem=problem,
        is_provisional=inspection.verdict is None,
        doubtful=doubtful,
        verdict=verdict_view(inspection.verdict) if inspection.verdict else None,
    )


def _rows(inspection: Inspection) -> list[CylinderRow]:
    standing = standing_readings(inspection)
    by_replaced = {row.replaces_id: row for row in inspection.readings if row.replaces_id}
    rows = []
    for number in range(1, inspection.entry.engine.cylinders + 1):
        earlier = [row for row in inspection.readings if row.cylinder == number and row.id in by_replaced]
        present = standing.get(number)
        rows.append(
            CylinderRow(
                cylinder=number,
                reading=_reading_view(present) if present else None,
                set_aside=[_reading_view(row) for row in earlier],
                set_aside_reasons=[by_replaced[row.id].reason for row in earlier],
            )
        )
    return rows


def _reading_view(row: Reading) -> ReadingView:
    return ReadingView(
        id=row.id,
        cylinder=row.cylinder,
        indications=row.indications,
        not_measured_reason=row.not_measured_reason,
        taken_by=row.taken_by.full_name,
        taken_at=row.taken_at,
        received_at=row.received_at,
        replaces_id=row.replaces_id,
        reason=row.reason,
    )


def _check_view(row: CylinderCheck, *, counts: bool) -> CheckView:
    return CheckView(
        id=row.id,
        cylinder=row.cylinder,
        check=row.kind,
        check_words=check_words(row.kind),
        leak_percent=row.leak_percent,
        pressure_kpa=row.pressure_kpa,
        note=row.note,
        made_by=row.made_by.full_name,
        made_at=row.made_at,
        counts=counts,
    )


def _suspicions(result: Mapping[str, Any], checks: Sequence[CheckView]) -> list[SuspicionOnSheet]:
    """In the core's words; results signed with an early core knew of no check that settles them."""
    made = {(view.cylinder, view.check): view for view in checks if view.counts}
    found = []
    for one in result["suspicions"]:
        cylinder, needs = int(one["cylinder"]), SETTLED_BY.get(one["kind"], "")
        found.append(
            SuspicionOnSheet(
                kind=one["kind"],
                cylinder=cylinder,
                seen=one["seen"],
                look_for=one["look_for"],
                do=one["do"],
                settled_by=one.get("settled_by", ""),
                needs=needs,
                check=made.get((cylinder, needs)),
            )
        )
    return found


def conditions_view(row: Conditions) -> ConditionsView:
    return ConditionsView(
        id=row.id,
        set_displacement_cm3=row.set_displacement_cm3,
        set_cylinders=row.set_cylinders,
        set_gas_temperature_c=row.set_gas_temperature_c,
        gas_temperature_c=row.gas_temperature_c,
        temperature_source=row.temperature_source,
        temperature_source_words=TEMPERATURE_SOURCES[row.temperature_source],
        airflow_l_min=row.airflow_l_min,
        ambient_temperature_c=row.ambient_temperature_c,
        pressure_kpa=row.pressure_kpa,
        humidity_percent=row.humidity_percent,
        crank_step_degrees=row.crank_step_degrees,
        rod_ratio=row.rod_ratio,
        crank_words=crank_words(row.crank_step_degrees, row.rod_ratio),
        taken_by=row.taken_by.full_name,
        taken_at=row.taken_at,
        reason=row.reason,
    )


def verdict_view(row: Verdict) -> VerdictView:
    return VerdictView(
        id=row.id,
        verdict=row.verdict,
        picture=row.picture,
        side=row.side,
        decided_by=row.decided_by.full_name,
        decided_at=row.decided_at,
        core_version=row.core_version,
        acknowledgement_kind=row.acknowledgement_kind,
        acknowledgement_name=row.acknowledgement_name,
        acknowledgement_path=row.acknowledgement_path,
        acknowledgement_note=row.acknowledgement_note,
        protest_until=row.protest_until,
    )


def waiting_entry(entry: Entry, inspection: Inspection | None) -> WaitingEntry:
    verdict = inspection.verdict if inspection else None
    return WaitingEntry(
        entry=entries.entry_view(entry),
        state="waiting" if inspection is None else "finished" if verdict else "open",
        inspection_id=inspection.id if inspection else None,
        verdict=verdict.verdict if verdict else "",
        picture=verdict.picture if verdict else "",
        rule_kind=verdict.side if verdict else "maximum",
        opened_by=inspection.opened_by.full_name if inspection else "",
        at=verdict.decided_at if verdict else inspection.opened_at if inspection else None,
    )
