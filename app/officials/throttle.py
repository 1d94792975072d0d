"""Slows guessing down without ever locking anyone out for good: a rival could do that on purpose."""

import threading
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from datetime import timedelta
from zlib import crc32

from sqlalchemy.orm import Session

from app.database import now
from app.errors import TooMany
from app.officials.models import Throttle

FREE_TRIES = 5
LONGEST_WAIT_S = 900
FORGOTTEN_AFTER = timedelta(hours=1)  # one address may stand for a whole shed: its typing errors must not add up
_GATES = tuple(threading.Lock() for _ in range(64))


@contextmanager
def one_at_a_time(*keys: str) -> Iterator[None]:
    """Looked at and counted one after the other: of guesses sent at once, none may pass before another is counted."""
    with ExitStack() as held:
        for place in sorted({crc32(key.encode()) % len(_GATES) for key in keys}):
            held.enter_context(_GATES[place])
        yield


def check_not_blocked(session: Session, *keys: str) -> None:
    for key in keys:
        row = session.get(Throttle, key)
        if row is not None and row.blocked_until > now(session):
            wait = int((row.blocked_until - now(session)).total_seconds()) + 1
            raise TooMany(f"Too many tries that did not fit. Wait {wait} seconds, then try again.", wait)


def count_failure(session: Session, *keys: str) -> None:
    """Five tries are free, then the wait doubles from two seconds up to a quarter of an hour."""
    for key in keys:
        row = session.get(Throttle, key, with_for_update=True)
        if row is None:
            row = Throttle(key=key, failures=0, blocked_until=now(session))
            session.add(row)
        if now(session) - row.blocked_until > FORGOTTEN_AFTER:
            row.failures = 0
        row.failures += 1
        over = row.failures - FREE_TRIES
        wait = min(2**over, LONGEST_WAIT_S) if over > 0 else 0
        row.blocked_until = now(session) + timedelta(seconds=wait)


def forget_failures(session: Session, *keys: str) -> None:
    for key in keys:
        row = session.get(Throttle, key)
        if row is not None:
            session.delete(row)
