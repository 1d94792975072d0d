"""What people type stays text wherever it is read again: pages, the slip, the CSV, the log."""

import io
import re

import httpx
import pypdf

from tests import builders
from tests.conftest import Logbook, an_id

MARK = "</script></title></textarea><x-evil a='\"`>{{7*7}}${7*7}<!--"
FORMULA = "=HYPERLINK(1)"
ALIVE = re.compile(r"<x-evil|<!--(?!\s)|\b49\b(?=\$)")


def pages(book: Logbook, sheet: object, slip: str) -> dict[str, list[str]]:
    event, race_class, instrument = builders.EVENT, builders.CLASS, builders.INSTRUMENT
    competitor = book.client("official").get("/api/competitors").json()[0]["id"]
    entry = an_id("entry 41")
    return {
        "official": [
            "/events", f"/events/{event}", f"/events/{event}/waiting", f"/events/{event}/import", "/rule-book",
            f"/rule-book/{race_class}", f"/rule-book/{race_class}/next", "/instruments", f"/instruments/{instrument}",
            "/competitors", f"/competitors/{competitor}", f"/entries/{entry}", "/records", "/records?q=%3Cx-evil",
            f"/records/{sheet}", "/protests", "/log", f"/inspections/{sheet}/protest/new", f"/slips/{slip}",
        ],
        "inspector": ["/shed", f"/inspections/{sheet}", f"/inspections/{sheet}/verdict", f"/entries/{entry}/start"],
        "competitor": ["/my-record", f"/my-record/{sheet}", f"/slips/{slip}"],
        "administrator": ["/people", "/log"],
    }  # fmt: skip


def read(client: httpx.Client, page: str) -> str:
    answer = client.get(page)
    assert answer.status_code == 200, f"{page}: {answer.status_code}"
    return answer.text


def test_nothing_that_is_typed_comes_alive_on_any_page_slip_list_or_log(logbook: Logbook) -> None:
    official = logbook.client("official")
    builders.a_class(logbook, text=f"Rule {MARK}", clause="<x-evil>")
    series = {"series_id": str(builders.SERIES), "name": f"Round {MARK}", "venue": MARK}
    other_event = {**series, "starts_on": "2026-05-02", "ends_on": "2026-05-03"}
    builders.put(official, f"/events/{an_id('other')}", other_event)
    builders.an_instrument(logbook)
    builders.verify(logbook)
    entry = builders.an_entry(logbook, serial="<x-evil>")
    competitor = official.get(f"/api/entries/{entry}").json()["competitor"]["id"]
    builders.put(official, f"/competitors/{competitor}/name", {"name": f"{FORMULA} {MARK}"})
    sheet = builders.a_sheet(logbook, entry)
    inspector = logbook.client("inspector")
    builders.readings(logbook, sheet, [["10.31"], *[["10.30"]] * 7])
    correction = {
        "cylinder": 1, "indications": ["10.32"], "reason": MARK, "replaces_id": str(an_id(f"reading {sheet} 1")),
    }  # fmt: skip
    builders.put(inspector, f"/inspections/{sheet}/readings/{an_id('again')}", correction)
    slip = builders.signed(logbook, sheet, acknowledgement_name=MARK, acknowledgement_note=MARK)["id"]
    protest = an_id("protest")
    grounds = {"lodged_by_id": competitor, "grounds": MARK, "fee": MARK[:60]}
    builders.put(official, f"/inspections/{sheet}/protests/{protest}", grounds)
    builders.put(official, f"/protests/{protest}/steps/{an_id('step')}", {"kind": "note", "text": MARK})

    for who, addresses in pages(logbook, sheet, slip).items():
        for address in addresses:
            assert not ALIVE.search(read(logbook.client(who), address)), f"{who} {address}"
    assert not ALIVE.search(read(official, f"/protests/{protest}"))

    answer = logbook.client("competitor").get(f"/slips/{slip}.pdf")
    assert answer.headers["content-disposition"] == 'attachment; filename="SL-000001.pdf"'
    text = "".join(pypdf.PdfReader(io.BytesIO(answer.content)).pages[0].extract_text().split())
    assert "<x-evil" in text  # as it was typed
    assert "{{7*7}}" in text
    listed = official.get("/records.csv").text
    assert f"\"'{FORMULA}" in listed
    assert f'"{FORMULA}' not in listed


def test_a_page_that_comes_back_with_what_was_typed_shows_it_as_text(logbook: Logbook) -> None:
    builders.a_class(logbook)
    official = logbook.client("official")
    again = [
        official.post(f"/rule-book/{an_id('new')}", data={"code": MARK, "name": MARK, "series_id": MARK}),
        official.post(f"/events/{builders.EVENT}/import", data={"text": f"car,{MARK}\n1,{MARK}"}),
        logbook.client("").post("/sign-in", data={"sign_in_name": MARK[:60], "password": MARK, "next": "//" + MARK}),
        *(logbook.client("").post("/verify", data={"code": code}) for code in ("/", "..", "%2e", "\r\na: b", MARK)),
        logbook.client("").post("/verify", files={"file": (MARK.replace('"', ""), b"no pdf")}),
        logbook.client("").get("/verify/%3Cx-evil%3E"),
        official.get("/events", params={"done": MARK}),
    ]
    for answer in again:
        assert answer.status_code < 500
        assert not ALIVE.search(answer.text), answer.url
        assert MARK not in answer.headers.get("location", "")
