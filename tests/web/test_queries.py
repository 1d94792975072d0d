"""A list asks the database as often for many rows as for few."""

from collections.abc import Callable

import pytest
from sqlalchemy import event

from tests import builders
from tests.builders import EVENT, PROCEDURE, SERIES, put
from tests.conftest import Logbook, an_id
from tests.web.doubts.raising import decide, raise_cause, verdict_of
from tests.web.history import rows
from tests.web.studies import gauges

CAUSE = f"/doubts/{an_id('cause')}"
HEADINGS = "car,class,competitor,licence,engine,cylinders,bore_mm,stroke_mm,displacement_cm3"


def statements(book: Logbook, who: str, address: str) -> int:
    """How many one page takes, its sign-in included."""
    sent: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_more: object) -> None:
        if not statement.startswith(("PRAGMA", "BEGIN")):
            sent.append(statement)

    client = book.client(who)
    event.listen(book.database.engine, "before_cursor_execute", note)
    try:
        assert client.get(address).status_code == 200
    finally:
        event.remove(book.database.engine, "before_cursor_execute", note)
    return len(sent)


def enter(book: Logbook, first: int, count: int) -> None:
    lines = [f"{car},TR-8,Team {car},L-{car},E-{car},8,101.6,88.39,5733" for car in range(first, first + count)]
    address = f"/api/events/{EVENT}/entries/import"
    text = "\n".join([HEADINGS, *lines])
    answer = book.client("official").post(address, content=text, headers={"content-type": "text/csv"})
    assert answer.json()["new_entries"] == count


def more_entries(book: Logbook) -> None:
    enter(book, 500, 360)


def more_classes(book: Logbook) -> None:
    for number in range(5):
        builders.a_class(book, an_id(f"class {number}"), f"TR-{number}")


def more_events(book: Logbook) -> None:
    for number in range(5):
        body = {"series_id": str(SERIES), "name": f"Round {number}", "venue": "Fellgate Ring"}
        days = {"starts_on": "2026-05-02", "ends_on": "2026-05-03"}
        put(book.client("official"), f"/events/{an_id(f'event {number}')}", {**body, **days})


def more_instruments(book: Logbook) -> None:
    official, inspector = book.client("official"), book.client("inspector")
    for number in range(5):
        instrument, volume = an_id(f"instrument {number}"), an_id(f"volume {number}")
        known = official.get(f"/api/instruments/{builders.INSTRUMENT}").json()["instrument"]
        kept = ("method", "resolution", "stated_accuracy", "accuracy_meaning", "settable_cylinders")
        body = {name: known[name] for name in kept}
        flow = {"airflow_set_point": "4.72", "airflow_tolerance": "0.10"}
        sizes = {"displacement_min": "1000", "displacement_max": "9000"}
        named = {"name": f"Further {number}", "serial": f"F-{number}"}
        put(official, f"/instruments/{instrument}", {**body, **flow, **sizes, **named})
        mark = {"mark_low": "11.20", "mark_high": "11.30", "permitted_deviation": "0.05"}
        held = {"mark_displacement": "5733", "mark_cylinders": 8, "serial": f"RV-{number}"}
        put(official, f"/instruments/{instrument}/reference-volumes/{volume}", {**mark, **held})
        check = {"instrument_id": str(instrument), "reference_volume_id": str(volume), "stage": "opening"}
        met = {"indications": ["11.24", "11.25", "11.26"], "airflow": "4.72", "ambient_temperature": "21.0"}
        builders.a_calibration(book, instrument, f" {number}")
        put(inspector, f"/events/{EVENT}/verifications/{an_id(f'check {number}')}", {**check, **met, **PROCEDURE})


def more_results(book: Logbook) -> None:
    for number in range(3):
        rows.a_result(book, f"7{number}")


def more_causes(book: Logbook) -> None:
    for number in range(5):
        raise_cause(book, None, name=f"cause {number}")


def more_in_doubt(book: Logbook) -> None:
    """Some decided about by then, one of them measured again."""
    for number in range(4):
        rows.a_result(book, f"8{number}")
    raise_cause(book, None, name="cause again")
    decide(book, [verdict_of(book, "80"), verdict_of(book, "81")], "upheld", "upheld")
    decide(book, [verdict_of(book, "82")], "withdrawn", "withdrawn")
    raise_cause(book, None, name="cause last", kind="certificate_withdrawn", calibration_id=an_id("calibration"))


def more_studies(book: Logbook) -> None:
    for number in range(5):
        gauges.a_study(book, an_id(f"study {number}"), inspector_ids=[str(an_id(who)) for who in gauges.WHO[:2]])
        gauges.read_all(book, gauges.WHO[:1], an_id(f"study {number}"))


@pytest.fixture
def book(logbook: Logbook) -> Logbook:
    """One of everything."""
    rows.a_shed(logbook)
    rows.a_result(logbook)
    gauges.a_study(logbook, inspector_ids=[str(an_id(who)) for who in gauges.WHO[:2]])
    raise_cause(logbook)
    return logbook


@pytest.mark.parametrize(
    ("who", "address", "more"),
    [
        ("inspector", f"/events/{EVENT}/waiting", more_entries),
        ("official", f"/events/{EVENT}", more_entries),
        ("official", "/competitors", more_entries),
        ("official", "/rule-book", more_classes),
        ("official", "/events", more_events),
        ("inspector", "/shed", more_events),
        ("inspector", "/shed", more_instruments),
        ("official", "/instruments", more_instruments),
        ("official", f"/instruments/{builders.INSTRUMENT}/studies", more_studies),
        ("inspector", f"/events/{EVENT}/waiting", more_instruments),
        ("official", "/records", more_results),
        ("competitor", "/my-record", more_results),
        ("official", "/doubts", more_causes),
        ("official", CAUSE, more_in_doubt),
        ("official", "/records", more_in_doubt),
        ("competitor", "/my-record", more_in_doubt),
    ],
)
def test_a_list_takes_as_many_statements_for_many_rows_as_for_few(
    book: Logbook, who: str, address: str, more: Callable[[Logbook], None]
) -> None:
    few = statements(book, who, address)
    more(book)
    assert statements(book, who, address) == few
