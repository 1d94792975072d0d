"""A logbook from before instruments were looked after: what verdicts rest on, and what closings put in doubt."""

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
import sqlalchemy as sa
from alembic import command
from alembic.config import Config

from app.config import SHARED_ROOT
from app.database import Base, Database, ExactDecimal, UtcDateTime
from app.doubts.sweeping import look_back
from app.migrating import bring_up_to_date
from tests.conftest import an_id
from tests.postgresql import PostgreSQL

MADE_UP: dict[type[Any], Any] = {
    ExactDecimal: Decimal(1),
    UtcDateTime: datetime.fromisoformat("2025-01-01T00:00:00Z"),
    sa.Date: date(2025, 1, 1),
    sa.Boolean: True,
    sa.Integer: 1,
    sa.JSON: [],
    sa.LargeBinary: b"",
    sa.String: "x",
    sa.Text: "x",
}


class Earlier:
    """A database at an earlier revision; rows go in with the columns it had then, made up where a test names none."""

    def __init__(self, url: str, revision: str) -> None:
        self.database = Database(url)
        config = Config()
        config.set_main_option("script_location", str(SHARED_ROOT / "migrations"))
        with self.database.engine.connect() as connection:
            config.attributes["connection"] = connection
            command.upgrade(config, revision)
            connection.commit()
        seen = sa.inspect(self.database.engine)
        self.columns = {name: {column["name"] for column in seen.get_columns(name)} for name in seen.get_table_names()}

    def add(self, table: str, called: str, /, **given: Any) -> UUID:
        values: dict[str, Any] = {"id": an_id(called)}
        for column in Base.metadata.tables[table].columns:
            if column.name in given:
                values[column.name] = given[column.name]
            elif column.name in self.columns[table] and column.name not in values and not column.nullable:
                values[column.name] = called if column.unique else MADE_UP[type(column.type)]
        with self.database.engine.begin() as connection:
            connection.execute(Base.metadata.tables[table].insert().values(values))
        return an_id(called)

    def rows(self, table: str) -> dict[UUID, Any]:
        with self.database.engine.connect() as connection:
            return {row.id: row for row in connection.execute(sa.select(Base.metadata.tables[table]))}


