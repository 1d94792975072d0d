"""Whoever verifies a slip learns how it stands: as loud as whether the file is genuine, and also by its code."""

import re
from pathlib import Path

import pytest

from app import __main__ as command
from app.slips.press import Press
from tests import builders
from tests.conftest import Logbook, an_id
from tests.web.doubts import raising
from tests.web.slips import noticing
from tests.web.slips.noticing import decide, issue, looked_at

GENUINE = "This slip is genuine: it is, byte for byte, what the inspector signed."


def code_of(book: Logbook, car: str) -> str:
    found: str = book.client("official").get(f"/api/slips/{noticing.slip_id(car)}").json()["code"]
    return found


def page_about(book: Logbook, pdf: bytes) -> str:
    return book.client("").post("/verify", files={"file": ("slip.pdf", pdf)}).text


def test_a_slip_nobody_doubts_is_genuine_and_nothing_more_is_said(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    raising.go(logbook, "12:30")
    builders.verify(logbook, "during", name="right again")
    raising.measured(logbook, "61", "13:00")
    found = looked_at(logbook, noticing.finished(logbook, "61"))
    assert found["genuine"]
    assert (found["summary"], found["state"], found["standing"], found["notices"]) == (GENUINE, "sound", "", [])
    told = logbook.client("").get(f"/api/verify/{code_of(logbook, '61')}").json()
    assert (told["state"], told["standing"], told["notices"]) == ("sound", "", [])


def test_a_slip_in_doubt_says_so_before_any_notice_was_issued(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    pdf = noticing.finished(logbook, "41")
    found = looked_at(logbook, pdf)
    assert found["genuine"]
    assert found["summary"] == f"{GENUINE} But the result on it is in doubt."
    assert (found["state"], found["notices"]) == ("in_doubt", [])
    assert "In doubt since 2 May 2026, 12:00 UTC." in found["standing"]
    assert noticing.REASON in found["standing"]
    page = page_about(logbook, pdf)
    assert "<h1>Genuine, but in doubt</h1>" in page
    assert "The result on it is in doubt" in page
    assert "answer--genuine" not in page
    told = logbook.client("").get(f"/verify/{code_of(logbook, '41')}").text
    assert "The result on it is in doubt" in told
    assert noticing.REASON in told
    assert "Competitor Racing" not in told


def test_the_file_of_a_slip_stays_byte_for_byte_what_it_was(logbook: Logbook) -> None:
    verdicts = noticing.three_in_doubt(logbook)
    before = noticing.finished(logbook, "41")
    record = logbook.client("official").get(f"/api/slips/{noticing.slip_id('41')}/record").content
    issue(logbook)
    decide(logbook, verdicts, "withdrawn")
    assert logbook.client("official").get(f"/slips/{noticing.slip_id('41')}.pdf").content == before
    assert logbook.client("official").get(f"/api/slips/{noticing.slip_id('41')}/record").content == record


@pytest.mark.parametrize(
    ("decision", "heading", "but"),
    [
        ("upheld", "Genuine", ""),
        ("withdrawn", "Genuine, but withdrawn", " But the result on it was withdrawn and no longer counts."),
    ],
)
def test_a_slip_that_was_decided_about_names_the_decision_and_its_notices(
    logbook: Logbook, decision: str, heading: str, but: str
) -> None:
    verdicts = noticing.three_in_doubt(logbook)
    pdf = noticing.finished(logbook, "41")
    issue(logbook)
    decide(logbook, verdicts, decision)
    found = looked_at(logbook, pdf)
    assert (found["genuine"], found["state"], found["summary"]) == (True, decision, GENUINE + but)
    assert "by Oswin Marl on 2 May 2026, 12:00 UTC" in found["standing"]
    assert noticing.REASONS in found["standing"]
    assert [(one["number"], one["kind"], one["issued_at"]) for one in found["notices"]] == [
        ("NT-000001", "doubt", "2026-05-02T12:00:00Z"),
        ("NT-000002", "decision", "2026-05-02T12:00:00Z"),
    ]
    assert [one["sentence"] for one in found["notices"]] == [
        "It says that the result on this slip is in doubt.",
        f"It says that the result on this slip is {decision}.",
    ]
    page = page_about(logbook, pdf)
    assert f"<h1>{heading}</h1>" in page
    assert "Notice NT-000002" in page


def test_the_code_of_a_notice_resolves_too(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    made = issue(logbook).json()
    typed = f"{made['code'][:4].lower()} {made['code'][4:]}"
    answer = logbook.client("").post("/verify", data={"code": typed}, follow_redirects=True)
    assert answer.status_code == 200
    assert "The logbook has this notice" in answer.text
    assert made["sha256"] in answer.text
    told = logbook.client("").get(f"/api/verify/{made['code']}").json()
    assert (told["kind"], told["number"], told["event"]) == ("notice", "NT-000001", "Round one, 2026-05-02")
    assert told["standing"] == f"The results on these slips are in doubt. {noticing.REASON} It names 3 slips."


def test_a_notice_waiting_for_its_signature_is_said_to_wait(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    noticing.three_in_doubt(logbook)
    with monkeypatch.context() as patched:
        patched.setattr(Press, "press_notice", noticing.cut_off)
        issue(logbook)
    told = logbook.client("").get(f"/verify/{code_of(logbook, '41')}").text
    assert "Notice NT-000001" in told
    assert "It still waits for its signature." in told


def test_an_altered_slip_gets_no_kind_word_about_its_result(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    pdf = noticing.finished(logbook, "41")
    found = looked_at(logbook, pdf[:3000] + bytes([pdf[3000] ^ 1]) + pdf[3001:])
    assert (found["genuine"], found["state"], found["standing"]) == (False, "sound", "")
    assert not found["in_this_logbook"]


def test_the_slips_own_page_leads_to_the_notices_that_name_it(logbook: Logbook) -> None:
    noticing.three_in_doubt(logbook)
    issue(logbook)
    for who in ("competitor", "official"):
        page = logbook.client(who).get(f"/slips/{noticing.slip_id('41')}").text
        assert "The result on it is in doubt" in page
        assert f'href="/notices/{an_id("notice")}"' in page
    assert logbook.client("competitor").get(f"/notices/{an_id('notice')}").status_code == 200


def test_the_command_line_checks_a_notice_and_says_what_it_cannot_know(
    logbook: Logbook, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    noticing.three_in_doubt(logbook)
    slip = noticing.finished(logbook, "41")
    issue(logbook)
    notice = logbook.client("official").get(f"/notices/{an_id('notice')}.pdf").content
    authority = tmp_path / "authority.pem"
    authority.write_bytes(logbook.client("").get("/series-authority.pem").content)
    for name, pdf, words in (("n.pdf", notice, "This notice is genuine"), ("s.pdf", slip, "This slip is genuine")):
        (tmp_path / name).write_bytes(pdf)
        with pytest.raises(command.typer.Exit) as ended:
            command.verify(tmp_path / name, authority)
        said = capsys.readouterr().out
        assert ended.value.exit_code == 0
        assert words in said
        assert "only the logbook knows" in said
        assert re.search(r"http\S+/verify/[0-9A-Z]{8}", said)
    (tmp_path / "n.pdf").write_bytes(notice.replace(b"/Producer", b"/Producex", 1))
    with pytest.raises(command.typer.Exit) as ended:
        command.verify(tmp_path / "n.pdf", authority)
    assert ended.value.exit_code == 1
    assert "only the logbook knows" not in capsys.readouterr().out
