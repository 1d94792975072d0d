"""Use cases around competitors, engines and entries. `session` first, then who does it, then what; never a commit."""

import re
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from app import audit
from app.database import now, row_of
from app.entries import matching
from app.entries.geometry import changes, doubt
from app.entries.matching import geometry_of
from app.entries.models import Competitor, Engine, Entry
from app.entries.schemas import (
    AccountIn,
    CompetitorIn,
    CompetitorPageView,
    CompetitorView,
    EngineIn,
    EngineView,
    EntryIn,
    EntryPageView,
    EntryView,
    NameIn,
)
from app.errors import Conflict, Invalid, NotFound
from app.happenings import happened, happened_view
from app.intake import plain_json
from app.officials import service as officials
from app.officials.schemas import PersonView
from app.officials.service import CurrentPerson
from app.regulations.models import Event

LIST_TAKEN_IN = "entry list taken in"
_WHOLE = (
    joinedload(Entry.event),
    joinedload(Entry.race_class),
    joinedload(Entry.competitor).joinedload(Competitor.person),
    joinedload(Entry.engine).joinedload(Engine.replaces),
)


# ---- finding ----------------------------------------------------------------------------------------------------


def entry_of(session: Session, entry_id: UUID) -> Entry:
    return row_of(session, Entry, entry_id, "entry")


def competitor_of(session: Session, competitor_id: UUID) -> Competitor:
    return row_of(session, Competitor, competitor_id, "competitor")


def engine_of(session: Session, engine_id: UUID) -> Engine:
    return row_of(session, Engine, engine_id, "engine")


def competitor_of_person(session: Session, person_id: UUID) -> Competitor | None:
    return session.scalar(select(Competitor).where(Competitor.person_id == person_id))


def entries_of_event(session: Session, event_id: UUID) -> list[Entry]:
    """In the order in which people look for cars: 4, 4A, 12, 112."""
    found = session.scalars(select(Entry).where(Entry.event_id == event_id).options(*_WHOLE))
    return sorted(found, key=lambda entry: car_order(entry.car_number))


def car_order(car_number: str) -> tuple[int, str]:
    digits = re.match(r"\d+", car_number)
    return (int(digits[0]) if digits else 10**10, car_number)


# ---- showing ----------------------------------------------------------------------------------------------------


def competitor_view(competitor: Competitor) -> CompetitorView:
    person = competitor.person
    return CompetitorView(
        id=competitor.id,
        licence=competitor.licence,
        name=competitor.name,
        person_id=competitor.person_id,
        person_name=person.full_name if person is not None else None,
    )


def engine_view(engine: Engine) -> EngineView:
    geometry = geometry_of(engine)
    different = changes(geometry_of(engine.replaces), geometry) if engine.replaces is not None else []
    return EngineView(
        id=engine.id,
        serial=engine.serial,
        cylinders=engine.cylinders,
        bore_mm=engine.bore_mm,
        stroke_mm=engine.stroke_mm,
        declared_displacement_cm3=engine.declared_displacement_cm3,
        computed_displacement_cm3=geometry.computed_displacement_cm3,
        seals=list(engine.seals),
        replaces_id=engine.replaces_id,
        changed=f"Changed since its earlier record: {'; '.join(different)}." if different else "",
        doubt=doubt(geometry),
    )


def entry_view(entry: Entry) -> EntryView:
    return EntryView(
        id=entry.id,
        event_id=entry.event_id,
        event_name=entry.event.name,
        class_id=entry.class_id,
        class_code=entry.race_class.code,
        class_name=entry.race_class.name,
        car_number=entry.car_number,
        competitor=competitor_view(entry.competitor),
        engine=engine_view(entry.engine),
        created_at=entry.created_at,
    )


def entry_page(session: Session, entry_id: UUID) -> EntryPageView:
    entry = entry_of(session, entry_id)
    earlier: list[Engine] = []
    engine = entry.engine
    while engine.replaces is not None:
        engine = engine.replaces
        earlier.append(engine)
    rows = audit.entries_about(session, [entry.id, entry.engine_id, entry.competitor_id])
    if not any(row.subject == entry.id for row in rows):  # it came in with a list, which the log has as one entry
        of_event = audit.entries_about(session, [entry.event_id])
        lists = [row for row in of_event if row.action == LIST_TAKEN_IN and row.at == entry.created_at]
        rows = sorted([*lists, *rows], key=lambda row: row.seq)
    return EntryPageView(
        entry=entry_view(entry),
        earlier=[engine_view(one) for one in earlier],
        happened=[happened_view(row) for row in rows],
    )


def competitors(session: Session) -> list[CompetitorView]:
    found = select(Competitor).options(joinedload(Competitor.person)).order_by(Competitor.name, Competitor.licence)
    return [competitor_view(row) for row in session.scalars(found)]


def competitor_page(session: Session, competitor_id: UUID) -> CompetitorPageView:
    competitor = competitor_of(session, competitor_id)
    found = session.scalars(select(Entry).where(Entry.competitor_id == competitor.id).options(*_WHOLE))
    return CompetitorPageView(
        competitor=competitor_view(competitor),
        entries=[entry_view(row) for row in sorted(found, key=lambda row: row.event.starts_on, reverse=True)],
        happened=happened(session, [competitor.id]),
    )


def accounts(session: Session) -> list[PersonView]:
    """Those who can sign in as a competitor: whom an official may link."""
    return [person for person in officials.people(session) if "competitor" in person.roles]


# ---- entering ---------------------------------------------------------------------------------------------------


