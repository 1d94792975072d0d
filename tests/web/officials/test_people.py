"""The front door, the list of people, and what each sets for themselves."""

from typing import Any

import httpx
import pytest

from tests.builders import put
from tests.conftest import PASSWORD, PIN, Logbook, an_id

TYPED: dict[str, Any] = {
    "full_name": "Una Dell",
    "sign_in_name": "Una.Dell",
    "roles": ["inspector", "official"],
    "password": "five quiet words here",
    "ends_on": "2026-12-31",
}


def shown(html: str) -> str:
    """The page's text with the apostrophes as they are read."""
    return html.replace("&#39;", "'")


def beside(answer: httpx.Response, field: str) -> str:
    return shown(answer.text).split(f'id="f-{field}-error"')[1].split("</p>")[0]


def test_a_stranger_reads_what_this_is_and_may_verify_a_slip(logbook: Logbook) -> None:
    page = logbook.client().get("/")
    assert page.status_code == 200
    assert "Shedbook is the inspection logbook of a race series." in page.text
    assert 'href="/sign-in"' in page.text
    assert 'href="/verify"' in page.text
    assert 'href="/instruments"' not in page.text


FIRST_PAGES = [
    ("inspector", "/shed"),
    ("official", "/events"),
    ("administrator", "/people"),
    ("competitor", "/my-record"),
]


def test_the_front_door_leads_each_to_their_own_work(logbook: Logbook) -> None:
    for who, address in FIRST_PAGES:
        answer = logbook.client(who).get("/")
        assert (answer.status_code, answer.headers["location"]) == (303, address)


def test_an_administrator_adds_somebody_who_can_sign_in_at_once(logbook: Logbook) -> None:
    administrator = logbook.client("administrator")
    answer = administrator.post(f"/people/{an_id('una')}", data=TYPED)
    assert (answer.status_code, answer.headers["location"]) == (303, "/people?done=person-added")
    page = administrator.get(answer.headers["location"]).text
    for words in ("The person is added", "Una Dell", "una.dell", "Inspector, Official", "31 December 2026"):
        assert words in page
    assert "five quiet words" not in page
    found = next(p for p in administrator.get("/api/people").json() if p["sign_in_name"] == "una.dell")
    assert found["roles"] == ["inspector", "official"]
    assert "password" not in str(found)
    signed_in = logbook.client().post("/api/session", json={"sign_in_name": "UNA.dell", "password": TYPED["password"]})
    assert signed_in.json() == {"full_name": "Una Dell"}


WRONG = [
    ("full_name", "", "Full name is needed. Fill it in."),
    ("sign_in_name", "una dell", "Sign-in name has characters that do not belong there."),
    ("sign_in_name", "inspector", "“inspector” is taken. Choose another sign-in name."),
    ("roles", [], "Choose at least one"),
    ("password", "short", "The password is too short. Use at least 10 characters"),
    ("password", "aaaaaaaaaaaa", "This password is among the first anyone would try."),
    ("ends_on", "31.12.2026", "is not a date. Write it as 2026-05-31."),
]


def test_what_cannot_be_taken_is_said_beside_its_field_and_what_was_typed_stays(logbook: Logbook) -> None:
    for field, typed, sentence in WRONG:
        answer = logbook.client("administrator").post(f"/people/{an_id('una')}", data={**TYPED, field: typed})
        assert answer.status_code == 422
        assert sentence in beside(answer, field)
        for name in {"full_name", "sign_in_name", "ends_on"} - {field}:
            assert f'value="{TYPED[name]}"' in answer.text
        ticked = [part.split(">")[0].endswith("checked") for part in answer.text.split('name="roles"')[1:]]
        assert ticked == ([False] * 4 if field == "roles" else [False, True, True, False])
        assert "five quiet words" not in answer.text
        assert len(logbook.client("administrator").get("/api/people").json()) == 6


WHO_MAY = [("", 401), ("competitor", 404), ("inspector", 403), ("official", 403), ("administrator", 200)]


def test_only_an_administrator_sees_and_adds_people(logbook: Logbook) -> None:
    for who, status in WHO_MAY:
        client = logbook.client(who)
        assert client.get("/api/people").status_code == status
        body = {**TYPED, "sign_in_name": "una.dell"}
        assert client.put(f"/api/people/{an_id('una')}", json=body).status_code == status
        assert client.get("/people").status_code == (303 if who == "" else status)


