"""A protest against a signed result: taken in, commented, decided."""

from typing import Any
from uuid import UUID

import pytest

from app.inspections.models import Verdict
from app.officials import service as officials
from app.officials.schemas import PersonIn
from tests import builders
from tests.conftest import PASSWORD, PIN, Logbook, an_id
from tests.web.history.rows import PAST, a_result, a_shed, an_open_sheet, sign

PROTEST = an_id("protest")
LATE = (
    "The time for protests on this result ended at 09:30 UTC (rule 5.4, edition 1: 30 minutes). "
    "Take it in as late and say why, or stop here."
)


def a_contested_result(book: Logbook) -> tuple[UUID, dict[str, Any]]:
    """A result past the limit at nine o'clock, and a claim of the competitor it concerns."""
    a_shed(book)
    inspection_id = a_result(book, "41", "competitor", PAST)
    people = book.client("official").get(f"/api/inspections/{inspection_id}/protest").json()["competitors"]
    return inspection_id, {
        "lodged_by_id": people[0]["competitor_id"],
        "grounds": "Rule 5.4: the gas was hotter than dialled.",
        "fee": "protest fee, paid in cash",
    }


def lodged(book: Logbook, inspection_id: UUID, claim: dict[str, Any], protest_id: UUID = PROTEST) -> dict[str, Any]:
    return builders.put(book.client("official"), f"/inspections/{inspection_id}/protests/{protest_id}", claim)


def step(book: Logbook, kind: str, text: str, name: str = "", who: str = "official") -> Any:
    address = f"/api/protests/{PROTEST}/steps/{an_id(f'step {kind} {name}')}"
    return book.client(who).put(address, json={"kind": kind, "text": text})


def both_roles(book: Logbook, who: str = "both") -> None:
    """Somebody who measures and decides: an official with an inspector's key."""
    given: Any = {
        "full_name": "Bo Tarrant",
        "sign_in_name": who,
        "roles": ["inspector", "official"],
        "password": PASSWORD,
    }
    with book.database.write() as session:
        officials.add_person(session, "tests", an_id(who), PersonIn(**given), "metric")
        officials.issue_key(session, officials.person_of(session, an_id(who)), PIN, book.app.state.keyring)


# ---- taking in ---------------------------------------------------------------------------------------------------


