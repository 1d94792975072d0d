"""Looking back reads the index from end to end and nothing else, so that a million inspections make no difference."""

import shutil
from collections.abc import Callable, Iterator
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import event

from app.doubts.sweeping import look_back
from app.slips.press import Press
from tests.conftest import START, Logbook, a_logbook
from tests.many_results import copies_of
from tests.web.doubts.raising import CALIBRATION, raise_cause, verdict_of
from tests.web.history import rows

HOUR = timedelta(hours=1)


@pytest.fixture
def book(
    tmp_path: Path, prepared: tuple[Path, Callable[[str], None]], filled_sqlite: Path, press: Press
) -> Iterator[Logbook]:
    """SQLite, with a few hundred results."""
    shutil.copy(filled_sqlite, tmp_path / "shedbook.db")
    with a_logbook(f"sqlite:///{tmp_path / 'shedbook.db'}", tmp_path, prepared[0] / "keys", press) as book:
        rows.a_shed(book)
        rows.a_result(book)
        at = [START + timedelta(minutes=n) for n in range(300)]
        copies_of(book.database, verdict_of(book, "41"), 300, lambda n: (at[n], at[n]))
        yield book


def plans(book: Logbook, work: Callable[[], object]) -> list[str]:
    """How SQLite carries out each statement of the work that asks for verdicts."""
    sent: list[tuple[str, Any]] = []

    def note(_connection: object, _cursor: object, statement: str, given: Any, *_more: object) -> None:
        if "FROM verdict" in statement:
            sent.append((statement, given))

    event.listen(book.database.engine, "before_cursor_execute", note)
    work()
    event.remove(book.database.engine, "before_cursor_execute", note)
    with book.database.engine.connect() as connection:
        return [
            " | ".join(row.detail for row in connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", given))
            for statement, given in sent
        ]


def test_a_stretch_of_time_is_read_along_its_index(book: Logbook) -> None:
    raise_cause(book, START + HOUR, START + 3 * HOUR, look=False)
    found = plans(book, lambda: look_back(book.database, piece=50))
    assert len(found) == 6  # two for each of two whole pieces and one begun
    for plan in found:
        assert plan.startswith("SEARCH verdict USING COVERING INDEX ix_verdict_measured (instrument_id=?")
        assert "B-TREE" not in plan
    assert all("measured_until>?" in plan and "(measured_until,id)>" not in plan for plan in found[:2])
    assert all("(measured_until,id)>(?,?)" in plan for plan in found[2:])  # on from where the last piece ended


def test_a_certificate_is_read_along_its_index(book: Logbook) -> None:
    raise_cause(book, calibration_id=CALIBRATION, look=False)
    found = plans(book, lambda: look_back(book.database, piece=100))
    assert len(found) == 8
    for plan in found:
        assert plan.startswith("SEARCH verdict USING COVERING INDEX ix_verdict_calibration (calibration_id=?")
        assert "B-TREE" not in plan
    assert all(" AND id>?" in plan for plan in found[2:])
