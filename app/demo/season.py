"""Loads the season: every record through the same services as the screens, in the order in which it would have come.

All depends on the date alone, except keys and signatures, which are made with chance, and the hours of today's event,
which run up to the moment of loading.
"""

import json
import shutil
import time
from collections.abc import Callable
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from app.config import Settings
from app.database import Database
from app.demo import WHOLE, aftermath, bench, disputes, field, people, rule_book, studied
from app.demo.calendar import FIRST_DAYS_AGO, SECOND_DAYS_AGO, Calendar, calendar_of
from app.demo.logbook import DemoLogbook, SetClock
from app.demo.measuring import run_slot
from app.demo.programme import PROGRAMMES
from app.errors import Refused
from app.migrating import bring_up_to_date
from app.officials import service as officials
from app.officials.keyring import open_keyring
from app.slips.press import Press

_WORKERS = 2


def _say(line: str) -> None:
    print(f"  {line}", flush=True)  # noqa: T201  # the command line's progress


def load_season(settings: Settings, now: datetime | None = None, say: Callable[[str], None] = _say) -> None:
    """Into a folder beside, which takes its place when all is done: half a season is never taken for a whole one."""
    place = settings.data_folder
    _refuse_to_replace_a_logbook(settings)
    made, before = place.with_name(f"{place.name}.loading"), place.with_name(f"{place.name}.before")
    shutil.rmtree(made, ignore_errors=True)
    made.mkdir(parents=True, mode=0o700)
    calendar = calendar_of(now or datetime.now(UTC))
    started = time.monotonic()
    _fill(settings, made, calendar, say)
    (made / WHOLE).write_text(json.dumps({"loaded_at": calendar.now.isoformat()}) + "\n")
    shutil.rmtree(before, ignore_errors=True)
    if place.exists():
        place.rename(before)
    made.rename(place)
    shutil.rmtree(before, ignore_errors=True)
    say(f"The season is loaded, in {time.monotonic() - started:.0f} seconds.")


def _refuse_to_replace_a_logbook(settings: Settings) -> None:
    """An empty database is what every start makes; one that somebody signs in to is not ours to put aside."""
    if not (settings.data_folder / "shedbook.db").is_file():
        return
    database = Database(f"sqlite:///{settings.data_folder / 'shedbook.db'}")
    try:
        bring_up_to_date(database)
        with database.read() as session:
            if officials.people(session):
                raise Refused(
                    f"The folder {settings.data_folder} already holds a logbook. Move it away to load the demo season."
                )
    finally:
        database.close()


def _fill(settings: Settings, folder: Path, calendar: Calendar, say: Callable[[str], None]) -> None:
    clock = SetClock(calendar.moment(FIRST_DAYS_AGO + 25, 8))
    database = Database(f"sqlite:///{folder / 'shedbook.db'}", clock)
    press = Press(_WORKERS, seconds=120.0)
    press.warm()
    try:
        bring_up_to_date(database)
        keyring = open_keyring(folder / "keys", rule_book.SERIES_NAME, clock())
        book = DemoLogbook(database, clock, keyring, press, settings.public_url)
        _before_the_season(book, calendar, say)
        for event in PROGRAMMES:
            _between(book, calendar, event)
            _hold(book, calendar, event, say)
    finally:
        press.close()
        database.close()


def _before_the_season(book: DemoLogbook, calendar: Calendar, say: Callable[[str], None]) -> None:
    people.sign_up(book, book.clock())
    rule_book.publish_rule_book(book, calendar, calendar.moment(FIRST_DAYS_AGO + 24, 9))
    bench.register(book, calendar, calendar.moment(FIRST_DAYS_AGO + 20, 10))
    field.add_competitors(book, calendar.moment(FIRST_DAYS_AGO + 9, 17))
    say("People, rule book and instruments are in.")


def _between(book: DemoLogbook, calendar: Calendar, event: int) -> None:
    """What is done at the desk before an event, its entries last."""
    if event == 2:
        published = calendar.moment(rule_book.SECOND_EDITION_DAYS_AGO, 11)
        rule_book.publish_second_edition(book, calendar, published)
        studied.study(book, calendar)
    if event == 3:
        aftermath.look_after(book, calendar)
        mended = calendar.moment(SECOND_DAYS_AGO - 22, 15)
        bench.calibrate(book, calendar, mended, bench.TWO, "HM-4519", ago=SECOND_DAYS_AGO - 19, deviation="0.00")
    days_before = {1: FIRST_DAYS_AGO + 6, 2: SECOND_DAYS_AGO + 6, 3: 4}
    field.enter(book, event, calendar.moment(days_before[event], 18))


def _hold(book: DemoLogbook, calendar: Calendar, event: int, say: Callable[[str], None]) -> None:
    """Everything of one event in the order of its minutes."""
    programme, day = PROGRAMMES[event], calendar.shed_day(event)
    acts = [(check.minute, partial(bench.verify, book, event, day, check)) for check in programme.checks]
    acts += [(minute, partial(run_slot, book, event, day, minute, visits)) for minute, visits in programme.slots]
    acts += [(minute, partial(act, book, day.at(minute))) for minute, act in disputes.ACTS.get(event, ())]
    for _, act in sorted(acts, key=_minute):
        act()
    count = sum(1 for _, visits in programme.slots for visit in visits if not visit.left_open_after)
    say(f"{rule_book.EVENTS[event][0]}: {count} engines measured, their slips signed.")


def _minute(planned: tuple[float, partial[None]]) -> float:
    return planned[0]
