"""A season with an instrument that drifts by 0.02 of a ratio a month, from the first signal to the verified notice.

The physics is the test's own: the reference volume is 11.25, the instrument shows that plus its drift plus a scatter of
0.008, to the nearest 0.01. What the logbook says is held against what really happened.
"""

import random
from datetime import UTC, date, datetime, timedelta
from typing import Any
from uuid import UUID

from tests.builders import (
    CLASS,
    INSTRUMENT,
    PROCEDURE,
    RULE,
    SERIES,
    VOLUME,
    a_class,
    an_instrument,
    conditions,
    put,
    readings,
    signed,
)
from tests.conftest import PIN, START, Logbook, an_id

DRIFT_PER_DAY = 0.02 / 30
TRUE_RATIO, UPPER_EDGE = 11.25, 11.35
SCATTER = 0.008
FIRST_DAY = START + timedelta(days=7)
DAYS_BETWEEN_EVENTS = 15
MEASURED_FROM = 135  # day of the season
SECOND = an_id("second instrument")
SECOND_VOLUME = an_id("second volume")


class Season:
    """Acts at a moment, in the names of the people of the tests; each sheet's true moments are remembered."""

    def __init__(self, book: Logbook) -> None:
        self.book = book
        self.chance = random.Random(20260502)
        self.of_checks = random.Random(6)  # of such seasons one in four is first caught at a closing; this is one
        self.measured: dict[UUID, tuple[UUID, datetime]] = {}  # sheet: instrument, moment of its readings
        self.checked: list[tuple[datetime, str, bool]] = []

    def at(self, day: int, hour: int, minute: int = 0) -> datetime:
        moment = (FIRST_DAY + timedelta(days=day)).replace(hour=hour, minute=minute)
        self.book.clock.moment = moment
        self.book.clients.clear()  # earlier sessions ended on the way
        return moment

    def shown(self, ratio: float, moment: datetime, drifts: bool, chance: random.Random) -> str:
        drift = DRIFT_PER_DAY * (moment - FIRST_DAY).total_seconds() / 86400 if drifts else 0.0
        return f"{ratio + drift + chance.gauss(0.0, SCATTER):.2f}"

    def event(self, day: int) -> UUID:
        event_id = an_id(f"round on day {day}")
        on = (FIRST_DAY + timedelta(days=day)).date().isoformat()
        body = {"series_id": str(SERIES), "name": f"Round of day {day}", "venue": "Fellgate Ring"}
        put(self.book.client("official"), f"/events/{event_id}", {**body, "starts_on": on, "ends_on": on})
        return event_id

    def verify(
        self, event_id: UUID, stage: str, moment: datetime, instrument: UUID = INSTRUMENT, volume: UUID = VOLUME
    ) -> bool:
        drifts = instrument == INSTRUMENT
        chance = self.of_checks if drifts else self.chance
        figures = [self.shown(TRUE_RATIO, moment, drifts, chance) for _ in range(5)]
        found = put(
            self.book.client("inspector"),
            f"/events/{event_id}/verifications/{an_id(f'{stage} {event_id} {instrument}')}",
            {
                "instrument_id": str(instrument),
                "reference_volume_id": str(volume),
                "stage": stage,
                "indications": figures,
                "airflow": "4.72",
                "ambient_temperature": "21.0",
                **PROCEDURE,
            },
        )
        if instrument == INSTRUMENT:
            self.checked.append((moment, stage, found["accepted"]))
        accepted: bool = found["accepted"]
        return accepted

    def sheet(self, event_id: UUID, car: str, moment: datetime, instrument: UUID = INSTRUMENT) -> UUID:
        """Opened and read at this moment; signed apart from that."""
        official = self.book.client("official")
        engine = {"serial": f"E-{car}-{event_id}", "cylinders": 4, "seals": [], "bore": "101.60", "stroke": "88.39"}
        entry = an_id(f"{event_id} {car}")
        body = {
            "car_number": car,
            "class_id": str(CLASS),
            "competitor": {"licence": "L-competitor", "name": "Competitor Racing"},
            "engine": {**engine, "declared_displacement": "2866"},
        }
        view = put(official, f"/events/{event_id}/entries/{entry}", body)
        account = {"person_id": str(an_id("competitor"))}
        put(official, f"/competitors/{view['competitor']['id']}/account", account)
        sheet = an_id(f"sheet {entry}")
        opened = {
            "entry_id": str(entry),
            "instrument_id": str(instrument),
            "conditions_id": str(an_id(f"conditions {sheet}")),
            "cautions_confirmed": True,
            **conditions(set_displacement="2866"),
            "set_cylinders": 4,
        }
        put(self.book.client("inspector"), f"/inspections/{sheet}", opened)
        figures = [
            [self.shown(10.20, moment, instrument == INSTRUMENT, self.chance) for _ in range(2)] for _ in range(4)
        ]
        readings(self.book, sheet, figures)
        self.measured[sheet] = (instrument, moment)
        return sheet


