"""Use cases around the rule book and the calendar. `session` first, then who does it, then what; never a commit."""

from datetime import date
from uuid import UUID, uuid5

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload
from sqlalchemy.orm.interfaces import ORMOption

from app import audit
from app.database import now, row_of
from app.errors import Conflict, Invalid, NotFound
from app.happenings import happened
from app.intake import day, days, plain_json
from app.officials.service import CurrentPerson
from app.regulations import wording
from app.regulations.comparing import changes_between, says_the_same
from app.regulations.fitting import problems_of
from app.regulations.meaning import meaning_of
from app.regulations.models import Edition, Event, RaceClass, Rule, Series, parameters_of
from app.regulations.ruled import COMPRESSION_RATIO, quantity_key, quantity_words, sides_of
from app.regulations.schemas import (
    ClassBookView,
    ClassIn,
    ClassView,
    EditionIn,
    EditionPreview,
    EditionView,
    EventIn,
    EventView,
    PreviewedRule,
    RuleIn,
    RuleView,
    SeriesIn,
    SeriesView,
)

_WHOLE = (
    joinedload(RaceClass.series),
    selectinload(RaceClass.editions).options(selectinload(Edition.rules), joinedload(Edition.published_by)),
)


# ---- finding ----------------------------------------------------------------------------------------------------


def event_of(session: Session, event_id: UUID) -> Event:
    return row_of(session, Event, event_id, "event")


def class_of(session: Session, class_id: UUID, *options: ORMOption) -> RaceClass:
    return row_of(session, RaceClass, class_id, "class", options)


def edition_in_force(race_class: RaceClass, on: date) -> Edition | None:
    """The latest to have come into force; of two from the same day the later one, which corrects the other."""
    begun = [edition for edition in race_class.editions if edition.in_force_from <= on]
    return max(begun, key=lambda edition: (edition.in_force_from, edition.number), default=None)


def rule_in_force(session: Session, class_id: UUID, on: date, quantity: str = COMPRESSION_RATIO) -> Rule | None:
    """The rule on this quantity, a key of the core's; None where no edition is in force or the one that is has none."""
    edition = edition_in_force(class_of(session, class_id), on)
    return edition.rule_on(quantity) if edition is not None else None


# ---- showing ----------------------------------------------------------------------------------------------------


def series_view(series: Series) -> SeriesView:
    return SeriesView(id=series.id, name=series.name, created_at=series.created_at)


def all_series(session: Session) -> list[SeriesView]:
    return [series_view(series) for series in session.scalars(select(Series).order_by(Series.name))]


def event_view(event: Event) -> EventView:
    return EventView(
        id=event.id,
        series_id=event.series_id,
        series_name=event.series.name,
        name=event.name,
        venue=event.venue,
        starts_on=event.starts_on,
        ends_on=event.ends_on,
        days=days(event.starts_on, event.ends_on),
        created_at=event.created_at,
    )


def events(session: Session) -> list[EventView]:
    """The newest first."""
    found = select(Event).options(selectinload(Event.series)).order_by(Event.starts_on.desc(), Event.name)
    return [event_view(event) for event in session.scalars(found)]


def rule_view(rule: Rule) -> RuleView:
    edition, race_class = rule.edition, rule.edition.race_class
    quantity, bounds = quantity_key(rule.quantity), [bound for _, _, bound in sides_of(rule)]
    return RuleView(
        id=rule.id,
        edition_id=edition.id,
        edition_number=edition.number,
        in_force_from=edition.in_force_from,
        protest_minutes=edition.protest_minutes,
        class_id=race_class.id,
        class_code=race_class.code,
        class_name=race_class.name,
        clause=rule.clause,
        text=rule.text,
        quantity=quantity,
        quantity_words=quantity_words(quantity),
        kind=rule.kind,
        kind_words=wording.kind_words(rule.kind),
        limit=rule.limit,
        lower_limit=rule.lower_limit,
        limit_words=wording.limit_words(rule),
        tolerance=rule.tolerance,
        tolerance_words=wording.tolerance_words(rule),
        tolerance_covers_uncertainty=rule.tolerance_covers_uncertainty,
        tolerance_limit=bounds[-1],
        lower_tolerance_limit=bounds[0] if len(bounds) > 1 else None,
        tolerance_limit_words=wording.tolerance_limit_words(rule),
        applies_to=rule.applies_to,
        applies_to_words=wording.applies_to_words(rule),
        designated_cylinder=rule.designated_cylinder,
        decision_rule=rule.decision_rule,
        decision_rule_words=wording.decision_rule_words(rule),
        who_bears_the_doubt=wording.who_bears_the_doubt(rule),
        confidence=rule.confidence,
        confidence_words=wording.percent(rule.confidence),
        inconclusive_action=rule.inconclusive_action,
        action_words=wording.action_words(rule.inconclusive_action),
        sentence=wording.rule_sentence(rule, edition.protest_minutes),
    )


