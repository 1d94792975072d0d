"""Every route × every role, from a table that is exhaustive: a new route without its line fails here."""

import re
from collections.abc import Iterator

import httpx
import pytest

from tests.conftest import Logbook, an_id
from tests.test_architecture import all_routes
from tests.web.access_matrix import MATRIX

WHO = {
    "stranger": "",
    "administrator": "administrator",
    "official": "official",
    "inspector": "inspector",
    "competitor": "competitor",
}
EVERYBODY = frozenset(WHO)


def may(role: str, allowed: str) -> bool:
    return allowed == "public" or (allowed == "signed in" and role != "stranger") or role in allowed.split()


def routes(book: Logbook) -> Iterator[tuple[str, str]]:
    for route in all_routes(book.app):
        for method in sorted(route.methods - {"HEAD"}):
            yield method, route.path


def address(path: str) -> str:
    return re.sub(
        r"\{(\w+)(?::\w+)?\}",
        lambda found: {"stage": "opening", "cylinder": "1", "code": "ZZZZZZZZ"}.get(found[1], str(an_id("nowhere"))),
        path,
    )


def refused_for_who_they_are(answer: httpx.Response, role: str) -> bool:
    if role == "stranger":
        return answer.status_code == 401 or answer.headers.get("location", "").startswith("/sign-in?")
    if role == "competitor":
        return answer.status_code == 404 and "no such page" in answer.text
    return answer.status_code == 403 and "This is for" in answer.text


def test_the_table_names_every_route_and_no_other(logbook: Logbook) -> None:
    assert {f"{method} {path}" for method, path in routes(logbook)} == set(MATRIX)


@pytest.mark.parametrize("role", WHO)
def test_each_role_reaches_what_it_may_and_nothing_else(logbook: Logbook, role: str) -> None:
    client = logbook.client(WHO[role])
    cookie = client.cookies.get("shedbook") or ""
    for method, path in routes(logbook):
        if path.endswith(("sign-out", "/api/session")):
            continue  # anyone may end or begin a session; tested with the sign-in
        one = logbook.another_client(cookie)
        answer = one.request(method, address(path), json={} if path.startswith("/api/") and method != "GET" else None)
        one.close()
        expected = not may(role, MATRIX[f"{method} {path}"])
        assert refused_for_who_they_are(answer, role) == expected, f"{role}: {method} {path} gave {answer.status_code}"
        assert answer.status_code < 500, f"{role}: {method} {path} gave {answer.status_code}"
