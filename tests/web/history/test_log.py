"""The log as officials and administrators read it."""

from sqlalchemy import text

from app import audit
from tests import builders
from tests.conftest import Logbook
from tests.web.history.rows import a_result, a_shed


def test_the_latest_entries_come_first_and_the_chain_is_told_to_hold(logbook: Logbook) -> None:
    a_shed(logbook)
    a_result(logbook)
    with logbook.database.read() as session:
        checked = audit.check(session)
    found = logbook.client("official").get("/api/log").json()
    assert found["entries"] == checked.entries
    assert [line["seq"] for line in found["lines"]] == list(range(checked.entries - 1, -1, -1))
    assert found["chain"]["sentence"] == f"All {checked.entries} entries hold; head {checked.head[:16]}."
    assert found["chain"]["head"] == checked.head
    assert found["lines"][0]["digest"] == checked.head
    assert found["lines"][0]["what"] == "Slip numbered"
    page = logbook.client("administrator").get("/log").text
    assert found["chain"]["sentence"] in page
    assert "Verdict signed" in page


def test_a_long_log_comes_a_hundred_entries_at_a_time(logbook: Logbook) -> None:
    with logbook.database.write() as session:
        for number in range(1300):
            audit.record(session, "tests", "something noted", None, {"number": str(number)})
    client = logbook.client("official")
    first = client.get("/api/log").json()
    assert len(first["lines"]) == 100
    assert f"All 1\u00a03{first['entries'] - 1300:02d} entries hold" in first["chain"]["sentence"]
    second = client.get(f"/api/log?before={first['older_before']}").json()
    assert second["lines"][0]["seq"] == first["lines"][-1]["seq"] - 1
    assert f'href="/log?before={first["older_before"]}"' in client.get("/log").text
    last = client.get("/api/log?before=1").json()
    assert ([line["seq"] for line in last["lines"]], last["older_before"]) == ([0], None)


def test_a_changed_entry_is_named(logbook: Logbook) -> None:
    builders.a_class(logbook)
    with logbook.database.write() as session:
        session.execute(text("UPDATE log_entry SET entry = REPLACE(entry, 'Round one', 'Round two') WHERE seq >= 5"))
        broken = audit.check(session).broken_at
    assert broken is not None
    found = logbook.client("official").get("/api/log").json()["chain"]
    assert (found["holds"], found["broken_at"]) == (False, broken)
    page = logbook.client("official").get("/log").text
    assert f"Entry {broken} does not follow from the one before it; the {broken} entries before it hold." in page


def test_the_log_is_for_officials_and_administrators(logbook: Logbook) -> None:
    for address in ("/log", "/api/log"):
        assert logbook.client("official").get(address).status_code == 200
        assert logbook.client("administrator").get(address).status_code == 200
        assert logbook.client("inspector").get(address).status_code == 403
        assert logbook.client("competitor").get(address).status_code == 404
    assert logbook.client().get("/api/log").status_code == 401


def test_ids_are_left_out_of_what_people_read(logbook: Logbook) -> None:
    a_shed(logbook)
    a_result(logbook)
    told = [line["details"] for line in logbook.client("official").get("/api/log").json()["lines"]]
    assert "cylinder 1 · indications 10.30, 10.30" in told
    assert any("bore in mm 101.60" in details or "bore in mm 101.6" in details for details in told)
    assert not [details for details in told if "-" in details and len(details.split()[-1]) == 36]
