"""What a plan rests on: the class with its edition, the instrument with its history, the engines there are.

Reading is done here, inside a transaction; working it out takes a while and is done after it, in `working_out`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.database import now
from app.entries.models import Engine as EngineRow
from app.entries.models import Entry
from app.errors import Invalid
from app.inspections.assembly import core_instrument
from app.inspections.known import Known, known_of
from app.instruments import ledger
from app.instruments.models import Instrument as InstrumentRow
from app.metrology.inputs import Engine, Instrument
from app.metrology.risk.processes import History
from app.metrology.rules import SIDES
from app.planning.budget import METHOD
from app.planning.class_spread import history_of
from app.planning.schemas import InstrumentChoice, PlanIn
from app.regulations import service as regulations
from app.regulations.schemas import EditionView

USUAL_ENGINE = Engine(bore_mm=100.0, stroke_mm=90.0, cylinders=8)


@dataclass(frozen=True, slots=True)
class Chosen:
    """The instrument planned with, as the core takes it, and what its history and the studies adopted for it tell."""

    id: UUID
    name: str
    instrument: Instrument
    known: Known


@dataclass(frozen=True, slots=True)
class Basis:
    """Everything a plan for one class follows from; `missing` says what has to come first, if anything has."""

    class_id: UUID
    class_code: str
    class_name: str
    edition: EditionView | None
    instruments: list[InstrumentChoice]
    chosen: Chosen | None
    engine: Engine
    engine_is_entered: bool
    history: History
    missing: str


def basis_of(session: Session, class_id: UUID, data: PlanIn) -> Basis:
    """Raises NotFound for a class, Invalid for an instrument, that the logbook does not have."""
    book = regulations.class_book(session, class_id)
    today = now(session).date()
    rows = [row for row in ledger.all_instruments(session) if row.method == METHOD]
    engine = _newest_engine(session, class_id)
    return Basis(
        class_id=class_id,
        class_code=book.race_class.code,
        class_name=book.race_class.name,
        edition=book.explained,
        instruments=[InstrumentChoice(id=row.id, name=row.name) for row in rows],
        chosen=_chosen(session, rows, data.instrument_id, today),
        engine=engine or USUAL_ENGINE,
        engine_is_entered=engine is not None,
        history=history_of(session, class_id),
        missing=_missing(book.explained, rows),
    )


def _missing(edition: EditionView | None, instruments: Sequence[InstrumentRow]) -> str:
    if edition is None:
        return "This class has no edition yet. Its limit has to be written before anything can be planned for it."
    if edition.rule.kind not in SIDES:
        return "A plan is worked out for a limit on one side. This edition sets another kind of limit."
    if not instruments:
        return "No instrument is registered yet. What can be policed depends on the one it is measured with."
    return ""


def _chosen(session: Session, rows: Sequence[InstrumentRow], asked_for: UUID | None, today: date) -> Chosen | None:
    if not rows:
        return None
    row = next((one for one in rows if one.id == asked_for), rows[0] if asked_for is None else None)
    if row is None:
        raise Invalid({"instrument_id": "The logbook has no such instrument. Choose one of those listed."})
    known = known_of(session, row)
    return Chosen(row.id, row.name, core_instrument(row, row.calibration_on(today), known), known)


def _newest_engine(session: Session, class_id: UUID) -> Engine | None:
    row = session.scalars(
        select(EngineRow)
        .join(Entry, Entry.engine_id == EngineRow.id)
        .where(Entry.class_id == class_id)
        .order_by(Entry.created_at.desc(), Entry.id)
        .limit(1)
    ).first()
    return None if row is None else Engine(float(row.bore_mm), float(row.stroke_mm), row.cylinders)