def a_second_instrument(book: Logbook) -> None:
    official = book.client("official")
    known = official.get(f"/api/instruments/{INSTRUMENT}").json()["instrument"]
    names = ("method", "resolution", "stated_accuracy", "accuracy_meaning", "settable_cylinders")
    put(
        official,
        f"/instruments/{SECOND}",
        {
            **{name: known[name] for name in names},
            "name": "Instrument 5",
            "serial": "AR-0005",
            "airflow_set_point": "4.72",
            "airflow_tolerance": "0.10",
            "displacement_min": "1000",
            "displacement_max": "9000",
        },
    )
    volume = {"serial": "RV-9", "mark_low": "11.20", "mark_high": "11.30", "permitted_deviation": "0.05"}
    volume |= {"mark_displacement": "5733", "mark_cylinders": "8"}
    put(official, f"/instruments/{SECOND}/reference-volumes/{SECOND_VOLUME}", volume)
    certificate = {"laboratory": "Northmoor Calibration", "certificate": "NC-2026-121", "deviation": "0.00"}
    certificate |= {"calibrated_on": "2026-02-12", "due_on": "2027-02-12"}
    certificate |= {"expanded_uncertainty": "0.04", "coverage_factor": "2"}
    put(official, f"/instruments/{SECOND}/calibrations/{an_id('second calibration')}", certificate)


def test_a_drifting_instrument_is_seen_foretold_caught_and_told(logbook: Logbook) -> None:
    book = logbook
    a_class(book)
    an_instrument(book)
    a_second_instrument(book)
    season = Season(book)
    day = 0
    first_signal: datetime | None = None
    foretold: dict[str, Any] = {}
    while True:
        event = season.event(day)
        assert season.verify(event, "opening", season.at(day, 8)), "the story needs a closing that misses"
        sheets = day >= MEASURED_FROM  # a slip takes most of a second
        if sheets:
            early = season.sheet(event, "11", season.at(day, 10))
            signed(book, early)
        assert season.verify(event, "during", season.at(day, 12)), "the story needs a closing that misses"
        mid_day = book.clock.moment
        (chart,) = book.client("official").get(f"/api/instruments/{INSTRUMENT}/charts").json()
        if first_signal is None and any(point["signals"] for point in chart["points"]):
            first_signal = book.clock.moment
        if chart["drifts"]:
            foretold = chart
        if not sheets:
            assert season.verify(event, "closing", season.at(day, 18)), "the story ends too soon"
            day += DAYS_BETWEEN_EVENTS
            continue
        late = season.sheet(event, "12", season.at(day, 14))
        assert season.verify(event, "opening", book.clock.moment, SECOND, SECOND_VOLUME)
        beside = season.sheet(event, "13", season.at(day, 15), SECOND)
        signed(book, beside)
        unsigned = season.sheet(event, "14", season.at(day, 16))
        signed(book, late)
        if not season.verify(event, "closing", season.at(day, 18)):
            break
        signed(book, unsigned)
        day += DAYS_BETWEEN_EVENTS
        assert day < 400

    # the chart signalled months before, and the forecast of that afternoon holds the day on which the edge was reached
    assert first_signal is not None
    assert first_signal < FIRST_DAY + timedelta(days=day - 3 * DAYS_BETWEEN_EVENTS)
    reached = (FIRST_DAY + timedelta(days=(UPPER_EDGE - TRUE_RATIO) / DRIFT_PER_DAY)).date()
    earliest, told, latest = (
        date.fromisoformat(foretold[name]) for name in ("not_before", "reaches_edge_on", "not_after")
    )
    assert earliest <= told <= latest
    assert earliest <= reached <= latest
    assert abs(float(foretold["drift_in_30_days"]) - 0.02) < 0.004

    # exactly what was measured with it since mid-day is in doubt: one sheet signed before the miss, one after it
    failed_at = book.clock.moment
    signed(book, unsigned)
    truly = {
        sheet
        for sheet, (instrument, moment) in season.measured.items()
        if instrument == INSTRUMENT and mid_day <= moment <= failed_at
    }
    assert truly == {late, unsigned}
    official = book.client("official")
    work = official.get("/api/doubts").json()
    (cause,) = work["waiting"]
    rows = official.get(f"/api/doubts/{cause['cause_id']}").json()["rows"]
    assert {UUID(row["inspection_id"]) for row in rows} == truly
    assert (cause["open"], cause["decided"]) == (2, 0)
    assert datetime.fromisoformat(cause["since"]).astimezone(UTC) == mid_day

    # the notices verify, and the slips, unaltered, say that they are in doubt
    notice_id = an_id("notice of doubt")
    notice = put(official, f"/doubts/{cause['cause_id']}/notices/{notice_id}", {"pin": PIN})
    assert notice["signed"]
    pdf = official.get(f"/api/notices/{notice_id}/file").content
    checked = book.client().post("/api/verify", content=pdf).json()
    assert checked["genuine"], checked
    for row in rows:
        record = official.get(f"/api/records/{row['inspection_id']}").json()
        slip = official.get(f"/api/slips/{record['slip']['id']}/file").content
        said = book.client().post("/api/verify", content=slip).json()
        assert said["genuine"]
        assert said["standing"].startswith("In doubt since ")
        assert notice["number"] in [told["number"] for told in said["notices"]]

    # a named decision for each; the decision's notice verifies too, and nothing is left to do
    act = an_id("act")
    decided = {
        "verdict_ids": [row["verdict_id"] for row in rows],
        "decision": "withdrawn",
        "reasons": "The engines have left; nobody can show how much of the drift is in these figures.",
        "pin": PIN,
        "notice_id": str(an_id("notice of decision")),
    }
    put(official, f"/doubts/{cause['cause_id']}/decisions/{act}", decided)
    pdf = official.get(f"/api/notices/{an_id('notice of decision')}/file").content
    assert book.client().post("/api/verify", content=pdf).json()["genuine"]
    assert official.get("/api/doubts").json()["open"] == 0
    sound = official.get(f"/api/records/{early}").json()
    assert sound["slip"]["signed"]
    assert RULE["limit"] == "10.50"
