"""Pages of what becomes of an instrument: its certificates, a volume found damaged, faults, repairs and moves."""

from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response
from starlette.datastructures import UploadFile

from app.errors import Invalid, LogbookError, NotFound
from app.instruments import api, certificates, ledger_api
from app.instruments.ledger_api import AtTheBench
from app.instruments.ledger_schemas import MOST_POINTS, NOTE_KINDS, CondemnationIn, NoteIn, NoteKind, WithdrawalIn
from app.instruments.looking import LookBack
from app.instruments.schemas import CalibrationIn
from app.officials.access import Official, Staff
from app.parsing import parse
from app.web import Db, Form, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "calibration-recorded": "The calibration is recorded.",
        "certificate-attached": "The certificate is kept as it came.",
        "certificate-withdrawn": "The certificate is withdrawn. What rests on it is in doubt.",
        "volume-condemned": "The reference volume verifies nothing any more.",
        "noted": "It is noted.",
    }
)
ROWS, MORE = 5, 5
POINT_FIELDS = ("reference", "deviation", "expanded_uncertainty")


# ---- certificates -----------------------------------------------------------------------------------------------


@router.get("/instruments/{instrument_id}/calibrations/new")
def new_calibration(request: Request, instrument_id: UUID, db: Db, me: Official) -> Response:
    return _new_calibration(request, instrument_id, uuid4(), db, me, ROWS)


@router.post("/instruments/{instrument_id}/calibrations/{calibration_id}")
def add_calibration(
    request: Request, instrument_id: UUID, calibration_id: UUID, form: PostedForm, db: Db, me: Official
) -> Response:
    """Also the button for more lines, which keeps what was typed and records nothing."""
    asked, places = _with_points(form)
    rows = max([ROWS, *places])
    if form.get("more"):
        rows = min(max(rows, _number(form.get("rows"))) + MORE, MOST_POINTS)
        return _new_calibration(request, instrument_id, calibration_id, db, me, rows, form=form)
    try:
        try:
            data = parse(CalibrationIn, asked, me.units)
        except Invalid as invalid:
            raise _at_their_fields(invalid, places) from invalid
        api.put_calibration(instrument_id, calibration_id, data, db, me)
    except LogbookError as invalid:
        return _new_calibration(request, instrument_id, calibration_id, db, me, rows, invalid=invalid, form=form)
    return see_other(request, "instrument", done="calibration-recorded", instrument_id=instrument_id)


def _new_calibration(
    request: Request, instrument_id: UUID, calibration_id: UUID, db: Db, me: Official, rows: int, **again: Any
) -> Response:
    view = api.read_instrument(instrument_id, db, me)
    more: dict[str, Any] = {"calibration_id": calibration_id, "rows": rows, "most": MOST_POINTS}
    return page(request, "instruments/new_calibration.html", view, **more, **again)


def _with_points(form: Form) -> tuple[Form, list[int]]:
    """The lines of the table to one list without the empty ones, and which line of the form each came from."""
    asked = {name: typed for name, typed in form.items() if not name.startswith("point_") and name not in ("rows",)}
    points, places = [], []
    for place in range(1, MOST_POINTS + 1):
        line = {name: str(form.get(f"point_{place}_{name}", "")).strip() for name in POINT_FIELDS}
        if any(line.values()):
            points.append({name: typed for name, typed in line.items() if typed})
            places.append(place)
    return {**asked, "points": points}, places


def _at_their_fields(invalid: Invalid, places: list[int]) -> Invalid:
    """`points.1.deviation` is what the operation says; the page says it at the field it was typed into."""
    errors: dict[str, str] = {}
    for name, sentence in invalid.errors.items():
        stem, _, rest = name.partition(".")
        index, _, field = rest.partition(".")
        errors[f"point_{places[int(index)]}_{field}" if stem == "points" and field else name] = sentence
    return Invalid(errors)


def _number(typed: object) -> int:
    return int(str(typed)) if str(typed).isascii() and str(typed).isdigit() else ROWS


@router.get("/instruments/{instrument_id}/calibrations/{calibration_id}")
def calibration_page(request: Request, instrument_id: UUID, calibration_id: UUID, db: Db, me: Staff) -> Response:
    return _calibration_page(request, instrument_id, calibration_id, db, me, uuid4())


def _calibration_page(
    request: Request, instrument_id: UUID, calibration_id: UUID, db: Db, me: Staff, withdrawal_id: UUID, **again: Any
) -> Response:
    view = api.read_instrument(instrument_id, db, me)
    calibration = next((one for one in view.calibrations if one.id == calibration_id), None)
    if calibration is None:
        raise NotFound("calibration")
    more: dict[str, Any] = {"calibration": calibration, "withdrawal_id": withdrawal_id}
    most = certificates.LARGEST_FILE // 1024 // 1024
    return page(request, "instruments/calibration_page.html", view, most_mib=most, **more, **again)


@router.get("/instruments/{instrument_id}/calibrations/{calibration_id}/file")
def certificate_file(instrument_id: UUID, calibration_id: UUID, db: Db, me: Staff) -> Response:
    return ledger_api.read_certificate_file(instrument_id, calibration_id, db, me)


