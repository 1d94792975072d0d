"""A competitor sees their own signed results, and learns of nothing else."""

from tests import builders
from tests.conftest import Logbook, an_id
from tests.web.history.rows import ACROSS, INSIDE, PAST, a_result, a_shed, an_open_sheet


def test_own_results_are_listed_with_figures_rule_and_protest_time(logbook: Logbook) -> None:
    a_shed(logbook)
    first = a_result(logbook, "41", "competitor", INSIDE)
    logbook.clock.advance(minutes=20)
    second = a_result(logbook, "12", "competitor", ACROSS)
    a_result(logbook, "7", "rival", PAST)
    logbook.clock.advance(minutes=15)
    found = logbook.client("competitor").get("/api/my-record").json()
    assert [row["inspection_id"] for row in found["results"]] == [str(second), str(first)]
    assert [row["protest_is_open"] for row in found["results"]] == [True, False]
    assert found["results"][0]["verdict"] == "inconclusive"
    page = logbook.client("competitor").get("/my-record").text
    for row in found["results"]:
        assert f"{row['value']} ± {row['expanded_uncertainty']}" in page
        assert row["limit_text"] in page
    assert "No cylinder may exceed a static compression ratio of 10.50." in page
    assert "2 May 2026, 09:50 UTC" in page  # twenty past nine and thirty minutes
    assert "Rival" not in page
    assert "PAST THE LIMIT" not in page


def test_the_own_record_shows_what_the_staff_see_of_it(logbook: Logbook) -> None:
    a_shed(logbook)
    inspection_id = a_result(logbook, "41", "competitor", ACROSS)
    own = logbook.client("competitor").get(f"/api/my-record/{inspection_id}").json()
    staff = logbook.client("official").get(f"/api/records/{inspection_id}").json()
    assert own["result"] == staff["result"]
    page = logbook.client("competitor").get(f"/my-record/{inspection_id}").text
    result = own["result"]
    assert f'<span class="verdict-value">{result["deciding"]}: {result["value_text"]}</span>' in page
    assert f"± {result['uncertainty_text']}" in page
    assert "No cylinder may exceed a static compression ratio of 10.50." in page
    assert "What happened here" not in page


def test_another_address_leads_a_competitor_nowhere(logbook: Logbook) -> None:
    a_shed(logbook)
    own = a_result(logbook, "41", "competitor")
    others = a_result(logbook, "7", "rival")
    unsigned = an_open_sheet(logbook, "12", "competitor")
    client = logbook.client("competitor")
    for face in ("/my-record", "/api/my-record"):
        assert client.get(f"{face}/{own}").status_code == 200
        missing = client.get(f"{face}/{an_id('no such')}")
        assert missing.status_code == 404
        for wrong in (others, unsigned):
            answer = client.get(f"{face}/{wrong}")
            assert (answer.status_code, answer.text) == (404, missing.text)
    for path in (
        f"/records/{own}", f"/api/records/{own}", f"/protests/{own}", f"/api/protests/{own}", f"/inspections/{own}",
        f"/api/inspections/{own}", f"/inspections/{own}/protest/new", "/log", "/api/log", "/protests", "/api/protests",
        f"/api/slips/{an_id(f'slip {others}')}/record", f"/slips/{an_id(f'slip {others}')}.pdf",
    ):  # fmt: skip
        assert client.get(path).status_code == 404, path
    assert client.get(f"/api/slips/{an_id(f'slip {own}')}/record").status_code == 200


def test_an_account_without_a_competitor_is_told_whom_to_ask(logbook: Logbook) -> None:
    client = logbook.client("competitor")
    assert client.get("/api/my-record").json()["is_linked"] is False
    assert "Your account is not yet tied to a competitor." in client.get("/my-record").text
    assert client.get(f"/my-record/{an_id('any')}").status_code == 404


def test_a_competitor_without_a_result_is_told_when_one_comes(logbook: Logbook) -> None:
    a_shed(logbook)
    an_open_sheet(logbook, "41", "competitor")
    assert "No signed result yet." in logbook.client("competitor").get("/my-record").text


def test_both_sides_read_the_reasons_of_a_decision_but_no_notes(logbook: Logbook) -> None:
    a_shed(logbook)
    inspection_id = a_result(logbook, "41", "competitor", PAST)
    builders.an_entry(logbook, "7", 4, "rival")
    official = logbook.client("official")
    people = official.get(f"/api/inspections/{inspection_id}/protest").json()["competitors"]
    rival = next(one["competitor_id"] for one in people if one["words"].startswith("Rival"))
    protest = an_id("protest")
    claim = {"lodged_by_id": rival, "grounds": "The gas was hot.", "fee": "paid in cash"}
    builders.put(official, f"/inspections/{inspection_id}/protests/{protest}", claim)
    note = {"kind": "note", "text": "Between the officials only."}
    builders.put(official, f"/protests/{protest}/steps/{an_id('note')}", note)
    decision = {"kind": "not_upheld", "text": "The thermometer was in the chamber."}
    builders.put(official, f"/protests/{protest}/steps/{an_id('decision')}", decision)
    for who, address in (("competitor", f"/my-record/{inspection_id}"), ("rival", "/my-record")):
        page = logbook.client(who).get(address).text
        assert "The thermometer was in the chamber." in page
        assert "Between the officials only." not in page
    assert logbook.client("rival").get(f"/my-record/{inspection_id}").status_code == 404


def test_the_own_record_is_for_competitors(logbook: Logbook) -> None:
    assert logbook.client("official").get("/my-record").status_code == 403
    assert logbook.client("inspector").get("/api/my-record").status_code == 403
    assert logbook.client().get("/api/my-record").status_code == 401
