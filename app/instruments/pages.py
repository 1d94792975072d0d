from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response

from app.errors import LogbookError
from app.instruments import api, chart_pages, ledger_pages, shed_pages
from app.instruments.schemas import (
    ACCURACY_MEANINGS,
    INSTRUMENT_METHODS,
    InstrumentIn,
    ReferenceVolumeIn,
    SettingsFoundView,
)
from app.officials.access import Official, Staff
from app.parsing import parse
from app.web import Db, Form, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "instrument-registered": "The instrument is in the book. Add its reference volume and its calibration next.",
        "reference-volume-added": "The reference volume is added. It belongs to this instrument only.",
    }
)


@router.get("/instruments")
def instrument_book(request: Request, db: Db, me: Staff) -> Response:
    return page(request, "instruments/instrument_book.html", api.list_instruments(db, me))


@router.get("/instruments/new")
def new_instrument(request: Request, db: Db, me: Official) -> Response:
    return _new_instrument(request, uuid4())


@router.post("/instruments/{instrument_id}")
def add_instrument(request: Request, instrument_id: UUID, form: PostedForm, db: Db, me: Official) -> Response:
    try:
        api.put_instrument(instrument_id, parse(InstrumentIn, form, me.units), db, me)
    except LogbookError as invalid:
        return _new_instrument(request, instrument_id, invalid=invalid, form=form)
    return see_other(request, "instrument", done="instrument-registered", instrument_id=instrument_id)


def _new_instrument(request: Request, instrument_id: UUID, **again: Any) -> Response:
    choices: dict[str, Any] = {
        "methods": [(key, method.label.capitalize()) for key, method in INSTRUMENT_METHODS.items()],
        "meanings": list(ACCURACY_MEANINGS.items()),
    }
    return page(request, "instruments/new_instrument.html", instrument_id=instrument_id, **choices, **again)


@router.get("/instruments/{instrument_id}")
def instrument(
    request: Request, instrument_id: UUID, db: Db, me: Staff, cylinders: str = "", displacement: str = ""
) -> Response:
    """Also the settings finder: what was asked stands in the address, so an answer can be kept and sent on."""
    asked: Form = {name: text for name, text in (("cylinders", cylinders), ("displacement", displacement)) if text}
    found: SettingsFoundView | None = None
    invalid: LogbookError | None = None
    if asked:
        try:
            found = api.find_settings(instrument_id, db, me, cylinders, displacement)
        except LogbookError as refused:
            invalid = refused
    view = api.read_instrument(instrument_id, db, me)
    return page(
        request,
        "instruments/instrument.html",
        view,
        invalid=invalid,
        form=asked,
        found=found,
        charts=chart_pages.drawn_charts(instrument_id, db, me),
        studies=request.app.state.studies_of(instrument_id, db, me),
    )


@router.get("/instruments/{instrument_id}/reference-volumes/new")
def new_reference_volume(request: Request, instrument_id: UUID, db: Db, me: Official) -> Response:
    view = api.read_instrument(instrument_id, db, me)
    return page(request, "instruments/new_reference_volume.html", view, volume_id=uuid4())


@router.post("/instruments/{instrument_id}/reference-volumes/{volume_id}")
def add_reference_volume(
    request: Request, instrument_id: UUID, volume_id: UUID, form: PostedForm, db: Db, me: Official
) -> Response:
    try:
        api.put_reference_volume(instrument_id, volume_id, parse(ReferenceVolumeIn, form, me.units), db, me)
    except LogbookError as invalid:
        view = api.read_instrument(instrument_id, db, me)
        again: dict[str, Any] = {"invalid": invalid, "form": form, "volume_id": volume_id}
        return page(request, "instruments/new_reference_volume.html", view, **again)
    return see_other(request, "instrument", done="reference-volume-added", instrument_id=instrument_id)


router.include_router(ledger_pages.router)
router.include_router(shed_pages.router)
router.include_router(chart_pages.router)
