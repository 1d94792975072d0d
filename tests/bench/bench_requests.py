"""Reads and durable writes, each as a share of the rate of a floor measured in the same run.

The floor of a read is a bare `def` handler that runs the very same statements on a plain connection and answers the
same bytes. The floor of a write is the same rows inserted by plain SQL, each in a transaction of its own.
"""

import shutil
import statistics
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any
from uuid import uuid4

import anyio.from_thread
import httpx
import pytest
from fastapi import FastAPI, Response
from sqlalchemy import Engine, event

from app.slips.press import Press
from tests import builders
from tests.conftest import InProcess, Logbook, a_logbook

EIGHT = [["10.31"], ["10.28"], ["10.30"], ["10.33"], ["10.29"], ["10.30"], ["10.32"], ["10.31"]]


@pytest.fixture
def book(
    tmp_path: Path, prepared: tuple[Path, Callable[[str], None]], filled_sqlite: Path, press: Press
) -> Iterator[Logbook]:
    """SQLite with forty entries and one sheet full of readings."""
    shutil.copy(filled_sqlite, tmp_path / "shedbook.db")
    with a_logbook(f"sqlite:///{tmp_path / 'shedbook.db'}", tmp_path, prepared[0] / "keys", press) as book:
        yield book


def per_call(work: Callable[[], object], times: int = 60) -> float:
    taken = []
    for _ in range(5):
        begin = time.perf_counter()
        for _again in range(times):
            work()
        taken.append((time.perf_counter() - begin) / times)
    return statistics.median(taken)


def statements_of(engine: Engine, work: Callable[[], httpx.Response]) -> tuple[list[tuple[str, Any]], httpx.Response]:
    heard: list[tuple[str, Any]] = []

    def listen(_connection: Any, _cursor: Any, statement: str, parameters: Any, *_more: Any) -> None:
        if statement.lstrip().upper().startswith("SELECT"):
            heard.append((statement, parameters))

    event.listen(engine, "before_cursor_execute", listen)
    answer = work()
    event.remove(engine, "before_cursor_execute", listen)
    return heard, answer


def floor_for(engine: Engine, statements: list[tuple[str, Any]], answer: httpx.Response) -> FastAPI:
    bare = FastAPI()
    body, kind = answer.content, answer.headers["content-type"]

    @bare.get("/")
    def read() -> Response:
        with engine.execution_options(shedbook_read_only=True).connect() as connection:
            for statement, parameters in statements:
                connection.exec_driver_sql(statement, parameters).fetchall()
        return Response(body, media_type=kind)

    return bare


def test_reads(book: Logbook) -> None:
    sheet = builders.a_whole_season(book)
    builders.readings(book, sheet, EIGHT)
    for car in range(100, 139):
        builders.an_entry(book, car=str(car))
    client = book.client("inspector")
    for what, address in (
        ("the sheet as JSON", f"/api/inspections/{sheet}"),
        ("the sheet as a page", f"/inspections/{sheet}"),
        ("the waiting list of 40 as JSON", f"/api/events/{builders.EVENT}/waiting"),
        ("the waiting list of 40 as a page", f"/events/{builders.EVENT}/waiting"),
    ):
        client.get(address)
        statements, answer = statements_of(book.database.engine, lambda address=address: client.get(address))
        bare = floor_for(book.database.engine, statements, answer)
        with anyio.from_thread.start_blocking_portal() as portal:
            floor_client = httpx.Client(transport=InProcess(bare, portal), base_url="http://testserver")
            floor = per_call(lambda c=floor_client: c.get("/"))
            floor_client.close()
        ours = per_call(lambda address=address: client.get(address))
        size = f"{len(statements)} statements, {len(answer.content)} bytes"
        print(f"\n{what}: {floor / ours:.2f} of the floor's rate ({size})")


def test_durable_writes(book: Logbook) -> None:
    sheet = builders.a_whole_season(book)
    client = book.client("inspector")

    def put_and_replace() -> Iterator[None]:
        replaces: str | None = None
        while True:
            reading_id = str(uuid4())
            body = {
                "cylinder": 1,
                "indications": ["10.31"],
                "replaces_id": replaces,
                "reason": "bench" if replaces else "",
            }
            builders.put(client, f"/inspections/{sheet}/readings/{reading_id}", body)
            replaces = reading_id
            yield

    writing = put_and_replace()
    ours = per_call(lambda: next(writing), 20)
    with book.database.engine.connect() as connection:
        reading = connection.exec_driver_sql("SELECT * FROM reading LIMIT 1").mappings().one()
        entry = connection.exec_driver_sql("SELECT * FROM log_entry ORDER BY seq DESC LIMIT 1").mappings().one()
    seq = entry["seq"]

    def plain() -> None:
        nonlocal seq
        seq += 1
        with book.database.engine.begin() as connection:
            for table, row in (
                ("reading", {**reading, "id": uuid4().hex, "replaces_id": None}),
                ("log_entry", {**entry, "seq": seq}),
            ):
                marks = ", ".join("?" for _ in row)
                connection.exec_driver_sql(f"INSERT INTO {table} VALUES ({marks})", tuple(row.values()))

    floor = per_call(plain, 20)
    print(f"\none reading kept for good, over HTTP: {floor / ours:.2f} of the rate of the same rows by plain SQL")
