"""The flow study: the reference volume read at several airflows. It is no verification, and counts as none."""

from collections.abc import Mapping, Sequence
from datetime import UTC
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import func, or_, select
from sqlalchemy.orm import Session, joinedload

from app import audit
from app.database import now, row_of
from app.errors import Invalid
from app.happenings import happened
from app.instruments import service as instruments
from app.instruments.models import Instrument, ReferenceVolume, Verification
from app.instruments.views import reference_volume_view
from app.intake import plain_json
from app.metrology.distributions import coverage_factor
from app.metrology.errors import MeasurementError
from app.metrology.indications import parse_indication
from app.metrology.studies.flow import FlowPoint, flow_study
from app.metrology.studies.flow import FlowStudy as Analysis
from app.metrology.studies.wording import flow_words
from app.officials.service import CurrentPerson
from app.studies.adopting import adopted_study
from app.studies.models import FlowStudy
from app.studies.schemas import FlowPointView, FlowStudyIn, FlowStudyView
from app.studies.wording import degrees, flow_figures_words, not_verified_words

_STEPS = 40  # of the drawn line


def flow_study_of(session: Session, study_id: UUID) -> FlowStudy:
    whole = (joinedload(FlowStudy.instrument), joinedload(FlowStudy.reference_volume), joinedload(FlowStudy.made_by))
    return row_of(session, FlowStudy, study_id, "flow study", whole)


def make_study(session: Session, me: CurrentPerson, study_id: UUID, data: FlowStudyIn) -> FlowStudy:
    kept = session.get(FlowStudy, study_id)
    if kept is not None:
        audit.same_or_conflict(kept.digest, data)
        return flow_study_of(session, study_id)
    instrument = instruments.instrument_of(session, data.instrument_id)
    volume = _own_volume(session, instrument, data.reference_volume_id)
    points = [
        {"airflow_l_min": format(one.airflow, "f"), "indications": [text.strip() for text in one.indications]}
        for one in data.points
    ]
    row = FlowStudy(
        id=study_id,
        instrument=instrument,
        reference_volume=volume,
        points=points,
        note=data.note,
        made_by_id=me.id,
        made_at=now(session),
        digest=audit.digest_of(data),
    )
    try:
        analysed(row)
    except MeasurementError as error:
        raise Invalid({_field(error.field): error.sentence}) from error
    session.add(row)
    about = {"instrument": instrument.serial, "volume": volume.serial}
    audit.record(
        session, me.full_name, "flow study made", study_id, {**about, "asked": plain_json(data.model_dump(mode="json"))}
    )
    session.flush()
    return flow_study_of(session, study_id)


def _field(core_field: str) -> str:
    """The core's place of a problem as the form and the API have it."""
    return core_field.replace("airflow_l_min", "airflow")


def _own_volume(session: Session, instrument: Instrument, volume_id: UUID) -> ReferenceVolume:
    volume = session.get(ReferenceVolume, volume_id)
    if volume is None or volume.instrument_id != instrument.id:
        raise Invalid({"reference_volume_id": f"Choose one of the reference volumes that belong to {instrument.name}."})
    if volume.condemnation is not None:
        raise Invalid({"reference_volume_id": f"Reference volume {volume.serial} was found damaged. Take another one."})
    return volume


def analysed(row: FlowStudy) -> Analysis:
    """Raises MeasurementError where the airflows or the indications cannot tell a slope."""
    points = [
        FlowPoint(
            float(one["airflow_l_min"]),
            tuple(parse_indication(text, "indications").value for text in one["indications"]),
        )
        for one in row.points
    ]
    return flow_study(points, float(row.instrument.airflow_set_point_l_min), float(row.instrument.resolution))


def figures_for_budget(row: FlowStudy) -> dict[str, str]:
    """What an adoption freezes."""
    found = analysed(row)
    return {
        "sensitivity": repr(found.sensitivity),
        "standard_uncertainty": repr(found.standard_uncertainty),
        "dof": repr(found.degrees_of_freedom),
    }


