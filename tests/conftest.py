"""The logbook under test: a fresh database on each engine, an application in this process, and people signed in."""

import hashlib
import os
import secrets
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID, uuid5

import anyio.from_thread
import httpx
import pytest
from fastapi import FastAPI
from sqlalchemy import select

from app.config import Settings
from app.database import Database, now
from app.main import create_app
from app.migrating import bring_up_to_date
from app.officials import service as officials
from app.officials.keyring import open_keyring
from app.officials.models import Person, SignInSession
from app.officials.schemas import PersonIn
from app.slips.press import Press
from tests.postgresql import PostgreSQL, postgresql  # noqa: F401  # a fixture

NAMESPACE = UUID("5a1c7f0e-51f6-4d3c-9d57-7a4a5a0f0001")
START = datetime(2026, 5, 2, 9, 0, tzinfo=UTC)
PIN = "270945"
PASSWORD = "a fair few words"
PEOPLE = {
    "administrator": ("Ada Quill", ["administrator"]),
    "official": ("Oswin Marl", ["official"]),
    "inspector": ("Ines Tarn", ["inspector"]),
    "second_inspector": ("Ivo Reed", ["inspector"]),
    "competitor": ("Cleo Fenn", ["competitor"]),
    "rival": ("Rolf Ashby", ["competitor"]),
}


def an_id(name: str) -> UUID:
    """The same name is the same id, in every test."""
    return uuid5(NAMESPACE, name)


class Clock:
    """Stands still until a test moves it."""

    def __init__(self, moment: datetime = START) -> None:
        self.moment = moment

    def __call__(self) -> datetime:
        return self.moment

    def advance(self, **by: float) -> None:
        self.moment += timedelta(**by)


class InProcess(httpx.BaseTransport):
    """Carries a plain httpx client's requests into the application without a socket."""

    def __init__(self, app: FastAPI, portal: anyio.from_thread.BlockingPortal) -> None:
        self.transport = httpx.ASGITransport(app, raise_app_exceptions=False)
        self.portal = portal

    def handle_request(self, request: httpx.Request) -> httpx.Response:
        return self.portal.call(self._answer, request)

    async def _answer(self, request: httpx.Request) -> httpx.Response:
        request.stream = httpx.ByteStream(request.read())
        response = await self.transport.handle_async_request(request)
        body = b"".join([part async for part in response.stream])
        return httpx.Response(response.status_code, headers=response.headers, content=body)


@dataclass
class Logbook:
    """An application, its database and its clock, with a signed-in client for each role."""

    app: FastAPI
    settings: Settings
    database: Database
    clock: Clock
    portal: anyio.from_thread.BlockingPortal
    clients: dict[str, httpx.Client] = field(default_factory=dict)

    def client(self, who: str = "") -> httpx.Client:
        """Signed in as one of PEOPLE; the empty name is a stranger."""
        if who not in self.clients:
            self.clients[who] = self.another_client(self.open_session(an_id(who)) if who else "")
        return self.clients[who]

    def another_client(self, cookie: str) -> httpx.Client:
        """The same person on a second tablet."""
        client = httpx.Client(transport=InProcess(self.app, self.portal), base_url="http://testserver")
        client.headers["sec-fetch-site"] = "same-origin"
        if cookie:
            client.cookies.set("shedbook", cookie)
        return client

    def open_session(self, person_id: UUID) -> str:
        token = secrets.token_urlsafe(32)
        with self.database.write() as session:
            moment = now(session)
            digest = hashlib.sha256(token.encode()).digest()
            session.add(SignInSession(token_sha256=digest, person_id=person_id, created_at=moment, last_seen_at=moment))
        return token

    def person(self, who: str) -> officials.CurrentPerson:
        with self.database.read() as session:
            row = session.scalars(select(Person).where(Person.id == an_id(who))).one()
            return officials.CurrentPerson(row.id, row.full_name, frozenset(row.roles), row.units, row.pad_side)


@pytest.fixture(scope="session")
def prepared(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Callable[[str], None]]:
    """Keys made once, and what fills an empty database: the tables and PEOPLE, each with their PIN where they sign."""
    folder = tmp_path_factory.mktemp("prepared")
    keyring = open_keyring(folder / "keys", "Series authority", START)

    def fill(url: str) -> None:
        database = Database(url, Clock())
        bring_up_to_date(database)
        with database.write() as session:
            for who, (name, roles) in PEOPLE.items():
                given: Any = {"full_name": name, "sign_in_name": who, "roles": roles, "password": PASSWORD}
                officials.add_person(session, "tests", an_id(who), PersonIn(**given), "metric")
                if {"inspector", "official"} & set(roles):
                    officials.issue_key(session, officials.person_of(session, an_id(who)), PIN, keyring)
        database.close()

    return folder, fill


