"""Signing off: all or nothing, once, by the right person, and found again by anyone who holds the slip."""

import threading
from uuid import UUID

import pytest

from app.errors import Unavailable
from app.slips.press import Press
from tests import builders
from tests.conftest import Logbook, an_id

EIGHT = [["10.31"], ["10.28"], ["10.30"], ["10.33"], ["10.29"], ["10.30"], ["10.32"], ["10.31"]]
SIGN = {"pin": "270945", "acknowledgement_kind": "typed", "acknowledgement_name": "Cleo Fenn"}


@pytest.fixture
def sheet(logbook: Logbook) -> UUID:
    sheet = builders.a_whole_season(logbook)
    builders.readings(logbook, sheet, EIGHT)
    return sheet


def test_cut_off_before_its_file_is_made_the_number_stands_and_the_slip_is_finished_later(
    logbook: Logbook, sheet: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    inspector = logbook.client("inspector")
    address = f"/api/inspections/{sheet}/sign-off/{an_id('slip')}"

    def cut_off(*_given: object) -> None:
        raise Unavailable("The power went.")

    with monkeypatch.context() as patched:
        patched.setattr(Press, "press_slip", cut_off)
        assert inspector.put(address, json=SIGN).status_code == 503
    waiting = inspector.get(f"/api/slips/{an_id('slip')}").json()
    assert (waiting["number"], waiting["signed"]) == ("SL-000001", False)
    assert inspector.get(f"/slips/{an_id('slip')}.pdf").status_code == 409
    assert "its signature is missing" in inspector.get(f"/slips/{an_id('slip')}").text

    done = builders.put(inspector, f"/slips/{an_id('slip')}/signature", {"pin": "270945"})
    again = builders.put(inspector, f"/inspections/{sheet}/sign-off/{an_id('slip')}", SIGN)
    assert done["signed"]
    assert again == done


def test_a_slip_waits_for_the_inspector_who_decided_it(
    logbook: Logbook, sheet: UUID, monkeypatch: pytest.MonkeyPatch
) -> None:
    def cut_off(*_given: object) -> None:
        raise Unavailable("The power went.")

    with monkeypatch.context() as patched:
        patched.setattr(Press, "press_slip", cut_off)
        logbook.client("inspector").put(f"/api/inspections/{sheet}/sign-off/{an_id('slip')}", json=SIGN)
    other = logbook.client("second_inspector").put(f"/api/slips/{an_id('slip')}/signature", json={"pin": "270945"})
    assert other.status_code == 403
    assert "waits for the inspector who decided it" in other.json()["detail"]


def test_eight_sign_offs_at_once_make_one_slip(logbook: Logbook, sheet: UUID) -> None:
    inspector = logbook.client("inspector")
    cookie = inspector.cookies["shedbook"]
    answers: list[int] = []

    def sign(number: int) -> None:
        client = logbook.another_client(cookie)
        answers.append(
            client.put(f"/api/inspections/{sheet}/sign-off/{an_id(f'slip {number}')}", json=SIGN).status_code
        )
        client.close()

    threads = [threading.Thread(target=sign, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answers) == [200] + [409] * 7


def test_slip_numbers_have_no_gap(logbook: Logbook, sheet: UUID) -> None:
    numbers = [builders.signed(logbook, sheet)["number"]]
    for car in ("7", "8"):
        entry_id = builders.an_entry(logbook, car=car)
        other = builders.a_sheet(logbook, entry_id)
        builders.readings(logbook, other, EIGHT)
        refused = {**SIGN, "pin": "135790"}
        address = f"/api/inspections/{other}/sign-off/{an_id(f'slip {other}')}"
        assert logbook.client("inspector").put(address, json=refused).status_code == 422
        numbers.append(builders.signed(logbook, other)["number"])
    assert numbers == ["SL-000001", "SL-000002", "SL-000003"]


def test_guessing_the_pin_is_slowed_down_and_a_restart_forgives_nothing(logbook: Logbook, sheet: UUID) -> None:
    inspector = logbook.client("inspector")
    address = f"/api/inspections/{sheet}/sign-off/{an_id('slip')}"
    wrong = {**SIGN, "pin": "135790"}
    statuses = [inspector.put(address, json=wrong).status_code for _try in range(6)]
    assert statuses == [422] * 6
    right_but_too_soon = inspector.put(address, json=SIGN)
    assert right_but_too_soon.status_code == 429
    assert int(right_but_too_soon.headers["retry-after"]) >= 1
    logbook.clock.advance(minutes=16)
    assert inspector.put(address, json=SIGN).status_code == 200


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"acknowledgement_kind": "typed"}, "acknowledgement_name", "Type the full name"),
        ({"acknowledgement_kind": "drawn"}, "acknowledgement_path", "The box is empty"),
        ({"acknowledgement_kind": "refused"}, "acknowledgement_note", "Write the reason given, and who saw it"),
        ({}, "acknowledgement_kind", "is needed"),
        ({"acknowledgement_kind": "not_present", "pin": "135790"}, "pin", "does not fit"),
        ({"acknowledgement_kind": "not_present", "pin": ""}, "pin", "PIN is needed"),
    ],
)
def test_a_sign_off_that_lacks_something_says_so_and_keeps_what_was_typed(
    logbook: Logbook, sheet: UUID, typed: dict[str, str], field: str, words: str
) -> None:
    body = {
        "pin": "270945",
        "acknowledgement_note": "Seen by Oswin Marl" if field != "acknowledgement_note" else "",
        **typed,
    }
    answer = logbook.client("inspector").post(f"/inspections/{sheet}/sign-off/{an_id('slip')}", data=body)
    assert answer.status_code == 422
    assert words in answer.text
    if field != "acknowledgement_note":
        assert 'value="Seen by Oswin Marl"' in answer.text
    assert "270945" not in answer.text


