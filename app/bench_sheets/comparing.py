"""Signed bench sheets as results that others for the same engine are held against."""

import json
from collections.abc import Mapping
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session, contains_eager, joinedload

from app.bench_sheets.models import BenchSheet, BenchVerdict
from app.inspections.comparing import MeasuredFigure, MeasuredSheet
from app.metrology.measurement import DISPLACEMENT
from app.metrology.methods import METHODS

_WHOLE = "0"  # the frozen result's "cylinder" of a mean, or of the engine


def results_of_entry(session: Session, entry_id: UUID) -> list[MeasuredSheet]:
    """The signed bench sheets of this entry, oldest first."""
    signed = session.scalars(
        select(BenchVerdict)
        .join(BenchVerdict.sheet)
        .where(BenchSheet.entry_id == entry_id)
        .order_by(BenchVerdict.decided_at, BenchVerdict.id)
        .options(contains_eager(BenchVerdict.sheet), joinedload(BenchVerdict.decided_by))
    )
    return [_sheet(verdict) for verdict in signed]


def _sheet(verdict: BenchVerdict) -> MeasuredSheet:
    label = METHODS[verdict.sheet.method].label
    engine, result = json.loads(verdict.inputs)["engine"], json.loads(verdict.result)
    # the engine as it is declared is the same error in every result that rests on it
    same_error = {name: f"{name} declared as {engine[f'{name}_mm']} mm" for name in ("bore", "stroke")}
    rows = [*result["results"], *([result["decided"]] if result["decided"] not in result["results"] else [])]
    return MeasuredSheet(
        label=label[:1].upper() + label[1:],
        measured_with=f"on the bench, signed by {verdict.decided_by.full_name}",
        address=f"/bench-sheets/{verdict.sheet_id}",
        at=verdict.decided_at,
        figures=tuple(_figure(row, result["quantity"], same_error) for row in rows),
    )


def _figure(row: Mapping[str, Any], quantity: str, same_error: Mapping[str, str]) -> MeasuredFigure:
    whole = "The engine" if quantity == DISPLACEMENT else "Mean of the cylinders"
    return MeasuredFigure(
        label=whole if row["cylinder"] == _WHOLE else f"Cylinder {row['cylinder']}",
        value=float(row["value"]),
        expanded_uncertainty=float(row["expanded_uncertainty"]),
        coverage_factor=float(row["coverage_factor"]),
        quantity=quantity,
        contributions={
            same_error[part["name"]]: float(part["sensitivity"]) * float(part["standard_uncertainty"])
            for part in row["budget"]["components"]
            if part["name"] in same_error
        },
    )
