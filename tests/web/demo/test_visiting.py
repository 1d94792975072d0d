"""Visitors go on with the demo season; a second load gives the same; somebody's own logbook is left alone."""

import json
import shutil
from collections.abc import Callable, Iterator
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import httpx
import pytest
from sqlalchemy import select

from app.config import Settings
from app.database import Base, Database
from app.demo import DEMO_SIGN_INS, is_loaded
from app.demo.bench import TWO, instrument_id
from app.demo.disputes import DECIDED, STILL_OPEN
from app.demo.field import entry_id
from app.demo.measuring import sheet_id, slip_id
from app.demo.rule_book import class_id, event_id
from app.demo.season import load_season
from app.errors import Refused
from app.migrating import bring_up_to_date
from app.slips.press import Press
from tests.conftest import InProcess, Logbook, a_logbook, an_id
from tests.web.demo.conftest import LOADED_AT, Loaded, settings_in

PINS = {name: pin for name, _, pin, _ in DEMO_SIGN_INS if pin}
MADE_WITH_CHANCE = {"signing_key", "slip_file", "log_entry", "sign_in_session", "throttle"}
CHANCY_COLUMNS = {"password_hash", "signing_key_id", "record", "digest"}


@pytest.fixture
def visited(season: Loaded, tmp_path: Path, press: Press) -> Iterator[Logbook]:
    """A copy to work in, a few minutes after it was loaded."""
    shutil.copy(season.settings.data_folder / "shedbook.db", tmp_path / "shedbook.db")
    url, keys = f"sqlite:///{tmp_path / 'shedbook.db'}", season.settings.keys_folder
    with a_logbook(url, tmp_path, keys, press) as book:
        book.clock.moment = LOADED_AT + timedelta(minutes=4)
        yield book


def sign_in(book: Logbook, name: str) -> httpx.Client:
    password = next(password for sign_in_name, password, _, _ in DEMO_SIGN_INS if sign_in_name == name)
    client = httpx.Client(transport=InProcess(book.app, book.portal), base_url="http://testserver")
    client.headers["sec-fetch-site"] = "same-origin"
    answer = client.post("/api/session", json={"sign_in_name": name, "password": password})
    assert answer.status_code == 200, answer.text
    return client


def test_everyone_printed_at_the_start_can_sign_in(visited: Logbook) -> None:
    for name, _, pin, who in DEMO_SIGN_INS:
        me = sign_in(visited, name).get("/api/me").json()
        assert who.startswith(me["full_name"])
        assert me["has_pin"] is bool(pin)


def test_a_visitor_as_inspector_finishes_the_open_sheet_and_gets_its_slip(visited: Logbook) -> None:
    inspector, sheet = sign_in(visited, "inspector"), sheet_id(3, "68")
    rest = [
        {"id": str(an_id(f"rest {number}")), "cylinder": number, "indications": shown}
        for number, shown in ((5, ["9.22", "9.21"]), (6, ["9.21"]), (7, ["9,24", "9,23"]), (8, ["9.20"]))
    ]
    view = inspector.put(f"/api/inspections/{sheet}/readings", json={"readings": rest}).json()
    assert view["missing"] == []
    assert view["assessment"]["verdict"] == "conforming"
    asked = {"pin": PINS["inspector"], "acknowledgement_kind": "typed", "acknowledgement_name": "Maud Esterby"}
    slip = inspector.put(f"/api/inspections/{sheet}/sign-off/{an_id('slip')}", json=asked).json()
    assert slip["signed"], slip
    assert slip["number"] == "SL-000036"


def test_a_visitor_as_inspector_may_open_a_sheet_for_a_car_that_waits(visited: Logbook) -> None:
    inspector = sign_in(visited, "inspector")
    waiting = inspector.get(f"/api/events/{event_id(3)}/waiting").json()
    entry = next(line["entry"] for line in waiting["entries"] if line["entry"]["car_number"] == "66")
    start = inspector.get(f"/api/entries/{entry['id']}/start").json()
    assert start["instrument"]["name"] == "Bench one"
    assert start["choices"][0]["cylinders"] == 8
    assert start["last_conditions"]["temperature_source"] == "thermometer_in_chamber"


@pytest.mark.parametrize("name", ["greyshore", "tannery", "lowfold"])
def test_each_competitor_account_shows_its_own_record_and_no_other(visited: Logbook, name: str) -> None:
    own = sign_in(visited, name).get("/api/my-record").json()
    sheets = {"greyshore": sheet_id(1, "66"), "tannery": sheet_id(2, "46"), "lowfold": sheet_id(3, "37")}
    assert str(sheets[name]) in str(own)
    assert all(str(sheet) not in str(own) for other, sheet in sheets.items() if other != name)


