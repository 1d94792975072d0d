"""The logbook being filled: its database on a clock that is set, its keys, its press, and everybody by name."""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import datetime
from uuid import UUID, uuid5

from sqlalchemy.orm import Session

from app.database import Database
from app.officials.api import UnlockedKey
from app.officials.keyring import Keyring
from app.officials.service import CurrentPerson
from app.slips.press import Press

_NAMESPACE = UUID("b3f0b0a2-6e0e-5d1c-8a77-3f6f5d0c9e21")


def an_id(*words: object) -> UUID:
    """The same words are the same id, in every load."""
    return uuid5(_NAMESPACE, " / ".join(str(word) for word in words))


class SetClock:
    """Shows the moment it was last set to, and never goes back: the log of a season runs one way."""

    def __init__(self, moment: datetime) -> None:
        self.moment = moment

    def __call__(self) -> datetime:
        return self.moment

    def set(self, moment: datetime) -> None:
        if moment < self.moment:
            raise ValueError(f"{moment:%d %B %H:%M:%S} comes after {self.moment:%d %B %H:%M:%S} in this season")
        self.moment = moment


@dataclass(slots=True)
class DemoLogbook:
    database: Database
    clock: SetClock
    keyring: Keyring
    press: Press
    public_url: str
    people: dict[str, CurrentPerson] = field(default_factory=dict)  # by sign-in name
    keys: dict[str, UnlockedKey] = field(default_factory=dict)  # the inspectors', by sign-in name

    @contextmanager
    def at(self, moment: datetime) -> Iterator[Session]:
        """One transaction at one moment, as a person at a screen would make it."""
        self.clock.set(moment)
        with self.database.write() as session:
            yield session
