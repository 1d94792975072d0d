from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response

from app.errors import Invalid, LogbookError
from app.inspections import api, whatif_pages, wording
from app.inspections.schemas import (
    CheckIn,
    ConditionsView,
    CorrectedConditionsIn,
    InspectionIn,
    InspectionView,
    ReadingIn,
    ReadingsIn,
)
from app.inspections.start import StartView
from app.intake import typed_back
from app.officials.access import Inspector, Staff
from app.parsing import parse, typed_id
from app.web import Db, Form, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
router.include_router(whatif_pages.router)
notices(
    {
        "sheet-opened": "The sheet is open. Take the readings.",
        "readings-kept": "The readings are kept.",
        "reading-corrected": "The reading is corrected; the earlier one stays in the record.",
        "conditions-corrected": "The conditions are corrected; the earlier ones stay in the record.",
        "check-noted": "The check is noted beside the suspicion.",
    }
)
PEAKS = 3  # fields a row; more repeats go in over the API


@router.get("/events/{event_id}/waiting")
def waiting_list(request: Request, event_id: UUID, db: Db, me: Staff, find: str = "") -> Response:
    view = api.read_waiting_list(event_id, db, me)
    shown = [line for line in view.entries if find.strip().lower() in line.entry.car_number.lower()]
    return page(request, "inspections/waiting_list.html", view, shown=shown, find=find)


@router.get("/entries/{entry_id}/start")
def start_sheet(
    request: Request,
    entry_id: UUID,
    db: Db,
    me: Inspector,
    instrument_id: UUID | None = None,
    repeats_id: UUID | None = None,
) -> Response:
    view = api.read_start(entry_id, db, me, instrument_id, repeats_id)
    return _start_sheet(request, view, me, repeats_id, uuid4(), uuid4())


def _start_sheet(
    request: Request,
    view: StartView,
    me: Inspector,
    repeats_id: UUID | None,
    inspection_id: UUID,
    conditions_id: UUID | str,
    **again: Any,
) -> Response:
    values = _typed_conditions(view.last_conditions, me.units) if view.last_conditions else {}
    if view.instrument is not None:
        values["airflow"] = typed_back(view.instrument.airflow_set_point_l_min, "flow", me.units)
    values["crank_step"], values["rod_ratio"] = "0", ""  # another engine and perhaps another hand: not carried over
    best = view.choices[0] if view.choices else None
    values["set_displacement"] = typed_back(best.displacement_cm3, "volume", me.units) if best else ""
    values["set_cylinders"] = str(best.cylinders) if best else ""
    return page(
        request,
        "inspections/start_sheet.html",
        view,
        repeats_id=repeats_id,
        inspection_id=inspection_id,
        conditions_id=conditions_id,
        values=values,
        **again,
    )


def _typed_conditions(kept: ConditionsView, units: str) -> Form:
    """What the fields start from: these conditions, as this person would type them."""
    return {
        "set_displacement": typed_back(kept.set_displacement_cm3, "volume", units),
        "set_cylinders": str(kept.set_cylinders),
        "set_gas_temperature": typed_back(kept.set_gas_temperature_c, "temperature", units),
        "gas_temperature": typed_back(kept.gas_temperature_c, "temperature", units),
        "temperature_source": kept.temperature_source,
        "airflow": typed_back(kept.airflow_l_min, "flow", units),
        "ambient_temperature": typed_back(kept.ambient_temperature_c, "temperature", units),
        "pressure": typed_back(kept.pressure_kpa, "pressure", units),
        "humidity": "" if kept.humidity_percent is None else format(kept.humidity_percent, "f"),
        "crank_step": format(kept.crank_step_degrees, "f"),
        "rod_ratio": "" if kept.rod_ratio is None else format(kept.rod_ratio, "f"),
    }


@router.post("/inspections/{inspection_id}")
def open_sheet(request: Request, inspection_id: UUID, form: PostedForm, db: Db, me: Inspector) -> Response:
    try:
        api.put_inspection(inspection_id, parse(InspectionIn, form, me.units), db, me)
    except LogbookError as invalid:
        entry_id, instrument_id, repeats_id = (
            typed_id(form.get(name)) for name in ("entry_id", "instrument_id", "repeats_id")
        )
        if entry_id is None:
            raise
        view = api.read_start(entry_id, db, me, instrument_id, repeats_id)
        kept_id = form.get("conditions_id", "")
        return _start_sheet(request, view, me, repeats_id, inspection_id, kept_id, invalid=invalid, form=form)
    return see_other(request, "inspection_sheet", inspection_id=inspection_id, done="sheet-opened")