def test_units_and_pad_side_are_kept_for_each_person(logbook: Logbook) -> None:
    inspector = logbook.client("inspector")
    assert 'class="pad-right' in inspector.get("/me").text
    answer = inspector.post("/me/preferences", data={"units": "inch", "pad_side": "left"})
    assert answer.headers["location"] == "/me?done=preferences"
    page = inspector.get(answer.headers["location"]).text
    assert 'class="pad-left' in page
    assert 'value="inch" checked' in page
    assert inspector.get("/api/me").json()["units"] == "inch"
    assert logbook.client("official").get("/api/me").json()["units"] == "metric"
    wrong = inspector.post("/me/preferences", data={"units": "cubits", "pad_side": "left"})
    assert wrong.status_code == 422
    assert "Units must be one of 'metric' or 'inch'. Choose one." in beside(wrong, "units")


GUESSED = [
    ("12345", PASSWORD, "pin", "Choose a PIN of 6 to 12 digits; this one has 5."),
    ("123456", PASSWORD, "pin", "counts up or down"),
    ("121212", PASSWORD, "pin", "repeats itself"),
    ("27o945", PASSWORD, "pin", "Use digits only for the PIN."),
    ("", PASSWORD, "pin", "PIN is needed."),
    ("719305", "not these words", "password", "The password does not fit. Type it again."),
]


def test_a_pin_that_would_be_guessed_is_refused_and_never_shown_back(logbook: Logbook) -> None:
    for pin, password, field, sentence in GUESSED:
        inspector = logbook.client("inspector")
        before = inspector.get("/api/me").json()["certificate_serial"]
        answer = inspector.post("/me/pin", data={"pin": pin, "password": password})
        assert answer.status_code == 422
        assert sentence in beside(answer, field)
        assert not pin or f'value="{pin}"' not in answer.text
        assert password not in answer.text
        assert inspector.get("/api/me").json()["certificate_serial"] == before


def test_a_new_pin_brings_a_new_certificate(logbook: Logbook) -> None:
    inspector = logbook.client("inspector")
    before = inspector.get("/api/me").json()["certificate_serial"]
    answer = inspector.post("/me/pin", data={"pin": "719305", "password": PASSWORD})
    assert answer.headers["location"] == "/me?done=pin-set"
    after = inspector.get("/api/me").json()["certificate_serial"]
    assert after != before
    assert after in inspector.get("/me").text
    assert PIN not in inspector.get("/me").text


def test_a_competitor_is_not_asked_for_a_pin(logbook: Logbook) -> None:
    competitor = logbook.client("competitor")
    page = competitor.get("/me").text
    assert "Password" in page
    assert "PIN" not in page
    refused = competitor.post("/api/me/pin", json={"pin": "719305", "password": PASSWORD})
    assert refused.status_code == 403
    assert "Only inspectors and officials sign" in refused.json()["detail"]


def test_changing_the_password_signs_out_everywhere(logbook: Logbook) -> None:
    official = logbook.client("official")
    wrong = official.post("/me/password", data={"current_password": "nope", "new_password": "another five words"})
    assert wrong.status_code == 422
    assert "The present password does not fit." in beside(wrong, "current_password")
    answer = official.post("/me/password", data={"current_password": PASSWORD, "new_password": "another five words"})
    assert answer.headers["location"] == "/sign-in?done=password"
    assert official.get("/api/me").status_code == 401
    new = {"sign_in_name": "official", "password": "another five words"}
    assert logbook.client().post("/api/session", json={**new, "password": PASSWORD}).status_code == 422
    assert logbook.client().post("/api/session", json=new).status_code == 200


def test_the_same_person_sent_twice_is_one(logbook: Logbook) -> None:
    administrator, body = logbook.client("administrator"), {**TYPED, "sign_in_name": "una.dell"}
    first = put(administrator, f"/people/{an_id('una')}", body)
    assert put(administrator, f"/people/{an_id('una')}", body) == first
    other = administrator.put(f"/api/people/{an_id('una')}", json={**body, "sign_in_name": "someone.else"})
    assert other.status_code == 409
    assert len(administrator.get("/api/people").json()) == 7


@pytest.mark.parametrize(
    "change", [{"roles": ["official"]}, {"password": "quite other words"}, {"ends_on": "2027-01-01"}]
)
def test_the_same_person_with_something_else_is_a_conflict_and_what_is_kept_stays(
    logbook: Logbook, change: dict[str, Any]
) -> None:
    body = {"full_name": "New Person", "sign_in_name": "newcomer", "roles": ["competitor"], "password": PASSWORD}
    administrator = logbook.client("administrator")
    kept = administrator.put(f"/api/people/{an_id('newcomer')}", json=body).json()
    answer = administrator.put(f"/api/people/{an_id('newcomer')}", json={**body, **change})
    assert answer.status_code == 409
    assert administrator.put(f"/api/people/{an_id('newcomer')}", json=body).json() == kept
