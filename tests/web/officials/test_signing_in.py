"""Signing in and out: cookies, guessing, where one lands."""

from pathlib import Path
from typing import Any

import httpx
import pytest

from app.main import create_app
from app.slips.press import Press
from tests.builders import put
from tests.conftest import PASSWORD, InProcess, Logbook, a_logbook, an_id

INSPECTOR = {"sign_in_name": "inspector", "password": PASSWORD}
WRONG = {"sign_in_name": "inspector", "password": "not these words"}


def fresh(logbook: Logbook) -> httpx.Client:
    """A browser that has never been here."""
    client = httpx.Client(transport=InProcess(logbook.app, logbook.portal), base_url="http://testserver")
    client.headers["sec-fetch-site"] = "same-origin"
    logbook.clients[f"fresh {len(logbook.clients)}"] = client
    return client


def test_signing_in_leads_to_where_one_wanted_to_go(logbook: Logbook) -> None:
    browser = fresh(logbook)
    asked = browser.get("/instruments")
    assert (asked.status_code, asked.headers["location"]) == (303, "/sign-in?next=%2Finstruments")
    card = browser.get(asked.headers["location"]).text
    assert '<input type="hidden" name="next" value="/instruments">' in card
    answer = browser.post("/sign-in", data={**INSPECTOR, "next": "/instruments"})
    assert (answer.status_code, answer.headers["location"]) == (303, "/instruments")
    assert browser.get("/instruments").status_code == 200


def test_the_cookie_cannot_be_read_by_a_script_nor_ride_along_from_another_site(logbook: Logbook) -> None:
    cookie = fresh(logbook).post("/sign-in", data=INSPECTOR).headers["set-cookie"]
    parts = {part.strip().lower() for part in cookie.split(";")}
    assert parts >= {"httponly", "samesite=lax", "path=/", "max-age=43200"}
    assert cookie.startswith("shedbook=")
    assert "secure" not in parts  # plain http on one laptop; behind TLS the next test holds


@pytest.mark.parametrize("said", [{"secure_cookies": True}, {"public_url": "https://logbook.example"}])
def test_behind_tls_the_cookie_is_bound_to_the_host_and_secure(
    database_url: str, tmp_path: Path, prepared: tuple[Path, Any], press: Press, said: dict[str, Any]
) -> None:
    with a_logbook(database_url, tmp_path, prepared[0] / "keys", press, **said) as book:
        cookie = book.client().post("/sign-in", data=INSPECTOR).headers["set-cookie"]
    assert cookie.startswith("__Host-shedbook=")
    assert "; Secure" in cookie
    assert "Path=/" in cookie
    assert "domain" not in cookie.lower()


def test_a_wrong_password_and_an_unknown_name_get_the_same_words_and_the_name_stays(logbook: Logbook) -> None:
    browser = fresh(logbook)
    wrong = browser.post("/sign-in", data={**WRONG, "next": "/shed"})
    unknown = browser.post("/sign-in", data={"sign_in_name": "nobody.here", "password": "not these words"})
    for answer in (wrong, unknown):
        assert answer.status_code == 422
        assert "Name and password do not go together. Type both again." in answer.text
        assert "not these words" not in answer.text
        assert "set-cookie" not in answer.headers
    assert 'value="inspector"' in wrong.text
    assert 'name="next" value="/shed"' in wrong.text
    assert 'value="nobody.here"' in unknown.text


def test_five_tries_are_free_then_each_waits_longer_and_the_right_words_wait_too(logbook: Logbook) -> None:
    browser = fresh(logbook)
    assert [browser.post("/sign-in", data=WRONG).status_code for _ in range(6)] == [422] * 6
    stopped = browser.post("/sign-in", data=INSPECTOR)
    assert stopped.status_code == 429
    assert "Too many tries that did not fit. Wait 3 seconds, then try again." in stopped.text
    logbook.clock.advance(seconds=3)
    assert browser.post("/sign-in", data=WRONG).status_code == 422
    logbook.clock.advance(seconds=3)
    assert browser.post("/sign-in", data=INSPECTOR).status_code == 429  # the wait has doubled to four
    logbook.clock.advance(seconds=2)
    assert browser.post("/sign-in", data=INSPECTOR).status_code == 303


def test_an_hour_later_the_tries_are_free_again(logbook: Logbook) -> None:
    browser = fresh(logbook)
    for _ in range(6):
        browser.post("/sign-in", data=WRONG)
    logbook.clock.advance(hours=1, seconds=3)
    assert [browser.post("/sign-in", data=WRONG).status_code for _ in range(5)] == [422] * 5
    assert browser.post("/sign-in", data=INSPECTOR).status_code == 303


def test_the_wait_outlives_a_restart(logbook: Logbook) -> None:
    browser = fresh(logbook)
    for _ in range(6):
        browser.post("/sign-in", data=WRONG)
    restarted = create_app(logbook.settings, logbook.clock)
    with httpx.Client(transport=InProcess(restarted, logbook.portal), base_url="http://testserver") as again:
        answer = again.post("/api/session", json=INSPECTOR)
    assert answer.status_code == 429
    assert answer.headers["retry-after"] == "3"
    assert answer.headers["content-type"] == "application/problem+json"
    restarted.state.press.close()
    restarted.state.database.close()


def test_somebody_elses_failures_do_not_lock_out_a_person_at_another_address(logbook: Logbook) -> None:
    browser = fresh(logbook)
    for _ in range(6):
        browser.post("/sign-in", data={**WRONG, "sign_in_name": "official"})
    elsewhere = httpx.Client(
        transport=_from(logbook, "10.0.0.9"), base_url="http://testserver", headers={"sec-fetch-site": "same-origin"}
    )
    assert elsewhere.post("/sign-in", data=INSPECTOR).status_code == 303
    elsewhere.close()


