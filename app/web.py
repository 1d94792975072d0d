"""The only glue between requests and the logbook: pages, forms, error answers, headers."""

import hashlib
import logging
import secrets
from collections.abc import AsyncIterator, Mapping
from contextvars import ContextVar
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo
from functools import lru_cache
from http import HTTPStatus
from typing import Annotated, Any
from urllib.parse import urlencode
from uuid import uuid4

from fastapi import Depends, FastAPI, Request, Response
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse, JSONResponse, RedirectResponse
from jinja2 import Environment
from python_multipart.multipart import parse_options_header
from starlette.exceptions import HTTPException

from app import plots
from app.config import SHARED_ROOT
from app.database import Database
from app.errors import Conflict, Invalid, LogbookError, NeedsSignIn, NotFound, Refused, TooMany, Unavailable
from app.intake import day, show, show_both, unit_of
from app.parsing import sentences
from app.templating import template_environment

log = logging.getLogger("shedbook")
Form = dict[str, Any]

_STATUS: tuple[tuple[type[LogbookError], int], ...] = (
    (NotFound, 404),
    (Invalid, 422),
    (Conflict, 409),
    (Refused, 403),
    (NeedsSignIn, 401),
    (TooMany, 429),
    (Unavailable, 503),
)


@dataclass(frozen=True, slots=True)
class NavItem:
    href: str
    label: str
    current: bool


# ---- what a route is given -------------------------------------------------------------------------------------


def _database(request: Request) -> Database:
    database: Database = request.app.state.database
    return database


Db = Annotated[Database, Depends(_database)]


async def _posted_form(request: Request) -> AsyncIterator[Form]:
    """What was posted: text as it was typed, several values under one name as a list, a file as its upload."""
    _, named = parse_options_header(request.headers.get("content-type"))
    if named.get(b"charset", b"utf-8").lower() != b"utf-8":
        raise HTTPException(415)  # browsers send UTF-8; some other codecs make text that nothing can write down again
    async with request.form(max_files=2, max_fields=2000) as typed:
        form: Form = {}
        for name in typed:
            values = typed.getlist(name)
            form[name] = values if len(values) > 1 else values[0]
        yield form


PostedForm = Annotated[Form, Depends(_posted_form)]


# ---- what a route answers --------------------------------------------------------------------------------------


# put on every answer by the guard, and here on the one answer that is made outside it
HEADERS = [
    (
        b"content-security-policy",
        b"default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; "
        b"worker-src 'self'; manifest-src 'self'; font-src 'self'; form-action 'self'; base-uri 'none'; "
        b"frame-ancestors 'none'",
    ),
    (b"x-content-type-options", b"nosniff"),
    (b"referrer-policy", b"no-referrer"),
    (b"cross-origin-opener-policy", b"same-origin"),
    (b"cross-origin-resource-policy", b"same-origin"),
    (b"permissions-policy", b"camera=(self), microphone=(), geolocation=()"),
]


def _environment() -> Environment:
    environment = template_environment()
    environment.globals.update(static=_static_url, plots=plots, new_id=uuid4, unit_of=unit_of, reported=plots.reported)
    environment.filters.update(show=show, show_both=show_both, day=day, moment=_moment, clock=_clock)
    return environment


# the shed's own time, for the page being rendered; macros are imported without their page's context
_zone: ContextVar[tzinfo] = ContextVar("zone", default=UTC)


def _moment(at: datetime) -> str:
    here = at.astimezone(_zone.get())
    return f"{day(here)}, {here:%H:%M %Z}"


def _clock(at: datetime) -> str:
    return f"{at.astimezone(_zone.get()):%H:%M %Z}"


@lru_cache(maxsize=256)
def _static_url(name: str) -> str:
    """The address changes with the content, so browsers may keep the file for good."""
    digest = hashlib.sha256((SHARED_ROOT / "static" / name).read_bytes()).hexdigest()[:10]
    return f"/static/{name}?v={digest}"


_environment_once = lru_cache(maxsize=1)(_environment)


def page(
    request: Request,
    template: str,
    view: Any = None,
    *,
    invalid: LogbookError | None = None,
    form: Form | None = None,
    status: int = 0,
    **more: Any,
) -> HTMLResponse:
    """The template with its view; with `invalid` the same page again, all that was typed kept."""
    me = getattr(request.state, "me", None)
    context = {
        "request": request,
        "me": me,
        "nav": request.app.state.navigation(me, request.scope["path"]),
        "view": view,
        "invalid": invalid,
        "form": form or {},
        "notice": request.query_params.get("done") and _notice(request.query_params["done"]),
        "units": me.units if me else request.app.state.settings.units,
        **more,
    }
    _zone.set(request.app.state.settings.zone)
    body = _environment_once().get_template(template).render(context)
    return HTMLResponse(body, status or (_status_of(invalid) if invalid else 200))


