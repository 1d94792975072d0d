"""Signed results by the thousand, for tests and benches: copies of one real result, put straight into the tables."""

from collections.abc import Callable, Iterator
from datetime import datetime
from itertools import islice
from typing import Any
from uuid import UUID

from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from app.database import Database
from app.inspections.models import Inspection, Verdict
from tests.conftest import an_id

AT_ONCE = 5000


def copies_of(
    database: Database,
    verdict_id: UUID,
    count: int,
    measured: Callable[[int], tuple[datetime, datetime]],
    *,
    name: str = "copy",
    **changed: Any,
) -> dict[UUID, tuple[datetime, datetime]]:
    """`measured(n)` is when the first and the last reading of the n-th copy were taken; by verdict, what it said."""
    with database.read() as session:
        verdict = _columns(session, Verdict, verdict_id)
        inspection = _columns(session, Inspection, verdict["inspection_id"])
    made: dict[UUID, tuple[datetime, datetime]] = {}
    numbers = iter(range(count))
    while part := list(islice(_rows(numbers, verdict, inspection, measured, name, changed), AT_ONCE)):
        with database.write() as session:
            session.execute(insert(Inspection), [sheet for sheet, _ in part])
            session.execute(insert(Verdict), [row for _, row in part])
        made |= {row["id"]: (row["measured_from"], row["measured_until"]) for _, row in part}
    return made


def _rows(
    numbers: Iterator[int],
    verdict: dict[str, Any],
    inspection: dict[str, Any],
    measured: Callable[[int], tuple[datetime, datetime]],
    name: str,
    changed: dict[str, Any],
) -> Iterator[tuple[dict[str, Any], dict[str, Any]]]:
    for number in numbers:
        first, last = measured(number)
        sheet_id, row_id = an_id(f"{name} sheet {number}"), an_id(f"{name} {number}")
        sheet = {**inspection, "id": sheet_id, "opened_at": first}
        times = {"measured_from": first, "measured_until": last, "decided_at": last}
        yield sheet, {**verdict, **changed, **times, "id": row_id, "inspection_id": sheet_id}


def _columns(session: Session, table: type[Any], row_id: UUID) -> dict[str, Any]:
    row = session.execute(select(*table.__table__.columns).where(table.__table__.c.id == row_id)).mappings().one()
    return dict(row)
