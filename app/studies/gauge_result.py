"""What a complete gauge study found, by both methods, and what a budget would take of it."""

from dataclasses import dataclass
from uuid import UUID

from app.errors import Refused
from app.metrology.errors import MeasurementError
from app.metrology.indications import parse_indication
from app.metrology.studies.crossed import Component, analyse
from app.metrology.studies.crossed import GaugeStudy as Analysis
from app.metrology.studies.design import Cells, Reading, arranged
from app.metrology.studies.for_budget import (
    inspector_intervals,
    repeatability_for_budget,
    reproducibility_for_budget,
)
from app.metrology.studies.range_method import RangeStudy, analyse_ranges
from app.metrology.studies.shares import ToleranceSpan
from app.metrology.studies.wording import gauge_words, range_words
from app.studies import gauge
from app.studies.models import GaugeStudy
from app.studies.schemas import ComponentView, GaugeResultView, LetterMeanView, SetAsideView
from app.studies.wording import COMPONENTS, POOLED, class_meaning, degrees, gauge_budget_words, letter_of

_BY_RANGE = {"repeatability": "repeatability", "reproducibility": "reproducibility", "gauge": "gauge"}
_BY_RANGE |= {"part": "part", "total": "total"}


@dataclass(frozen=True, slots=True)
class _Found:
    analysis: Analysis
    ranges: RangeStudy
    tolerance: ToleranceSpan | None


def cells_of(study: GaugeStudy) -> Cells:
    """Raises MeasurementError while a reading is missing."""
    readings = [
        Reading(str(row.inspector_id), study.parts[row.part - 1], row.repeat, _value(row.indication))
        for row in gauge.standing_readings(study).values()
    ]
    return arranged(gauge.plan_of(study.parts, study.inspector_ids, study.repeats), readings)


def _value(indication: str) -> float:
    return parse_indication(indication, "indication").value


def figures_for_budget(study: GaugeStudy) -> dict[str, str]:
    """What an adoption freezes. Raises Refused where there is nothing to adopt."""
    if not gauge.is_complete(study):
        raise Refused("This study is not complete. What is still missing stands on its page; read that first.")
    try:
        return _figures(analyse(cells_of(study)))
    except MeasurementError as error:
        raise Refused(error.sentence) from error


def _figures(analysis: Analysis) -> dict[str, str]:
    repeatability, repeatability_dof = repeatability_for_budget(analysis)
    reproducibility, reproducibility_dof = reproducibility_for_budget(analysis)
    return {
        "repeatability": repr(repeatability),
        "repeatability_dof": repr(repeatability_dof),
        "reproducibility": repr(reproducibility),
        "reproducibility_dof": repr(reproducibility_dof),
    }


def result_of(study: GaugeStudy) -> GaugeResultView:
    """Raises MeasurementError where nothing varies."""
    cells = cells_of(study)
    span = None if study.tolerance is None else ToleranceSpan(2.0 * float(study.tolerance))
    found = _Found(analyse(cells), analyse_ranges(cells), span)
    analysis, figures = found.analysis, _figures(found.analysis)
    letters = [letter_of(place) for place in range(len(study.inspector_ids))]
    careful = float(figures["reproducibility"]) != analysis.reproducibility.standard_deviation
    return GaugeResultView(
        letters=letters,
        parts=study.parts,
        figures=_typed(study),
        values=[[list(cell) for cell in row] for row in cells.values],
        components=[_component(found, key, label, note) for key, label, note in COMPONENTS],
        interaction_pooled=analysis.interaction is None,
        means=[
            LetterMeanView(letter=letter, mean=mean, low=interval.low, high=interval.high)
            for letter, (mean, interval) in zip(letters, inspector_intervals(analysis), strict=True)
        ],
        mean_range=found.ranges.mean_range,
        distinct_categories=analysis.distinct_categories,
        range_distinct_categories=found.ranges.distinct_categories,
        meaning=_meaning(study, found),
        sentences=list(gauge_words(analysis, tolerance=span)),
        range_sentences=list(range_words(found.ranges)),
        for_budget=figures,
        budget_words=gauge_budget_words(figures, is_careful=careful),
        set_aside=_set_aside(study, letters),
    )


def _meaning(study: GaugeStudy, found: _Found) -> str:
    if study.tolerance is None or found.tolerance is None:
        return ""
    share, interval = found.analysis.share_of_tolerance(found.analysis.gauge, found.tolerance)
    return class_meaning(study.note, f"{study.tolerance:f}", share, interval.low, interval.high)


def _typed(study: GaugeStudy) -> list[list[list[str]]]:
    standing = gauge.standing_readings(study)
    return [
        [
            [standing[UUID(inspector), part, repeat].indication for repeat in range(1, study.repeats + 1)]
            for part in range(1, len(study.parts) + 1)
        ]
        for inspector in study.inspector_ids
    ]


def _component(found: _Found, key: str, label: str, note: str) -> ComponentView:
    component: Component | None = getattr(found.analysis, key)
    by_range = getattr(found.ranges, _BY_RANGE[key]) if key in _BY_RANGE else None
    # of the tolerance the gauge takes a share; the parts are what it is there to tell apart
    span = None if key in ("part", "total") else found.tolerance
    whole: dict[str, object] = {
        "key": key,
        "label": label,
        "note": note if component is not None else POOLED,
        "by_range": by_range,
        "range_share": None if by_range is None else found.ranges.share_of_total(by_range),
        "range_share_of_tolerance": None if by_range is None or span is None else span.share(by_range),
        **dict.fromkeys(("standard_deviation", "low", "high", "degrees_of_freedom", "contribution", "share_of_total")),
        **dict.fromkeys(("share_of_tolerance", "share_low", "share_high")),
    }
    if component is not None:
        whole |= {
            "standard_deviation": component.standard_deviation,
            "low": component.interval.low,
            "high": component.interval.high,
            "degrees_of_freedom": degrees(component.degrees_of_freedom),
            "contribution": found.analysis.contribution(component),
            "share_of_total": found.analysis.share_of_total(component),
        }
        if span is not None:
            share, interval = found.analysis.share_of_tolerance(component, span)
            whole |= {"share_of_tolerance": share, "share_low": interval.low, "share_high": interval.high}
    return ComponentView.model_validate(whole)


def _set_aside(study: GaugeStudy, letters: list[str]) -> list[SetAsideView]:
    by_id = {row.id: row for row in study.readings}
    letter = dict(zip(study.inspector_ids, letters, strict=True))
    return [
        SetAsideView(
            letter=letter[str(row.inspector_id)],
            part=study.parts[row.part - 1],
            repeat=row.repeat,
            indication=by_id[row.replaces_id].indication,
            instead=row.indication,
            reason=row.reason,
            at=row.taken_at,
        )
        for row in study.readings
        if row.replaces_id is not None
    ]
