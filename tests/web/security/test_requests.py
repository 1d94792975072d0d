"""Requests that no browser of ours sends: refused in words, whatever their headers say."""

import logging
from collections.abc import MutableMapping
from typing import Any

import pytest

from tests.conftest import InProcess, Logbook

HOSTILE_ORIGINS = [
    "http://[",
    "null",
    "",
    "https://testserver.evil.example",
    "http://testserver@evil.example",
    "file://",
]


@pytest.mark.parametrize("origin", HOSTILE_ORIGINS)
def test_an_origin_that_is_not_ours_is_refused(logbook: Logbook, origin: str) -> None:
    client = logbook.client("official")
    del client.headers["sec-fetch-site"]
    answer = client.post("/sign-out", headers={"origin": origin})
    assert answer.status_code == 403
    assert client.get("/me").status_code == 200


@pytest.mark.parametrize("site", ["cross-site", "same-site", "anything"])
def test_a_foreign_site_cannot_write_with_any_method(logbook: Logbook, site: str) -> None:
    client = logbook.client("official")
    for method in ("POST", "PUT", "DELETE", "PATCH"):
        answer = client.request(method, "/api/session", headers={"sec-fetch-site": site}, json={})
        assert answer.status_code == 403
    assert client.get("/me").status_code == 200


@pytest.mark.parametrize("length", ["²", "-1", "1e3", "0x10", "99999999"])
def test_a_length_that_is_none_or_too_much_is_refused(logbook: Logbook, length: str) -> None:
    headers = {b"content-length": length.encode("latin-1")}
    answer = logbook.client("").post("/verify", content=b"", headers=headers)
    assert answer.status_code == 413
    assert "smaller" in answer.text


@pytest.mark.parametrize("host", ["evil.example", "[", "testserver/api/?", "testserver@evil.example", ""])
def test_a_host_that_is_not_ours_decides_nothing(logbook: Logbook, host: str) -> None:
    answer = logbook.client("").get("/nowhere", headers={"host": host})
    assert answer.status_code == 400
    assert "evil" not in answer.text
    refused = logbook.client("").post("/nowhere", headers={"host": host, "sec-fetch-site": "cross-site"})
    assert refused.status_code == 403
    assert refused.headers["content-type"].startswith("text/html")  # by the path, not by what the host pretends


@pytest.mark.parametrize(
    "path",
    [
        "/static/../pyproject.toml",
        "/static/%2e%2e/pyproject.toml",
        "/static/..%2f..%2fetc/passwd",
        "/static//etc/passwd",
        "/static/a%00b",
        "/fonts/..%2f__init__.py",
        "/fonts/%2e%2e/__init__.py",
        "/static/",
        "/fonts/",
    ],
)
def test_nothing_but_the_shipped_files_is_served(logbook: Logbook, path: str) -> None:
    answer = logbook.client("").get(path)
    assert answer.status_code == 404
    assert answer.headers["cache-control"] == "no-store"


def test_private_pages_and_failures_are_kept_by_no_cache(logbook: Logbook, monkeypatch: pytest.MonkeyPatch) -> None:
    for who, path in (("official", "/events"), ("competitor", "/my-record"), ("", "/verify"), ("", "/nowhere")):
        assert logbook.client(who).get(path).headers["cache-control"] == "no-store", path

    def broken(*_given: object) -> None:
        raise RuntimeError("on purpose")

    monkeypatch.setattr("app.officials.service.person_view", broken)
    failed = logbook.client("official").get("/me")
    assert failed.status_code == 500
    assert failed.headers["cache-control"] == "no-store"
    assert "on purpose" not in failed.text
    assert "Traceback" not in failed.text


def test_an_address_cannot_write_a_line_of_its_own_into_the_log(
    logbook: Logbook, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(*_given: object) -> None:
        raise RuntimeError("on purpose")

    monkeypatch.setattr("app.slips.standing.standing", broken)
    with caplog.at_level(logging.ERROR, logger="shedbook"):
        assert logbook.client("").get("/verify/A%0aINFO%20all%20is%20well").status_code == 500
    assert "INFO all is well" in caplog.text
    assert not any(line.startswith("INFO") for record in caplog.records for line in record.getMessage().splitlines())


def test_a_body_that_says_no_length_is_counted_while_it_comes(logbook: Logbook) -> None:
    """Over the real transport such a body comes in parts; here the application is given them directly."""
    client = logbook.client("")
    transport = client._transport
    assert isinstance(transport, InProcess)
    status: list[int] = []
    asked = 0

    async def receive() -> MutableMapping[str, Any]:
        nonlocal asked
        asked += 1
        return {"type": "http.request", "body": b"a" * 1024 * 1024, "more_body": True}

    async def send(message: MutableMapping[str, Any]) -> None:
        if message["type"] == "http.response.start":
            status.append(message["status"])

    for path, kind in (("/verify", b"multipart/form-data; boundary=x"), ("/api/session", b"application/json")):
        asked = 0
        scope: dict[str, Any] = {
            "type": "http", "method": "POST", "path": path, "raw_path": path.encode(), "root_path": "",
            "scheme": "http", "query_string": b"", "http_version": "1.1", "server": ("testserver", 80),
            "client": ("127.0.0.1", 1), "headers": [(b"host", b"testserver"), (b"content-type", kind)],
        }  # fmt: skip
        transport.portal.call(logbook.app.__call__, scope, receive, send)
        assert status.pop() in (400, 413)
        assert asked <= 17