def flow_view(session: Session, row: FlowStudy) -> FlowStudyView:
    found = analysed(row)
    points = [_point_view(one) for one in row.points]
    return FlowStudyView(
        id=row.id,
        instrument_id=row.instrument_id,
        instrument_name=row.instrument.name,
        set_point_l_min=row.instrument.airflow_set_point_l_min,
        airflow_tolerance_l_min=row.instrument.airflow_tolerance_l_min,
        reference_volume=reference_volume_view(row.reference_volume),
        points=points,
        note=row.note,
        made_by=row.made_by.full_name,
        made_at=row.made_at,
        sensitivity=found.sensitivity,
        standard_uncertainty=found.standard_uncertainty,
        degrees_of_freedom=degrees(found.degrees_of_freedom),
        expanded_uncertainty=found.expanded_uncertainty,
        shape=found.shape,
        line=_line(found),
        curve=_curve(found, points),
        sentences=list(flow_words(found)),
        budget_words=f"A budget takes {flow_figures_words(figures_for_budget(row))}.",
        verified_after=_verified_after(session, row),
        adopted=adopted_study(session, row.instrument_id, row.id),
        happened=happened(session, [row.id]),
    )


def _point_view(kept: Mapping[str, Any]) -> FlowPointView:
    shown = [parse_indication(text, "indications").value for text in kept["indications"]]
    return FlowPointView(
        airflow_l_min=Decimal(kept["airflow_l_min"]), indications=kept["indications"], mean=sum(shown) / len(shown)
    )


def _places(found: Analysis) -> list[float]:
    reach = found.highest_l_min - found.lowest_l_min
    return [found.lowest_l_min + reach * step / _STEPS for step in range(_STEPS + 1)]


def _line(found: Analysis) -> list[tuple[float, float, float]]:
    """With the expanded uncertainty of the line itself, 95 %. JCGM 100:2008, H.3.4 and 6.2.1."""
    told = []
    for flow in _places(found):
        at = found.line.predict(flow)
        told.append((flow, at.value, coverage_factor(0.95, at.degrees_of_freedom) * at.standard_uncertainty))
    return told


def _curve(found: Analysis, points: Sequence[FlowPointView]) -> list[tuple[float, float]]:
    """The parabola that the slope is of; it runs through the mean of all indications at the mean of what it is in."""
    if found.shape != "curved":
        return []
    curvature, set_point = found.curvature, found.set_point_l_min
    off = [(float(one.airflow_l_min) - set_point, len(one.indications), one.mean) for one in points]
    b, c = curvature.slope_at_set_point, curvature.coefficient
    constant = sum(count * (mean - b * x - c * x * x) for x, count, mean in off) / found.indications
    return [(flow, constant + b * (flow - set_point) + c * (flow - set_point) ** 2) for flow in _places(found)]


def not_verified_since(session: Session) -> dict[UUID, str]:
    """Of each instrument whose airflow a flow study moved after its latest accepted verification: what is to be done.

    One query, however many instruments.
    """
    moved = select(FlowStudy.instrument_id, func.max(FlowStudy.made_at).label("at")).group_by(FlowStudy.instrument_id)
    verified = (
        select(Verification.instrument_id, func.max(Verification.performed_at).label("at"))
        .where(Verification.accepted.is_(True))
        .group_by(Verification.instrument_id)
    )
    study, check = moved.subquery(), verified.subquery()
    found = session.execute(
        select(Instrument.id, Instrument.name, study.c.at)
        .join(study, study.c.instrument_id == Instrument.id)
        .outerjoin(check, check.c.instrument_id == Instrument.id)
        .where(or_(check.c.at.is_(None), check.c.at < study.c.at))
    )
    return {instrument_id: not_verified_words(name, at.astimezone(UTC).date()) for instrument_id, name, at in found}


def _verified_after(session: Session, row: FlowStudy) -> bool:
    found = select(Verification.id).where(
        Verification.instrument_id == row.instrument_id,
        Verification.accepted.is_(True),
        Verification.performed_at > row.made_at,
    )
    return session.scalar(found.limit(1)) is not None