def edition_view(session: Session, edition: Edition) -> EditionView:
    today = now(session).date()
    current = edition_in_force(edition.race_class, today)
    rules = [rule_view(rule) for rule in edition.rules]
    return EditionView(
        id=edition.id,
        class_id=edition.class_id,
        number=edition.number,
        in_force_from=edition.in_force_from,
        protest_minutes=edition.protest_minutes,
        overdue_days_allowed=edition.overdue_days_allowed,
        overdue_words=wording.overdue_words(edition.overdue_days_allowed),
        note=edition.note,
        published_at=edition.published_at,
        published_by=edition.published_by.full_name,
        state="in force" if edition is current else "to come" if edition.in_force_from > today else "replaced",
        rule=rules[0],
        rules=rules,
    )


def class_view(session: Session, race_class: RaceClass) -> ClassView:
    today = now(session).date()
    current = edition_in_force(race_class, today)
    later = [edition for edition in race_class.editions if edition.in_force_from > today]
    return ClassView(
        id=race_class.id,
        series_id=race_class.series_id,
        series_name=race_class.series.name,
        code=race_class.code,
        name=race_class.name,
        edition_count=len(race_class.editions),
        in_force=edition_view(session, current) if current is not None else None,
        to_come=edition_view(session, later[0]) if later else None,
    )


def classes(session: Session) -> list[ClassView]:
    found = select(RaceClass).options(*_WHOLE).order_by(RaceClass.code)
    return [class_view(session, row) for row in session.scalars(found)]


def class_book(session: Session, class_id: UUID) -> ClassBookView:
    race_class = class_of(session, class_id, *_WHOLE)
    editions = [edition_view(session, edition) for edition in reversed(race_class.editions)]
    current = next((edition for edition in editions if edition.state == "in force"), None)
    explained = current or (editions[-1] if editions else None)
    return ClassBookView(
        race_class=class_view(session, race_class),
        editions=editions,
        explained=explained,
        meanings=[meaning_of(rule) for rule in explained.rules] if explained else [],
        happened=happened(session, [class_id, *(edition.id for edition in editions)]),
    )


# ---- entering ---------------------------------------------------------------------------------------------------


def add_series(session: Session, me: CurrentPerson, series_id: UUID, data: SeriesIn) -> SeriesView:
    kept = session.get(Series, series_id)
    if kept is not None:
        audit.same_values_or_conflict(kept, data.model_dump())
        return series_view(kept)
    if session.scalar(select(Series).where(Series.name == data.name)) is not None:
        raise Invalid({"name": f"There is a series “{data.name}” already. Choose another name."})
    series = Series(id=series_id, name=data.name, created_at=now(session))
    session.add(series)
    audit.record(session, me.full_name, "series added", series.id, {"name": series.name})
    return series_view(series)


def add_event(session: Session, me: CurrentPerson, event_id: UUID, data: EventIn) -> EventView:
    kept = session.get(Event, event_id)
    if kept is not None:
        audit.same_values_or_conflict(kept, data.model_dump())
        return event_view(kept)
    series = _series_asked_for(session, data.series_id)
    _check_days(data)
    taken = session.scalar(select(Event).where(Event.series_id == series.id, Event.name == data.name))
    if taken is not None:
        when = days(taken.starts_on, taken.ends_on)
        raise Invalid({"name": f"{series.name} has an event “{data.name}” already, {when}. Choose another name."})
    event = Event(id=event_id, series=series, created_at=now(session), **data.model_dump())
    session.add(event)
    audit.record(session, me.full_name, "event added", event.id, data.model_dump(mode="json"))
    return event_view(event)


def _check_days(data: EventIn) -> None:
    if data.ends_on < data.starts_on:
        raise Invalid({"ends_on": f"The last day lies before the first, {day(data.starts_on)}. Mend one of them."})
    if (data.ends_on - data.starts_on).days > 31:
        raise Invalid({"ends_on": "The event would last more than a month. Check both days."})


