"""Control charts drawn, and an instrument's whole history on one page made for printing."""

from uuid import UUID

from fastapi import APIRouter, Request, Response

from app.database import Database
from app.instruments import api, charting
from app.instruments.chart_schemas import ControlChartView
from app.officials.access import Staff
from app.plots import ControlPicture
from app.web import Db, page

router = APIRouter(include_in_schema=False)


def drawn_charts(instrument_id: UUID, db: Database, me: Staff) -> list[tuple[ControlChartView, list[ControlPicture]]]:
    """Each with its pictures, for a template."""
    return [(chart, charting.pictures_of(chart)) for chart in api.read_charts(instrument_id, db, me)]


@router.get("/instruments/{instrument_id}/history")
def instrument_history(request: Request, instrument_id: UUID, db: Db, me: Staff) -> Response:
    view = api.read_instrument(instrument_id, db, me)
    return page(request, "instruments/instrument_history.html", view, charts=drawn_charts(instrument_id, db, me))
