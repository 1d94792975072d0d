from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends

from app.officials.access import Inspector, Official, Staff, requires
from app.officials.service import CurrentPerson
from app.studies import flow, gauge, gauge_views, inspectors, service
from app.studies.schemas import (
    AdoptionIn,
    FlowStudyIn,
    FlowStudyView,
    GaugeStudyIn,
    GaugeStudyView,
    InspectorsView,
    StudiesView,
    StudyReadingIn,
    StudyReadingsIn,
    StudyStartView,
)
from app.web import Db

router = APIRouter(prefix="/api", tags=["studies"])
Planner = Annotated[CurrentPerson, Depends(requires("official", "inspector"))]


@router.get("/instruments/{instrument_id}/studies")
def list_studies(instrument_id: UUID, db: Db, me: Staff) -> StudiesView:
    with db.read() as session:
        return service.studies_view(session, instrument_id)


@router.get("/instruments/{instrument_id}/studies/start")
def read_study_start(instrument_id: UUID, db: Db, me: Planner) -> StudyStartView:
    """Who may measure, the classes to hold a study against, and the instrument with its reference volumes."""
    with db.read() as session:
        return gauge.start_view(session, instrument_id)


@router.put("/gauge-studies/{study_id}")
def put_gauge_study(study_id: UUID, data: GaugeStudyIn, db: Db, me: Planner) -> GaugeStudyView:
    with db.write() as session:
        return gauge_views.study_view(session, me, gauge.plan_study(session, me, study_id, data))


@router.get("/gauge-studies/{study_id}")
def read_gauge_study(study_id: UUID, db: Db, me: Staff) -> GaugeStudyView:
    """No figure is told before the last reading is in: whoever measures must not know an earlier one."""
    with db.read() as session:
        return gauge_views.study_view(session, me, gauge.study_of(session, study_id))


@router.put("/gauge-studies/{study_id}/readings/{reading_id}")
def put_study_reading(study_id: UUID, reading_id: UUID, data: StudyReadingIn, db: Db, me: Inspector) -> GaugeStudyView:
    with db.write() as session:
        study = gauge.study_of(session, study_id, lock=True)
        gauge.enter_reading(session, me, study, reading_id, data)
        return gauge_views.study_view(session, me, study)


@router.put("/gauge-studies/{study_id}/readings")
def put_study_readings(study_id: UUID, data: StudyReadingsIn, db: Db, me: Inspector) -> GaugeStudyView:
    """Several readings of one go, all or none of them kept."""
    with db.write() as session:
        return gauge_views.study_view(session, me, gauge.enter_readings(session, me, study_id, data))


@router.put("/flow-studies/{study_id}")
def put_flow_study(study_id: UUID, data: FlowStudyIn, db: Db, me: Planner) -> FlowStudyView:
    with db.write() as session:
        return flow.flow_view(session, flow.make_study(session, me, study_id, data))


def airflow_moved(db: Db) -> dict[UUID, str]:
    """For the shed: what is said of each instrument that was not verified since its latest flow study."""
    with db.read() as session:
        return flow.not_verified_since(session)


@router.get("/flow-studies/{study_id}")
def read_flow_study(study_id: UUID, db: Db, me: Staff) -> FlowStudyView:
    with db.read() as session:
        return flow.flow_view(session, flow.flow_study_of(session, study_id))


@router.put("/instruments/{instrument_id}/adoptions/{adoption_id}")
def put_adoption(instrument_id: UUID, adoption_id: UUID, data: AdoptionIn, db: Db, me: Official) -> StudiesView:
    with db.write() as session:
        return service.adopt(session, me, instrument_id, adoption_id, data)


@router.get("/instruments/{instrument_id}/inspectors")
def read_inspectors(instrument_id: UUID, db: Db, me: Official) -> InspectorsView:
    with db.read() as session:
        return inspectors.inspectors_view(session, instrument_id)