def test_a_competitor_has_their_own_slip_and_no_one_elses(logbook: Logbook, sheet: UUID) -> None:
    slip = builders.signed(logbook, sheet)
    faces = ("/slips/{id}", "/slips/{id}.pdf", "/slips/{id}/code.svg", "/api/slips/{id}")
    for address in [one.format(id=slip["id"]) for one in (*faces, "/api/slips/{id}/file", "/api/slips/{id}/record")]:
        assert logbook.client("competitor").get(address).status_code == 200, address
        own_words = logbook.client("rival").get(address)
        missing = logbook.client("rival").get(address.replace(slip["id"], str(an_id("nowhere"))))
        assert (own_words.status_code, own_words.text) == (missing.status_code, missing.text) == (404, missing.text)
        assert logbook.client().get(address).status_code in (303, 401)


def test_the_file_is_served_byte_for_byte_ever_after(logbook: Logbook, sheet: UUID) -> None:
    slip = builders.signed(logbook, sheet)
    first = logbook.client("competitor").get(f"/slips/{slip['id']}.pdf").content
    logbook.clock.advance(days=200)
    logbook.clients.clear()
    second = logbook.client("official").get(f"/slips/{slip['id']}.pdf").content
    assert first == second


def test_a_code_finds_the_slip_however_it_is_typed(logbook: Logbook, sheet: UUID) -> None:
    slip = builders.signed(logbook, sheet)
    stranger = logbook.client()
    typed = f" {slip['code'][:4].lower()}-{slip['code'][4:].replace('0', 'O').replace('1', 'l')} "
    answer = stranger.post("/verify", data={"code": typed}, follow_redirects=True)
    assert answer.status_code == 200
    assert "The logbook has this slip" in answer.text
    assert slip["sha256"] in answer.text
    unknown = stranger.get("/verify/ZZZZZZZZ")
    assert unknown.status_code == 404
    assert "No slip has this code" in unknown.text


def test_the_public_page_says_genuine_or_altered_in_words(logbook: Logbook, sheet: UUID) -> None:
    slip = builders.signed(logbook, sheet)
    pdf = logbook.client("competitor").get(f"/slips/{slip['id']}.pdf").content
    stranger = logbook.client()
    genuine = stranger.post("/verify", files={"file": ("slip.pdf", pdf)})
    assert "<h1>Genuine</h1>" in genuine.text
    assert "kept in this logbook as SL-000001" in genuine.text
    changed = pdf[:3000] + bytes([pdf[3000] ^ 1]) + pdf[3001:]
    altered = stranger.post("/verify", files={"file": ("slip.pdf", changed)})
    assert "<h1>Not genuine</h1>" in altered.text
    for junk in (b"", b"not a pdf", b"%PDF-1.7\n" + b"\0" * 5000):
        answer = stranger.post("/verify", files={"file": ("junk.pdf", junk)})
        assert answer.status_code in (200, 422)
        assert "<h1>Genuine</h1>" not in answer.text


def test_a_team_may_refuse_and_the_slip_says_so(logbook: Logbook, sheet: UUID) -> None:
    said = {"acknowledgement_kind": "refused", "acknowledgement_note": "Wants a re-run; seen by O. Marl"}
    slip = builders.signed(logbook, sheet, acknowledgement_name="", **said)
    record = logbook.client("official").get(f"/api/slips/{slip['id']}/record").json()
    assert record["acknowledgement"] == {
        "kind": "refused",
        "name": "",
        "path": "",
        "note": "Wants a re-run; seen by O. Marl",
    }