PAGES = {
    "admin": ["/", "/people", "/log", "/me"],
    "official": [
        "/",
        "/events",
        f"/events/{event_id(3)}",
        "/competitors",
        "/rule-book",
        f"/rule-book/{class_id('QD-4')}",
        "/protests",
        f"/protests/{DECIDED}",
        f"/protests/{STILL_OPEN}",
        f"/inspections/{sheet_id(3, '37')}/protest/new",
        f"/entries/{entry_id(3, '66')}",
    ],
    "inspector": [
        "/",
        "/shed",
        f"/events/{event_id(3)}/waiting",
        f"/entries/{entry_id(3, '66')}/start",
        f"/inspections/{sheet_id(3, '68')}",
        f"/inspections/{sheet_id(3, '68')}/verdict",
        "/instruments",
        f"/instruments/{instrument_id(TWO)}",
        "/records",
        f"/records/{sheet_id(1, '34')}",
        f"/records/{sheet_id(1, '66')}",
        f"/records/{sheet_id(1, '88')}",
        f"/records/{sheet_id(2, '46', again=True)}",
        f"/records/{sheet_id(2, '48')}",
        f"/records/{sheet_id(2, '64')}",
        f"/records/{sheet_id(2, '93')}",
        f"/slips/{slip_id(sheet_id(1, '61'))}",
    ],
    "greyshore": ["/", "/my-record", f"/my-record/{sheet_id(1, '66')}"],
}


@pytest.mark.parametrize("name", list(PAGES))
def test_every_page_of_each_role_opens_on_a_full_logbook(visited: Logbook, name: str) -> None:
    client = sign_in(visited, name)
    answers = {address: client.get(address, follow_redirects=True).status_code for address in PAGES[name]}
    assert answers == dict.fromkeys(PAGES[name], 200)


# ---- loading again -----------------------------------------------------------------------------------------------


def rows_of(settings: Settings) -> Iterator[tuple[str, dict[str, Any]]]:
    """Every row but those that chance makes."""
    database = Database(settings.resolved_database_url)
    with database.read() as session:
        for table in Base.metadata.sorted_tables:
            if table.name not in MADE_WITH_CHANCE:
                for row in session.execute(select(table)).mappings():
                    yield f"{table.name} {row['id']}", dict(row)
    database.close()


def without_hours(settings: Settings) -> dict[str, dict[str, Any]]:
    return {
        name: {key: value for key, value in row.items() if key not in CHANCY_COLUMNS and type(value) is not datetime}
        for name, row in rows_of(settings)
    }


def moments_before_today(settings: Settings) -> dict[str, datetime]:
    """The hours of today's event run up to the moment of loading; all others depend on the date alone."""
    return {
        f"{name} {key}": value
        for name, row in rows_of(settings)
        for key, value in row.items()
        if type(value) is datetime and value.date() < LOADED_AT.date()
    }


def earlier_records(settings: Settings) -> dict[str, Any]:
    """What the slips of the two past events say, but for the certificate they are signed with."""
    found = {name: json.loads(row["record"]) for name, row in rows_of(settings) if name.startswith("slip ")}
    for record in found.values():
        del record["inspector"]["certificate_serial"]
    return {name: one for name, one in found.items() if one["event"]["starts_on"] < LOADED_AT.date().isoformat()}


def test_a_load_soon_after_midnight_of_the_same_day_gives_the_same_records(season: Loaded, tmp_path: Path) -> None:
    again = settings_in(tmp_path / "demo")
    load_season(again, LOADED_AT.replace(hour=0, minute=50), lambda _line: None)
    first, second = without_hours(season.settings), without_hours(again)
    assert len(first) > 450
    assert first == second
    moments = moments_before_today(season.settings)
    assert len(moments) > 400
    assert moments == moments_before_today(again)
    records = earlier_records(season.settings)
    assert len(records) == 29
    assert records == earlier_records(again)


def test_a_folder_with_an_empty_database_does_not_count_as_loaded(tmp_path: Path) -> None:
    settings = settings_in(tmp_path)
    assert not is_loaded(settings)
    database = Database(settings.resolved_database_url)
    bring_up_to_date(database)
    database.close()
    assert not is_loaded(settings)


def test_the_whole_season_counts_as_loaded_and_leaves_nothing_beside_it(season: Loaded) -> None:
    assert is_loaded(season.settings)
    folder = season.settings.data_folder
    assert [path.name for path in folder.parent.iterdir()] == [folder.name]
    assert {path.name for path in folder.iterdir()} == {"shedbook.db", "keys", "season.json"}


def test_a_folder_where_somebody_keeps_a_logbook_is_left_alone(
    tmp_path: Path, prepared: tuple[Path, Callable[[str], None]]
) -> None:
    settings = settings_in(tmp_path / "mine")
    settings.data_folder.mkdir()
    prepared[1](settings.resolved_database_url)
    kept = (settings.data_folder / "shedbook.db").read_bytes()
    with pytest.raises(Refused, match="already holds a logbook"):
        load_season(settings, LOADED_AT, lambda _line: None)
    assert (settings.data_folder / "shedbook.db").read_bytes() == kept