@router.post("/instruments/{instrument_id}/calibrations/{calibration_id}/file")
def attach_certificate(
    request: Request, instrument_id: UUID, calibration_id: UUID, form: PostedForm, db: Db, me: Official
) -> Response:
    upload = form.get("file")
    try:
        content = upload.file.read(certificates.LARGEST_FILE + 1) if isinstance(upload, UploadFile) else b""
        name = upload.filename or "" if isinstance(upload, UploadFile) else ""
        ledger_api.attach(instrument_id, calibration_id, name, content, db, me)
    except LogbookError as invalid:
        return _calibration_page(request, instrument_id, calibration_id, db, me, uuid4(), invalid=invalid)
    place = {"instrument_id": instrument_id, "calibration_id": calibration_id}
    return see_other(request, "calibration_page", done="certificate-attached", **place)


@router.post("/instruments/{instrument_id}/calibrations/{calibration_id}/withdrawal/{withdrawal_id}")
def withdraw_certificate(
    request: Request,
    instrument_id: UUID,
    calibration_id: UUID,
    withdrawal_id: UUID,
    form: PostedForm,
    db: Db,
    me: Official,
    look_back: LookBack,
) -> Response:
    try:
        data = parse(WithdrawalIn, form)
        ledger_api.put_withdrawal(instrument_id, calibration_id, withdrawal_id, data, db, me, look_back)
    except LogbookError as invalid:
        again: dict[str, Any] = {"invalid": invalid, "form": form}
        return _calibration_page(request, instrument_id, calibration_id, db, me, withdrawal_id, **again)
    place = {"instrument_id": instrument_id, "calibration_id": calibration_id}
    return see_other(request, "calibration_page", done="certificate-withdrawn", **place)


# ---- damage, faults, repairs, moves -----------------------------------------------------------------------------


@router.get("/instruments/{instrument_id}/reference-volumes/{volume_id}/condemnation")
def new_condemnation(request: Request, instrument_id: UUID, volume_id: UUID, db: Db, me: AtTheBench) -> Response:
    return _new_condemnation(request, instrument_id, volume_id, uuid4(), db, me)


@router.post("/instruments/{instrument_id}/reference-volumes/{volume_id}/condemnation/{condemnation_id}")
def condemn_volume(
    request: Request,
    instrument_id: UUID,
    volume_id: UUID,
    condemnation_id: UUID,
    form: PostedForm,
    db: Db,
    me: AtTheBench,
    look_back: LookBack,
) -> Response:
    try:
        data = parse(CondemnationIn, _in_shed_time(request, form, "last_sound_at"))
        ledger_api.put_condemnation(instrument_id, volume_id, condemnation_id, data, db, me, look_back)
    except LogbookError as invalid:
        again: dict[str, Any] = {"invalid": invalid, "form": form}
        return _new_condemnation(request, instrument_id, volume_id, condemnation_id, db, me, **again)
    return see_other(request, "instrument", done="volume-condemned", instrument_id=instrument_id)


def _new_condemnation(
    request: Request, instrument_id: UUID, volume_id: UUID, condemnation_id: UUID, db: Db, me: AtTheBench, **again: Any
) -> Response:
    view = api.read_instrument(instrument_id, db, me)
    volume = next((one for one in view.instrument.reference_volumes if one.id == volume_id), None)
    if volume is None:
        raise NotFound("reference volume")
    more: dict[str, Any] = {"volume": volume, "condemnation_id": condemnation_id}
    return page(request, "instruments/new_condemnation.html", view, **more, **again)


@router.get("/instruments/{instrument_id}/notes/new")
def new_note(request: Request, instrument_id: UUID, db: Db, me: AtTheBench, kind: NoteKind = "fault") -> Response:
    return _new_note(request, instrument_id, uuid4(), db, me, kind)


@router.post("/instruments/{instrument_id}/notes/{note_id}")
def add_note(
    request: Request,
    instrument_id: UUID,
    note_id: UUID,
    form: PostedForm,
    db: Db,
    me: AtTheBench,
    look_back: LookBack,
) -> Response:
    try:
        data = parse(NoteIn, _in_shed_time(request, form, "happened_at"))
        ledger_api.put_note(instrument_id, note_id, data, db, me, look_back)
    except LogbookError as invalid:
        kind = str(form.get("kind"))
        shown = kind if kind in NOTE_KINDS else "fault"
        return _new_note(request, instrument_id, note_id, db, me, shown, invalid=invalid, form=form)
    return see_other(request, "instrument", done="noted", instrument_id=instrument_id)


def _new_note(
    request: Request, instrument_id: UUID, note_id: UUID, db: Db, me: AtTheBench, kind: str, **again: Any
) -> Response:
    view = api.read_instrument(instrument_id, db, me)
    return page(request, "instruments/new_note.html", view, note_id=note_id, kind=kind, **again)


def _in_shed_time(request: Request, form: Form, name: str) -> Form:
    """A moment typed without its zone is the shed's own time; what is no moment is left for its sentence."""
    try:
        moment = datetime.fromisoformat(str(form.get(name, "")).strip())
        if moment.tzinfo is None:
            moment = moment.replace(tzinfo=request.app.state.settings.zone)
        return {**form, name: moment.isoformat()}
    except (ValueError, OverflowError):
        return form
