"""Every two signed results for one engine at one entry, held against each other by E_n."""

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from itertools import combinations
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session, contains_eager, joinedload, selectinload

from app.inspections.assembly import standing_readings
from app.inspections.models import Inspection, Verdict
from app.intake import View
from app.metrology.agreement import Agreement, StatedResult, compare, covariance_of, shown
from app.metrology.errors import MeasurementError
from app.metrology.measurement import COMPRESSION_RATIO, QUANTITIES
from app.metrology.rounding import rounded

_MEAN = "0"  # the frozen result's "cylinder" of a mean
_ORDINALS = ("First", "Second", "Third", "Fourth", "Fifth", "Sixth")


@dataclass(frozen=True, slots=True)
class MeasuredFigure:
    """One figure of a signed result. Figures of the same label and quantity are compared with each other.

    `contributions` holds c·u, signed, of those sources that another result may rest on too, under the name of that very
    error: the same name is the same error.
    """

    label: str
    value: float
    expanded_uncertainty: float
    coverage_factor: float
    quantity: str
    contributions: Mapping[str, float] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class MeasuredSheet:
    """One signed result for an engine: what to call it, what it was measured with, where it is read."""

    label: str  # begins a sentence: "First sheet"
    measured_with: str
    address: str
    at: datetime
    figures: tuple[MeasuredFigure, ...]


class ComparedSheetView(View):
    label: str
    measured_with: str
    address: str
    at: datetime


class ComparedFigureView(View):
    """One figure of both, and what their difference says; `e_n` is empty where they cannot be compared."""

    label: str
    first: str
    second: str
    e_n: str
    agree: bool
    sentence: str


class ComparisonView(View):
    """Two signed results for one engine."""

    first: ComparedSheetView
    second: ComparedSheetView
    agree: bool  # every figure of both
    sentence: str
    figures: list[ComparedFigureView]


def comparisons_of_entry(
    session: Session, entry_id: UUID, further: Iterable[MeasuredSheet] = ()
) -> list[ComparisonView]:
    """Each signed sheet of this entry with each other one, and with `further` results for the same engine."""
    return comparisons(sorted([*sheets_of_entry(session, entry_id), *further], key=lambda sheet: sheet.at))


def sheets_of_entry(session: Session, entry_id: UUID) -> list[MeasuredSheet]:
    """The signed sheets of this entry, oldest first."""
    signed = session.scalars(
        select(Verdict)
        .join(Verdict.inspection)
        .where(Inspection.entry_id == entry_id)
        .order_by(Verdict.decided_at, Verdict.id)
        .options(
            contains_eager(Verdict.inspection).options(
                joinedload(Inspection.instrument), selectinload(Inspection.readings)
            )
        )
    )
    return [_sheet(number, verdict) for number, verdict in enumerate(signed)]


def _sheet(number: int, verdict: Verdict) -> MeasuredSheet:
    inspection, instrument = verdict.inspection, verdict.inspection.instrument
    inputs, result = json.loads(verdict.inputs), json.loads(verdict.result)
    same_error = {
        "bore": f"bore declared as {inputs['engine']['bore_mm']} mm",
        "stroke": f"stroke declared as {inputs['engine']['stroke_mm']} mm",
        "stated_accuracy": f"accuracy of instrument {instrument.id}",
    }
    hands = {reading.taken_by_id for reading in standing_readings(inspection).values()}
    if len(hands) == 1:  # two people on one sheet share no one error with another sheet
        same_error["reproducibility"] = f"hands of {hands.pop()} with instrument {instrument.id}"
    rows = [*result["results"], *([result["decided"]] if result["decided"]["cylinder"] == _MEAN else [])]
    return MeasuredSheet(
        label=f"{_ORDINALS[number]} sheet" if number < len(_ORDINALS) else f"Sheet {number + 1}",
        measured_with=f"{instrument.name}, serial {instrument.serial}",
        address=f"/records/{inspection.id}",
        at=verdict.decided_at,
        figures=tuple(_figure(row, result.get("quantity", COMPRESSION_RATIO), same_error) for row in rows),
    )


def _figure(row: Mapping[str, Any], quantity: str, same_error: Mapping[str, str]) -> MeasuredFigure:
    return MeasuredFigure(
        label="Mean of the cylinders" if row["cylinder"] == _MEAN else f"Cylinder {row['cylinder']}",
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


def comparisons(sheets: Sequence[MeasuredSheet]) -> list[ComparisonView]:
    """Every pair of them that has a figure in common, in order."""
    found = [_compared(first, second) for first, second in combinations(sheets, 2)]
    return [view for view in found if view.figures]


def _compared(first: MeasuredSheet, second: MeasuredSheet) -> ComparisonView:
    others = {(figure.label, figure.quantity): figure for figure in second.figures}
    pairs = [
        (figure, others[figure.label, figure.quantity])
        for figure in first.figures
        if (figure.label, figure.quantity) in others
    ]
    figures, agreements = [], []
    for one, other in pairs:
        view, agreement = _compared_figures(one, other)
        figures.append(view)
        if agreement is not None:
            agreements.append((one.label, agreement))
    return ComparisonView(
        first=ComparedSheetView.model_validate(first),
        second=ComparedSheetView.model_validate(second),
        agree=len(agreements) == len(figures) and all(one.agree for _, one in agreements),
        sentence=_summary(agreements),
        figures=figures,
    )


def _compared_figures(one: MeasuredFigure, other: MeasuredFigure) -> tuple[ComparedFigureView, Agreement | None]:
    unit = QUANTITIES[one.quantity][1]
    texts = {"label": one.label, "first": _text(one, unit), "second": _text(other, unit)}
    try:
        found = compare(_stated(one), _stated(other), covariance_of(one.contributions, other.contributions), unit)
    except MeasurementError as error:
        return ComparedFigureView(e_n="", agree=False, sentence=error.sentence, **texts), None
    return ComparedFigureView(e_n=shown(found.e_n), agree=found.agree, sentence=found.sentence, **texts), found


def _stated(figure: MeasuredFigure) -> StatedResult:
    return StatedResult(figure.value, figure.expanded_uncertainty, figure.coverage_factor)


def _text(figure: MeasuredFigure, unit: str) -> str:
    if not figure.expanded_uncertainty > 0.0:
        return f"{figure.value:g}"
    value, uncertainty = rounded(figure.value, figure.expanded_uncertainty)
    return f"{value} ± {uncertainty}{'' if unit == '1' else ' ' + unit}"


def _summary(agreements: Sequence[tuple[str, Agreement]]) -> str:
    """The one that is furthest apart speaks for all."""
    if not agreements:
        return "Nothing in these two results can be compared."
    label, worst = max(agreements, key=lambda pair: abs(pair[1].e_n))
    if len(agreements) == 1:
        return f"{label}: {worst.sentence}"
    apart = [name for name, agreement in agreements if not agreement.agree]
    opening = (
        f"All {len(agreements)} figures agree."
        if not apart
        else f"{len(apart)} of {len(agreements)} figures {'does' if len(apart) == 1 else 'do'} not agree: "
        f"{', '.join([name[:1].lower() + name[1:] for name in apart])}."
    )
    return f"{opening} Furthest apart is {label[:1].lower() + label[1:]}: {worst.sentence}"
