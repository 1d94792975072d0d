"""Studies of an instrument: which there are, what budgets take from them, and who decided that."""

from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from app import audit
from app.database import now
from app.errors import Conflict, Invalid, NotFound, Refused
from app.instruments import service as instruments
from app.instruments.models import Instrument
from app.officials.service import CurrentPerson
from app.studies import flow, gauge, gauge_result
from app.studies.adopting import Adopted, adopted, adopted_views, passed_over, standing_adoptions
from app.studies.models import Adoption, FlowStudy, GaugeStudy
from app.studies.schemas import AdoptionIn, StudiesView, StudyLine
from app.studies.wording import GAUGE, flow_title

__all__ = ["Adopted", "adopt", "adopted", "studies_view"]

_KIND_WORDS = {"gauge": "gauge study", "flow": "flow study"}


def studies_view(session: Session, instrument_id: UUID) -> StudiesView:
    instrument = instruments.instrument_of(session, instrument_id)
    taken = adopted_views(session, instrument_id)
    in_use = {one.study_id: "Passed over" if one.passed_over else "Adopted" for one in taken}
    gauges = session.scalars(
        select(GaugeStudy).where(GaugeStudy.instrument_id == instrument_id).options(selectinload(GaugeStudy.readings))
    )
    flows = session.scalars(
        select(FlowStudy)
        .where(FlowStudy.instrument_id == instrument_id)
        .options(joinedload(FlowStudy.reference_volume))
    )
    lines = [_gauge_line(row, in_use.get(row.id, "")) for row in gauges]
    lines += [_flow_line(row, in_use.get(row.id, "")) for row in flows]
    return StudiesView(
        instrument_id=instrument_id,
        instrument_name=instrument.name,
        studies=sorted(lines, key=lambda line: (line.at, line.title), reverse=True),
        adopted=taken,
    )


def _gauge_line(row: GaugeStudy, use: str) -> StudyLine:
    taken, planned = len(gauge.standing_readings(row)), len(row.parts) * len(row.inspector_ids) * row.repeats
    complete = taken == planned
    state = use or ("Complete" if complete else f"{taken} of {planned} readings")
    return StudyLine(
        id=row.id,
        kind="gauge",
        title=row.title,
        state=state,
        is_complete=complete,
        is_adopted=use == "Adopted",
        at=row.planned_at,
    )


def _flow_line(row: FlowStudy, use: str) -> StudyLine:
    return StudyLine(
        id=row.id,
        kind="flow",
        title=flow_title(row.reference_volume.serial),
        state=use or "Complete",
        is_complete=True,
        is_adopted=use == "Adopted",
        at=row.made_at,
    )


# ---- adopting ---------------------------------------------------------------------------------------------------


def adopt(session: Session, me: CurrentPerson, instrument_id: UUID, adoption_id: UUID, data: AdoptionIn) -> StudiesView:
    """From here on every budget of this instrument takes the study's figures, or, without a study, no longer does."""
    audit.wait_for_turn(session)  # two officials at once: the second sees what the first has adopted
    instrument = instruments.instrument_of(session, instrument_id)
    kept = session.get(Adoption, adoption_id)
    if kept is not None:
        if kept.instrument_id != instrument_id:
            raise Conflict
        audit.same_or_conflict(kept.digest, data)
        return studies_view(session, instrument_id)
    standing = {row.kind: row.study_id for row in standing_adoptions(session, [instrument_id])}.get(data.kind)
    words = _KIND_WORDS[data.kind]
    if data.study_id is None and standing is None:
        raise Refused(f"No {words} is adopted for {instrument.name}, so there is nothing to end.")
    if data.study_id is not None and data.study_id == standing:
        over = passed_over(session, instrument_id, data.kind, data.study_id)
        raise Refused(over or f"Budgets of {instrument.name} take this study already.")
    figures = {} if data.study_id is None else _figures(session, instrument, data)
    row = Adoption(
        id=adoption_id,
        instrument=instrument,
        kind=data.kind,
        study_id=data.study_id,
        figures=figures,
        reason=data.reason,
        adopted_by_id=me.id,
        adopted_at=now(session),
        digest=audit.digest_of(data),
    )
    session.add(row)
    said = f"{words} adopted" if data.study_id is not None else f"{words} no longer adopted"
    about = {"instrument": instrument.serial, "figures": figures, "reason": data.reason}
    # it is found with the study it is about: the one adopted, or the one that ends
    audit.record(session, me.full_name, said, data.study_id or standing, {**about, "adoption": str(adoption_id)})
    session.flush()
    return studies_view(session, instrument_id)


def _figures(session: Session, instrument: Instrument, data: AdoptionIn) -> dict[str, str]:
    assert data.study_id is not None  # asked only then
    try:
        study = (
            gauge.study_of(session, data.study_id, lock=True)
            if data.kind == GAUGE
            else flow.flow_study_of(session, data.study_id)
        )
    except NotFound:
        study = None
    if study is None or study.instrument_id != instrument.id:
        raise Invalid({"study_id": f"Choose a {_KIND_WORDS[data.kind]} of {instrument.name}."})
    over = passed_over(session, instrument.id, data.kind, study.id)
    if over:
        raise Refused(over)
    if isinstance(study, GaugeStudy):
        return gauge_result.figures_for_budget(study)
    return flow.figures_for_budget(study)
