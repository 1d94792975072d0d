"""A whole entry list at once: looked through row by row, then taken in as one, or not at all."""

import hashlib
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

from pydantic_core import to_jsonable_python
from sqlalchemy import insert, select
from sqlalchemy.orm import Session

from app import audit
from app.database import Base, now
from app.entries import matching
from app.entries.entry_sheet import Row, Sheet, read_sheet
from app.entries.geometry import Geometry, changes
from app.entries.matching import Arrival, Known
from app.entries.models import Competitor, Engine, Entry
from app.entries.schemas import EntryIn, ImportView, RowProblem, SheetRow
from app.entries.service import LIST_TAKEN_IN
from app.errors import Conflict, Invalid, NotFound
from app.intake import KINDS, plain_json, read_number
from app.officials.service import CurrentPerson
from app.parsing import parse
from app.regulations.models import Event, RaceClass

SHOWN_PROBLEMS = 300
_KIND_OF = {"engine.bore": "length", "engine.stroke": "length", "engine.declared_displacement": "volume"}


@dataclass(slots=True)
class Looked:
    """What looking through a list found, row by row."""

    sheet: Sheet
    arrivals: list[Arrival] = field(default_factory=list)
    asked: list[EntryIn] = field(default_factory=list)  # beside each arrival, what it came from
    rows: list[SheetRow] = field(default_factory=list)
    problems: list[RowProblem] = field(default_factory=list)
    already: int = 0

    def refuse(self, row: Row, errors: dict[str, str]) -> None:
        places = list(self.sheet.headings)
        ordered = sorted(errors.items(), key=lambda one: places.index(one[0]) if one[0] in places else -1)
        for name, sentence in ordered:
            cell = row.cells.get(name)
            column = cell.column if cell else self.sheet.headings.get(name, "")
            self.problems.append(
                RowProblem(row=row.number, column=column, written=cell.written if cell else "", sentence=sentence)
            )
        self.tell(row, "problem", ordered[0][1])

    def tell(self, row: Row, state: str, said: str) -> None:
        written = {name: cell.written for name, cell in row.cells.items()}
        self.rows.append(
            SheetRow(
                row=row.number,
                state=state,
                car_number=written.get("car_number", ""),
                class_code=written.get("class_id", ""),
                competitor=written.get("competitor.name", ""),
                engine=written.get("engine.serial", ""),
                said=said,
            )
        )


def preview(session: Session, event_id: UUID, text: str, notes: list[str], units: str) -> ImportView:
    event = session.get(Event, event_id)
    if event is None:
        raise NotFound("event")
    return _view(_look_through(session, event, text, units), notes, imported=False)


def take_in(
    session: Session, me: CurrentPerson, event_id: UUID, text: str, notes: list[str], units: str, plan: str
) -> ImportView:
    """All rows or none. `plan` is the digest that the preview showed; empty takes in whatever the list says now."""
    event = session.scalar(select(Event).where(Event.id == event_id).with_for_update())
    if event is None:
        raise NotFound("event")
    found = _look_through(session, event, text, units)
    view = _view(found, notes, imported=True)
    if found.problems:
        count = len({problem.row for problem in found.problems})
        errors = {f"row {one.row}, {one.column or 'whole row'}": one.sentence for one in view.problems}
        said = f"{count} {'row needs' if count == 1 else 'rows need'} another look. Nothing of the list was taken in."
        raise Invalid(errors, said)
    if plan and plan != view.plan:
        raise Conflict("The logbook has changed since the list was shown. Look at what it would do now, then confirm.")
    if found.arrivals:
        _keep(session, me, event, text, found)
    return view


# ---- looking ----------------------------------------------------------------------------------------------------


