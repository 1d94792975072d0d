"""Notices as people meet them: who may read which, the lists, and the forms on the page of a cause."""

import re
from uuid import UUID

import pytest
from sqlalchemy import event, select

from app.officials.models import SigningKey
from app.slips import notices
from app.slips.press import Press
from app.slips.schemas import NoticeMark
from tests.conftest import PIN, Logbook, an_id
from tests.web.doubts import raising
from tests.web.slips import noticing
from tests.web.slips.noticing import decide, issue
from tests.web.test_queries import statements

# ---- who may read ------------------------------------------------------------------------------------------------

FACES = (
    "/notices/{id}",
    "/notices/{id}.pdf",
    "/api/notices/{id}",
    "/api/notices/{id}/file",
    "/api/notices/{id}/record",
)


def test_a_competitor_reads_the_notices_that_name_a_slip_of_theirs_and_no_other(logbook: Logbook) -> None:
    first, _, _ = noticing.three_in_doubt(logbook)
    decide(logbook, [first])
    for face in FACES:
        address = face.format(id=an_id("notice of act"))
        for who in ("competitor", "official", "inspector", "administrator"):
            assert logbook.client(who).get(address).status_code == 200, (who, address)
        hidden = logbook.client("rival").get(address)
        missing = logbook.client("rival").get(face.format(id=an_id("nowhere")))
        assert (hidden.status_code, hidden.text) == (missing.status_code, missing.text) == (404, missing.text)
        assert logbook.client().get(address).status_code in (303, 401)
    assert logbook.client("competitor").get("/notices").status_code == 404


