"""`shedbook recompute` on a real database: block by block, every difference, nothing changed."""

import json
import tracemalloc
from collections.abc import Iterator
from datetime import timedelta
from pathlib import Path
from uuid import uuid4

import pytest
from click.testing import Result
from sqlalchemy import event, func, select, update
from typer.testing import CliRunner

from app.__main__ import app
from app.audit import LogEntry
from app.inspections.models import Inspection, Verdict
from app.inspections.recomputing import recompute_all
from app.metrology import CORE_VERSION
from tests.conftest import Logbook
from tests.web.history.rows import ACROSS, a_result, a_shed


@pytest.fixture
def book(logbook: Logbook, monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Iterator[Logbook]:
    monkeypatch.setenv("SHEDBOOK_DATA_FOLDER", str(tmp_path))
    monkeypatch.setenv("SHEDBOOK_DATABASE_URL", logbook.settings.resolved_database_url)
    a_shed(logbook)
    return logbook


def recompute(*options: str) -> Result:
    return CliRunner().invoke(app, ["recompute", *options])


def as_if_signed_by_another_core(book: Logbook, inspection_id: object, **result: str) -> None:
    """What an earlier core might have stored."""
    with book.database.write() as session:
        kept = session.scalars(select(Verdict).where(Verdict.inspection_id == inspection_id)).one()
        changed = {**json.loads(kept.result), **result, "core_version": "0.9"}
        values = {"result": json.dumps(changed), "verdict": changed["verdict"], "core_version": "0.9"}
        session.execute(update(Verdict).where(Verdict.id == kept.id).values(**values))


def copies(book: Logbook, inspection_id: object, count: int) -> None:
    """The same signed sheet this many times more."""
    with book.database.write() as session:
        sheet, verdict = session.execute(
            select(Inspection, Verdict).join(Verdict).where(Inspection.id == inspection_id)
        ).one()
        tables = [(Inspection.__table__, sheet), (Verdict.__table__, verdict)]
        rows = [{column.key: getattr(row, column.key) for column in table.columns} for table, row in tables]
        ids = [uuid4() for _ in range(count)]
        later = {"opened_at": rows[0]["opened_at"] + timedelta(minutes=1)}
        session.execute(tables[0][0].insert(), [{**rows[0], **later, "id": one} for one in ids])
        session.execute(tables[1][0].insert(), [{**rows[1], "id": uuid4(), "inspection_id": one} for one in ids])


def test_nothing_differs_while_the_core_is_the_same(book: Logbook) -> None:
    a_result(book)
    a_result(book, "12", "rival", ACROSS)
    ended = recompute()
    assert ended.exit_code == 0
    assert ended.output.splitlines() == [
        f"Core {CORE_VERSION}: 2 verdicts; 2 the same in every figure, 0 with other figures and the same verdict, "
        "0 with another verdict.",
        f"Worked out again by core {CORE_VERSION}, no verdict comes out otherwise (2 verdicts looked at).",
    ]


def test_a_logbook_without_a_verdict_says_so(book: Logbook) -> None:
    ended = recompute()
    assert (ended.exit_code, ended.output) == (0, "No verdict is stored yet.\n")


def test_other_figures_are_listed_and_another_verdict_ends_with_one(book: Logbook) -> None:
    same, other = a_result(book), a_result(book, "12", "rival")
    as_if_signed_by_another_core(book, same, tolerance_limit="10.65")
    ended = recompute()
    assert ended.exit_code == 0
    assert ended.output.splitlines()[:2] == [
        f"SL-000001, car 41, Round one, sheet {same}: core 0.9 → {CORE_VERSION}",
        "  tolerance limit: 10.65 → 10.6",
    ]
    assert recompute("--only-verdicts").output.startswith("Core 0.9: 1 verdict;")
    as_if_signed_by_another_core(book, other, verdict="nonconforming")
    ended = recompute("--only-verdicts")
    assert ended.exit_code == 1
    assert ended.output.splitlines() == [
        f"SL-000002, car 12, Round one, sheet {other}: core 0.9 → {CORE_VERSION}",
        "  verdict: nonconforming → conforming",
        "Core 0.9: 2 verdicts; 0 the same in every figure, 1 with other figures and the same verdict, "
        "1 with another verdict.",
        f"Worked out again by core {CORE_VERSION}, 1 of 2 verdicts is decided otherwise. "
        "What was signed stays as it is.",
    ]


def test_nothing_is_written(book: Logbook) -> None:
    sheet = a_result(book)
    as_if_signed_by_another_core(book, sheet, verdict="nonconforming")

    def kept() -> list[object]:
        with book.database.read() as session:
            return [*session.scalars(select(Verdict.result)), session.scalar(select(func.count(LogEntry.seq)))]

    before = kept()
    assert recompute().exit_code == 1
    assert kept() == before


def test_a_place_without_a_logbook_is_said_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SHEDBOOK_DATA_FOLDER", str(tmp_path))
    monkeypatch.delenv("SHEDBOOK_DATABASE_URL", raising=False)
    ended = recompute()
    assert ended.exit_code == 2
    assert ended.output == f"There is no logbook in sqlite:///{tmp_path}/shedbook.db. Name the right one.\n"


def test_every_verdict_is_looked_at_once_whatever_the_size_of_the_blocks(book: Logbook) -> None:
    copies(book, a_result(book), 11)
    with book.database.read() as session:
        everything = set(session.scalars(select(Verdict.inspection_id)))
    for block in (1, 4, 12, 500):
        found = [one.inspection_id for part in recompute_all(book.database, block) for one in part]
        assert len(found) == 12
        assert set(found) == everything
        assert max(len(part) for part in recompute_all(book.database, block)) <= block


def test_many_verdicts_take_no_more_memory_than_one_block(book: Logbook) -> None:
    """Bounded: five times as many verdicts, the same peak. A season of 100,000 goes through in the same way."""
    first = a_result(book)

    def peak() -> int:
        tracemalloc.start()
        looked_at = sum(len(part) for part in recompute_all(book.database, 20))
        _, most = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert looked_at >= 60
        return most

    copies(book, first, 60)
    list(recompute_all(book.database, 20))  # whatever is kept once and for all is kept now
    few = peak()
    copies(book, first, 300)
    assert peak() < 1.5 * few


def test_a_block_takes_one_statement(book: Logbook) -> None:
    copies(book, a_result(book), 29)
    sent: list[str] = []
    event.listen(
        book.database.engine, "before_cursor_execute", lambda _connection, _cursor, said, *_more: sent.append(said)
    )
    list(recompute_all(book.database, 10))
    assert len([said for said in sent if said.startswith("SELECT")]) == 4  # three blocks and the empty one after them
