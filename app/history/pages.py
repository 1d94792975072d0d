from collections.abc import Callable
from typing import Annotated, Any
from urllib.parse import urlencode
from uuid import UUID

from fastapi import APIRouter, Query, Request, Response

from app.errors import Invalid
from app.history import api, search
from app.history.schemas import STANDING_FILTERS, VERDICT_FILTERS, FiltersView, SearchIn, SearchView
from app.history.spreadsheet import as_csv
from app.officials.access import CompetitorSelf, Staff
from app.parsing import parse
from app.web import Db, page

router = APIRouter(include_in_schema=False)
_NOTHING = SearchView(rows=[], total=0, page=1, pages=1, nothing_found="", close_to=[])


def _asked(request: Request) -> dict[str, str]:
    """What stands in the address, as it was typed; anything else there is left alone."""
    return {name: request.query_params[name] for name in SearchIn.model_fields if name in request.query_params}


def _address_of(form: dict[str, str]) -> Callable[..., str]:
    """The same search with something changed, as an address."""

    def address(path: str = "/records", **changed: object) -> str:
        asked = {**form, **{name: str(value) for name, value in changed.items()}}
        return f"{path}?{urlencode({name: value for name, value in asked.items() if value and value != 'None'})}"

    return address


def _choices(filters: FiltersView) -> dict[str, list[tuple[str, str]]]:
    listed = {"event_id": filters.events, "class_id": filters.classes, "instrument_id": filters.instruments}
    pairs = {name: [(str(one.id), one.words) for one in choices] for name, choices in listed.items()}
    return {**pairs, "verdict": list(VERDICT_FILTERS.items()), "standing": list(STANDING_FILTERS.items())}


@router.get("/records")
def records_search(request: Request, db: Db, me: Staff) -> Response:
    form = _asked(request)
    more: dict[str, Any] = {
        "choices": _choices(api.read_filters(db, me)),
        "address": _address_of({name: value for name, value in form.items() if name != "page"}),
        "is_narrowed": any(form.get(name) for name in SearchIn.model_fields if name not in ("q", "page")),
    }
    try:
        found = api.search_records(parse(SearchIn, form), db, me)
    except Invalid as invalid:
        return page(request, "history/records_search.html", _NOTHING, invalid=invalid, form=form, **more)
    return page(request, "history/records_search.html", found, form=form, **more)


@router.get("/records.csv")
def records_csv(request: Request, db: Db, me: Staff) -> Response:
    with db.read() as session:
        body = as_csv(search.everything_found(session, parse(SearchIn, _asked(request))))
    return Response(
        body,
        media_type="text/csv; charset=utf-8",
        headers={"content-disposition": 'attachment; filename="records.csv"'},
    )


@router.get("/records/{inspection_id}")
def record_page(request: Request, inspection_id: UUID, db: Db, me: Staff) -> Response:
    return page(request, "history/record_page.html", api.read_record(inspection_id, db, me))


@router.get("/my-record")
def my_record(request: Request, db: Db, me: CompetitorSelf) -> Response:
    return page(request, "history/my_record.html", api.read_my_records(db, me))


@router.get("/my-record/{inspection_id}")
def my_record_page(request: Request, inspection_id: UUID, db: Db, me: CompetitorSelf) -> Response:
    return page(request, "history/my_record_page.html", api.read_my_record(inspection_id, db, me))


@router.get("/log")
def log_page(
    request: Request,
    db: Db,
    me: api.LogReader,
    before: Annotated[int | None, Query(ge=0, le=2**31 - 1, title="Number")] = None,
    check: bool = False,
) -> Response:
    return page(request, "history/log_page.html", api.read_log(db, me, before, check))