def add_competitor(session: Session, me: CurrentPerson, competitor_id: UUID, data: CompetitorIn) -> CompetitorView:
    kept = session.get(Competitor, competitor_id)
    if kept is not None:
        audit.same_values_or_conflict(kept, data.model_dump())
        return competitor_view(kept)
    taken = session.scalar(select(Competitor).where(Competitor.licence == data.licence))
    if taken is not None:
        raise Invalid({"licence": f"Licence {data.licence} belongs to {taken.name} already. Check the number."})
    competitor = matching.new_competitor(now(session), competitor_id, data)
    session.add(competitor)
    _record_competitor(session, me, competitor)
    return competitor_view(competitor)


def add_engine(session: Session, me: CurrentPerson, engine_id: UUID, data: EngineIn) -> EngineView:
    """The same engine number with other figures is a new record, which names the one that it replaces."""
    kept = session.get(Engine, engine_id)
    if kept is not None:
        if kept.serial != data.serial or changes(geometry_of(kept), data.geometry):
            raise Conflict
        return engine_view(kept)
    problems: dict[str, str] = {}
    matching.check_displacement(data, problems)
    if problems:
        raise Invalid(problems)
    replaced = matching.latest_engines(session, [data.serial]).get(data.serial)
    if replaced is not None and not changes(geometry_of(replaced), data.geometry):
        raise Invalid({"serial": f"Engine {data.serial} is kept already, with these same figures. Nothing to add."})
    engine = matching.new_engine(now(session), engine_id, data, replaced)
    session.add(engine)
    _record_engine(session, me, engine)
    return engine_view(engine)


def add_entry(session: Session, me: CurrentPerson, event_id: UUID, entry_id: UUID, data: EntryIn) -> EntryView:
    """A competitor is known by the licence, an engine by its number; the event's row is held against doubles."""
    event = session.scalar(select(Event).where(Event.id == event_id).with_for_update())
    if event is None:
        raise NotFound("event")
    book = matching.known(session, event, [data.competitor.licence], [data.engine.serial], [data.car_number])
    race_class = book.classes.get(data.class_id)
    class_code = race_class.code if race_class is not None else "another"
    kept = session.get(Entry, entry_id)
    if kept is not None:
        if (
            kept.event_id != event_id
            or kept.car_number != data.car_number
            or matching.differences(kept, data, class_code)
        ):
            raise Conflict
        return entry_view(kept)
    holder = book.entries.get(data.car_number)
    if holder is not None:
        whose = f"{holder.competitor.name}, class {holder.race_class.code}"
        raise Invalid({"car_number": f"Car {data.car_number} is entered already, by {whose}. Choose another number."})
    arriving = matching.arrival(book, now(session), entry_id, data)
    if arriving.competitor is not None:
        session.add(arriving.competitor)
        _record_competitor(session, me, arriving.competitor)
    if arriving.engine is not None:
        session.add(arriving.engine)
        _record_engine(session, me, arriving.engine)
    session.add(arriving.entry)
    body = {
        "event": event.name,
        "car": data.car_number,
        "class": class_code,
        "competitor": str(arriving.entry.competitor_id),
        "engine": str(arriving.entry.engine_id),
    }
    audit.record(session, me.full_name, "entry added", entry_id, body)
    return entry_view(arriving.entry)


def rename_competitor(session: Session, me: CurrentPerson, competitor_id: UUID, data: NameIn) -> CompetitorView:
    """A name may be mended; slips keep the name under which they were signed."""
    competitor = competitor_of(session, competitor_id)
    if competitor.name != data.name:
        body = {"before": competitor.name, "now": data.name}
        competitor.name = data.name
        audit.record(session, me.full_name, "competitor renamed", competitor.id, body)
    return competitor_view(competitor)


def link_account(session: Session, me: CurrentPerson, competitor_id: UUID, data: AccountIn) -> CompetitorView:
    """Whoever is linked sees this competitor's record after signing in; nobody else's."""
    competitor = competitor_of(session, competitor_id)
    if data.person_id is not None:
        person = next((one for one in accounts(session) if one.id == data.person_id), None)
        if person is None:
            raise Invalid({"person_id": "This person does not sign in as a competitor. Choose one who does."})
        other = competitor_of_person(session, data.person_id)
        if other is not None and other.id != competitor.id:
            said = f"{person.full_name} is linked with {other.name} ({other.licence}) already. Unlink that one first."
            raise Invalid({"person_id": said})
    if competitor.person_id != data.person_id:
        competitor.person_id = data.person_id
        session.flush()
        session.refresh(competitor)
        linked = str(data.person_id) if data.person_id else "nobody"
        audit.record(session, me.full_name, "competitor's account linked", competitor.id, {"person": linked})
    return competitor_view(competitor)


def _record_competitor(session: Session, me: CurrentPerson, competitor: Competitor) -> None:
    body = {"licence": competitor.licence, "name": competitor.name}
    audit.record(session, me.full_name, "competitor added", competitor.id, body)


def _record_engine(session: Session, me: CurrentPerson, engine: Engine) -> None:
    body = {
        "serial": engine.serial,
        "cylinders": engine.cylinders,
        "bore_mm": engine.bore_mm,
        "stroke_mm": engine.stroke_mm,
        "declared_displacement_cm3": engine.declared_displacement_cm3,
        "seals": engine.seals,
        "replaces": str(engine.replaces_id) if engine.replaces_id else None,
    }
    what = "engine changed" if engine.replaces_id else "engine added"
    audit.record(session, me.full_name, what, engine.id, plain_json(body))
