"""Whom and what the logbook already knows: the same judgement for one entry and for a list of thousands."""

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID, uuid5

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from app.entries.geometry import REFUSED, Geometry, changes, doubt
from app.entries.models import Competitor, Engine, Entry
from app.entries.schemas import CompetitorIn, EngineIn, EntryIn
from app.errors import Invalid
from app.regulations.models import Event, RaceClass


@dataclass(slots=True)
class Known:
    """The records that an entry, or a list of them, may meet: by licence, engine number, car number, class id."""

    event: Event
    competitors: dict[str, Competitor]
    engines: dict[str, Engine]
    entries: dict[str, Entry]
    classes: dict[UUID, RaceClass]


@dataclass(slots=True)
class Arrival:
    """One entry on its way in: its row and whatever else has to be made for it."""

    entry: Entry
    competitor: Competitor | None = None
    engine: Engine | None = None
    replaced: Engine | None = None
    said: list[str] = field(default_factory=list)


def geometry_of(engine: Engine) -> Geometry:
    return Geometry(
        engine.cylinders, engine.bore_mm, engine.stroke_mm, engine.declared_displacement_cm3, tuple(engine.seals)
    )


def known(
    session: Session, event: Event, licences: Collection[str], serials: Collection[str], cars: Collection[str]
) -> Known:
    """One query for each kind of record, however many are asked for."""
    competitors = session.scalars(select(Competitor).where(Competitor.licence.in_(licences)))
    entries = session.scalars(
        select(Entry)
        .where(Entry.event_id == event.id, Entry.car_number.in_(cars))
        .options(joinedload(Entry.competitor), joinedload(Entry.engine), joinedload(Entry.race_class))
    )
    classes = session.scalars(select(RaceClass).where(RaceClass.series_id == event.series_id))
    return Known(
        event=event,
        competitors={row.licence: row for row in competitors},
        engines=latest_engines(session, serials),
        entries={row.car_number: row for row in entries},
        classes={row.id: row for row in classes},
    )


def latest_engines(session: Session, serials: Collection[str]) -> dict[str, Engine]:
    """For each engine number the record that no later one replaces."""
    rows = list(session.scalars(select(Engine).where(Engine.serial.in_(serials))))
    replaced = {row.replaces_id for row in rows}
    return {row.serial: row for row in rows if row.id not in replaced}


def new_competitor(at: datetime, competitor_id: UUID, data: CompetitorIn) -> Competitor:
    return Competitor(id=competitor_id, licence=data.licence, name=data.name, person_id=None, created_at=at)


def new_engine(at: datetime, engine_id: UUID, data: EngineIn, replaced: Engine | None) -> Engine:
    return Engine(
        id=engine_id,
        serial=data.serial,
        cylinders=data.cylinders,
        bore_mm=data.bore,
        stroke_mm=data.stroke,
        declared_displacement_cm3=data.declared_displacement,
        seals=data.seals or (list(replaced.seals) if replaced is not None else []),
        replaces_id=replaced.id if replaced is not None else None,
        created_at=at,
    )


def arrival(book: Known, at: datetime, entry_id: UUID, data: EntryIn) -> Arrival:
    """What has to be made for this entry. Raises Invalid, under EntryIn's field names, on what cannot be taken."""
    problems: dict[str, str] = {}
    race_class = book.classes.get(data.class_id)
    if race_class is None:
        problems["class_id"] = "This class is not in the event's rule book. Choose one of those listed."
    competitor = book.competitors.get(data.competitor.licence)
    if competitor is not None and not same_name(competitor.name, data.competitor.name):
        problems["competitor.name"] = (
            f"Licence {competitor.licence} belongs to {competitor.name}, not to {data.competitor.name}. "
            "Mend the licence, or write the name as it is kept."
        )
    check_displacement(data.engine, problems, "engine.")
    if problems:
        raise Invalid(problems)
    found = Arrival(
        Entry(
            id=entry_id,
            event_id=book.event.id,
            class_id=data.class_id,
            car_number=data.car_number,
            created_at=at,
        )
    )
    if competitor is None:
        competitor = found.competitor = new_competitor(at, uuid5(entry_id, "competitor"), data.competitor)
    engine = book.engines.get(data.engine.serial)
    different = changes(geometry_of(engine), data.engine.geometry) if engine is not None else []
    if engine is None or different:
        found.replaced = engine
        engine = found.engine = new_engine(at, uuid5(entry_id, "engine"), data.engine, engine)
    if different:
        found.said.append(changed_sentence(engine.serial, different))
    if said := doubt(geometry_of(engine)):
        found.said.append(said)
    found.entry.competitor_id, found.entry.engine_id = competitor.id, engine.id
    return found


def check_displacement(data: EngineIn, problems: dict[str, str], prefix: str = "") -> None:
    if data.geometry.apart > REFUSED:
        problems[f"{prefix}declared_displacement"] = doubt(data.geometry)


def changed_sentence(serial: str, different: list[str]) -> str:
    return f"Engine {serial} is not as it was kept: {'; '.join(different)}. A new record is made; the earlier stays."


def same_name(kept: str, asked: str) -> bool:
    return " ".join(kept.split()).casefold() == " ".join(asked.split()).casefold()


def differences(kept: Entry, data: EntryIn, class_code: str) -> list[str]:
    """Where an entry differs from the one that holds its car number, in words; empty for the same entry."""
    found = []
    if kept.class_id != data.class_id:
        found.append(f"class {kept.race_class.code}, now {class_code}")
    if kept.competitor.licence != data.competitor.licence or not same_name(kept.competitor.name, data.competitor.name):
        found.append(
            f"competitor {kept.competitor.name} ({kept.competitor.licence}), "
            f"now {data.competitor.name} ({data.competitor.licence})"
        )
    if kept.engine.serial != data.engine.serial:
        found.append(f"engine {kept.engine.serial}, now {data.engine.serial}")
    else:
        found.extend(changes(geometry_of(kept.engine), data.engine.geometry))
    return found
