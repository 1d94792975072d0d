"""Stands before every request: size, origin, and the headers of every answer."""

from collections.abc import Mapping
from urllib.parse import urlsplit

from fastapi import Request
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from app.web import HEADERS, answer

LARGEST_BODY = 16 * 1024 * 1024
_SAFE = {"GET", "HEAD", "OPTIONS"}
_FROM_ELSEWHERE = "This request came from another site. Open the logbook's own page and try again."
_TOO_LARGE = "What was sent is too large. Send a smaller file."


class Guard:
    """Plain ASGI: the function kind of middleware costs most of the rate and fails when a browser breaks off."""

    def __init__(self, app: ASGIApp) -> None:
        self.app = app

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = {name.decode("latin-1"): value.decode("latin-1") for name, value in scope["headers"]}
        for_good = _never_changes(scope)

        async def send_with_headers(message: Message) -> None:
            if message["type"] == "http.response.start":
                given = {name.lower() for name, _value in message["headers"]}
                message["headers"] = [*message["headers"], *HEADERS]
                if for_good and message["status"] == 200:
                    message["headers"].append((b"cache-control", b"public, max-age=31536000, immutable"))
                elif b"cache-control" not in given:
                    message["headers"].append((b"cache-control", b"no-store"))
            await send(message)

        refused = _refusal(scope, headers)
        if refused is not None:
            status, sentence = refused
            await answer(Request(scope, receive), status, sentence, {})(scope, receive, send_with_headers)
            return
        await self.app(scope, _counted(receive), send_with_headers)


def _never_changes(scope: Scope) -> bool:
    """A static address that carries the digest of its content, or a font of a pinned package."""
    path: str = scope["path"]
    return path.startswith("/fonts/") or (path.startswith("/static/") and scope["query_string"].startswith(b"v="))


def _refusal(scope: Scope, headers: Mapping[str, str]) -> tuple[int, str] | None:
    length = headers.get("content-length", "0")
    if not (length.isascii() and length.isdigit()) or int(length) > LARGEST_BODY:
        return 413, _TOO_LARGE
    if scope["method"] not in _SAFE and not _same_origin(headers):
        return 403, _FROM_ELSEWHERE
    return None


def _counted(receive: Receive) -> Receive:
    """A body that does not say how long it is gets counted while it comes."""
    taken = 0

    async def receive_counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > LARGEST_BODY:
            raise HTTPException(413)
        return message

    return receive_counted


def _same_origin(headers: Mapping[str, str]) -> bool:
    """By fetch metadata, else by Origin; a request with a cookie and neither is refused (OWASP, CSRF)."""
    site = headers.get("sec-fetch-site")
    if site is not None:
        return site in ("same-origin", "none")
    origin = headers.get("origin")
    if origin is not None:
        try:
            return urlsplit(origin).netloc == headers["host"]
        except (KeyError, ValueError):  # no host to compare with, or an origin that is no address
            return False
    return "cookie" not in headers
