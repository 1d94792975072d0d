"""Two requests at the same moment: evidence stays whole, and many guesses count like many in a row."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from threading import Barrier, Thread
from typing import Any

import httpx
import pytest

from app.inspections import service
from app.inspections.schemas import AcknowledgementIn
from tests import builders
from tests.conftest import PASSWORD, Logbook, an_id

CYLINDERS = [["10.31", "10.32"]] + [["10.30"]] * 7


def at_once(book: Logbook, who: str, many: int, send: Callable[[httpx.Client, int], httpx.Response]) -> list[int]:
    """The statuses of requests that all leave at the same moment, each from its own client."""
    token = book.client(who).cookies.get("shedbook") or ""
    clients = [book.another_client(token) for _ in range(many)]
    ready = Barrier(many)

    def one(number: int) -> int:
        ready.wait()
        return send(clients[number], number).status_code

    with ThreadPoolExecutor(many) as pool:
        found = list(pool.map(one, range(many)))
    for client in clients:
        client.close()
    return found


def test_a_reading_cannot_slip_into_a_sheet_while_it_is_being_signed(logbook: Logbook) -> None:
    sheet = builders.a_whole_season(logbook)
    builders.readings(logbook, sheet, CYLINDERS)
    body = {"cylinder": 1, "indications": ["9.00"], "replaces_id": str(an_id(f"reading {sheet} 1")), "reason": "Late"}
    inspector, answers = logbook.client("inspector"), []

    def correct() -> None:
        answers.append(inspector.put(f"/api/inspections/{sheet}/readings/{an_id('late')}", json=body))

    late = Thread(target=correct)
    with logbook.database.write() as session:
        acknowledgement = AcknowledgementIn(acknowledgement_kind="not_present")
        service.close_inspection(session, logbook.person("inspector"), sheet, an_id("verdict"), acknowledgement)
        session.flush()
        late.start()
        late.join(1.0)  # it has to wait for this transaction
        assert not answers
    late.join()
    assert answers[0].status_code == 409
    shown = inspector.get(f"/api/inspections/{sheet}").json()
    assert shown["rows"][0]["reading"]["indications"] == ["10.31", "10.32"]


def test_two_corrections_of_one_reading_at_once_leave_one(logbook: Logbook) -> None:
    sheet = builders.a_whole_season(logbook)
    builders.readings(logbook, sheet, CYLINDERS)

    def correct(client: httpx.Client, number: int) -> httpx.Response:
        earlier = str(an_id(f"reading {sheet} 1"))
        body = {"cylinder": 1, "indications": [f"9.0{number}"], "replaces_id": earlier, "reason": "Misread"}
        return client.put(f"/api/inspections/{sheet}/readings/{an_id(f'again {number}')}", json=body)

    assert sorted(at_once(logbook, "inspector", 6, correct)) == [200] + [409] * 5
    row = logbook.client("inspector").get(f"/api/inspections/{sheet}").json()["rows"][0]
    assert len(row["set_aside"]) == 1


GUESSES: dict[str, tuple[str, str, Callable[[int], dict[str, Any]]]] = {
    "signing in": ("", "POST /api/session", lambda n: {"sign_in_name": "inspector", "password": f"a wrong guess {n}"}),
    "the PIN": (
        "inspector",
        "PUT /api/inspections/{sheet}/sign-off/{id}",
        lambda n: {"pin": f"{n:06}", "acknowledgement_kind": "not_present"},
    ),
    "the password of an open session, for a new one": (
        "inspector",
        "POST /api/me/password",
        lambda n: {"current_password": f"a wrong guess {n}", "new_password": "a few other words"},
    ),
    "the password of an open session, for a new PIN": (
        "inspector",
        "POST /api/me/pin",
        lambda n: {"password": f"a wrong guess {n}", "pin": "604913"},
    ),
}


@pytest.mark.parametrize("what", GUESSES)
def test_twenty_guesses_at_once_are_no_more_than_five(logbook: Logbook, what: str) -> None:
    who, request, body = GUESSES[what]
    method, address = request.split()
    sheet = builders.a_whole_season(logbook) if "{sheet}" in address else None
    address = address.format(sheet=sheet, id=an_id("slip"))
    statuses = at_once(logbook, who, 20, lambda client, n: client.request(method, address, json=body(n)))
    assert set(statuses) == {422, 429}
    assert statuses.count(422) <= 6  # five are free; the sixth is looked at too, and begins the wait


@pytest.mark.parametrize("what", GUESSES)
def test_guesses_in_a_row_are_slowed_down_wherever_a_secret_is_asked_for(logbook: Logbook, what: str) -> None:
    who, request, body = GUESSES[what]
    method, address = request.split()
    sheet = builders.a_whole_season(logbook) if "{sheet}" in address else None
    address = address.format(sheet=sheet, id=an_id("slip"))
    client = logbook.client(who)
    statuses = [client.request(method, address, json=body(n)).status_code for n in range(8)]
    assert statuses == [422] * 6 + [429] * 2


def test_a_shed_signing_in_at_once_from_one_address_is_not_slowed_down(logbook: Logbook) -> None:
    people = ["administrator", "official", "inspector", "second_inspector", "competitor", "rival"] * 3
    body = {"password": PASSWORD}
    statuses = at_once(
        logbook,
        "",
        len(people),
        lambda client, n: client.post("/api/session", json={**body, "sign_in_name": people[n]}),
    )
    assert statuses == [200] * len(people)
