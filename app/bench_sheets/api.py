from uuid import UUID

from fastapi import APIRouter

from app.bench_sheets import service
from app.bench_sheets.schemas import (
    BenchListView,
    BenchObservationIn,
    BenchSheetIn,
    BenchSheetView,
    BenchSignOffIn,
    BenchStartView,
)
from app.officials import api as officials
from app.officials.access import Inspector, Staff
from app.officials.api import Keys
from app.web import Db

router = APIRouter(prefix="/api", tags=["bench sheets"])


@router.get("/entries/{entry_id}/bench-sheets")
def list_bench_sheets(entry_id: UUID, db: Db, me: Staff) -> BenchListView:
    with db.read() as session:
        return service.sheets_of_entry(session, entry_id)


@router.get("/entries/{entry_id}/bench-sheets/start")
def read_bench_start(entry_id: UUID, db: Db, me: Inspector) -> BenchStartView:
    """Which methods can be used on this engine today, and under which rule."""
    with db.read() as session:
        return service.start_view(session, entry_id)


@router.put("/bench-sheets/{sheet_id}")
def put_bench_sheet(sheet_id: UUID, data: BenchSheetIn, db: Db, me: Inspector) -> BenchSheetView:
    with db.write() as session:
        service.open_sheet(session, me, sheet_id, data)
        return service.sheet_view(session, sheet_id)


@router.get("/bench-sheets/{sheet_id}")
def read_bench_sheet(sheet_id: UUID, db: Db, me: Staff) -> BenchSheetView:
    with db.read() as session:
        return service.sheet_view(session, sheet_id)


@router.put("/bench-sheets/{sheet_id}/observations/{observation_id}")
def put_bench_observations(
    sheet_id: UUID, observation_id: UUID, data: BenchObservationIn, db: Db, me: Inspector
) -> BenchSheetView:
    with db.write() as session:
        service.keep_observations(session, me, sheet_id, observation_id, data)
        return service.sheet_view(session, sheet_id)


@router.put("/bench-sheets/{sheet_id}/sign-off/{verdict_id}")
def put_bench_sign_off(
    sheet_id: UUID, verdict_id: UUID, data: BenchSignOffIn, db: Db, me: Inspector, keys: Keys
) -> BenchSheetView:
    """The PIN is proved outside the transaction, and throttled as for a slip; it is kept nowhere."""
    officials.unlock_signing_key(db, me, data.pin, keys)
    with db.write() as session:
        service.sign(session, me, sheet_id, verdict_id, data.observation_id)
        return service.sheet_view(session, sheet_id)
