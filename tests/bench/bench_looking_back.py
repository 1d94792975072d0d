"""Looking back among a hundred thousand inspections and among a million, against counting the same rows.

The floor is one count along the same index of the very rows found, in the same run; what is measured does more, since
it also enters each of them for good, a piece in a transaction. The piece that matters to the shed is measured apart:
it is how long a measuring tablet may have to wait. The instrument is one of twenty, in a logbook of twelve years; the
time in doubt is a fortnight, which holds as many of its results at either size, and then all of it.
"""

import os
import shutil
import statistics
import time
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from uuid import UUID, uuid4

import pytest
from sqlalchemy import func, insert, select

from app.database import Database
from app.doubts.models import DoubtedVerdict
from app.doubts.sweeping import PIECE, concerned_by, look_back
from app.inspections.models import Verdict
from app.instruments.models import DoubtCause, Instrument
from app.slips.press import Press
from tests.builders import INSTRUMENT
from tests.conftest import Logbook, a_logbook
from tests.many_results import copies_of
from tests.web.doubts.raising import at, raise_cause, verdict_of
from tests.web.history import rows

LARGEST = 1_000_000 if "SHEDBOOK_SOAK" in os.environ else 100_000
SIZES = (LARGEST // 10, LARGEST)
INSTRUMENTS, FORTNIGHT, FEW = 20, timedelta(days=14), 400
FIRST = at("09:00") - timedelta(days=12 * 365)


@pytest.fixture
def book(
    tmp_path: Path, prepared: tuple[Path, Callable[[str], None]], filled_sqlite: Path, press: Press
) -> Iterator[Logbook]:
    shutil.copy(filled_sqlite, tmp_path / "shedbook.db")
    with a_logbook(f"sqlite:///{tmp_path / 'shedbook.db'}", tmp_path, prepared[0] / "keys", press) as book:
        rows.a_shed(book)
        rows.a_result(book)
        yield book


def further_instruments(database: Database) -> list[UUID]:
    with database.write() as session:
        table = Instrument.__table__
        one = dict(session.execute(select(*table.columns).where(table.c.id == INSTRUMENT)).mappings().one())
        made = [
            {**one, "id": uuid4(), "name": f"Further {number}", "serial": f"F-{number}"}
            for number in range(INSTRUMENTS - 1)
        ]
        session.execute(insert(Instrument), made)
    return [row["id"] for row in made]


def results(book: Logbook, others: list[UUID], already: int, count: int) -> None:
    """Spread over the years, each instrument in its turn; of this one, `FEW` in the last fortnight at either size."""
    own = verdict_of(book, "41")
    until = at("09:00") - FORTNIGHT
    step = (until - FIRST) / count
    bare = {"inputs": "{}", "result": "{}"}
    share = count // INSTRUMENTS

    def spread(number: int) -> tuple[datetime, datetime]:
        first = FIRST + step * number
        return first, first + timedelta(minutes=3)

    for number, instrument_id in enumerate([INSTRUMENT, *others]):
        name = f"{already} {number}"
        copies_of(
            book.database, own, share, lambda n: spread(n * INSTRUMENTS), name=name, instrument_id=instrument_id, **bare
        )
    if not already:
        moments = [until + FORTNIGHT / FEW * number for number in range(FEW)]
        copies_of(book.database, own, FEW, lambda n: (moments[n], moments[n]), name="lately", **bare)


def seconds(work: Callable[[], object]) -> float:
    begin = time.perf_counter()
    work()
    return time.perf_counter() - begin


def counted(database: Database, cause_id: UUID) -> int:
    with database.read() as session:
        cause = session.get_one(DoubtCause, cause_id)
        return session.scalar(select(func.count(Verdict.id)).where(concerned_by(cause))) or 0


def entered(database: Database, cause_id: UUID) -> int:
    with database.read() as session:
        return session.scalar(select(func.count()).where(DoubtedVerdict.cause_id == cause_id)) or 0


def measure(book: Logbook, name: str, since: datetime | None) -> tuple[int, float, float]:
    """How many were found, the seconds that took, and the floor's."""
    cause_id = raise_cause(book, since, at("09:00"), name=name, look=False)
    floor = statistics.median(seconds(lambda: counted(book.database, cause_id)) for _ in range(5))
    taken = seconds(lambda: look_back(book.database))
    found = entered(book.database, cause_id)
    assert found == counted(book.database, cause_id)
    return found, taken, floor


@pytest.mark.soak
def test_looking_back(book: Logbook) -> None:
    others = further_instruments(book.database)
    lately: dict[int, float] = {}
    already = 0
    for size in SIZES:
        results(book, others, already, size - already)
        already = size
        found, taken, floor = measure(book, f"lately among {size}", at("09:00") - FORTNIGHT)
        lately[size] = taken
        assert FEW <= found < FEW + 10
        times = taken / floor
        print(f"\n{size} inspections: {found} found and entered in {times:.1f} × counting them ({taken * 1e3:.0f} ms)")
    print(f"ten times the inspections took {lately[SIZES[1]] / lately[SIZES[0]]:.2f} × as long")
    found, taken, floor = measure(book, "all of them", None)
    pieces = found // PIECE + 1
    print(
        f"{found} results of one instrument found and entered in {pieces} pieces: {taken / floor:.1f} × counting them, "
        f"{taken / pieces * 1e3:.0f} ms a piece, {taken / found * 1e6:.1f} µs each"
    )
