"""Evaluate without storing: the operation."""

from collections.abc import Callable, Coroutine
from typing import Any

from fastapi import Request, Response
from fastapi.routing import APIRoute

from app.inspections import whatif
from app.inspections.whatif import EvaluatedView, EvaluateIn
from app.officials.access import Staff


class _AsWritten(Request):
    """Numbers stay the text that was written: neither digits nor sense are lost before they are looked at."""

    async def json(self) -> Any:
        return whatif.read_json(await self.body())


class AsWrittenRoute(APIRoute):
    def get_route_handler(self) -> Callable[[Request], Coroutine[Any, Any, Response]]:
        handler = super().get_route_handler()

        async def handle(request: Request) -> Response:
            as_written = _AsWritten(request.scope, request.receive)
            if await as_written.body():
                await as_written.json()  # what is no JSON is refused here, in our own words
            return await handler(as_written)

        return handle


def evaluate(data: EvaluateIn, me: Staff) -> EvaluatedView:
    """The verdict with its full budget; nothing is stored and nothing is logged. Bare numbers are metric."""
    return whatif.evaluated(data)
