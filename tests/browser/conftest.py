"""A real server on a free port, and Debian's Chromium that can reach nothing else."""

import os
import shutil
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path

import pytest
import uvicorn
from playwright.sync_api import Browser, BrowserContext, Page, sync_playwright

from app.config import Settings
from app.main import create_app
from app.slips.press import Press
from tests.browser.season import a_season
from tests.conftest import PEOPLE, a_logbook, an_id


@dataclass
class Site:
    address: str
    folder: Path
    ids: dict[str, str] = field(default_factory=dict)  # what its addresses are made of
    cookies: dict[str, str] = field(default_factory=dict)  # who is signed in already


@contextmanager
def served(folder: Path, press: Press, clock: Callable[[], datetime] | None = None) -> Iterator[Site]:
    app = create_app(Settings(data_folder=folder), clock)
    app.state.press = press
    server = uvicorn.Server(uvicorn.Config(app, port=0, log_level="warning", lifespan="off"))
    thread = threading.Thread(target=server.run, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    port = server.servers[0].sockets[0].getsockname()[1]
    yield Site(f"http://127.0.0.1:{port}", folder)
    server.should_exit = True
    thread.join(timeout=10)
    app.state.database.close()


@pytest.fixture
def site(
    tmp_path: Path, prepared: tuple[Path, Callable[[str], None]], filled_sqlite: Path, press: Press
) -> Iterator[Site]:
    """The people of the tests, nothing else: the job begins with an empty rule book. The clock is the real one."""
    shutil.copytree(prepared[0] / "keys", tmp_path / "keys")
    shutil.copy(filled_sqlite, tmp_path / "shedbook.db")
    with served(tmp_path, press) as made:
        yield made


@pytest.fixture(scope="module")
def season(
    tmp_path_factory: pytest.TempPathFactory,
    prepared: tuple[Path, Callable[[str], None]],
    filled_sqlite: Path,
    press: Press,
) -> Iterator[Site]:
    """A race day in full swing, filled through the API before it is served; everybody is signed in already."""
    folder = tmp_path_factory.mktemp("season")
    shutil.copy(filled_sqlite, folder / "shedbook.db")
    with a_logbook(f"sqlite:///{folder / 'shedbook.db'}", folder, prepared[0] / "keys", press) as book:
        ids = a_season(book)
        cookies = {who: book.open_session(an_id(who)) for who in PEOPLE}
    with served(folder, press, book.clock) as made:
        made.ids, made.cookies = ids, cookies
        yield made


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    path = shutil.which("chromium")
    assert path, "Debian's chromium is missing; make test installs it"
    with sync_playwright() as playwright:
        yield playwright.chromium.launch(
            executable_path=path, args=["--host-resolver-rules=MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"]
        )


@pytest.fixture
def tablet(browser: Browser, site: Site) -> Iterator[Callable[[str], Page]]:
    """A page signed in as somebody, in a browser of their own; what the page's console says fails the test."""
    contexts: list[BrowserContext] = []
    said: list[str] = []

    def sign_in(who: str, width: int = 1024, height: int = 768) -> Page:
        context = browser.new_context(
            base_url=site.address, viewport={"width": width, "height": height}, accept_downloads=True
        )
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(20_000)
        page.on("console", lambda message: said.append(message.text) if message.type == "error" else None)
        page.on("pageerror", lambda error: said.append(str(error)))
        if who:
            page.goto("/sign-in")
            page.get_by_label("Sign-in name").fill(who)
            page.get_by_label("Password").fill("a fair few words")
            page.get_by_role("button", name="Sign in").click()
        return page

    yield sign_in
    for number, context in enumerate(contexts):
        if os.environ.get("SHEDBOOK_PICTURES"):  # what each of them saw last
            context.pages[0].screenshot(path=f"{os.environ['SHEDBOOK_PICTURES']}/{number}.png", full_page=True)
        context.close()
    assert [text for text in said if "status of 4" not in text] == []