@pytest.fixture(scope="session")
def filled_sqlite(prepared: tuple[Path, Callable[[str], None]]) -> Path:
    folder, fill = prepared
    path = folder / "filled.db"
    fill(f"sqlite:///{path}")
    return path


# Where the two engines could differ: locks, numbering, sweeps, searches, what a list asks. The other pages and
# operations run on SQLite in `make test`, on both engines under `make soak`.
ON_BOTH_ENGINES = (
    "tests/web/doubts/test_after_the_miss.py",
    "tests/web/doubts/test_at_once.py",
    "tests/web/doubts/test_deciding.py",
    "tests/web/doubts/test_which_verdicts.py",
    "tests/web/entries/test_importing.py",
    "tests/web/history/test_log.py",
    "tests/web/history/test_search.py",
    "tests/web/inspections/test_checks.py",
    "tests/web/inspections/test_sheet.py",
    "tests/web/instruments/test_ledger_causes.py",
    "tests/web/instruments/test_looking_back.py",
    "tests/web/protests/",
    "tests/web/security/test_at_once.py",
    "tests/web/slips/test_notices.py",
    "tests/web/slips/test_slips.py",
    "tests/web/slips/test_whole_job.py",
    "tests/web/test_backing_up.py",
    "tests/faults/test_killed.py",
    "tests/test_",
)
# few tests that take long: begun last, one of them would run alone at the end
LONG_FIRST = (
    "tests/browser/",
    "tests/faults/",
    "tests/web/demo/",
    "tests/web/doubts/test_drifting_season.py",
    "tests/web/security/",
    "tests/web/slips/",
    "tests/unit/slips/",
)

A_SECOND_SEASON = "::test_a_load_soon_after_midnight_of_the_same_day_gives_the_same_records"


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """`make test` has a quarter of an hour."""
    later = {
        item
        for item in items
        if ("[postgresql" in item.nodeid and not item.nodeid.startswith(ON_BOTH_ENGINES))
        or item.nodeid.endswith(A_SECOND_SEASON)
    }
    for item in later:
        item.add_marker("soak")
    if "SHEDBOOK_SOAK" not in os.environ:
        config.hook.pytest_deselected(items=list(later))
        items[:] = [item for item in items if item not in later]
    items.sort(key=lambda item: not item.nodeid.startswith(LONG_FIRST))


@pytest.fixture(params=["sqlite", "postgresql"])
def database_url(
    request: pytest.FixtureRequest, tmp_path: Path, prepared: tuple[Path, Callable[[str], None]]
) -> Iterator[str]:
    """Every test that asks for a logbook runs on both engines."""
    if request.param == "sqlite":
        shutil.copy(request.getfixturevalue("filled_sqlite"), tmp_path / "shedbook.db")
        yield f"sqlite:///{tmp_path / 'shedbook.db'}"
        return
    server: PostgreSQL = request.getfixturevalue("postgresql")
    yield server.restored("people", prepared[1])


@pytest.fixture(scope="session")
def press() -> Iterator[Press]:
    """One worker for all tests: starting it costs more than any test that uses it."""
    shared = Press()
    yield shared
    shared.close()


@contextmanager
def a_logbook(database_url: str, folder: Path, keys_from: Path, press: Press, **more: Any) -> Iterator[Logbook]:
    shutil.copytree(keys_from, folder / "keys", dirs_exist_ok=True)
    settings = Settings(data_folder=folder, database_url=database_url, **more)
    clock = Clock()
    app = create_app(settings, clock)
    app.state.press = app.state.verifier = press
    with anyio.from_thread.start_blocking_portal() as portal:
        logbook = Logbook(app, settings, app.state.database, clock, portal)
        yield logbook
        for client in logbook.clients.values():
            client.close()
    app.state.database.close()


@pytest.fixture
def logbook(
    database_url: str, tmp_path: Path, prepared: tuple[Path, Callable[[str], None]], press: Press
) -> Iterator[Logbook]:
    with a_logbook(database_url, tmp_path, prepared[0] / "keys", press) as book:
        yield book
