"""The work list and the page of a cause, and how the rest of the book shows what stands there."""

import re
from html import unescape

from sqlalchemy import delete

from app.officials.models import SigningKey
from tests import builders
from tests.builders import put
from tests.conftest import PIN, Logbook, an_id
from tests.web.doubts.raising import at, decide, go, measured, raise_cause, sheet_of
from tests.web.history import rows

CAUSE = f"/doubts/{an_id('cause')}"
HOSTILE = "<script>alert('x')</script> & \"so\" {{ 7 * 7 }}"


def words_of(html: str) -> str:
    words = " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())
    return re.sub(r" ([.,])", r"\1", words)


def two_in_doubt(book: Logbook) -> None:
    rows.a_shed(book)
    measured(book, "41", "13:00")
    measured(book, "42", "13:10", "rival", rows.PAST)
    go(book, "16:00")
    raise_cause(book, at("12:00"), at("16:00"))


def boxes(page: str) -> list[str]:
    return re.findall(r'name="verdict_ids" value="([^"]+)"( checked)?', page)


def test_nothing_in_doubt_is_said_so(logbook: Logbook) -> None:
    page = logbook.client("official").get("/doubts").text
    assert "No result is in doubt." in page
    assert "nothing to decide" in page
    assert 'href="/doubts" aria-current="page"' in page


def test_the_work_list_counts_what_is_open_and_leads_to_the_cause(logbook: Logbook) -> None:
    two_in_doubt(logbook)
    official = logbook.client("official")
    page = words_of(official.get("/doubts").text)
    assert "2 results to decide" in page
    assert "Waiting for decisions" in page
    assert "The instrument missed its mark: Instrument 2 2 open" in page
    assert "2 open, 0 decided. Raised by Ines Tarn, 2 May 2026, 16:00 UTC. No notice was issued yet." in page
    assert f'href="{CAUSE}"' in official.get("/doubts").text
    found = official.get("/api/doubts").json()["waiting"][0]
    assert (found["open"], found["decided"], found["is_looked_back"]) == (2, 0, True)