def _from(logbook: Logbook, address: str) -> InProcess:
    transport = InProcess(logbook.app, logbook.portal)
    transport.transport = httpx.ASGITransport(logbook.app, raise_app_exceptions=False, client=(address, 4711))
    return transport


def test_signing_out_ends_the_session_itself_not_only_the_cookie(logbook: Logbook) -> None:
    browser = fresh(logbook)
    browser.post("/sign-in", data=INSPECTOR)
    token = browser.cookies["shedbook"]
    answer = browser.post("/sign-out")
    assert (answer.status_code, answer.headers["location"]) == (303, "/")
    assert answer.headers["clear-site-data"] == '"cache"'
    assert "shedbook" not in browser.cookies
    copied = fresh(logbook)
    copied.cookies.set("shedbook", token)
    assert copied.get("/api/me").status_code == 401


def test_signing_in_again_ends_the_session_before(logbook: Logbook) -> None:
    browser = fresh(logbook)
    browser.post("/sign-in", data=INSPECTOR)
    first = browser.cookies["shedbook"]
    browser.post("/sign-in", data=INSPECTOR)
    assert browser.cookies["shedbook"] != first
    copied = fresh(logbook)
    copied.cookies.set("shedbook", first)
    assert copied.get("/api/me").status_code == 401


def test_a_session_ends_by_itself_when_idle_and_after_a_day_of_work(logbook: Logbook) -> None:
    browser = fresh(logbook)
    browser.post("/sign-in", data=INSPECTOR)
    for _ in range(3):
        logbook.clock.advance(hours=3, minutes=59)
        assert browser.get("/api/me").status_code == 200
    logbook.clock.advance(minutes=4)
    assert browser.get("/api/me").status_code == 401
    browser.post("/sign-in", data=INSPECTOR)
    logbook.clock.advance(hours=4, minutes=1)
    assert browser.get("/api/me").status_code == 401


LEADING_AWAY = [
    "https://elsewhere.example/",
    "//elsewhere.example/",
    "/\\elsewhere.example/",
    "/\t/elsewhere.example/",
    "/\n/elsewhere.example/",
    "\\\\elsewhere.example",
    "javascript:alert(1)",
    "elsewhere.example",
]


def test_nobody_is_led_to_another_site_after_signing_in(logbook: Logbook) -> None:
    for address in LEADING_AWAY:
        for answer in (
            fresh(logbook).post("/sign-in", data={**INSPECTOR, "next": address}),
            logbook.client("inspector").get("/sign-in", params={"next": address}),
        ):
            assert (answer.status_code, answer.headers["location"]) == (303, "/")


def test_an_address_that_would_lead_elsewhere_is_not_even_kept_in_the_form(logbook: Logbook) -> None:
    for address in ("//elsewhere.example/", "/\t/elsewhere.example/"):
        assert "elsewhere" not in fresh(logbook).get("/sign-in", params={"next": address}).text


FROM_ELSEWHERE = [
    {"sec-fetch-site": "cross-site"},
    {"sec-fetch-site": "same-site"},
    {"origin": "https://elsewhere.example"},
    {"origin": "null"},
    {},
]


def test_a_post_from_another_site_is_refused_before_anything_happens(logbook: Logbook) -> None:
    for headers in FROM_ELSEWHERE:
        browser = fresh(logbook)
        browser.post("/sign-in", data=INSPECTOR)
        del browser.headers["sec-fetch-site"]
        given = {"units": "inch", "pad_side": "left"}
        for address in ("/me/preferences", "/sign-out"):
            answer = browser.post(address, data=given, headers=headers)
            assert answer.status_code == 403
            assert "This request came from another site." in answer.text
        assert browser.put("/api/me/preferences", json=given, headers=headers).status_code == 403
        assert browser.get("/api/me").json()["units"] == "metric"


def test_a_post_from_the_logbooks_own_page_is_taken(logbook: Logbook) -> None:
    browser = fresh(logbook)
    browser.post("/sign-in", data=INSPECTOR)
    del browser.headers["sec-fetch-site"]
    given = {"units": "inch", "pad_side": "left"}
    answer = browser.post("/me/preferences", data=given, headers={"origin": "http://testserver"})
    assert answer.status_code == 303


def test_whoever_no_longer_belongs_here_cannot_sign_in(logbook: Logbook) -> None:
    body = {
        "full_name": "Una Dell",
        "sign_in_name": "una.dell",
        "roles": ["inspector"],
        "password": "five quiet words here",
        "ends_on": "2026-05-03",
    }
    put(logbook.client("administrator"), f"/people/{an_id('una')}", body)
    una = {"sign_in_name": "una.dell", "password": "five quiet words here"}
    assert fresh(logbook).post("/sign-in", data=una).status_code == 303
    logbook.clock.advance(days=2)
    assert fresh(logbook).post("/sign-in", data=una).status_code == 422


def test_what_was_typed_as_a_name_goes_into_the_log_only_where_it_is_one(logbook: Logbook) -> None:
    browser = fresh(logbook)
    browser.post("/sign-in", data={"sign_in_name": "my secret words", "password": "x"})
    browser.post("/sign-in", data={"sign_in_name": "Inspector", "password": "x"})
    log = logbook.client("official").get("/log").text
    assert "name unknown" in log
    assert "name inspector" in log
    assert "my secret words" not in log