def _look_through(session: Session, event: Event, text: str, units: str) -> Looked:
    found = Looked(read_sheet(text, units))
    classes = {
        race_class.code.casefold(): race_class
        for race_class in session.scalars(select(RaceClass).where(RaceClass.series_id == event.series_id))
    }
    asked: dict[int, EntryIn] = {}
    faults: dict[int, dict[str, str]] = {}
    for row in found.sheet.rows:
        try:
            asked[row.number] = _entry_in(row, classes, units)
        except Invalid as invalid:
            faults[row.number] = invalid.errors
    book = matching.known(
        session,
        event,
        {data.competitor.licence for data in asked.values()},
        {data.engine.serial for data in asked.values()},
        {data.car_number for data in asked.values()},
    )
    at = now(session)
    first = _FirstMention()
    for row in found.sheet.rows:
        if row.fault is not None:
            column, written, sentence = row.fault
            found.problems.append(RowProblem(row=row.number, column=column, written=written, sentence=sentence))
            found.tell(row, "problem", sentence)
        elif row.number in faults:
            found.refuse(row, faults[row.number])
        else:
            _look_at(found, book, first, at, row, asked[row.number])
    return found


@dataclass(slots=True)
class _FirstMention:
    """Where in this list a car, a licence and an engine stand first: a list may not contradict itself."""

    cars: dict[str, int] = field(default_factory=dict)
    names: dict[str, tuple[int, str]] = field(default_factory=dict)
    engines: dict[str, tuple[int, Geometry, str]] = field(default_factory=dict)

    def contradictions(self, row: int, data: EntryIn) -> dict[str, str]:
        errors: dict[str, str] = {}
        earlier = self.cars.setdefault(data.car_number, row)
        if earlier != row:
            errors["car_number"] = f"Car {data.car_number} stands in row {earlier} already. One car number, one entry."
        licence, name = data.competitor.licence, data.competitor.name
        place, known_as = self.names.setdefault(licence, (row, name))
        if not matching.same_name(known_as, name):
            errors["competitor.name"] = f"Licence {licence} is {known_as} in row {place}, and {name} here. Mend one."
        serial = data.engine.serial
        place, geometry, _ = self.engines.setdefault(serial, (row, data.engine.geometry, data.car_number))
        different = changes(geometry, data.engine.geometry)
        if different:
            errors["engine.serial"] = (
                f"Engine {serial} stands in row {place} with other figures: {'; '.join(different)}."
            )
        return errors


def _look_at(found: Looked, book: Known, first: _FirstMention, at: datetime, row: Row, data: EntryIn) -> None:
    errors = first.contradictions(row.number, data)
    if errors:
        found.refuse(row, errors)
        return
    kept = book.entries.get(data.car_number)
    if kept is not None:
        different = matching.differences(kept, data, book.classes[data.class_id].code)
        if different:
            said = (
                f"Car {data.car_number} is entered already, and differently: {'; '.join(different)}. "
                "What is kept stays; write the row like it, or take it out."
            )
            found.refuse(row, {"car_number": said})
        else:
            found.already += 1
            found.tell(row, "already entered", "")
        return
    try:
        arriving = matching.arrival(book, at, uuid4(), data)
    except Invalid as invalid:
        found.refuse(row, invalid.errors)
        return
    place, _, other_car = first.engines[data.engine.serial]
    if place != row.number:
        arriving.said.append(f"The same engine as car {other_car} in row {place}.")
    if arriving.competitor is not None:
        book.competitors[data.competitor.licence] = arriving.competitor
    if arriving.engine is not None:
        book.engines[data.engine.serial] = arriving.engine
    found.arrivals.append(arriving)
    found.asked.append(data)
    found.tell(row, "new", " ".join(arriving.said))