def test_a_protest_in_time_is_taken_in_and_stands_beside_its_record(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    logbook.clock.advance(minutes=30)  # the last moment counts as in time
    found = lodged(logbook, inspection_id, claim)
    assert (found["line"]["state"], found["line"]["is_late"], found["late_reason"]) == ("open", False, "")
    record = logbook.client("official").get(f"/api/records/{inspection_id}").json()
    assert [line["id"] for line in record["protests"]] == [str(PROTEST)]
    assert found["result"] == record["result"]
    page = logbook.client("official").get(f"/protests/{PROTEST}").text
    assert claim["grounds"] in page
    assert f"{found['result']['deciding']}: {found['result']['value_text']}" in page
    assert "PAST THE LIMIT" in page
    assert "Under protest" in logbook.client("inspector").get(f"/records/{inspection_id}").text


def test_a_late_protest_needs_its_reason(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    logbook.clock.advance(minutes=30, seconds=1)
    address = f"/api/inspections/{inspection_id}/protests/{PROTEST}"
    refused = logbook.client("official").put(address, json=claim)
    assert refused.status_code == 422
    assert refused.json()["errors"] == {"late_reason": LATE}
    found = lodged(logbook, inspection_id, {**claim, "late_reason": "The slip came out late."})
    assert (found["line"]["is_late"], found["late_reason"]) == (True, "The slip came out late.")
    page = logbook.client("official").get(f"/protests/{PROTEST}").text
    assert "Taken in late because" in page
    assert "Protest taken in late" in page


def test_the_form_says_the_time_and_keeps_what_was_typed(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    client = logbook.client("official")
    form = client.get(f"/inspections/{inspection_id}/protest/new").text
    assert "Protests on this result are in time until 09:30 UTC (rule 5.4, edition 1: 30 minutes)." in form
    assert "Why it is taken in late" not in form
    logbook.clock.advance(hours=1)
    answer = client.post(f"/inspections/{inspection_id}/protests/{PROTEST}", data=claim)
    assert answer.status_code == 422
    beside_the_field = answer.text.split('id="f-late_reason-error">')[1].split("</p>")[0]
    assert beside_the_field.endswith(LATE)
    assert f'<a href="#f-late_reason">{LATE}</a>' in answer.text
    assert claim["grounds"] in answer.text
    assert f'value="{claim["fee"]}"' in answer.text
    assert f'<option value="{claim["lodged_by_id"]}" selected>' in answer.text
    answer = client.post(f"/inspections/{inspection_id}/protests/{PROTEST}", data={"fee": "none"})
    assert "Ground of the protest is needed. Fill it in." in answer.text
    assert "Competitor who protests is needed. Fill it in." in answer.text
    taken = client.post(f"/inspections/{inspection_id}/protests/{PROTEST}", data={**claim, "late_reason": "Queue."})
    assert (taken.status_code, taken.headers["location"]) == (303, f"/protests/{PROTEST}?done=protest-taken-in")
    assert "Read its number" in client.get(taken.headers["location"]).text


def test_a_reason_for_lateness_is_not_taken_while_there_is_time(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    answer = logbook.client("official").put(
        f"/api/inspections/{inspection_id}/protests/{PROTEST}", json={**claim, "late_reason": "Just in case."}
    )
    assert "Leave the reason for lateness empty." in answer.json()["errors"]["late_reason"]


def test_only_a_competitor_entered_in_the_event_may_protest(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    elsewhere = builders.EVENT, an_id("another event")
    official = logbook.client("official")
    event = {"series_id": str(builders.SERIES), "name": "Round two", "venue": "Fellgate Ring"}
    builders.put(official, f"/events/{elsewhere[1]}", {**event, "starts_on": "2026-06-06", "ends_on": "2026-06-06"})
    engine = {"serial": "E-3", "cylinders": 4, "bore": "101.60", "stroke": "88.39", "declared_displacement": "2866"}
    stranger = builders.put(
        official,
        f"/events/{elsewhere[1]}/entries/{an_id('elsewhere')}",
        {
            "car_number": "3",
            "class_id": str(builders.CLASS),
            "competitor": {"licence": "L-3", "name": "Elsewhere Racing"},
            "engine": engine,
        },
    )["competitor"]["id"]
    for who in (stranger, str(an_id("nobody"))):
        answer = official.put(
            f"/api/inspections/{inspection_id}/protests/{PROTEST}", json={**claim, "lodged_by_id": who}
        )
        assert answer.json()["errors"] == {
            "lodged_by_id": "Only a competitor entered in this event may protest. Choose one of the list."
        }
    assert "Elsewhere Racing" not in official.get(f"/inspections/{inspection_id}/protest/new").text


def test_an_unsigned_sheet_cannot_be_protested(logbook: Logbook) -> None:
    _, claim = a_contested_result(logbook)
    unsigned = an_open_sheet(logbook, "12", "rival")
    official = logbook.client("official")
    answer = official.put(f"/api/inspections/{unsigned}/protests/{PROTEST}", json=claim)
    assert answer.status_code == 403
    assert "no signed result yet" in answer.json()["detail"]
    assert official.get(f"/inspections/{unsigned}/protest/new").status_code == 403
    assert official.put(f"/api/inspections/{an_id('no such')}/protests/{PROTEST}", json=claim).status_code == 404
    assert official.post(f"/inspections/{an_id('no such')}/protests/{PROTEST}", data=claim).status_code == 404


def test_the_same_protest_twice_is_one_and_another_under_its_id_is_refused(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    first = lodged(logbook, inspection_id, claim)
    logbook.clock.advance(hours=2)  # a replay is no late protest
    assert lodged(logbook, inspection_id, claim) == first
    official = logbook.client("official")
    address = f"/api/inspections/{inspection_id}/protests/{PROTEST}"
    assert official.put(address, json={**claim, "grounds": "Something else."}).status_code == 409
    other = a_result(logbook, "12", "rival")
    assert official.put(f"/api/inspections/{other}/protests/{PROTEST}", json=claim).status_code == 409
    assert len(official.get("/api/protests").json()) == 1


# ---- steps -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kind", ["upheld", "not_upheld", "withdrawn", "inadmissible"])
def test_a_decision_needs_reasons_and_closes_the_protest(logbook: Logbook, kind: str) -> None:
    inspection_id, claim = a_contested_result(logbook)
    lodged(logbook, inspection_id, claim)
    assert step(logbook, kind, "  ").json()["errors"] == {"text": "Write the reasons; the parties will read them."}
    found = step(logbook, kind, "Heard both; looked at the thermometer.").json()
    assert found["line"]["state"] == kind
    again = step(logbook, "upheld", "On second thoughts.", "again")
    assert again.status_code == 409
    assert "already decided" in again.json()["detail"]
    noted = step(logbook, "note", "The fee is returned.")
    assert (noted.status_code, noted.json()["line"]["state"]) == (200, kind)
    page = logbook.client("official").get(f"/protests/{PROTEST}").text
    assert "The fee is returned." in page
    assert 'type="radio"' not in page  # only notes from here on


def test_a_step_sent_twice_is_one_step(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    lodged(logbook, inspection_id, claim)
    first = step(logbook, "upheld", "The reasons.").json()
    assert step(logbook, "upheld", "The reasons.").json() == first
    assert step(logbook, "upheld", "Other reasons.").status_code == 409
    assert len(first["steps"]) == 1


def test_the_page_takes_a_note_and_keeps_the_words_of_a_refused_decision(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    lodged(logbook, inspection_id, claim)
    client = logbook.client("official")
    address = f"/protests/{PROTEST}/steps/{an_id('by form')}"
    refused = client.post(address, data={"kind": "upheld", "text": ""})
    assert refused.status_code == 422
    assert "Write the reasons; the parties will read them." in refused.text
    assert 'value="upheld" checked' in refused.text
    taken = client.post(address, data={"kind": "note", "text": "Heard Cleo Fenn."})
    assert taken.status_code == 303
    assert "Heard Cleo Fenn." in client.get(taken.headers["location"]).text
    step(logbook, "withdrawn", "Taken back in writing.")
    late = client.post(f"/protests/{PROTEST}/steps/{an_id('too late')}", data={"kind": "upheld", "text": "My reasons."})
    assert late.status_code == 409
    assert "My reasons." in late.text


def test_whoever_signed_the_result_does_not_decide(logbook: Logbook) -> None:
    a_shed(logbook)
    both_roles(logbook)
    inspection_id = a_result(logbook, "41", "competitor", PAST, by="both")
    people = logbook.client("official").get(f"/api/inspections/{inspection_id}/protest").json()["competitors"]
    lodged(logbook, inspection_id, {"lodged_by_id": people[0]["competitor_id"], "grounds": "Hot.", "fee": "paid"})
    answer = step(logbook, "not_upheld", "I measured it right.", who="both")
    assert answer.status_code == 403
    sentence = "You signed this result, so another official has to decide this protest. You can add a note."
    assert answer.json()["detail"] == sentence
    page = logbook.client("both").get(f"/protests/{PROTEST}").text
    assert sentence in page
    assert 'type="radio"' not in page
    assert step(logbook, "note", "How it was measured.", who="both").status_code == 200
    assert step(logbook, "not_upheld", "Measured right.").json()["line"]["state"] == "not_upheld"


def test_whoever_took_a_reading_does_not_decide_even_one_that_was_set_aside(logbook: Logbook) -> None:
    a_shed(logbook)
    both_roles(logbook)
    inspection_id = an_open_sheet(logbook)
    reading = {"cylinder": 1, "indications": ["9.40", "9.41"]}
    builders.put(logbook.client("both"), f"/inspections/{inspection_id}/readings/{an_id('first')}", reading)
    corrected = {
        "cylinder": 1,
        "indications": [PAST, PAST],
        "replaces_id": str(an_id("first")),
        "reason": "Hose kinked",
    }
    builders.put(logbook.client("inspector"), f"/inspections/{inspection_id}/readings/{an_id('second')}", corrected)
    for cylinder in (2, 3, 4):
        reading = {"cylinder": cylinder, "indications": [PAST, PAST]}
        address = f"/inspections/{inspection_id}/readings/{an_id(f'reading {cylinder}')}"
        builders.put(logbook.client("inspector"), address, reading)
    sign(logbook, inspection_id)
    people = logbook.client("both").get(f"/api/inspections/{inspection_id}/protest").json()["competitors"]
    lodged(logbook, inspection_id, {"lodged_by_id": people[0]["competitor_id"], "grounds": "Hot.", "fee": "paid"})
    answer = step(logbook, "upheld", "The hose was kinked.", who="both")
    assert answer.status_code == 403
    assert answer.json()["detail"].startswith("You took readings for this result")


# ---- looking -----------------------------------------------------------------------------------------------------


def test_open_protests_come_first_and_each_leads_to_its_page(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    lodged(logbook, inspection_id, claim)
    logbook.clock.advance(minutes=1)
    lodged(logbook, inspection_id, claim, an_id("second"))
    logbook.clock.advance(minutes=1)
    lodged(logbook, inspection_id, claim, an_id("third"))
    step(logbook, "inadmissible", "No fee.")
    found = logbook.client("official").get("/api/protests").json()
    assert [line["id"] for line in found] == [str(an_id("second")), str(an_id("third")), str(PROTEST)]
    assert [line["state"] for line in found] == ["open", "open", "inadmissible"]
    page = logbook.client("official").get("/protests").text
    places = [page.index(f'href="/protests/{line["id"]}"') for line in found]
    assert places == sorted(places)


def test_no_protest_at_all_says_how_one_is_taken_in(logbook: Logbook) -> None:
    assert "Nobody has protested." in logbook.client("official").get("/protests").text


def test_every_step_is_in_the_log(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    lodged(logbook, inspection_id, claim)
    step(logbook, "note", "Heard both.")
    logbook.clock.advance(minutes=1)
    found = step(logbook, "upheld", "The gas was hot.").json()
    assert [(line["who"], line["what"]) for line in found["happened"]] == [
        ("Oswin Marl", "Protest taken in"),
        ("Oswin Marl", "Protest note added"),
        ("Oswin Marl", "Protest decided: upheld"),
    ]


def test_protests_are_for_officials(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    lodged(logbook, inspection_id, claim)
    addresses = [f"{face}/protests{rest}" for face in ("", "/api") for rest in ("", f"/{PROTEST}")]
    for address in [
        *addresses,
        f"/inspections/{inspection_id}/protest/new",
        f"/api/inspections/{inspection_id}/protest",
    ]:
        assert logbook.client("official").get(address).status_code == 200
        assert logbook.client("inspector").get(address).status_code == 403
        assert logbook.client("administrator").get(address).status_code == 403
        assert logbook.client("competitor").get(address).status_code == 404
    for who, status in (("inspector", 403), ("competitor", 404)):
        assert step(logbook, "upheld", "Mine.", who=who).status_code == status
        taken = logbook.client(who).put(f"/api/inspections/{inspection_id}/protests/{an_id('other')}", json=claim)
        assert taken.status_code == status


def test_a_protest_changes_nothing_in_the_result(logbook: Logbook) -> None:
    inspection_id, claim = a_contested_result(logbook)
    with logbook.database.read() as session:
        before = session.query(Verdict.inputs, Verdict.result, Verdict.verdict).one()
    lodged(logbook, inspection_id, claim)
    step(logbook, "upheld", "The gas was hot.")
    with logbook.database.read() as session:
        assert session.query(Verdict.inputs, Verdict.result, Verdict.verdict).one() == before
