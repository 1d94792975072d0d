from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Query

from app.errors import NotFound
from app.instruments import charting, service, verifying
from app.instruments.chart_schemas import ControlChartView
from app.instruments.looking import LookBack
from app.instruments.schemas import (
    CalibrationIn,
    EngineAskedIn,
    InstrumentIn,
    InstrumentPageView,
    InstrumentView,
    ReferenceVolumeIn,
    SettingsFoundView,
    ShedView,
    VerificationIn,
    VerificationView,
)
from app.officials.access import Inspector, Official, Staff
from app.parsing import parse
from app.web import Db

router = APIRouter(prefix="/api", tags=["instruments"])


@router.get("/instruments")
def list_instruments(db: Db, me: Staff) -> list[InstrumentView]:
    with db.read() as session:
        return service.instruments(session)


@router.get("/instruments/{instrument_id}")
def read_instrument(instrument_id: UUID, db: Db, me: Staff) -> InstrumentPageView:
    with db.read() as session:
        return service.instrument_page(session, instrument_id)


@router.get("/instruments/{instrument_id}/charts")
def read_charts(instrument_id: UUID, db: Db, me: Staff) -> list[ControlChartView]:
    """A control chart for each reference volume on which the instrument was judged."""
    with db.read() as session:
        return charting.charts_of(session, instrument_id)


@router.put("/instruments/{instrument_id}")
def put_instrument(instrument_id: UUID, data: InstrumentIn, db: Db, me: Official) -> InstrumentView:
    with db.write() as session:
        return service.add_instrument(session, me, instrument_id, data)


@router.put("/instruments/{instrument_id}/reference-volumes/{volume_id}")
def put_reference_volume(
    instrument_id: UUID, volume_id: UUID, data: ReferenceVolumeIn, db: Db, me: Official
) -> InstrumentView:
    with db.write() as session:
        return service.add_reference_volume(session, me, instrument_id, volume_id, data)


@router.put("/instruments/{instrument_id}/calibrations/{calibration_id}")
def put_calibration(
    instrument_id: UUID, calibration_id: UUID, data: CalibrationIn, db: Db, me: Official
) -> InstrumentView:
    with db.write() as session:
        return service.add_calibration(session, me, instrument_id, calibration_id, data)


@router.get("/instruments/{instrument_id}/settings")
def find_settings(
    instrument_id: UUID,
    db: Db,
    me: Staff,
    cylinders: Annotated[str, Query(max_length=40)] = "",
    displacement: Annotated[str, Query(max_length=40, description="with its unit, such as 400 in3")] = "",
) -> SettingsFoundView:
    """Text as people write it; a displacement without a unit is taken in the person's own units."""
    asked = parse(EngineAskedIn, {"cylinders": cylinders, "displacement": displacement}, me.units)
    with db.read() as session:
        instrument = service.instrument_of(session, instrument_id)
        return service.settings_found(instrument, asked.cylinders, asked.displacement)


@router.get("/shed")
def list_sheds(db: Db, me: Staff, everything: bool = False) -> list[ShedView]:
    with db.read() as session:
        return verifying.sheds(session, everything=everything)


@router.get("/events/{event_id}/instruments")
def read_shed(event_id: UUID, db: Db, me: Staff) -> ShedView:
    with db.read() as session:
        return verifying.shed_of(session, event_id)


@router.put("/events/{event_id}/verifications/{verification_id}")
def put_verification(
    event_id: UUID, verification_id: UUID, data: VerificationIn, db: Db, me: Inspector, look_back: LookBack
) -> VerificationView:
    with db.write() as session:
        view = verifying.verify_instrument(session, me, event_id, verification_id, data)
    look_back()
    return view


@router.get("/events/{event_id}/verifications/{verification_id}")
def read_verification(event_id: UUID, verification_id: UUID, db: Db, me: Staff) -> VerificationView:
    with db.read() as session:
        view = verifying.verification(session, verification_id)
    if view.event_id != event_id:
        raise NotFound("verification")
    return view