@router.get("/inspections/{inspection_id}")
def inspection_sheet(request: Request, inspection_id: UUID, db: Db, me: Staff) -> Response:
    return _inspection_sheet(request, inspection_id, db, me, {})


def _inspection_sheet(
    request: Request,
    inspection_id: UUID,
    db: Db,
    me: Staff,
    form: Form,
    invalid: LogbookError | None = None,
    check_id: UUID | None = None,
) -> Response:
    """`check_id` is the check that could not be kept: its form comes again as it was sent."""
    view = api.read_inspection(inspection_id, db, me)
    return page(
        request,
        "inspections/inspection_sheet.html",
        view,
        invalid=invalid,
        form=form,
        peaks=PEAKS,
        reading_ids=_reading_ids(view, form),
        check_id=check_id,
        words=wording,
        standing=_standing(request, db, view),
    )


def _standing(request: Request, db: Db, view: InspectionView) -> Any:
    """How the signed result stands today; app.doubts, which knows, stands above."""
    if view.verdict is None:
        return None
    with db.read() as session:
        return request.app.state.standing_of_sheet(session, view.id)


def _reading_ids(view: InspectionView, form: Form) -> dict[int, str]:
    """Each empty row has the id its reading will have: a double tap sends the same reading twice."""
    return {number: str(form.get(f"c{number}-id") or uuid4()) for number in view.missing}


@router.post("/inspections/{inspection_id}/readings")
def enter_readings(request: Request, inspection_id: UUID, form: PostedForm, db: Db, me: Inspector) -> Response:
    rows = _typed_rows(form)
    try:
        if not rows:
            first = next((name.removesuffix("-id") for name in form if name.endswith("-id")), "c1")
            raise Invalid({f"{first}-1": "No reading was typed. Enter the peak of at least one cylinder."})
        data = parse(ReadingsIn, {"readings": [reading for _number, _places, reading in rows]}, me.units)
        view = api.put_readings(inspection_id, data, db, me)
    except LogbookError as invalid:
        invalid.errors = {_field(name, rows): sentence for name, sentence in invalid.errors.items()}
        return _inspection_sheet(request, inspection_id, db, me, form, invalid)
    if view.missing:
        return see_other(request, "inspection_sheet", inspection_id=inspection_id, done="readings-kept")
    return see_other(request, "verdict_page", inspection_id=inspection_id)


def _typed_rows(form: Form) -> list[tuple[int, list[int], dict[str, Any]]]:
    """The rows in which something was typed: cylinder, the columns filled, and the reading to be."""
    rows = []
    for name in form:
        number = name.removeprefix("c").removesuffix("-id")
        if not (name.endswith("-id") and number.isascii() and number.isdigit()):
            continue
        typed = {place: str(form.get(f"c{number}-{place}", "")).strip() for place in range(1, PEAKS + 1)}
        filled = [place for place, text in typed.items() if text]
        why = str(form.get(f"c{number}-why", "")).strip()
        if filled or why:
            reading = {
                "id": form[name],
                "cylinder": number,
                "indications": [typed[place] for place in filled],
                "not_measured_reason": why,
            }
            rows.append((int(number), filled, reading))
    return rows


def _field(name: str, rows: list[tuple[int, list[int], dict[str, Any]]]) -> str:
    """`readings.2.indications.1` to the field in which that was typed."""
    parts = name.split(".")
    if parts[0] != "readings" or len(parts) < 3 or int(parts[1]) >= len(rows):
        return name
    number, places, _reading = rows[int(parts[1])]
    if parts[2] == "not_measured_reason":
        return f"c{number}-why"
    place = places[int(parts[3])] if len(parts) > 3 and places else 1
    return f"c{number}-{place}"


@router.get("/inspections/{inspection_id}/cylinders/{cylinder}/correct")
def correct_reading_page(request: Request, inspection_id: UUID, cylinder: int, db: Db, me: Inspector) -> Response:
    view = api.read_inspection(inspection_id, db, me)
    return _correct_reading(request, view, cylinder, uuid4())


