"""How an operation has the looking back done once its fact is committed; what does it stands above, in app.doubts."""

from collections.abc import Callable
from functools import partial
from typing import Annotated

from fastapi import Depends, Request

from app.web import Db


def _look_back(request: Request, db: Db) -> Callable[[], object]:
    return partial(request.app.state.look_back, db)


LookBack = Annotated[Callable[[], object], Depends(_look_back)]  # call it after the block, on a replay too
