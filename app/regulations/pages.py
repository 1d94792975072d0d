from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response

from app.errors import LogbookError
from app.officials.access import Official, Staff
from app.parsing import parse
from app.regulations import api, edition_form
from app.regulations.schemas import ClassIn, EditionPreview, EventIn, SeriesIn
from app.web import Db, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "series-added": "The series is named. Now add its events and classes.",
        "event-added": "The event is kept. Now add its entries.",
        "class-added": "The class is kept. Now write its first edition.",
        "edition-published": "The edition is published. It stays as it is; a change is the next edition.",
    }
)


# ---- the calendar -----------------------------------------------------------------------------------------------


@router.get("/events")
def events_list(request: Request, db: Db, me: Staff) -> Response:
    return _events_list(request, db, me, uuid4())


def _events_list(request: Request, db: Db, me: Staff, series_id: UUID, **again: Any) -> Response:
    today = db.clock().date()
    events = api.list_events(db, me)
    return page(
        request,
        "regulations/events_list.html",
        events,
        coming=[event for event in reversed(events) if event.ends_on >= today],
        past=[event for event in events if event.ends_on < today],
        today=today,
        series=api.list_series(db, me),
        series_id=series_id,
        classes=api.list_classes(db, me),
        **again,
    )


@router.post("/series/{series_id}")
def add_series(request: Request, series_id: UUID, form: PostedForm, db: Db, me: Official) -> Response:
    try:
        api.put_series(series_id, parse(SeriesIn, form), db, me)
    except LogbookError as invalid:
        return _events_list(request, db, me, series_id, invalid=invalid, form=form)
    return see_other(request, "events_list", done="series-added")


@router.get("/events/new")
def new_event(request: Request, db: Db, me: Official) -> Response:
    return _new_event(request, db, me, uuid4())


def _new_event(request: Request, db: Db, me: Official, event_id: UUID, **again: Any) -> Response:
    series = api.list_series(db, me)
    options = [(row.id, row.name) for row in series]
    return page(request, "regulations/new_event.html", series, event_id=event_id, series_options=options, **again)


@router.post("/events/{event_id}")
def add_event(request: Request, event_id: UUID, form: PostedForm, db: Db, me: Official) -> Response:
    try:
        api.put_event(event_id, parse(EventIn, form), db, me)
    except LogbookError as invalid:
        return _new_event(request, db, me, event_id, invalid=invalid, form=form)
    return see_other(request, "event_page", done="event-added", event_id=event_id)


# ---- the rule book ----------------------------------------------------------------------------------------------


@router.get("/rule-book")
def rule_book(request: Request, db: Db, me: Staff) -> Response:
    return page(request, "regulations/rule_book.html", api.list_classes(db, me), series=api.list_series(db, me))


@router.get("/rule-book/new-class")
def new_class(request: Request, db: Db, me: Official) -> Response:
    return _new_class(request, db, me, uuid4())


def _new_class(request: Request, db: Db, me: Official, class_id: UUID, **again: Any) -> Response:
    series = api.list_series(db, me)
    options = [(row.id, row.name) for row in series]
    return page(request, "regulations/new_class.html", series, class_id=class_id, series_options=options, **again)


@router.post("/rule-book/{class_id}")
def add_class(request: Request, class_id: UUID, form: PostedForm, db: Db, me: Official) -> Response:
    try:
        api.put_class(class_id, parse(ClassIn, form), db, me)
    except LogbookError as invalid:
        return _new_class(request, db, me, class_id, invalid=invalid, form=form)
    return see_other(request, "next_edition", done="class-added", class_id=class_id)


@router.get("/rule-book/{class_id}")
def class_book(request: Request, class_id: UUID, db: Db, me: Staff) -> Response:
    return page(request, "regulations/class_book.html", api.read_class(class_id, db, me))


@router.get("/rule-book/{class_id}/next")
def next_edition(request: Request, class_id: UUID, db: Db, me: Official) -> Response:
    return _next_edition(request, class_id, uuid4(), db, me)


def _next_edition(
    request: Request,
    class_id: UUID,
    edition_id: UUID,
    db: Db,
    me: Official,
    preview: EditionPreview | None = None,
    **again: Any,
) -> Response:
    book = api.read_class(class_id, db, me)
    return page(
        request,
        "regulations/next_edition.html",
        book,
        edition_id=edition_id,
        preview=preview,
        newest=book.editions[0] if book.editions else None,
        values=edition_form.prefilled(book, db.clock().date()),
        **edition_form.choices(),
        **again,
    )


@router.post("/rule-book/{class_id}/editions/{edition_id}")
def publish_edition(
    request: Request, class_id: UUID, edition_id: UUID, form: PostedForm, db: Db, me: Official
) -> Response:
    """Two buttons: one shows what the edition would say and mean, the other publishes it."""
    step = form.pop("step", "publish")
    try:
        data = edition_form.read_edition(form, me.units)
        if step == "preview":
            preview = api.preview_edition(class_id, data, db, me)
            return _next_edition(request, class_id, edition_id, db, me, preview, form=form)
        api.put_edition(class_id, edition_id, data, db, me)
    except LogbookError as invalid:
        return _next_edition(request, class_id, edition_id, db, me, invalid=invalid, form=form)
    return see_other(request, "class_book", done="edition-published", class_id=class_id)
