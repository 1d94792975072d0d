"""Notices that carry true signatures of this series and were still never issued by this logbook."""

from typing import Any

import pytest

from app.officials.authority import serial_text
from app.slips.document import render_slip
from app.slips.findings import ALTERED_NOTICE
from app.slips.making import make_notice
from app.slips.notice_document import render_notice
from app.slips.signing import sign_slip
from tests.conftest import Logbook, an_id
from tests.web.doubts import raising
from tests.web.history import rows
from tests.web.security.test_forged_slips import another_inspector
from tests.web.slips import noticing


@pytest.fixture
def issued(logbook: Logbook) -> tuple[bytes, dict[str, Any]]:
    rows.a_shed(logbook)
    raising.measured(logbook, "41", "10:00")
    raising.go(logbook, "12:00")
    raising.raise_cause(logbook, raising.at("09:00"), reason=noticing.REASON)
    assert noticing.issue(logbook).status_code == 200
    official = logbook.client("official")
    record = official.get(f"/api/notices/{an_id('notice')}/record").json()
    return official.get(f"/notices/{an_id('notice')}.pdf").content, record


def looked_at(book: Logbook, pdf: bytes) -> dict[str, Any]:
    found = noticing.looked_at(book, pdf)
    page = book.client("").post("/verify", files={"file": ("notice.pdf", pdf)})
    assert ("<h1>Genuine</h1>" in page.text) == found["genuine"]
    return found


def broken(found: dict[str, Any]) -> list[str]:
    return [one["sentence"] for one in found["findings"] if one["holds"] is False]


def test_a_changed_byte_anywhere_is_reported(logbook: Logbook, issued: tuple[bytes, dict[str, Any]]) -> None:
    pdf, _ = issued
    assert looked_at(logbook, pdf)["genuine"]
    for place in range(500, len(pdf), len(pdf) // 7):
        changed = pdf[:place] + bytes([pdf[place] ^ 4]) + pdf[place + 1 :]
        assert not looked_at(logbook, changed)["genuine"], place


def test_a_record_signed_anew_by_another_official_of_the_series_was_never_handed_out(
    logbook: Logbook, issued: tuple[bytes, dict[str, Any]]
) -> None:
    _, record = issued
    other = another_inspector(logbook, "Odile Ferrow")
    record["official"] |= {"name": "Odile Ferrow", "certificate_serial": serial_text(other["certificate"])}
    forged = make_notice(record, other["private_key"], other["certificate"], other["authority"]).pdf
    found = looked_at(logbook, forged)
    assert not found["genuine"]
    assert "never handed out this file" in found["summary"]
    assert broken(found) == ["No: no notice that was handed out here has these bytes."]
    assert not found["in_this_logbook"]


def test_a_notice_signed_by_someone_else_than_it_names_is_reported(
    logbook: Logbook, issued: tuple[bytes, dict[str, Any]]
) -> None:
    _, record = issued
    other = another_inspector(logbook, "Odile Ferrow")
    forged = sign_slip(
        render_notice(record), other["private_key"], other["certificate"], other["authority"],
        name="Oswin Marl", reason="Notice", signed_at=logbook.clock(), role="official",
    )  # fmt: skip
    found = looked_at(logbook, forged)
    assert found["summary"] == ALTERED_NOTICE
    assert broken(found) == ["No: it names one certificate and is signed with another."]


def test_a_page_with_another_slip_than_its_record_is_reported(
    logbook: Logbook, issued: tuple[bytes, dict[str, Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    """The page clears one slip, the record another: whoever only reads the paper would be misled."""
    from app.slips import notice_document

    _, record = issued
    shown = notice_document.notice_html(record)
    record["slips"][0]["number"] = "SL-000009"
    monkeypatch.setattr(notice_document, "notice_html", lambda _: shown)
    other = another_inspector(logbook, "Oswin Marl")
    record["official"]["certificate_serial"] = serial_text(other["certificate"])
    forged = sign_slip(
        render_notice(record), other["private_key"], other["certificate"], other["authority"],
        name="Oswin Marl", reason="Notice", signed_at=logbook.clock(), role="official",
    )  # fmt: skip
    assert "No: the page and the record do not name the same slips (SL-000001)." in broken(looked_at(logbook, forged))


def test_a_slip_that_calls_itself_a_notice_is_neither(logbook: Logbook, issued: tuple[bytes, dict[str, Any]]) -> None:
    """The lighter questions of a notice are no way round those of a slip."""
    inspector = logbook.client("inspector")
    slip = inspector.get(f"/api/slips/{noticing.slip_id('41')}/record").json()
    other = another_inspector(logbook)
    mixed = {**slip, "format": "shedbook-notice/1"}
    forged = sign_slip(
        render_slip(mixed), other["private_key"], other["certificate"], other["authority"],
        name="Ines Tarn", reason="Slip", signed_at=logbook.clock(),
    )  # fmt: skip
    found = looked_at(logbook, forged)
    assert not found["genuine"]
    assert "No: the record or the page lacks a part that every notice has." in broken(found)


HOSTILE = [
    "<script>alert(1)</script> <img src=x onerror=alert(1)> {{ 7*7 }} &amp;",
    "مرسم الريح because חטיבה said so",
    "All good 😀, measured by 龍虎 and soft\u00adly",
    "See\nSL-000009\n" + "a" * 64 + "\n=cmd()|'x'",
]


@pytest.mark.parametrize("reasons", HOSTILE, ids=ascii)
def test_what_people_type_as_reasons_is_printed_shown_and_released_as_text(logbook: Logbook, reasons: str) -> None:
    rows.a_shed(logbook)
    verdict = raising.measured(logbook, "41", "10:00")
    raising.go(logbook, "12:00")
    raising.raise_cause(logbook, raising.at("09:00"), reason="The mark <b>was</b> missed {{ 6*7 }}.")
    made = noticing.decide(logbook, [verdict], reasons=reasons)
    assert made.status_code == 200, made.text
    assert made.json()["signed"]
    assert made.json()["reasons"] == reasons
    official = logbook.client("official")
    pages = [f"/notices/{an_id('notice of act')}", "/notices", f"/slips/{noticing.slip_id('41')}"]
    slip = official.get(f"/api/slips/{noticing.slip_id('41')}").json()
    for address in (*pages, f"/verify/{slip['code']}", f"/verify/{made.json()['code']}"):
        text = official.get(address).text
        assert "<script>alert" not in text
        assert "<img src=x" not in text
        assert "<b>was</b>" not in text
    assert looked_at(logbook, official.get(f"/notices/{an_id('notice of act')}.pdf").content)["genuine"]
