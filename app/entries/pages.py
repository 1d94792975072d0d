from collections import Counter
from collections.abc import AsyncIterator
from typing import Annotated, Any, Literal
from uuid import UUID, uuid4

from fastapi import APIRouter, Depends, Request, Response
from starlette.datastructures import UploadFile

from app.entries import api, entry_sheet
from app.entries.api import MOST_BYTES, SentList
from app.entries.schemas import AccountIn, EntryIn, EntryView, ImportView, NameIn
from app.errors import Invalid, LogbookError
from app.officials.access import Official, Staff
from app.officials.service import CurrentPerson
from app.parsing import parse
from app.regulations import api as regulations
from app.web import Db, Form, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "entry-added": "The entry is kept.",
        "list-taken-in": "The list is taken in.",
        "account-linked": "Kept. Whoever is linked sees this competitor's record after signing in.",
        "renamed": "The name is changed. Slips keep the name under which they were signed.",
    }
)
SHOWN_ENTRIES = 200
SHOWN_ROWS = 60


# ---- an event and its entries -----------------------------------------------------------------------------------


@router.get("/events/{event_id}")
def event_page(request: Request, event_id: UUID, db: Db, me: Staff, find: str = "") -> Response:
    entries = api.list_entries(event_id, db, me)
    found = [entry for entry in entries if _has(entry, find)]
    return page(
        request,
        "entries/event_page.html",
        entries,
        event=regulations.read_event(event_id, db, me),
        happened=regulations.read_event_history(event_id, db, me),
        shown=found[:SHOWN_ENTRIES],
        found=len(found),
        find=find,
        classes=sorted(Counter((entry.class_code, entry.class_name) for entry in entries).items()),
    )


def _has(entry: EntryView, words: str) -> bool:
    who = f"{entry.competitor.name} {entry.competitor.licence}"
    place = f"{entry.car_number} {entry.class_code} {who} {entry.engine.serial}".casefold()
    return all(word in place for word in words.casefold().split())


@router.get("/events/{event_id}/entries/new")
def new_entry(request: Request, event_id: UUID, db: Db, me: Official) -> Response:
    return _new_entry(request, event_id, uuid4(), db, me)


def _new_entry(request: Request, event_id: UUID, entry_id: UUID, db: Db, me: Official, **again: Any) -> Response:
    event = regulations.read_event(event_id, db, me)
    classes = [one for one in regulations.list_classes(db, me) if one.series_id == event.series_id]
    options = [(one.id, f"{one.code}  {one.name}") for one in classes]
    return page(request, "entries/new_entry.html", event, entry_id=entry_id, class_options=options, **again)


@router.post("/events/{event_id}/entries/{entry_id}")
def add_entry(request: Request, event_id: UUID, entry_id: UUID, form: PostedForm, db: Db, me: Official) -> Response:
    try:
        api.put_entry(event_id, entry_id, parse(EntryIn, form, me.units), db, me)
    except LogbookError as invalid:
        return _new_entry(request, event_id, entry_id, db, me, invalid=invalid, form=form)
    return see_other(request, "entry_page", done="entry-added", entry_id=entry_id)


@router.get("/entries/{entry_id}")
def entry_page(request: Request, entry_id: UUID, db: Db, me: Staff) -> Response:
    return page(request, "entries/entry_page.html", api.read_entry_page(entry_id, db, me))


# ---- a list of entries ------------------------------------------------------------------------------------------


async def _posted_list(request: Request) -> AsyncIterator[Form]:
    """Like any form, but its text may be as large as a list may be."""
    async with request.form(max_files=1, max_fields=10, max_part_size=2 * MOST_BYTES) as typed:
        yield {name: typed[name] for name in typed}


PostedList = Annotated[Form, Depends(_posted_list)]


@router.get("/events/{event_id}/import")
def import_page(request: Request, event_id: UUID, db: Db, me: Official) -> Response:
    return _import_page(request, event_id, db, me)


def _import_page(
    request: Request, event_id: UUID, db: Db, me: Official, preview: ImportView | None = None, **again: Any
) -> Response:
    states = Counter(row.state for row in preview.rows) if preview else Counter()
    worth_reading = [row for row in preview.rows if row.state != "problem"] if preview else []
    worth_reading.sort(key=lambda row: (not row.said, row.row))
    return page(
        request,
        "entries/import_page.html",
        preview,
        event=regulations.read_event(event_id, db, me),
        shown_rows=worth_reading[:SHOWN_ROWS],
        more_rows=len(worth_reading) - SHOWN_ROWS,
        problem_rows=states["problem"],
        status=422 if preview and preview.problem_count and "invalid" not in again else 0,
        **again,
    )


