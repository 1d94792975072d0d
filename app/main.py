"""Puts the application together. Nothing happens at import: `create_app` is called once, with its settings."""

from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from datetime import datetime
from functools import partial
from pathlib import Path

from fastapi import FastAPI, Request, Response
from fastapi.staticfiles import StaticFiles
from sqlalchemy import text
from starlette.middleware.trustedhost import TrustedHostMiddleware

from app.bench_sheets import api as bench_sheets_api
from app.bench_sheets import pages as bench_sheets_pages
from app.config import SHARED_ROOT, Settings
from app.database import Database
from app.doubts import api as doubts_api
from app.doubts import pages as doubts_pages
from app.doubts.service import standing_of_sheet
from app.doubts.sweeping import look_back
from app.entries import api as entries_api
from app.entries import pages as entries_pages
from app.guard import Guard
from app.history import api as history_api
from app.history import pages as history_pages
from app.inspections import api as inspections_api
from app.inspections import pages as inspections_pages
from app.instruments import api as instruments_api
from app.instruments import ledger_api
from app.instruments import pages as instruments_pages
from app.officials import api as officials_api
from app.officials import pages as officials_pages
from app.officials.keyring import open_keyring
from app.officials.service import CurrentPerson
from app.planning import api as planning_api
from app.planning import pages as planning_pages
from app.protests import api as protests_api
from app.protests import pages as protests_pages
from app.regulations import api as regulations_api
from app.regulations import pages as regulations_pages
from app.slips import api as slips_api
from app.slips import notice_api, notice_pages
from app.slips import pages as slips_pages
from app.slips.press import Press
from app.studies import api as studies_api
from app.studies import pages as studies_pages
from app.web import NavItem, install_errors

# address, words, who sees it
_NAVIGATION = (
    ("/shed", "Shed", ("inspector",)),
    ("/events", "Events", ("official",)),
    ("/competitors", "Competitors", ("official",)),
    ("/rule-book", "Rule book", ("official", "inspector")),
    ("/instruments", "Instruments", ("official", "inspector")),
    ("/records", "Records", ("official", "inspector")),
    ("/doubts", "In doubt", ("official",)),
    ("/protests", "Protests", ("official",)),
    ("/people", "People", ("administrator",)),
    ("/log", "Log", ("administrator", "official")),
    ("/my-record", "My record", ("competitor",)),
    ("/verify", "Verify a slip", ()),
)


def navigation(me: CurrentPerson | None, path: str) -> list[NavItem]:
    return [
        NavItem(href, label, path == href or path.startswith(href + "/"))
        for href, label, roles in _NAVIGATION
        if not roles or (me is not None and me.may(*roles))
    ]


def create_app(settings: Settings, clock: Callable[[], datetime] | None = None) -> FastAPI:
    database = Database(settings.resolved_database_url, *([clock] if clock else []))
    press = Press(settings.slip_workers, settings.slip_seconds)
    # Anyone may send a file to be looked at: it takes neither the inspectors' worker nor many of the server's threads.
    verifier = Press(workers=1, seconds=15, most_callers=4)

    @asynccontextmanager
    async def lifespan(_app: FastAPI) -> AsyncIterator[None]:
        press.warm()
        app.state.look_back(database)  # what a stop cut off half way
        yield
        press.close()
        verifier.close()
        database.close()

    app = FastAPI(
        title="Shedbook",
        version="0.1.0",
        lifespan=lifespan,
        docs_url=None,
        redoc_url=None,
        openapi_url="/api/openapi.json",
    )
    app.state.settings = settings
    app.state.database = database
    app.state.keyring = open_keyring(settings.keys_folder, "Series authority", database.clock())
    app.state.press = press
    app.state.verifier = verifier
    # asked for by features that stand below the one that answers
    app.state.look_back = partial(look_back, piece=settings.look_back_piece)
    app.state.standing_of_sheet = standing_of_sheet
    app.state.notices_about = notice_api.notices_about
    app.state.left_to_name = notice_api.left_to_name
    app.state.studies_of = studies_api.list_studies  # for the instrument's page, which stands below the studies
    app.state.airflow_moved = studies_api.airflow_moved  # for the shed, as before
    app.state.navigation = navigation
    install_errors(app)
    app.add_middleware(TrustedHostMiddleware, allowed_hosts=list(settings.allowed_hosts))
    app.add_middleware(Guard)
    for feature in (
        officials_api, officials_pages, regulations_api, regulations_pages, entries_api, entries_pages,
        instruments_api, ledger_api, instruments_pages, studies_api, studies_pages, inspections_api, inspections_pages,
        bench_sheets_api, bench_sheets_pages, protests_api, protests_pages, doubts_api, doubts_pages,
        planning_api, planning_pages, slips_api, slips_pages, notice_api, notice_pages, history_api, history_pages,
    ):  # fmt: skip
        app.include_router(feature.router)
    app.mount("/static", StaticFiles(directory=SHARED_ROOT / "static"), name="static")
    app.mount("/fonts", StaticFiles(directory=_font_folder()), name="fonts")

    @app.get("/health", include_in_schema=False)
    def health(request: Request) -> Response:
        with request.app.state.database.read() as session:
            session.execute(text("SELECT 1"))
        return Response("ok", media_type="text/plain")

    return app


def _font_folder() -> Path:
    """The font is a package of its own, so no file of it lies in this repository."""
    from importlib.util import find_spec

    spec = find_spec("font_source_sans_pro")
    if spec is None or spec.origin is None:
        raise RuntimeError("The package font-source-sans-pro is missing. Run the set-up again.")
    return Path(spec.origin).parent / "files"
