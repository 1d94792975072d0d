"""The verdicts on bench sheets worked out once more with today's core, as those on work sheets are."""

from collections.abc import Iterator

from sqlalchemy import inspect, select

from app.bench_sheets.models import BenchSheet, BenchVerdict
from app.database import Database
from app.entries.models import Entry
from app.inspections.recomputing import BLOCK, Recomputed, recomputed_blocks
from app.regulations.models import Event


def recompute_bench_sheets(database: Database, block: int = BLOCK) -> Iterator[list[Recomputed]]:
    """Block by block, in the order of the primary key; nothing from a logbook older than bench sheets."""
    if not inspect(database.engine).has_table(BenchVerdict.__tablename__):
        return
    frozen = (BenchVerdict.verdict, BenchVerdict.inputs, BenchVerdict.result, BenchVerdict.core_version)
    asked = (
        select(BenchVerdict.id, BenchVerdict.sheet_id, *frozen, Entry.car_number, Event.name)
        .join(BenchSheet, BenchVerdict.sheet_id == BenchSheet.id)
        .join(Entry, BenchSheet.entry_id == Entry.id)
        .join(Event, Entry.event_id == Event.id)
    )
    yield from recomputed_blocks(database, asked, BenchVerdict.id, block)