def add_class(session: Session, me: CurrentPerson, class_id: UUID, data: ClassIn) -> ClassView:
    kept = session.get(RaceClass, class_id)
    if kept is not None:
        audit.same_values_or_conflict(kept, data.model_dump())
        return class_view(session, kept)
    series = _series_asked_for(session, data.series_id)
    for other in session.scalars(select(RaceClass).where(RaceClass.series_id == series.id)):
        if other.code.casefold() == data.code.casefold():
            raise Invalid({"code": f"“{other.code}” is taken by the class {other.name}. Choose another code."})
    race_class = RaceClass(id=class_id, series=series, code=data.code, name=data.name, created_at=now(session))
    session.add(race_class)
    audit.record(session, me.full_name, "class added", race_class.id, {"code": data.code, "name": data.name})
    session.refresh(race_class, ["editions"])
    return class_view(session, race_class)


def _series_asked_for(session: Session, series_id: UUID) -> Series:
    series = session.get(Series, series_id)
    if series is None:
        raise Invalid({"series_id": "The logbook has no such series. Choose one of those listed."})
    return series


def publish_edition(
    session: Session, me: CurrentPerson, class_id: UUID, edition_id: UUID, data: EditionIn
) -> EditionView:
    """An edition is inserted once and never changed; the class's row is held so that numbers have no gap."""
    race_class = session.scalar(
        select(RaceClass).where(RaceClass.id == class_id).with_for_update().execution_options(populate_existing=True)
    )
    if race_class is None:
        raise NotFound("class")
    kept = session.get(Edition, edition_id)
    if kept is not None:
        if kept.class_id != class_id or not says_the_same(kept, data) or kept.in_force_from != data.in_force_from:
            raise Conflict
        return edition_view(session, kept)
    _check_edition(race_class, data)
    edition = Edition(
        id=edition_id,
        race_class=race_class,
        number=len(race_class.editions) + 1,
        in_force_from=data.in_force_from,
        protest_minutes=data.protest_minutes,
        overdue_days_allowed=data.overdue_days_allowed,
        note=data.note,
        published_at=now(session),
        published_by_id=me.id,
    )
    edition.rules.append(_rule_row(uuid5(edition_id, data.rule.clause), data.rule))
    for rule in data.further:
        # longer than any clause, so that it can be none: two rules of one edition may stand in the same clause
        edition.rules.append(_rule_row(uuid5(edition_id, f"further rule, {rule.quantity}: {rule.clause}"), rule))
    session.add(edition)
    body = {"class": race_class.code, "number": edition.number, **plain_json(data.model_dump(mode="json"))}
    audit.record(session, me.full_name, "edition published", edition.id, body)
    return edition_view(session, edition)


def _rule_row(rule_id: UUID, asked: RuleIn) -> Rule:
    return Rule(
        id=rule_id,
        quantity=quantity_words(asked.quantity),
        parameters=parameters_of(asked.lower_limit, asked.designated_cylinder, asked.tolerance_covers_uncertainty),
        **asked.model_dump(exclude={"quantity", "lower_limit", "designated_cylinder", "tolerance_covers_uncertainty"}),
    )


def _check_edition(race_class: RaceClass, data: EditionIn) -> None:
    """Raises what keeps this from becoming the next edition; the preview asks it too."""
    problems = problems_of(data)
    if problems:
        raise Invalid(problems)
    if not race_class.editions:
        return
    newest = race_class.editions[-1]
    if data.in_force_from < newest.in_force_from:
        raise Invalid(
            {
                "in_force_from": f"Edition {newest.number} comes into force on {day(newest.in_force_from)}. "
                "The next one cannot begin before it; choose that day or a later one."
            }
        )
    if says_the_same(newest, data, with_note=False):
        raise Invalid(
            {"": f"Nothing differs from edition {newest.number}. Change something, or leave that one in force."}
        )


def preview_edition(session: Session, class_id: UUID, data: EditionIn) -> EditionPreview:
    """Checked like the real thing, kept nowhere."""
    race_class = class_of(session, class_id)
    _check_edition(race_class, data)
    return EditionPreview(
        number=len(race_class.editions) + 1,
        rules=[_previewed(rule, data.protest_minutes) for rule in data.rules],
        changes=changes_between(race_class.editions[-1], data) if race_class.editions else [],
    )


def _previewed(rule: RuleIn, protest_minutes: int) -> PreviewedRule:
    return PreviewedRule(
        quantity=rule.quantity,
        quantity_words=quantity_words(rule.quantity),
        kind=rule.kind,
        limit=rule.limit,
        lower_limit=rule.lower_limit,
        tolerance=rule.tolerance,
        sentence=wording.rule_sentence(rule, protest_minutes),
        meaning=meaning_of(rule),
    )
