"""One box and a few filters over every sheet, newest first."""

import json
import re
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, time
from difflib import get_close_matches
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, and_, false, func, or_, select
from sqlalchemy.orm import Session

from app.doubts import service as doubts
from app.entries.models import Competitor, Engine, Entry
from app.errors import Invalid
from app.history.schemas import PAGE_ROWS, Choice, FiltersView, FoundRow, SearchIn, SearchView
from app.inspections.models import Inspection, Verdict
from app.inspections.signed_result import reported_figures
from app.instruments.models import Instrument
from app.metrology.rounding import as_written
from app.plots import pictured
from app.regulations import service as regulations
from app.regulations.models import Event, RaceClass, Rule
from app.slips.content import slip_number
from app.slips.models import Slip
from app.slips.record import CODE_LENGTH, normalise_code

# what people call a verdict, as a phrase and by its first word
_SAID = {"conforming": "inside", "nonconforming": "past", "inconclusive": "across"}
_PHRASE = re.compile(r"\b(inside|past|across)\s+the\s+limit\b", re.IGNORECASE)
_SLIP = re.compile(r"^sl-?0*(\d{1,9})$", re.IGNORECASE)
_MOST_TERMS = 12
_MOST_CANDIDATES = 5000


def search(session: Session, data: SearchIn) -> SearchView:
    where = _conditions(data)
    total = session.scalar(_joined(select(func.count()).select_from(Inspection)).where(*where)) or 0
    pages = max(1, -(-total // PAGE_ROWS))
    page = min(data.page, pages)
    rows = session.execute(_listed(where).limit(PAGE_ROWS).offset((page - 1) * PAGE_ROWS))
    return SearchView(
        rows=_found_rows(session, rows.all()),
        total=total,
        page=page,
        pages=pages,
        nothing_found="" if total else _nothing_found(data),
        close_to=[] if total or not data.q else _close_to(session, data.q),
    )


def everything_found(session: Session, data: SearchIn) -> Iterator[FoundRow]:
    """The whole list, for an export."""
    for part in session.execute(_listed(_conditions(data)).execution_options(yield_per=500)).partitions():
        yield from _found_rows(session, part)


def filters(session: Session) -> FiltersView:
    classes = select(RaceClass.id, RaceClass.code, RaceClass.name).order_by(RaceClass.code)
    instruments = select(Instrument.id, Instrument.name).order_by(Instrument.name)
    return FiltersView(
        events=[Choice(id=one.id, words=f"{one.name}, {one.days}") for one in regulations.events(session)],
        classes=[Choice(id=one.id, words=f"{one.code}: {one.name}") for one in session.execute(classes)],
        instruments=[Choice(id=one.id, words=one.name) for one in session.execute(instruments)],
    )


# ---- the query ---------------------------------------------------------------------------------------------------


def _joined(query: Select[*tuple[Any, ...]]) -> Select[*tuple[Any, ...]]:
    return (
        query.join(Inspection.entry)
        .join(Entry.competitor)
        .join(Entry.engine)
        .join(Entry.race_class)
        .join(Entry.event)
        .join(Inspection.rule)
        .join(Inspection.instrument)
        .outerjoin(Inspection.verdict)
        .outerjoin(Slip, Slip.verdict_id == Verdict.id)
    )


def _listed(where: list[ColumnElement[bool]]) -> Select[*tuple[Any, ...]]:
    columns = select(
        Inspection.id,
        Inspection.opened_at,
        Entry.car_number,
        Competitor.name.label("competitor"),
        RaceClass.code.label("class_code"),
        Event.name.label("event_name"),
        Engine.serial.label("engine_serial"),
        Instrument.name.label("instrument"),
        Rule.kind,
        Verdict.id.label("verdict_id"),
        Verdict.verdict,
        Verdict.decided_at,
        Verdict.result,
        Slip.number,
    ).select_from(Inspection)
    return _joined(columns).where(*where).order_by(Inspection.opened_at.desc(), Inspection.id)


def _conditions(data: SearchIn) -> list[ColumnElement[bool]]:
    if data.from_on and data.until_on and data.until_on < data.from_on:
        raise Invalid({"until_on": "The last day lies before the first one. Exchange the two, or leave one empty."})
    found: list[ColumnElement[bool]] = []
    if data.class_id:
        found.append(Entry.class_id == data.class_id)
    if data.event_id:
        found.append(Entry.event_id == data.event_id)
    if data.instrument_id:
        found.append(Inspection.instrument_id == data.instrument_id)
    if data.verdict:
        found.append(Verdict.id.is_(None) if data.verdict == "none" else Verdict.verdict == data.verdict)
    if data.standing:
        found.append(and_(Verdict.id.is_not(None), doubts.stands_as(data.standing)))
    if data.from_on:
        found.append(Inspection.opened_at >= datetime.combine(data.from_on, time.min, UTC))
    if data.until_on:
        found.append(Inspection.opened_at <= datetime.combine(data.until_on, time.max, UTC))
    if data.q:
        found.append(_words(data.q))
    return found


def _words(typed: str) -> ColumnElement[bool]:
    """Every word has to be found somewhere; a slip's code may also be typed in parts."""
    terms = _PHRASE.sub(r"\1", typed.replace("\0", " ")).split()[:_MOST_TERMS]
    every = and_(*(_term(term) for term in terms)) if terms else false()
    code = normalise_code(typed)
    return or_(every, Slip.code == code) if len(code) == CODE_LENGTH else every


def _term(term: str) -> ColumnElement[bool]:
    texts = (
        Entry.car_number, Competitor.name, Competitor.licence, Engine.serial, RaceClass.code, RaceClass.name,
        Event.name, Event.venue, Instrument.name, Instrument.serial,
    )  # fmt: skip
    ways: list[ColumnElement[bool]] = [column.icontains(term, autoescape=True) for column in texts]
    number = _SLIP.match(term)
    if number:
        ways.append(Slip.number == min(int(number[1]), 2**31 - 1))
    if len(normalise_code(term)) >= 4:
        ways.append(Slip.code.startswith(normalise_code(term), autoescape=True))
    for verdict, said in _SAID.items():
        if term.casefold() in (said, verdict):
            ways.append(Verdict.verdict == verdict)
    return or_(*ways)


def _found_rows(session: Session, rows: Sequence[Row[Any]]) -> list[FoundRow]:
    standing = doubts.standing_of(session, [row.verdict_id for row in rows if row.verdict_id])
    states = {verdict_id: "" if view.state == "sound" else view.state for verdict_id, view in standing.items()}
    return [_found(row, states.get(row.verdict_id, "")) for row in rows]


def _found(row: Row[Any], standing: str) -> FoundRow:
    value = expanded = limit = with_tolerance = picture = ""
    side = row.kind
    if row.result is not None:
        result = json.loads(row.result)
        value, expanded = reported_figures(result)
        picture, side = pictured(result), result.get("side") or row.kind
        limit, with_tolerance = as_written(float(result["limit"])), as_written(float(result["tolerance_limit"]))
    return FoundRow(
        inspection_id=row.id,
        car_number=row.car_number,
        competitor=row.competitor,
        class_code=row.class_code,
        event_name=row.event_name,
        engine_serial=row.engine_serial,
        instrument=row.instrument,
        opened_at=row.opened_at,
        decided_at=row.decided_at,
        verdict=row.verdict or "",
        picture=picture,
        kind=side,
        value=value,
        expanded_uncertainty=expanded,
        limit=limit,
        tolerance_limit=with_tolerance,
        slip_number=slip_number(row.number) if row.number else "",
        standing=standing,
    )


# ---- nothing found -----------------------------------------------------------------------------------------------


def _nothing_found(data: SearchIn) -> str:
    narrowed = [data.class_id, data.event_id, data.instrument_id, data.verdict, data.standing, data.from_on]
    narrowed.append(data.until_on)
    if data.q:
        return f"No record has “{data.q}”" + (" within these filters." if any(narrowed) else ".")
    return "No record fits these filters." if any(narrowed) else "No engine has been measured yet."


def _close_to(session: Session, typed: str) -> list[str]:
    candidates: dict[str, str] = {}
    for column in (Entry.car_number, Competitor.name, Engine.serial):
        for text in session.scalars(select(column).distinct().order_by(column).limit(_MOST_CANDIDATES)):
            candidates.setdefault(text.casefold(), text)
    near = get_close_matches(typed.casefold(), candidates, n=3, cutoff=0.5)
    return [candidates[key] for key in near]