def _correct_reading(
    request: Request,
    view: InspectionView,
    cylinder: int,
    reading_id: UUID,
    invalid: LogbookError | None = None,
    form: Form | None = None,
) -> Response:
    row = next((row for row in view.rows if row.cylinder == cylinder and row.reading is not None), None)
    if row is None or view.verdict is not None:
        return see_other(request, "inspection_sheet", inspection_id=view.id)
    return page(
        request,
        "inspections/correct_reading.html",
        view,
        row=row,
        reading_id=reading_id,
        peaks=PEAKS,
        words=wording,
        invalid=invalid,
        form=form,
    )


@router.post("/inspections/{inspection_id}/cylinders/{cylinder}/readings/{reading_id}")
def correct_reading(
    request: Request, inspection_id: UUID, cylinder: int, reading_id: UUID, form: PostedForm, db: Db, me: Inspector
) -> Response:
    typed = {place: str(form.get(f"c{cylinder}-{place}", "")).strip() for place in range(1, PEAKS + 1)}
    filled = [place for place, text in typed.items() if text]
    body = {
        "cylinder": cylinder,
        "indications": [typed[place] for place in filled],
        "not_measured_reason": form.get("not_measured_reason", ""),
        "replaces_id": form.get("replaces_id"),
        "reason": form.get("reason", ""),
    }
    try:
        api.put_reading(inspection_id, reading_id, parse(ReadingIn, body, me.units), db, me)
    except LogbookError as invalid:
        places: list[tuple[int, list[int], dict[str, Any]]] = [(cylinder, filled, {})]
        invalid.errors = {
            _field(f"readings.0.{name}", places) if name.startswith("indications") else name: sentence
            for name, sentence in invalid.errors.items()
        }
        view = api.read_inspection(inspection_id, db, me)
        return _correct_reading(request, view, cylinder, reading_id, invalid, form)
    return see_other(request, "inspection_sheet", inspection_id=inspection_id, done="reading-corrected")


@router.get("/inspections/{inspection_id}/conditions")
def correct_conditions_page(request: Request, inspection_id: UUID, db: Db, me: Inspector) -> Response:
    return _correct_conditions(request, inspection_id, uuid4(), db, me)


def _correct_conditions(
    request: Request, inspection_id: UUID, conditions_id: UUID, db: Db, me: Inspector, **again: Any
) -> Response:
    view = api.read_inspection(inspection_id, db, me)
    values = _typed_conditions(view.conditions, me.units)
    return page(
        request, "inspections/correct_conditions.html", view, conditions_id=conditions_id, values=values, **again
    )


@router.post("/inspections/{inspection_id}/conditions/{conditions_id}")
def correct_conditions(
    request: Request, inspection_id: UUID, conditions_id: UUID, form: PostedForm, db: Db, me: Inspector
) -> Response:
    try:
        api.put_conditions(inspection_id, conditions_id, parse(CorrectedConditionsIn, form, me.units), db, me)
    except LogbookError as invalid:
        return _correct_conditions(request, inspection_id, conditions_id, db, me, invalid=invalid, form=form)
    return see_other(request, "inspection_sheet", inspection_id=inspection_id, done="conditions-corrected")


@router.post("/inspections/{inspection_id}/checks/{check_id}")
def note_check(
    request: Request, inspection_id: UUID, check_id: UUID, form: PostedForm, db: Db, me: Inspector
) -> Response:
    """From a form beside a suspicion; more than one of them may stand on the page, so its fields carry its name."""
    cylinder, kind = str(form.get("cylinder", "")), str(form.get("check", ""))
    name, asked = f"check-{cylinder}-{kind}-", ("leak_percent", "pressure", "note")
    body = {"cylinder": cylinder, "check": kind, **{field: form.get(name + field, "") for field in asked}}
    try:
        api.put_check(inspection_id, check_id, parse(CheckIn, body, me.units), db, me)
    except LogbookError as invalid:
        invalid.errors = {name + (field if field in asked else "note"): said for field, said in invalid.errors.items()}
        return _inspection_sheet(request, inspection_id, db, me, form, invalid, check_id)
    back = "verdict_page" if form.get("back") == "verdict" else "inspection_sheet"
    return see_other(request, back, inspection_id=inspection_id, done="check-noted")
