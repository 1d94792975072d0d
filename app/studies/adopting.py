"""What budgets take from studies: adopted by an official with a reason, frozen that day, ended the same way."""

from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import cast
from uuid import UUID

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload

from app.instruments import ledger
from app.studies.models import Adoption, FlowStudy, GaugeStudy, StudyReading
from app.studies.schemas import AdoptedView, Kind
from app.studies.wording import FLOW, GAUGE, figures_words, flow_title, passed_over_words


@dataclass(frozen=True, slots=True)
class Adopted:
    """Of one instrument, in units of ratio; None where nothing of the kind is adopted, or it was repaired since.

    Repeatability of one indication and reproducibility between inspectors are (standard deviation, its degrees of
    freedom), and come together from one gauge study. The sensitivity is in ratio per L/min.
    """

    repeatability: tuple[float, float] | None = None
    reproducibility: tuple[float, float] | None = None
    airflow_sensitivity: float | None = None
    airflow_sensitivity_u: float | None = None


def adopted(session: Session, instrument_id: UUID) -> Adopted:
    """What budgets take. A study from before the latest repair that affects what it shows is passed over."""
    latest = {row.kind: row.figures for row, over in _standing(session, instrument_id) if not over}
    gauge, flow = latest.get(GAUGE), latest.get(FLOW)
    return Adopted(
        repeatability=None if gauge is None else (float(gauge["repeatability"]), float(gauge["repeatability_dof"])),
        reproducibility=None
        if gauge is None
        else (float(gauge["reproducibility"]), float(gauge["reproducibility_dof"])),
        airflow_sensitivity=None if flow is None else float(flow["sensitivity"]),
        airflow_sensitivity_u=None if flow is None else float(flow["standard_uncertainty"]),
    )


def _standing(session: Session, instrument_id: UUID) -> list[tuple[Adoption, str]]:
    """Each with the sentence why it is passed over, or "". At most four queries."""
    rows = standing_adoptions(session, [instrument_id])
    repaired = ledger.last_repair_of(session, instrument_id) if rows else None
    return [(row, _passed_over(session, row.kind, cast(UUID, row.study_id), repaired)) for row in rows]


def passed_over(session: Session, instrument_id: UUID, kind: str, study_id: UUID) -> str:
    """Why budgets would not take this study though it were adopted; "" where they would."""
    return _passed_over(session, kind, study_id, ledger.last_repair_of(session, instrument_id))


def _passed_over(session: Session, kind: str, study_id: UUID, repaired: datetime | None) -> str:
    if repaired is None:
        return ""
    made = _made_at(session, kind, study_id)
    return "" if made is None or made > repaired else passed_over_words(kind, repaired.astimezone(UTC).date())


def _made_at(session: Session, kind: str, study_id: UUID) -> datetime | None:
    """When its last reading was taken; the correction of one is no reading of its own."""
    if kind == FLOW:
        return session.scalar(select(FlowStudy.made_at).where(FlowStudy.id == study_id))
    taken = select(func.max(StudyReading.taken_at))
    return session.scalar(taken.where(StudyReading.study_id == study_id, StudyReading.replaces_id.is_(None)))


def standing_adoptions(session: Session, instrument_ids: Collection[UUID]) -> list[Adoption]:
    """The latest of each kind on each instrument, unless it is the one that ends it."""
    place = (
        func.row_number()
        .over(
            partition_by=(Adoption.instrument_id, Adoption.kind),
            order_by=(Adoption.adopted_at.desc(), Adoption.id),
        )
        .label("place")
    )
    ranked = select(Adoption.id, place).where(Adoption.instrument_id.in_(instrument_ids)).subquery()
    found = (
        select(Adoption)
        .join(ranked, ranked.c.id == Adoption.id)
        .where(ranked.c.place == 1, Adoption.study_id.is_not(None))
        .order_by(Adoption.kind)
        .options(joinedload(Adoption.adopted_by))
    )
    return list(session.scalars(found))


def adopted_views(session: Session, instrument_id: UUID) -> list[AdoptedView]:
    return [_view(session, row, over) for row, over in _standing(session, instrument_id)]


def adopted_study(session: Session, instrument_id: UUID, study_id: UUID) -> AdoptedView | None:
    """The standing adoption of this study, if it has one."""
    return next((one for one in adopted_views(session, instrument_id) if one.study_id == study_id), None)


def was_adopted(session: Session, study_id: UUID) -> bool:
    """Once is enough: what budgets rested on stays as it was."""
    return session.scalar(select(Adoption.id).where(Adoption.study_id == study_id).limit(1)) is not None


def _view(session: Session, row: Adoption, over: str) -> AdoptedView:
    assert row.study_id is not None  # standing ones have it
    return AdoptedView(
        id=row.id,
        kind=cast(Kind, row.kind),
        study_id=row.study_id,
        title=_title(session, row.kind, row.study_id),
        figures_words=figures_words(row.kind, row.figures),
        reason=row.reason,
        adopted_by=row.adopted_by.full_name,
        adopted_at=row.adopted_at,
        passed_over=over,
    )


def _title(session: Session, kind: str, study_id: UUID) -> str:
    if kind == GAUGE:
        gauge = session.get(GaugeStudy, study_id)
        return gauge.title if gauge is not None else "Gauge study"
    flow = session.get(FlowStudy, study_id)
    return flow_title(flow.reference_volume.serial) if flow is not None else "Flow study"
