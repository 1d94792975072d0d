"""Notices: numbered once, signed, naming exactly the slips concerned, and read by those concerned."""

import json
from concurrent.futures import ThreadPoolExecutor
from io import BytesIO

import pypdf
import pytest

from app.audit import check
from app.slips import notice_content, notices
from app.slips.findings import SignedSlip
from app.slips.press import Press
from tests.conftest import PIN, Logbook, an_id
from tests.web.doubts import raising
from tests.web.slips import noticing
from tests.web.slips.noticing import decide, issue


def record_of(book: Logbook, name: str) -> dict[str, object]:
    found: dict[str, object] = book.client("official").get(f"/api/notices/{an_id(name)}/record").json()
    return found


def test_a_notice_of_doubt_names_the_slips_of_its_cause_by_number_and_digest_and_nobody(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    noticing.finished(logbook, "41")
    digest = logbook.client("official").get(f"/api/slips/{noticing.slip_id('41')}").json()["sha256"]
    made = issue(logbook).json()
    assert (made["number"], made["signed"], made["kind"]) == ("NT-000001", True, "doubt")
    record = record_of(logbook, "notice")
    assert record["slips"] == [
        {"number": "SL-000001", "sha256": digest, "event": "Round one, 2026-05-02", "measured_again_as": None},
        {"number": "SL-000002", "sha256": "", "event": "Round one, 2026-05-02", "measured_again_as": None},
        {"number": "SL-000003", "sha256": "", "event": "Round one, 2026-05-02", "measured_again_as": None},
    ]
    assert record["official"]["name"] == "Oswin Marl"  # type: ignore[index]
    assert record["causes"][0]["reason"] == noticing.REASON  # type: ignore[index]
    said = json.dumps(record)
    codes = [
        logbook.client("official").get(f"/api/slips/{noticing.slip_id(car)}").json()["code"]
        for car in ("41", "42", "51")
    ]
    for secret in ("Competitor Racing", "Rival Racing", "L-competitor", "Cleo Fenn", *codes):
        assert secret not in said


def test_the_file_carries_the_record_and_two_programs_find_it_whole(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    issue(logbook)
    official = logbook.client("official")
    pdf = official.get(f"/notices/{an_id('notice')}.pdf").content
    assert official.get(f"/api/notices/{an_id('notice')}/file").content == pdf
    kept = official.get(f"/api/notices/{an_id('notice')}/record").content
    assert pypdf.PdfReader(BytesIO(pdf), strict=True).attachments["record.json"] == [kept]
    found = noticing.looked_at(logbook, pdf)
    assert (found["genuine"], found["kind"], found["number"]) == (True, "notice", "NT-000001")
    assert found["summary"] == "This notice is genuine: it is, byte for byte, what the official signed."
    assert found["findings"][-1]["sentence"] == "Yes, byte for byte."


def test_a_further_notice_names_only_what_no_earlier_one_names(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    issue(logbook)
    nothing_left = issue(logbook, "second")
    assert nothing_left.status_code == 403
    assert "No slip of this cause is left to name" in nothing_left.json()["detail"]
    raising.measured(logbook, "61", "11:00")
    raising.go(logbook, "13:00")
    raising.raise_cause(logbook, raising.at("09:00"), name="later cause")
    assert issue(logbook, "of the later cause", "later cause").json()["number"] == "NT-000002"
    assert len(record_of(logbook, "of the later cause")["slips"]) == 4  # type: ignore[arg-type]


def test_a_long_list_goes_on_in_a_further_notice(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    noticing.three_in_doubt(logbook)
    monkeypatch.setattr("app.slips.notices.MOST_SLIPS", 2)
    assert notice_content.MOST_SLIPS == 500
    first = issue(logbook).json()
    assert ([one["number"] for one in first["slips"]], first["left_over"]) == (["SL-000001", "SL-000002"], 1)
    assert "1 more slip is on no notice yet" in logbook.client("official").get(f"/notices/{an_id('notice')}").text
    second = issue(logbook, "second").json()
    assert ([one["number"] for one in second["slips"]], second["left_over"]) == (["SL-000003"], 0)


@pytest.mark.parametrize("decision", ["upheld", "withdrawn"])
def test_a_decision_and_its_notice_are_one(logbook: Logbook, decision: str) -> None:
    first, second, _ = noticing.three_in_doubt(logbook)
    made = decide(logbook, [first, second], decision)
    assert made.status_code == 200, made.text
    assert (made.json()["kind"], made.json()["signed"]) == ("decision", True)
    record = record_of(logbook, "notice of act")
    assert record["decision"] == {
        "decision": decision,
        "reasons": noticing.REASONS,
        "decided_by": "Oswin Marl",
        "decided_at": "2026-05-02T12:00:00Z",
    }
    assert [one["number"] for one in record["slips"]] == ["SL-000001", "SL-000002"]  # type: ignore[attr-defined,index]
    assert [one["number"] for one in issue(logbook).json()["slips"]] == ["SL-000003"]  # what is decided is not in doubt


def test_what_was_measured_again_names_the_slip_that_counts(logbook: Logbook) -> None:
    first, _, _ = noticing.three_in_doubt(logbook)
    raising.go(logbook, "12:30")
    raising.measured_again(logbook, "41")
    made = decide(logbook, [first], "measured_again")
    assert made.status_code == 200, made.text
    assert made.json()["slips"][0]["measured_again_as"] == "SL-000004"
    slip = logbook.client("official").get(f"/api/slips/{noticing.slip_id('41')}").json()
    told = logbook.client("").get(f"/api/verify/{slip['code']}").json()
    assert told["state"] == "measured_again"
    assert "See slip SL-000004." in told["standing"]


def test_nothing_is_decided_without_its_notice(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    verdicts = noticing.three_in_doubt(logbook)

    def fails(*_given: object) -> None:
        raise RuntimeError("half way")

    with monkeypatch.context() as patched:
        patched.setattr("app.slips.notices.content.compose", fails)
        assert decide(logbook, verdicts).status_code == 500
    view = logbook.client("official").get(f"/api/doubts/{an_id('cause')}").json()
    assert (view["line"]["open"], view["line"]["decided"]) == (3, 0)
    assert logbook.client("official").get("/api/notices").json()["lines"] == []


def test_sent_twice_is_once_and_sent_differently_is_refused(logbook: Logbook) -> None:
    verdicts = noticing.three_in_doubt(logbook)
    assert issue(logbook).json() == issue(logbook).json()
    first = decide(logbook, verdicts)
    assert decide(logbook, verdicts).json() == first.json()
    assert decide(logbook, verdicts, reasons="Something else was found later.").status_code == 409
    assert decide(logbook, verdicts, notice_id=str(an_id("another notice"))).status_code == 409
    assert decide(logbook, verdicts, act="another act", notice_id=str(an_id("notice of act"))).status_code == 409
    assert issue(logbook, "notice of act").status_code == 409
    assert logbook.client("official").get("/api/notices").json()["total"] == 2


def test_a_result_of_another_cause_is_not_decided_here(logbook: Logbook) -> None:
    verdicts = noticing.three_in_doubt(logbook)
    raising.raise_cause(logbook, raising.at("10:15"), name="narrow")
    body = {"verdict_ids": [str(verdicts[0])], "decision": "upheld", "reasons": noticing.REASONS, "pin": PIN}
    address = f"/api/doubts/{an_id('narrow')}/decisions/{an_id('act')}"
    answer = logbook.client("official").put(address, json={**body, "notice_id": str(an_id("n"))})
    assert answer.status_code == 422
    assert "not in doubt by this cause" in answer.json()["errors"]["verdict_ids"]
    missing = logbook.client("official").put(
        f"/api/doubts/{an_id('nowhere')}/decisions/{an_id('act')}", json={**body, "notice_id": str(an_id("n"))}
    )
    assert missing.status_code == 404


@pytest.mark.parametrize("what", ["notice", "decision"])
def test_cut_off_before_its_file_is_made_the_number_stands_and_the_notice_is_finished_later(
    logbook: Logbook, what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    verdicts = noticing.three_in_doubt(logbook)
    name = "notice" if what == "notice" else "notice of act"
    with monkeypatch.context() as patched:
        patched.setattr(Press, "press_notice", noticing.cut_off)
        assert (issue(logbook) if what == "notice" else decide(logbook, verdicts)).status_code == 503
    official = logbook.client("official")
    waiting = official.get(f"/api/notices/{an_id(name)}").json()
    assert (waiting["number"], waiting["signed"]) == ("NT-000001", False)
    assert official.get(f"/notices/{an_id(name)}.pdf").status_code == 409
    assert "its signature is missing" in official.get(f"/notices/{an_id(name)}").text
    other = logbook.another_client(noticing.a_second_official(logbook))
    refused = other.put(f"/api/notices/{an_id(name)}/signature", json={"pin": PIN})
    assert refused.status_code == 403
    assert "waits for the official who issued it" in refused.json()["detail"]
    assert "Oswin Marl has yet to sign the file" in other.get(f"/notices/{an_id(name)}").text
    other.close()
    wrong = official.post(f"/notices/{an_id(name)}/signature", data={"pin": "135790"})
    assert wrong.status_code == 422
    assert "This PIN does not fit" in wrong.text
    done = official.post(f"/notices/{an_id(name)}/signature", data={"pin": PIN})
    assert done.status_code == 303
    again = (issue(logbook) if what == "notice" else decide(logbook, verdicts)).json()
    assert again["signed"]
    assert again == official.get(f"/api/notices/{an_id(name)}").json()


def test_a_pin_chosen_in_between_does_not_sign_for_the_key_the_record_names(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    noticing.three_in_doubt(logbook)
    with monkeypatch.context() as patched:
        patched.setattr(Press, "press_notice", noticing.cut_off)
        issue(logbook)
    official = logbook.client("official")
    official.post("/api/me/pin", json={"password": "a fair few words", "pin": "604913"})
    assert issue(logbook, pin="604913").status_code == 422  # opens the newer key only
    assert official.put(f"/api/notices/{an_id('notice')}/signature", json={"pin": PIN}).json()["signed"]


def test_guessing_the_officials_pin_is_slowed_down(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    statuses = [issue(logbook, pin=f"13579{guess}").status_code for guess in range(7)]
    assert statuses == [422] * 6 + [429]
    assert issue(logbook).status_code == 429
    assert logbook.client("official").get("/api/notices").json()["total"] == 0


def test_an_official_without_a_pin_is_told_where_to_choose_one(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    person = {"full_name": "New Official", "sign_in_name": "new", "roles": ["official"], "password": "a fair few words"}
    logbook.client("administrator").put(f"/api/people/{an_id('new')}", json=person)
    client = logbook.another_client(logbook.open_session(an_id("new")))
    refused = client.put(f"/api/doubts/{an_id('cause')}/notices/{an_id('notice')}", json={"pin": PIN})
    assert refused.status_code == 403
    assert "You have no PIN yet" in refused.json()["detail"]
    assert "PIN for signing notices" in client.get("/me").text
    client.close()


def test_two_at_once_get_different_numbers_and_name_each_slip_once(logbook: Logbook) -> None:
    verdicts = noticing.three_in_doubt(logbook)
    raising.raise_cause(logbook, raising.at("09:00"), name="other cause")
    cookie = logbook.client("official").cookies["shedbook"]

    def ask(number: int) -> tuple[int, str]:
        client = logbook.another_client(cookie)
        if number == 2:
            body = {"verdict_ids": [str(verdicts[0])], "decision": "upheld", "reasons": noticing.REASONS, "pin": PIN}
            address = f"/api/doubts/{an_id('cause')}/decisions/{an_id('act')}"
            answer = client.put(address, json={**body, "notice_id": str(an_id("n"))})
        else:
            cause = "other cause" if number == 1 else "cause"
            answer = client.put(f"/api/doubts/{an_id(cause)}/notices/{an_id(f'notice {number}')}", json={"pin": PIN})
        client.close()
        return answer.status_code, answer.json().get("number", "")

    with ThreadPoolExecutor(4) as threads:
        answers = list(threads.map(ask, range(4)))
    assert [status for status, _ in answers[1:3]] == [200, 200]
    assert sorted((answers[0][0], answers[3][0])) == [200, 403]  # the second finds that the first has named them
    assert sorted(number for _, number in answers if number) == ["NT-000001", "NT-000002", "NT-000003"]
    with logbook.database.read() as session:
        assert check(session).broken_at is None


def test_a_notice_never_takes_the_code_of_a_slip(logbook: Logbook) -> None:
    """The code is made of the id, so the id of a slip would give the slip's own code."""
    noticing.three_in_doubt(logbook)
    taken = logbook.client("official").put(
        f"/api/doubts/{an_id('cause')}/notices/{noticing.slip_id('41')}", json={"pin": PIN}
    )
    assert taken.status_code == 409
    assert "has this notice's code by chance" in taken.json()["detail"]
    assert logbook.client("official").get("/api/notices").json()["total"] == 0


def test_the_first_file_made_is_the_notice_and_a_second_one_is_dropped(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    kept = issue(logbook).json()["sha256"]
    with logbook.database.write() as session:
        notices.keep_file(session, "Oswin Marl", an_id("notice"), SignedSlip(b"other", "0" * 64))
    assert logbook.client("official").get(f"/api/notices/{an_id('notice')}").json()["sha256"] == kept
