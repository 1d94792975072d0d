"""One box and a few filters over every sheet."""

import csv
import io
from uuid import uuid4

import pytest
from sqlalchemy import select

from app.history.spreadsheet import COLUMNS, harmless
from app.inspections.models import Inspection
from app.slips.models import Slip
from tests import builders
from tests.conftest import Logbook, an_id
from tests.web.history.rows import ACROSS, INSIDE, PAST, a_result, a_shed, an_open_sheet


def cars(book: Logbook, **asked: str) -> list[str]:
    answer = book.client("official").get("/api/records", params=asked)
    assert answer.status_code == 200, answer.text
    return [row["car_number"] for row in answer.json()["rows"]]


def three_results_and_an_open_sheet(book: Logbook) -> None:
    a_shed(book)
    for car, who, shown in (("41", "competitor", INSIDE), ("12", "rival", PAST), ("4A", "rival", ACROSS)):
        a_result(book, car, who, shown)
        book.clock.advance(minutes=1)
    an_open_sheet(book, "77", "competitor")


def test_any_word_of_a_record_finds_it_and_the_newest_comes_first(logbook: Logbook) -> None:
    three_results_and_an_open_sheet(logbook)
    with logbook.database.read() as session:
        code = session.scalars(select(Slip.code).where(Slip.number == 2)).one()
    assert cars(logbook) == ["77", "4A", "12", "41"]
    found = {
        "41": ["41"],
        "rival": ["4A", "12"],
        "e-12": ["12"],
        "SL-000003": ["4A"],
        "sl3": ["4A"],
        code: ["12"],
        f"{code[:4].lower()} {code[4:].lower()}": ["12"],
        "tr-8": ["77", "4A", "12", "41"],
        "fellgate": ["77", "4A", "12", "41"],
        "Instrument": ["77", "4A", "12", "41"],
        "past": ["12"],
        "ACROSS THE LIMIT": ["4A"],
        "nonconforming": ["12"],
        "rival past the limit": ["12"],
        "rival inside": [],
        "100%": [],
    }
    assert {typed: cars(logbook, q=typed) for typed in found} == found


def test_filters_narrow_a_search(logbook: Logbook) -> None:
    three_results_and_an_open_sheet(logbook)
    assert cars(logbook, verdict="conforming") == ["41"]
    assert cars(logbook, verdict="none") == ["77"]
    assert cars(logbook, q="rival", verdict="inconclusive") == ["4A"]
    everything = ["77", "4A", "12", "41"]
    for name, known in (
        ("event_id", builders.EVENT), ("class_id", builders.CLASS), ("instrument_id", builders.INSTRUMENT),
    ):  # fmt: skip
        assert cars(logbook, **{name: str(known)}) == everything
        assert cars(logbook, **{name: str(an_id("another"))}) == []
    assert cars(logbook, from_on="2026-05-02", until_on="2026-05-02") == everything
    assert cars(logbook, from_on="2026-05-03") == []
    assert cars(logbook, until_on="2026-05-01") == []
    assert cars(logbook, until_on="9999-12-31") == everything


def test_the_search_page_shows_what_the_api_finds(logbook: Logbook) -> None:
    three_results_and_an_open_sheet(logbook)
    client = logbook.client("inspector")
    row = client.get("/api/records?q=12").json()["rows"][0]
    shown = client.get("/records?q=12").text
    assert f'href="/records/{row["inspection_id"]}"' in shown
    assert f"{row['value']} ± {row['expanded_uncertainty']}" in shown
    assert "PAST THE LIMIT" in shown
    assert "INSIDE THE LIMIT" not in shown
    assert "1 record, newest first" in shown


def test_nothing_found_says_so_and_names_what_is_close(logbook: Logbook) -> None:
    three_results_and_an_open_sheet(logbook)
    shown = logbook.client("official").get("/records", params={"q": "41a"}).text
    assert "No record has “41a”." in shown
    assert ">41</a>" in shown
    assert ">4A</a>" in shown


def test_an_empty_logbook_says_where_records_come_from(logbook: Logbook) -> None:
    shown = logbook.client("official").get("/records").text
    assert "No engine has been measured yet." in shown