@pytest.fixture(params=["sqlite", "postgresql"])
def earlier(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[Earlier]:
    if request.param == "sqlite":
        book = Earlier(f"sqlite:///{tmp_path / 'earlier.db'}", "0004")
        yield book
        book.database.close()
        return
    server: PostgreSQL = request.getfixturevalue("postgresql")
    url = server.empty_database()
    book = Earlier(url, "0004")
    yield book
    book.database.close()
    server.drop(url)


def at(clock: str) -> datetime:
    """Of 2 May 2026 where no day is said."""
    return datetime.fromisoformat(f"{clock}Z" if "T" in clock else f"2026-05-02T{clock}:00Z")


def fill(book: Earlier) -> None:
    """One inspector, two instruments, two events, and one engine that is measured again and again."""
    add = book.add
    me = add("person", "ines", sign_in_name="ines")
    series = add("series", "trophy")
    for event in ("Round one", "Round two"):
        add("event", event, series_id=series, name=event)
    race_class = add("race_class", "class", series_id=series)
    edition = add("edition", "edition", class_id=race_class, published_by_id=me)
    rule = add("rule", "rule", edition_id=edition)
    competitor = add("competitor", "team")
    engine = add("engine", "engine", owner_id=competitor, competitor_id=competitor)
    one = {"event_id": an_id("Round one"), "class_id": race_class, "competitor_id": competitor, "engine_id": engine}
    entry = add("entry", "entry", **one)
    for instrument in ("Instrument 2", "Instrument 3"):
        flow = {"airflow_set_point_l_min": Decimal("4.72"), "airflow_tolerance_l_min": Decimal("0.10")}
        add("instrument", instrument, name=instrument, **flow)
        mark = {"mark_low": Decimal("11.20"), "mark_high": Decimal("11.30"), "permitted_deviation": Decimal("0.05")}
        volume = f"RV of {instrument}"
        add("reference_volume", volume, serial=volume, instrument_id=an_id(instrument), **mark)
    for name, day in (("in 2025", "2025-05-02"), ("of the day", "2026-05-02"), ("of the day after", "2026-05-03")):
        add("calibration", name, instrument_id=an_id("Instrument 2"), calibrated_on=date.fromisoformat(day))
    for name, opened in (("early", "09:30"), ("late", "23:59"), ("before any", "2024-12-31T10:00:00")):
        people = {"opened_by_id": me, "opened_at": at(opened), "entry_id": entry, "rule_id": rule}
        add("inspection", name, instrument_id=an_id("Instrument 2"), **people)


def verify(book: Earlier, stage: str, clock: str, *, accepted: bool = True, **changed: Any) -> UUID:
    given: dict[str, Any] = {
        "event_id": an_id("Round one"),
        "instrument_id": an_id("Instrument 2"),
        "reference_volume_id": an_id("RV of Instrument 2"),
        "airflow_l_min": Decimal("4.72"),
        "mean": Decimal("11.25") if accepted else Decimal("11.443333333"),
        **changed,
    }
    name = f"{stage} {clock} {given['instrument_id']}"
    person = {"performed_by_id": an_id("ines"), "performed_at": at(clock)}
    return book.add("verification", name, stage=stage, accepted=accepted, **person, **given)


def read(book: Earlier, sheet: str, clock: str, replaces: UUID | None = None) -> UUID:
    taken = {"taken_by_id": an_id("ines"), "taken_at": at(clock)}
    return book.add("reading", f"reading {clock}", inspection_id=an_id(sheet), replaces_id=replaces, **taken)


def sign(book: Earlier, sheet: str, clock: str) -> UUID:
    decided = {"decided_by_id": an_id("ines"), "decided_at": at(clock)}
    return book.add("verdict", f"verdict {sheet}", inspection_id=an_id(sheet), **decided)


def test_each_earlier_verdict_is_told_what_it_rests_on(earlier: Earlier) -> None:
    fill(earlier)
    replaced = read(earlier, "early", "09:40")
    read(earlier, "early", "09:50")
    read(earlier, "early", "10:10", replaces=replaced)
    early, late, before = sign(earlier, "early", "11:00"), sign(earlier, "late", "2026-05-03T00:10:00"), None
    before = sign(earlier, "before any", "12:00")
    bring_up_to_date(earlier.database)
    verdicts = earlier.rows("verdict")
    # the last reading that stands for each cylinder counts, not the one it replaced; without any, the moment of signing
    assert (verdicts[early].measured_from, verdicts[early].measured_until) == (at("09:50"), at("10:10"))
    assert verdicts[late].measured_from == verdicts[late].measured_until == at("2026-05-03T00:10:00")
    assert verdicts[early].calibration_id == verdicts[late].calibration_id == an_id("of the day")
    assert verdicts[before].calibration_id is None
    assert {row.instrument_id for row in verdicts.values()} == {an_id("Instrument 2")}


def test_earlier_closings_that_missed_put_results_in_doubt_since_the_last_good_verification(earlier: Earlier) -> None:
    fill(earlier)
    verify(earlier, "opening", "09:00")
    verify(earlier, "during", "12:00")
    missed = verify(earlier, "closing", "16:00", accepted=False)
    later = {"event_id": an_id("Round two")}
    verify(earlier, "opening", "2026-06-02T09:00:00", accepted=False, **later)
    verify(earlier, "closing", "2026-06-02T16:00:00", accepted=False, airflow_l_min=Decimal("4.83"), **later)
    edge = verify(earlier, "closing", "2026-06-02T17:00:00", accepted=False, airflow_l_min=Decimal("4.82"), **later)
    three = {"instrument_id": an_id("Instrument 3"), "reference_volume_id": an_id("RV of Instrument 3")}
    never = verify(earlier, "closing", "17:00", accepted=False, **three)
    verify(earlier, "opening", "18:00", **three)
    read(earlier, "early", "10:00")
    read(earlier, "early", "11:59")
    read(earlier, "late", "12:30")
    sign(earlier, "early", "13:00")
    in_doubt = sign(earlier, "late", "13:10")
    bring_up_to_date(earlier.database)
    causes = earlier.rows("doubt_cause")
    assert set(causes) == {missed, edge, never}
    assert (causes[missed].since, causes[missed].until) == (at("12:00"), at("16:00"))
    assert (causes[edge].since, causes[edge].until) == (at("12:00"), at("2026-06-02T17:00:00"))
    assert (causes[never].since, causes[never].until) == (None, at("17:00"))
    assert {row.kind for row in causes.values()} == {"missed_mark"}
    assert {row.raised_by_id for row in causes.values()} == {an_id("ines")}
    assert causes[missed].reason == (
        "Instrument 2 missed its mark at its closing verification, Round one, 2 May 2026, 16:00 UTC. Reference volume "
        "RV of Instrument 2 read 11.443; it must be between 11.15 and 11.35. The last good verification before that "
        "was made on 2 May 2026, 12:00 UTC."
    )
    assert causes[never].reason.endswith("No good verification was made before that.")
    assert look_back(earlier.database) == 2
    with earlier.database.engine.connect() as connection:
        doubted = Base.metadata.tables["doubted_verdict"]
        found = connection.execute(sa.select(doubted.c.cause_id, doubted.c.verdict_id)).all()
    assert {tuple(row) for row in found} == {(missed, in_doubt), (edge, in_doubt)}