def test_a_cause_not_yet_looked_back_waits_and_says_so(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    measured(logbook, "41", "13:00")
    go(logbook, "16:00")
    raise_cause(logbook, at("12:00"), at("16:00"), look=False)
    official = logbook.client("official")
    assert "still looking back" in official.get("/doubts").text
    assert "The logbook is still looking back." in words_of(official.get(CAUSE).text)
    assert [line["open"] for line in official.get("/api/doubts").json()["waiting"]] == [0]


def test_the_page_of_a_cause_lists_each_result_with_its_figures_and_slip(logbook: Logbook) -> None:
    two_in_doubt(logbook)
    official = logbook.client("official")
    found = official.get(f"/api{CAUSE}").json()
    assert [(row["car_number"], row["verdict"], row["slip_number"]) for row in found["rows"]] == [
        ("42", "nonconforming", "SL-000002"),
        ("41", "conforming", "SL-000001"),
    ]
    record = official.get(f"/api/records/{sheet_of('42')}").json()["result"]
    page = words_of(official.get(CAUSE).text)
    assert f"{record['value_text']} ± {record['uncertainty_text']}" in page
    assert "Instrument 2 missed its mark at its closing verification." in page
    assert "from 2 May 2026, 12:00 UTC until 2 May 2026, 16:00 UTC, at every event" in page
    assert len(boxes(official.get(CAUSE).text)) == 2


def test_without_a_pin_nothing_can_be_decided_and_the_page_says_where_to_choose_one(logbook: Logbook) -> None:
    two_in_doubt(logbook)
    with logbook.database.write() as session:
        session.execute(delete(SigningKey).where(SigningKey.person_id == an_id("official")))
    page = logbook.client("official").get(CAUSE).text
    assert "You have no PIN yet." in page
    assert 'href="/me#pin"' in page
    assert boxes(page) == []


def test_with_a_pin_results_are_chosen_one_by_one_or_all_at_once_without_a_script(logbook: Logbook) -> None:
    two_in_doubt(logbook)
    official = logbook.client("official")
    assert [ticked for _, ticked in boxes(official.get(CAUSE).text)] == ["", ""]
    page = official.get(f"{CAUSE}?chosen=all").text
    assert [ticked for _, ticked in boxes(page)] == [" checked", " checked"]
    form = re.search(rf'action="({CAUSE}/decisions/[0-9a-f-]+)"', page)
    notice = re.search(rf'action="({CAUSE}/notices/[0-9a-f-]+)"', page)
    assert form is not None
    assert notice is not None
    typed = {"verdict_ids": boxes(page)[1][0], "decision": "upheld", "reasons": HOSTILE, "pin": "000000"}
    refused = official.post(form[1], data=typed)
    assert refused.status_code in (403, 422)
    assert "<script>alert" not in refused.text
    assert HOSTILE in unescape(refused.text)
    assert [ticked for _, ticked in boxes(refused.text)] == ["", " checked"]
    assert re.search(r'value="upheld" checked', refused.text)
    assert form[1] in refused.text  # the same act again, so that a second tap doubles nothing
    assert "000000" not in refused.text
    missing = official.post(form[1], data={"reasons": "ok", "pin": PIN})
    assert missing.status_code == 422
    for sentence in ("Tick the results", "Decision is needed", "whole sentence"):
        assert sentence in missing.text


def test_open_ones_only_and_pages(logbook: Logbook) -> None:
    two_in_doubt(logbook)
    first = logbook.client("official").get(f"/api{CAUSE}").json()["rows"][1]
    decide(logbook, [first["verdict_id"]], "withdrawn", reasons=HOSTILE)
    official = logbook.client("official")
    found = official.get(f"/api{CAUSE}?only_open=true").json()
    assert [row["car_number"] for row in found["rows"]] == ["42"]
    assert (found["total"], found["line"]["open"], found["line"]["decided"]) == (1, 1, 1)
    page = official.get(CAUSE).text
    assert "Show the open ones only" in page
    assert "<script>alert" not in page
    assert HOSTILE in unescape(page)
    assert "Show all 2" in official.get(f"{CAUSE}?only_open=true").text
    assert official.get(f"{CAUSE}?page=9").status_code == 200
    assert official.get(f"{CAUSE}?page=0").status_code == 422


def test_hostile_words_of_a_cause_are_shown_and_not_run(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    measured(logbook, "41", "13:00")
    go(logbook, "16:00")
    raise_cause(logbook, at("12:00"), at("16:00"), reason=HOSTILE)
    pages = {
        "official": ["/doubts", CAUSE, f"/records/{sheet_of('41')}", "/log"],
        "inspector": [f"/inspections/{sheet_of('41')}", f"/inspections/{sheet_of('41')}/verdict"],
        "competitor": [f"/my-record/{sheet_of('41')}"],
    }
    for who, addresses in pages.items():
        for address in addresses:
            page = logbook.client(who).get(address).text
            assert HOSTILE in unescape(page), address
            assert "<script>alert" not in page, address


def test_everybody_who_sees_the_result_sees_how_it_stands(logbook: Logbook) -> None:
    two_in_doubt(logbook)
    sheet = sheet_of("41")
    pages = {
        "official": [f"/records/{sheet}"],
        "inspector": [f"/inspections/{sheet}", f"/inspections/{sheet}/verdict", f"/records/{sheet}"],
        "competitor": [f"/my-record/{sheet}"],
    }
    for who, addresses in pages.items():
        for address in addresses:
            page = words_of(logbook.client(who).get(address).text)
            assert "This result is in doubt In doubt since 2 May 2026, 16:00 UTC." in page, address
    assert "In doubt since 2 May 2026, 16:00 UTC." in words_of(logbook.client("competitor").get("/my-record").text)
    assert f'href="{CAUSE}"' in logbook.client("official").get(f"/records/{sheet}").text
    assert f'href="{CAUSE}"' not in logbook.client("inspector").get(f"/records/{sheet}").text
    verdict = logbook.client("official").get(f"/api/records/{sheet}").json()["standing"]["verdict_id"]
    decide(logbook, [verdict], "withdrawn", reasons="Nobody can say what it showed.")
    for who, addresses in pages.items():
        for address in addresses:
            page = words_of(logbook.client(who).get(address).text)
            assert "This result was withdrawn It was in doubt and was withdrawn by Oswin Marl" in page, address
            assert "Nobody can say what it showed." in page, address
    assert "withdrawn" in words_of(logbook.client("official").get("/records").text)


def test_a_protest_shows_how_the_result_stands(logbook: Logbook) -> None:
    two_in_doubt(logbook)
    official = logbook.client("official")
    rival = official.get(f"/api/records/{sheet_of('42')}").json()["sheet"]["entry"]["competitor"]["id"]
    body = {"lodged_by_id": rival, "grounds": "It was measured too late.", "fee": "100", "late_reason": "Found later"}
    put(official, f"/inspections/{sheet_of('41')}/protests/{an_id('protest')}", body)
    assert "This result is in doubt" in official.get(f"/protests/{an_id('protest')}").text


def test_what_nobody_doubted_says_nothing(logbook: Logbook) -> None:
    two_in_doubt(logbook)
    go(logbook, "16:20")
    builders.verify(logbook, "during", name="right again")
    measured(logbook, "43", "16:30")
    for address in (f"/records/{sheet_of('43')}", f"/inspections/{sheet_of('43')}"):
        assert "in doubt" not in words_of(logbook.client("inspector").get(address).text).casefold()
    assert logbook.client("official").get(f"/api/records/{sheet_of('43')}").json()["standing"]["words"] == ""


def test_an_unknown_cause_is_not_found(logbook: Logbook) -> None:
    official = logbook.client("official")
    assert official.get(f"/doubts/{an_id('nothing')}").status_code == 404
    assert official.get(f"/api/doubts/{an_id('nothing')}").status_code == 404
