"""The series, its three events, four classes and the editions of their rules."""

from dataclasses import dataclass
from datetime import date, datetime
from uuid import UUID

from app.demo.calendar import FIRST_DAYS_AGO, SECOND_DAYS_AGO, Calendar
from app.demo.logbook import DemoLogbook, an_id
from app.regulations import service as regulations
from app.regulations.schemas import ClassIn, EditionIn, EventIn, SeriesIn

SERIES_NAME = "Wexmoor Trophy"
SERIES = an_id("series")
SECOND_EDITION_DAYS_AGO = 120
# number: name, venue, first day so many days ago, days
EVENTS = {
    1: ("Skerrow Meeting", "Skerrow Ring", FIRST_DAYS_AGO, 2),
    2: ("Vinterholm Meeting", "Vinterholm Airfield", SECOND_DAYS_AGO, 2),
    3: ("Osterbeck Meeting", "Osterbeck Park", 0, 3),
}


@dataclass(frozen=True, slots=True)
class ClassPlan:
    code: str
    name: str
    protest_minutes: int
    rule: dict[str, str]


CLASSES: tuple[ClassPlan, ...] = (
    ClassPlan(
        "LT-2", "Light singles and twins", 30,
        {
            "clause": "3.2", "kind": "maximum", "limit": "11.00", "tolerance": "0.20",
            "applies_to": "every_cylinder", "decision_rule": "simple_acceptance", "confidence": "0.95",
            "inconclusive_action": "measure_again",
            "text": "The static compression ratio of an engine with one or two cylinders shall be at most 11.00 in "
            "every cylinder. A tolerance of 0.20 is granted; the measured value is held against it as it stands.",
        },
    ),
    ClassPlan(
        "QD-4", "Fours up to two litres", 60,
        {
            "clause": "4.3", "kind": "maximum", "limit": "10.80", "tolerance": "0.20",
            "applies_to": "every_cylinder", "decision_rule": "simple_acceptance", "confidence": "0.95",
            "inconclusive_action": "measure_again",
            "text": "No cylinder of a four-cylinder engine may exceed a static compression ratio of 10.80. "
            "A tolerance of 0.20 is granted.",
        },
    ),
    ClassPlan(
        "BE-8", "Big eights", 45,
        {
            "clause": "5.1", "kind": "maximum", "limit": "9.50", "tolerance": "0.10",
            "applies_to": "every_cylinder", "decision_rule": "guarded_rejection", "confidence": "0.95",
            "inconclusive_action": "teardown",
            "text": "The static compression ratio of each of the eight cylinders shall be at most 9.50, with a "
            "tolerance of 0.10. An engine is turned away only when it is past that limit beyond reasonable doubt.",
        },
    ),
    ClassPlan(
        "RG-12", "Regularity, sixes and twelves", 45,
        {
            "clause": "6.4", "kind": "minimum", "limit": "8.50", "tolerance": "0.10",
            "applies_to": "mean_of_cylinders", "decision_rule": "guarded_acceptance", "confidence": "0.95",
            "inconclusive_action": "measure_again",
            "text": "Engines keep the ratio they were built with: the mean of all cylinders shall be at least 8.50, "
            "with a tolerance of 0.10, and that shall be shown beyond reasonable doubt.",
        },
    ),
)  # fmt: skip
SECOND_EDITION = {
    "limit": "10.50", "tolerance": "0.10", "decision_rule": "three_zones",
    "text": "No cylinder of a four-cylinder engine may exceed a static compression ratio of 10.50. A tolerance of "
    "0.10 is granted. Where the measurement cannot tell, the engine is measured again before anything is said.",
}  # fmt: skip
_SECOND_NOTE = (
    "Limit lowered from 10.80 to 10.50 for the fuel now on sale. Doubt no longer falls to one side: three zones, and "
    "an engine that cannot be told is measured again."
)


def event_id(number: int) -> UUID:
    return an_id("event", number)


def class_id(code: str) -> UUID:
    return an_id("class", code)


def publish_rule_book(book: DemoLogbook, calendar: Calendar, moment: datetime) -> None:
    me = book.people["official"]
    with book.at(moment) as session:
        regulations.add_series(session, me, SERIES, SeriesIn(name=SERIES_NAME))
        for number, (name, venue, ago, days) in EVENTS.items():
            asked = {
                "series_id": SERIES,
                "name": name,
                "venue": venue,
                "starts_on": calendar.day(ago),
                "ends_on": calendar.day(ago - days + 1),
            }
            regulations.add_event(session, me, event_id(number), EventIn.model_validate(asked))
        for plan in CLASSES:
            asked = {"series_id": SERIES, "code": plan.code, "name": plan.name}
            regulations.add_class(session, me, class_id(plan.code), ClassIn.model_validate(asked))
    for plan in CLASSES:
        _publish(book, plan, 1, moment, calendar.day(FIRST_DAYS_AGO + 14), "", {})


def publish_second_edition(book: DemoLogbook, calendar: Calendar, moment: datetime) -> None:
    (plan,) = (plan for plan in CLASSES if plan.code == "QD-4")
    _publish(book, plan, 2, moment, calendar.day(SECOND_EDITION_DAYS_AGO - 14), _SECOND_NOTE, SECOND_EDITION)


def _publish(
    book: DemoLogbook,
    plan: ClassPlan,
    number: int,
    moment: datetime,
    in_force_from: date,
    note: str,
    changed: dict[str, str],
) -> None:
    asked = {
        "in_force_from": in_force_from,
        "protest_minutes": plan.protest_minutes,
        "note": note,
        "rule": {**plan.rule, **changed},
    }
    with book.at(moment) as session:
        edition = an_id("edition", plan.code, number)
        regulations.publish_edition(
            session, book.people["official"], class_id(plan.code), edition, EditionIn.model_validate(asked)
        )