_NOTICES: dict[str, str] = {}


def notices(sentences_by_key: Mapping[str, str]) -> None:
    """A feature names the sentences its redirects may show; an address can only pick one, never bring its own."""
    _NOTICES.update(sentences_by_key)


def _notice(key: str) -> str | None:
    return _NOTICES.get(key)


def see_other(request: Request, route: str, *, done: str = "", **path: Any) -> RedirectResponse:
    address = str(request.app.url_path_for(route, **{name: str(value) for name, value in path.items()}))
    return RedirectResponse(address + (f"?{urlencode({'done': done})}" if done else ""), status_code=303)


# ---- errors to answers -----------------------------------------------------------------------------------------


def _status_of(error: LogbookError) -> int:
    return next(status for kind, status in _STATUS if isinstance(error, kind))


def _wants_json(request: Request) -> bool:
    path: str = request.scope["path"]  # what stands in `request.url` follows the Host header
    return path.startswith("/api/") or "application/json" in request.headers.get("accept", "")


def answer(request: Request, status: int, message: str, errors: Mapping[str, str], incident: str = "") -> Response:
    headers = {"Retry-After": "2"} if status == 503 else {}
    if _wants_json(request):
        problem: dict[str, Any] = {
            "type": "about:blank",
            "title": HTTPStatus(status).phrase,
            "status": status,
            "detail": message,
        }
        if errors:
            problem["errors"] = dict(errors)
        if incident:
            problem["incident"] = incident
        return JSONResponse(problem, status, headers, media_type="application/problem+json")
    response = page(
        request,
        "errors/error.html",
        status=status,
        code=status,
        message=message,
        incident=incident,
        problem_errors=errors,
    )
    response.headers.update(headers)
    return response


def _logbook_error(request: Request, error: Exception) -> Response:
    if not isinstance(error, LogbookError):
        raise error
    if isinstance(error, NeedsSignIn) and not _wants_json(request):
        back = request.scope["path"] if request.method == "GET" else "/"
        return RedirectResponse(f"/sign-in?{urlencode({'next': back})}", status_code=303)
    response = answer(request, _status_of(error), error.message, error.errors)
    if isinstance(error, TooMany):
        response.headers["Retry-After"] = str(error.retry_after_s)
    return response


def _shape_error(request: Request, error: Exception) -> Response:
    if not isinstance(error, RequestValidationError):
        raise error
    if any(part["loc"][0] == "path" for part in error.errors()):
        return _logbook_error(request, NotFound("page"))
    found = sentences(error.errors())
    return answer(request, 422, next(iter(found.values()), "Something needs to be put right."), found)


def _http_error(request: Request, error: Exception) -> Response:
    if not isinstance(error, HTTPException):
        raise error
    message = {
        404: "There is no such page. Check the address, or go back and choose again.",
        405: "This address does not take that kind of request.",
        413: "What was sent is too large. Send a smaller file.",
        415: "The letters of this form are not sent as UTF-8. Send it again from the logbook's own page.",
    }.get(error.status_code, "This cannot be answered as it was asked. Go back and try again.")
    return answer(request, error.status_code, message, {})


def _unforeseen(request: Request, error: Exception) -> Response:
    incident = secrets.token_hex(4)
    # as Python writes it: a line's end in an address must not begin a line of the log
    log.exception("incident %s: %s %r", incident, request.method, request.scope["path"], exc_info=error)
    message = (
        "Something went wrong in the logbook itself. Nothing that was already kept is lost. "
        f"Try again; if it happens again, tell whoever runs the logbook the number {incident}."
    )
    response = answer(request, 500, message, {}, incident)
    response.headers.update({name.decode(): value.decode() for name, value in HEADERS})
    response.headers["Cache-Control"] = "no-store"
    return response


def install_errors(app: FastAPI) -> None:
    app.add_exception_handler(LogbookError, _logbook_error)
    app.add_exception_handler(RequestValidationError, _shape_error)
    app.add_exception_handler(HTTPException, _http_error)
    app.add_exception_handler(Exception, _unforeseen)