def test_a_filter_that_cannot_be_taken_gets_its_sentence_and_keeps_the_rest(logbook: Logbook) -> None:
    client = logbook.client("official")
    answer = client.get("/records?q=41&from_on=2026-05-03&until_on=2026-05-02")
    assert answer.status_code == 422
    assert "The last day lies before the first one." in answer.text
    assert 'value="41"' in answer.text
    assert 'value="2026-05-03"' in answer.text
    answer = client.get("/records?from_on=yesterday&class_id=")
    assert "From is not a date. Write it as 2026-05-31." in answer.text
    assert client.get("/api/records?until_on=2026-05-01&from_on=2026-05-02").status_code == 422
    assert client.get("/api/records", params={"q": "a\0b"}).status_code == 422


def test_fifty_stand_on_a_page(logbook: Logbook) -> None:
    a_shed(logbook)
    first = an_open_sheet(logbook)
    with logbook.database.write() as session:
        kept = session.get_one(Inspection, first)
        for _ in range(50):
            logbook.clock.advance(seconds=1)
            session.add(
                Inspection(
                    id=uuid4(), entry_id=kept.entry_id, rule_id=kept.rule_id, instrument_id=kept.instrument_id,
                    opened_by_id=kept.opened_by_id, opened_at=logbook.clock(), cautions_confirmed=True,
                    repeat_reason="", digest="",
                )
            )  # fmt: skip
    found = logbook.client("official").get("/api/records?q=41").json()
    assert (len(found["rows"]), found["total"], found["pages"]) == (50, 51, 2)
    shown = logbook.client("official").get("/records?q=41&verdict=none").text
    assert "Page 1 of 2" in shown
    assert 'href="/records?q=41&amp;verdict=none&amp;page=2"' in shown
    second = logbook.client("official").get("/api/records?q=41&page=2").json()
    assert [row["inspection_id"] for row in second["rows"]] == [str(first)]


def test_the_list_comes_as_csv_in_which_no_cell_is_a_formula(logbook: Logbook) -> None:
    a_shed(logbook)
    official = logbook.client("official")
    entry_id = builders.an_entry(logbook, "41", 4)
    named = {"licence": "@SUM(A1)", "name": '=HYPERLINK("http://elsewhere.example","look")'}
    engine = {"serial": "+E1", "cylinders": 4, "bore": "101.60", "stroke": "88.39", "declared_displacement": "2866"}
    body = {"car_number": "5", "class_id": str(builders.CLASS), "competitor": named, "engine": engine}
    builders.put(official, f"/events/{builders.EVENT}/entries/{an_id('formula')}", body)
    for entry in (entry_id, an_id("formula")):
        builders.a_sheet(logbook, entry, set_displacement="2866", set_cylinders=4)
    answer = official.get("/records.csv")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert answer.content.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    assert tuple(rows[0]) == COLUMNS
    assert {row["competitor"] for row in rows} == {
        "Competitor Racing",
        '\'=HYPERLINK("http://elsewhere.example","look")',
    }
    assert {row["engine"] for row in rows} == {"E-41", "'+E1"}
    assert all(not cell.startswith(("=", "+", "-", "@")) for row in rows for cell in row.values())


def test_the_csv_holds_the_same_search_with_the_figures_of_the_slips(logbook: Logbook) -> None:
    three_results_and_an_open_sheet(logbook)
    official = logbook.client("official")
    rows = list(csv.DictReader(io.StringIO(official.get("/records.csv?q=past").content.decode("utf-8-sig"))))
    found = official.get("/api/records?q=past").json()["rows"][0]
    assert len(rows) == 1
    assert (rows[0]["value"], rows[0]["expanded_uncertainty"]) == (found["value"], found["expanded_uncertainty"])
    assert (rows[0]["car"], rows[0]["slip"], rows[0]["limit_with_tolerance"]) == ("12", "SL-000002", "10.60")


@pytest.mark.parametrize("cell", ["=1+1", "+cmd", "-2+3", "@now", "\tx", "\rx", " =1", "＝1"])
def test_what_a_spreadsheet_would_reckon_with_becomes_text(cell: str) -> None:
    assert harmless(cell) == f"'{cell}"


@pytest.mark.parametrize("cell", ["", "41", "-1.5", "+0,3", "10.58", "O'Dell", "a=b"])
def test_plain_words_and_numbers_stay_as_they_are(cell: str) -> None:
    assert harmless(cell) == cell


@pytest.mark.parametrize("address", ["/records", "/records.csv", "/api/records", "/api/records/filters"])
def test_only_the_staff_may_search(logbook: Logbook, address: str) -> None:
    for who in ("inspector", "official", "administrator"):
        assert logbook.client(who).get(address).status_code == 200
    assert logbook.client("competitor").get(address).status_code == 404
    stranger = logbook.client().get(address)
    assert stranger.status_code == (401 if address.startswith("/api/") else 303)