def test_a_competitor_is_led_to_their_own_slips_only(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    issue(logbook)
    seen = logbook.client("competitor").get(f"/api/notices/{an_id('notice')}").json()
    assert [one["slip_id"] is not None for one in seen["slips"]] == [True, True, False]
    page = logbook.client("competitor").get(f"/notices/{an_id('notice')}").text
    assert f'href="/slips/{noticing.slip_id("41")}"' in page
    assert f'href="/slips/{noticing.slip_id("51")}"' not in page
    assert "Rival" not in page


def test_the_list_shows_every_notice_the_latest_first(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    first, _, _ = noticing.three_in_doubt(logbook)
    issue(logbook)
    decide(logbook, [first], "withdrawn")
    seen = logbook.client("inspector").get("/api/notices").json()
    assert [(one["number"], one["slips"], one["why"]) for one in seen["lines"]] == [
        ("NT-000002", 1, noticing.REASONS),
        ("NT-000001", 3, noticing.REASON),
    ]
    page = logbook.client("official").get("/notices").text
    assert re.findall(r">(NT-\d+)</a>", page) == ["NT-000002", "NT-000001"]
    assert "The results on these slips are withdrawn." in page
    monkeypatch.setattr("app.slips.notices.PAGE_ROWS", 1)
    second = logbook.client("official").get("/notices?page=2").text
    assert re.findall(r">(NT-\d+)</a>", second) == ["NT-000001"]
    assert 'href="/notices?page=1"' in second


# ---- the pages of the cause --------------------------------------------------------------------------------------


def test_a_refused_notice_and_a_refused_decision_say_so_beside_the_field_and_keep_what_was_typed(
    logbook: Logbook,
) -> None:
    verdicts = noticing.three_in_doubt(logbook)
    official = logbook.client("official")
    here = f"/doubts/{an_id('cause')}"
    no_pin = official.post(f"{here}/notices/{an_id('notice')}", data={"pin": ""})
    assert no_pin.status_code == 422
    assert "PIN is needed" in no_pin.text
    assert f"{here}/notices/{an_id('notice')}" in no_pin.text
    typed = {
        "verdict_ids": [str(verdicts[1])],
        "decision": "withdrawn",
        "reasons": "A whole reason here.",
        "pin": "135790",
    }
    wrong = official.post(f"{here}/decisions/{an_id('act')}", data=typed)
    assert wrong.status_code == 422
    assert "This PIN does not fit" in wrong.text
    assert f'value="{verdicts[1]}" checked' in wrong.text
    assert "A whole reason here." in wrong.text
    assert "135790" not in wrong.text
    assert f"{here}/decisions/{an_id('act')}" in wrong.text
    short = official.post(f"{here}/decisions/{an_id('act')}", data={**typed, "reasons": "No", "pin": PIN})
    assert "Write the reasons as a whole sentence" in short.text
    assert PIN not in short.text


def test_deciding_on_the_page_signs_the_notice_once_however_often_it_is_tapped(logbook: Logbook) -> None:
    verdicts = noticing.three_in_doubt(logbook)
    official = logbook.client("official")
    typed = {
        "verdict_ids": [str(one) for one in verdicts],
        "decision": "upheld",
        "reasons": noticing.REASONS,
        "pin": PIN,
    }
    for _tap in range(2):
        answer = official.post(f"/doubts/{an_id('cause')}/decisions/{an_id('act')}", data=typed)
        assert answer.status_code == 303, answer.text
        assert answer.headers["location"].startswith(f"/doubts/{an_id('cause')}?done=")
    assert official.get("/api/notices").json()["total"] == 1
    shown = official.get(f"/doubts/{an_id('cause')}").text
    assert "Notice NT-000001" in shown


def test_a_notice_issued_on_the_page_that_waits_for_its_file_is_shown(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    noticing.three_in_doubt(logbook)
    official = logbook.client("official")
    with monkeypatch.context() as patched:
        patched.setattr(Press, "press_notice", noticing.cut_off)
        answer = official.post(f"/doubts/{an_id('cause')}/notices/{an_id('notice')}", data={"pin": PIN})
    assert answer.headers["location"] == f"/notices/{an_id('notice')}?done=notice-not-signed"
    assert "the notice still waits for its signature" in official.get(answer.headers["location"]).text
    done = official.post(f"/doubts/{an_id('cause')}/notices/{an_id('notice')}", data={"pin": PIN})
    assert done.headers["location"] == f"/doubts/{an_id('cause')}?done=doubt-notice"


def test_a_decision_on_the_page_whose_notice_waits_for_its_file_is_shown(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    verdicts = noticing.three_in_doubt(logbook)
    official = logbook.client("official")
    typed = {"verdict_ids": [str(verdicts[0])], "decision": "upheld", "reasons": noticing.REASONS, "pin": PIN}
    with monkeypatch.context() as patched:
        patched.setattr(Press, "press_notice", noticing.cut_off)
        answer = official.post(f"/doubts/{an_id('cause')}/decisions/{an_id('act')}", data=typed)
    assert answer.status_code == 303
    shown = official.get(answer.headers["location"]).text
    assert "The decision is kept, its notice still waits for its signature." in shown
    assert "its signature is missing" in shown


def test_an_account_that_is_no_competitors_yet_reads_no_notice(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    issue(logbook)
    person = {"full_name": "Nils Orr", "sign_in_name": "nils", "roles": ["competitor"], "password": "a fair few words"}
    logbook.client("administrator").put(f"/api/people/{an_id('nils')}", json=person)
    client = logbook.another_client(logbook.open_session(an_id("nils")))
    assert client.get(f"/api/notices/{an_id('notice')}").status_code == 404
    client.close()


@pytest.mark.parametrize("path", ["/api/notices/{id}", "/notices/{id}", "/notices/{id}.pdf"])
def test_a_notice_that_is_not_there_is_not_found(logbook: Logbook, path: str) -> None:
    assert logbook.client("official").get(path.format(id=UUID(int=7))).status_code == 404


# ---- as many questions for many as for few -----------------------------------------------------------------------


def numbered(book: Logbook, name: str) -> None:
    """A further cause of the same instrument, and its notice, whose file is still to be made."""
    raising.raise_cause(book, raising.at("09:00"), name=f"cause {name}", reason=f"Reason {name} came up later.")
    with book.database.write() as session:
        key = session.scalars(select(SigningKey).where(SigningKey.person_id == an_id("official"))).one()
        cause, notice = an_id(f"cause {name}"), an_id(f"notice {name}")
        notices.issue_doubt(session, book.person("official"), cause, notice, key.id, "https://logbook.example")


def test_lists_of_notices_take_as_many_statements_for_many_as_for_few(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    numbered(logbook, "first")
    slips = [noticing.slip_id(car) for car in ("41", "42", "51")]
    sent: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_more: object) -> None:
        if not statement.startswith(("PRAGMA", "BEGIN", "SET")):
            sent.append(statement)

    def asked() -> dict[UUID, list[NoticeMark]]:
        with logbook.database.read() as session:
            event.listen(logbook.database.engine, "before_cursor_execute", note)
            try:
                return notices.notices_of_slips(session, slips)
            finally:
                event.remove(logbook.database.engine, "before_cursor_execute", note)

    assert [[one.number for one in marks] for marks in asked().values()] == [["NT-000001"]] * 3
    few, of_slips = statements(logbook, "official", "/notices"), len(sent)
    for number in range(4):
        numbered(logbook, str(number))
    sent.clear()
    assert [len(marks) for marks in asked().values()] == [5, 5, 5]
    assert len(sent) == of_slips <= 3
    assert statements(logbook, "official", "/notices") == few
