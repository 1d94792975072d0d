from decimal import Decimal
from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response

from app.bench_sheets import api
from app.bench_sheets.forms import FORMS
from app.bench_sheets.forms.choices import CHOICES
from app.bench_sheets.forms.typed_rows import TypedRows, columns, flat
from app.bench_sheets.schemas import BenchObservationIn, BenchSheetIn, BenchSheetView, BenchSignOffIn
from app.bench_sheets.wording import CAUTIONS, small, typed_words, unit_words
from app.errors import LogbookError, NotFound
from app.intake import typed_back
from app.officials import api as officials
from app.officials.access import Inspector, Staff
from app.officials.api import Keys
from app.parsing import parse, typed_id
from app.web import Db, Form, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "bench-opened": "The bench sheet is open. Enter what is measured.",
        "bench-kept": "What was measured is kept. Look at the result before you sign.",
        "bench-corrected": "The sheet is corrected; what stood before stays in the record.",
        "bench-signed": "Signed and kept in the logbook.",
    }
)


@router.get("/entries/{entry_id}/bench-sheets")
def bench_list(request: Request, entry_id: UUID, db: Db, me: Staff) -> Response:
    return page(request, "bench_sheets/bench_list.html", api.list_bench_sheets(entry_id, db, me))


@router.get("/entries/{entry_id}/bench-sheets/new")
def bench_new(request: Request, entry_id: UUID, db: Db, me: Inspector) -> Response:
    return _bench_new(request, entry_id, uuid4(), db, me)


def _bench_new(request: Request, entry_id: UUID, sheet_id: UUID, db: Db, me: Inspector, **again: Any) -> Response:
    view = api.read_bench_start(entry_id, db, me)
    return page(request, "bench_sheets/bench_new.html", view, sheet_id=sheet_id, cautions=CAUTIONS, **again)


@router.post("/bench-sheets/{sheet_id}")
def open_bench_sheet(request: Request, sheet_id: UUID, form: PostedForm, db: Db, me: Inspector) -> Response:
    try:
        api.put_bench_sheet(sheet_id, parse(BenchSheetIn, form), db, me)
    except LogbookError as invalid:
        entry_id = typed_id(form.get("entry_id"))
        if entry_id is None:
            raise
        return _bench_new(request, entry_id, sheet_id, db, me, invalid=invalid, form=form)
    return see_other(request, "bench_sheet", sheet_id=sheet_id, done="bench-opened")


@router.get("/bench-sheets/{sheet_id}")
def bench_sheet(request: Request, sheet_id: UUID, db: Db, me: Staff) -> Response:
    """Empty it is the form to fill; filled it is the result and, for an inspector, the sign-off."""
    view = api.read_bench_sheet(sheet_id, db, me)
    if view.observation is None and me.may("inspector"):
        return _bench_form(request, view, me, uuid4())
    return _bench_result(request, view, db, me, uuid4())


# ---- observing ---------------------------------------------------------------------------------------------------


@router.get("/bench-sheets/{sheet_id}/observations")
def bench_observations(request: Request, sheet_id: UUID, db: Db, me: Inspector) -> Response:
    view = api.read_bench_sheet(sheet_id, db, me)
    if view.verdict is not None:
        return see_other(request, "bench_sheet", sheet_id=sheet_id)
    return _bench_form(request, view, me, uuid4())


def _bench_form(
    request: Request, view: BenchSheetView, me: Inspector, observation_id: UUID, form: Form | None = None, **again: Any
) -> Response:
    """A number without a unit keeps the meaning it had when it was typed, so a correction stays in that system."""
    kept = view.observation
    units = str((form or {}).get("units") or (kept.units if kept else me.units))
    known = FORMS[view.method]
    usual = {
        name: typed_back(Decimal(value), kind, units) if kind else value for name, (value, kind) in known.usual.items()
    }
    return page(
        request,
        "bench_sheets/bench_form.html",
        view,
        form=form,
        observation_id=observation_id,
        fields=known.template,
        values=flat(kept.typed) if kept else usual,
        choices=CHOICES,
        columns=columns,
        cautions=CAUTIONS,
        units="inch" if units == "inch" else "metric",
        **again,
    )


@router.post("/bench-sheets/{sheet_id}/observations/{observation_id}")
def keep_bench_observations(
    request: Request, sheet_id: UUID, observation_id: UUID, form: PostedForm, db: Db, me: Inspector
) -> Response:
    view = api.read_bench_sheet(sheet_id, db, me)
    rows = TypedRows(form, FORMS[view.method].asked)
    head: Form = {name: form[name] for name in ("units", "replaces_id", "reason") if name in form}
    try:
        data = parse(BenchObservationIn, {**head, "observations": rows.observations})
        api.put_bench_observations(sheet_id, observation_id, data, db, me)
    except NotFound:
        raise
    except LogbookError as invalid:
        invalid.errors = {rows.field(place): sentence for place, sentence in invalid.errors.items()}
        return _bench_form(request, view, me, observation_id, form, invalid=invalid)
    done = "bench-corrected" if data.replaces_id else "bench-kept"
    return see_other(request, "bench_sheet", sheet_id=sheet_id, done=done)


# ---- result and sign-off -----------------------------------------------------------------------------------------


def _bench_result(
    request: Request, view: BenchSheetView, db: Db, me: Staff, verdict_id: UUID, **again: Any
) -> Response:
    return page(
        request,
        "bench_sheets/bench_result.html",
        view,
        verdict_id=verdict_id,
        has_pin=officials.read_me(db, me).has_pin,
        small=small,
        typed=lambda kept: typed_words(flat(kept)),
        unit=unit_words(view.assessment["unit"]) if view.assessment else "",
        **again,
    )


@router.post("/bench-sheets/{sheet_id}/sign-off/{verdict_id}")
def sign_bench_sheet(
    request: Request, sheet_id: UUID, verdict_id: UUID, form: PostedForm, db: Db, me: Inspector, keys: Keys
) -> Response:
    try:
        api.put_bench_sign_off(sheet_id, verdict_id, parse(BenchSignOffIn, form), db, me, keys)
    except NotFound:
        raise
    except LogbookError as invalid:
        form.pop("pin", None)
        view = api.read_bench_sheet(sheet_id, db, me)
        return _bench_result(request, view, db, me, verdict_id, invalid=invalid, form=form)
    return see_other(request, "bench_sheet", sheet_id=sheet_id, done="bench-signed")