@router.post("/events/{event_id}/import")
def import_list(request: Request, event_id: UUID, form: PostedList, db: Db, me: Official) -> Response:
    """First shows what the list would do; its text comes back with the confirmation and is looked through again."""
    sent = SentList(str(form.get("text", "")))
    kept = {"text": sent.text}
    preview = None
    try:
        sent = _sent(form)
        kept = {"text": sent.text}
        if form.get("step") == "import":
            plan = str(form.get("plan", ""))
            api.import_entries(event_id, db, me, sent, units=_units(me), plan=plan)
            return see_other(request, "event_page", done="list-taken-in", event_id=event_id)
        preview = api.import_entries(event_id, db, me, sent, dry_run=True, units=_units(me))
    except Invalid as invalid:
        if "file" in invalid.errors:
            return _import_page(request, event_id, db, me, invalid=invalid, form=kept)
        preview = api.import_entries(event_id, db, me, sent, dry_run=True, units=_units(me))
    except LogbookError as changed:
        preview = api.import_entries(event_id, db, me, sent, dry_run=True, units=_units(me))
        return _import_page(request, event_id, db, me, preview, invalid=changed, form=kept)
    return _import_page(request, event_id, db, me, preview, form=kept)


def _units(me: CurrentPerson) -> Literal["metric", "inch"]:
    return "inch" if me.units == "inch" else "metric"


def _sent(form: Form) -> SentList:
    file = form.get("file")
    if isinstance(file, UploadFile) and file.filename:
        content = file.file.read(MOST_BYTES + 1)
        if len(content) > MOST_BYTES:
            raise Invalid({"file": "The list is larger than 4 MB. Send it in parts."})
        return SentList(*entry_sheet.text_of(content))
    return SentList(str(form.get("text", "")))


@router.get("/events/{event_id}/import/example.csv")
def import_example(event_id: UUID, db: Db, me: Official) -> Response:
    event = regulations.read_event(event_id, db, me)
    codes = [one.code for one in regulations.list_classes(db, me) if one.series_id == event.series_id]
    headers = {"Content-Disposition": 'attachment; filename="entries-example.csv"'}
    return Response(entry_sheet.example(codes, me.units), media_type="text/csv; charset=utf-8", headers=headers)


# ---- competitors ------------------------------------------------------------------------------------------------


@router.get("/competitors")
def competitors_list(request: Request, db: Db, me: Staff, find: str = "") -> Response:
    everyone = api.list_competitors(db, me)
    words = find.casefold().split()
    found = [one for one in everyone if all(word in f"{one.name} {one.licence}".casefold() for word in words)]
    return page(
        request,
        "entries/competitors_list.html",
        everyone,
        shown=found[:SHOWN_ENTRIES],
        found=len(found),
        find=find,
    )


@router.get("/competitors/{competitor_id}")
def competitor_page(request: Request, competitor_id: UUID, db: Db, me: Staff) -> Response:
    return _competitor_page(request, competitor_id, db, me)


def _competitor_page(request: Request, competitor_id: UUID, db: Db, me: Staff, **again: Any) -> Response:
    accounts = api.list_accounts(db, me) if me.may("official") else []
    return page(
        request,
        "entries/competitor_page.html",
        api.read_competitor(competitor_id, db, me),
        account_options=[(one.id, f"{one.full_name} ({one.sign_in_name})") for one in accounts],
        **again,
    )


@router.post("/competitors/{competitor_id}/account")
def link_account(request: Request, competitor_id: UUID, form: PostedForm, db: Db, me: Official) -> Response:
    try:
        api.put_account(competitor_id, parse(AccountIn, form), db, me)
    except LogbookError as invalid:
        return _competitor_page(request, competitor_id, db, me, invalid=invalid, form=form)
    return see_other(request, "competitor_page", done="account-linked", competitor_id=competitor_id)


@router.post("/competitors/{competitor_id}/name")
def rename_competitor(request: Request, competitor_id: UUID, form: PostedForm, db: Db, me: Official) -> Response:
    try:
        api.put_name(competitor_id, parse(NameIn, form), db, me)
    except LogbookError as invalid:
        return _competitor_page(request, competitor_id, db, me, invalid=invalid, form=form)
    return see_other(request, "competitor_page", done="renamed", competitor_id=competitor_id)