def _entry_in(row: Row, classes: dict[str, RaceClass], units: str) -> EntryIn:
    """The row as an entry. Raises Invalid under EntryIn's field names."""
    if row.fault is not None:
        raise Invalid({"": row.fault[2]})
    flat: dict[str, Any] = {}
    errors: dict[str, str] = {}
    for name, cell in row.cells.items():
        if name == "class_id":
            race_class = classes.get(cell.written.casefold())
            if race_class is None:
                there = ", ".join(sorted(one.code for one in classes.values())) or "none yet"
                errors[name] = f"The rule book has no class “{cell.written[:40]}”. Its classes are: {there}."
            else:
                flat[name] = race_class.id
        elif name in _KIND_OF:
            try:
                flat[name] = _with_unit(cell.written, cell.unit, _KIND_OF[name])
            except ValueError as error:
                errors[name] = str(error)
        else:
            flat[name] = cell.written
    try:
        data = parse(EntryIn, flat, units)
    except Invalid as invalid:
        for name, sentence in invalid.errors.items():
            errors.setdefault(name, sentence if name in row.cells else "This cell is empty, and every row needs it.")
        raise Invalid(errors) from None
    if errors:
        raise Invalid(errors)
    return data


def _with_unit(written: str, heading_unit: str, kind_name: str) -> str:
    """A cell may carry its own unit; one that does not has its heading's. ValueError holds the sentence."""
    value, own = read_number(written)
    if own and own.lower() not in KINDS[kind_name].spellings:
        kind = KINDS[kind_name]
        if re.search(r"\d", own):
            raise ValueError(f"“{written[:40]}” is not a number. Use digits and one point or comma, such as 86.0.")
        raise ValueError(f"“{own[:20]}” is not a unit of {kind.word} known here. Write {kind.metric} or {kind.inch}.")
    return f"{value} {own or heading_unit}".strip()


# ---- telling ----------------------------------------------------------------------------------------------------


def _view(found: Looked, notes: list[str], *, imported: bool) -> ImportView:
    plan = [data.model_dump(mode="json") for data in found.asked]
    replaced = [str(one.replaced.id) if one.replaced else "" for one in found.arrivals]
    return ImportView(
        row_count=len(found.sheet.rows),
        new_entries=len(found.arrivals),
        new_competitors=sum(one.competitor is not None for one in found.arrivals),
        new_engines=sum(one.engine is not None and one.replaced is None for one in found.arrivals),
        changed_engines=sum(one.replaced is not None for one in found.arrivals),
        already_entered=found.already,
        notes=[*notes, *found.sheet.notes],
        problem_count=len(found.problems),
        problems=found.problems[:SHOWN_PROBLEMS],
        rows=found.rows,
        imported=imported,
        plan=_digest([plan, replaced, found.already]),
    )


# ---- keeping ----------------------------------------------------------------------------------------------------


def _keep(session: Session, me: CurrentPerson, event: Event, text: str, found: Looked) -> None:
    """One statement for each kind of record, and one entry in the log that binds them all by digest."""
    made = {
        "competitors": _columns(one.competitor for one in found.arrivals),
        "engines": _columns(one.engine for one in found.arrivals),
        "entries": _columns(one.entry for one in found.arrivals),
    }
    for model, name in ((Competitor, "competitors"), (Engine, "engines"), (Entry, "entries")):
        if made[name]:
            session.execute(insert(model), made[name])
    body = {
        "event": event.name,
        **{name: len(rows) for name, rows in made.items()},
        "changed_engines": [one.engine.serial for one in found.arrivals if one.engine and one.replaced],
        "already_entered": found.already,
        "list_sha256": hashlib.sha256(text.encode()).hexdigest(),
        "records_sha256": records_digest(made),
    }
    audit.record(session, me.full_name, LIST_TAKEN_IN, event.id, body)


def _columns(records: Iterable[Base | None]) -> list[dict[str, Any]]:
    return [
        {column.key: getattr(record, column.key) for column in record.__table__.columns}
        for record in records
        if record is not None
    ]


def records_digest(made: dict[str, list[dict[str, Any]]]) -> str:
    """Over every record as it was made, so that a later change of one shows against the log."""
    return _digest(to_jsonable_python(plain_json(made)))


def _digest(data: Any) -> str:
    """Of the JSON with sorted keys and no blanks."""
    text = json.dumps(data, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()
