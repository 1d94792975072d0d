"""Rows of a bench sheet to what pages and the API show."""

import json
from typing import Any

from app.bench_sheets.assembly import standing_observation
from app.bench_sheets.models import BenchObservation, BenchSheet, BenchVerdict
from app.bench_sheets.schemas import BenchLine, BenchObservationView, BenchSheetView, BenchVerdictView
from app.bench_sheets.wording import unit_words
from app.entries import service as entries
from app.metrology.methods import METHODS
from app.plots import pictured, reported
from app.regulations import service as regulations
from app.regulations.wording import tolerance_limit_words


def sheet_view(sheet: BenchSheet, result: dict[str, Any] | None, problem: str) -> BenchSheetView:
    standing = standing_observation(sheet)
    return BenchSheetView(
        id=sheet.id,
        entry=entries.entry_view(sheet.entry),
        rule=regulations.rule_view(sheet.rule),
        method=sheet.method,
        method_label=METHODS[sheet.method].label,
        present_for_series=sheet.present_for_series,
        present_for_competitor=sheet.present_for_competitor,
        reason=sheet.reason,
        opened_by=sheet.opened_by.full_name,
        opened_at=sheet.opened_at,
        observation=_observation_view(standing) if standing else None,
        earlier=[_observation_view(row) for row in sheet.observations if row is not standing],
        assessment=result,
        assessment_problem=problem,
        verdict=_verdict_view(sheet.verdict, result) if sheet.verdict else None,
    )


def _observation_view(row: BenchObservation) -> BenchObservationView:
    return BenchObservationView(
        id=row.id,
        units=row.units,
        typed=json.loads(row.typed),
        observations=json.loads(row.observations),
        taken_by=row.taken_by.full_name,
        taken_at=row.taken_at,
        replaces_id=row.replaces_id,
        reason=row.reason,
    )


def _verdict_view(row: BenchVerdict, result: dict[str, Any] | None) -> BenchVerdictView:
    return BenchVerdictView(
        id=row.id,
        verdict=row.verdict,
        picture=pictured(result),
        core_version=row.core_version,
        decided_by=row.decided_by.full_name,
        decided_at=row.decided_at,
        digest=row.digest,
    )


def line(sheet: BenchSheet) -> BenchLine:
    verdict, rule = sheet.verdict, sheet.rule
    result = json.loads(verdict.result) if verdict else None
    value, uncertainty = reported(result["decided"]) if result else ("", "")
    return BenchLine(
        id=sheet.id,
        car_number=sheet.entry.car_number,
        class_code=sheet.entry.race_class.code,
        event_name=sheet.entry.event.name,
        method_label=METHODS[sheet.method].label,
        opened_by=sheet.opened_by.full_name,
        opened_at=sheet.opened_at,
        decided_at=verdict.decided_at if verdict else None,
        verdict=verdict.verdict if verdict else "",
        picture=pictured(result) if result else "",
        rule_kind=result["side"] if result else "maximum",
        limit_text=f"{tolerance_limit_words(rule)} (rule {rule.clause}, edition {rule.edition.number})",
        deciding=result["deciding"] if result else "",
        value_text=value,
        uncertainty_text=uncertainty,
        unit=unit_words(result["unit"]) if result else "",
        digest=verdict.digest if verdict else "",
    )
