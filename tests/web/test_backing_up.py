"""A copy made while the logbook is served is whole, checked, and never written over another."""

from pathlib import Path

import pytest

from app.backing_up import back_up
from app.database import Database
from app.errors import Conflict, Unavailable
from app.officials import service as officials
from tests import builders
from tests.conftest import PEOPLE, Logbook


def test_a_copy_holds_everything_and_its_log_holds(logbook: Logbook, tmp_path: Path) -> None:
    builders.a_class(logbook)
    target = tmp_path / "stick" / "copy.db"
    target.parent.mkdir()
    if logbook.database.engine.dialect.name == "postgresql":
        with pytest.raises(Unavailable, match="pg_dump"):
            back_up(logbook.database, target)
        return
    found = back_up(logbook.database, target)
    assert found.broken_at is None
    assert found.entries > len(PEOPLE)
    assert [path.name for path in target.parent.iterdir()] == ["copy.db"]
    copy = Database(f"sqlite:///{target}")
    with copy.read() as session:
        assert len(officials.people(session)) == len(PEOPLE)
    copy.close()
    builders.an_entry(logbook)  # the logbook goes on writing as before
    with pytest.raises(Conflict, match="there already"):
        back_up(logbook.database, target)


def test_a_place_that_cannot_be_written_gets_a_sentence(logbook: Logbook, tmp_path: Path) -> None:
    with pytest.raises(Unavailable):
        back_up(logbook.database, tmp_path / "nowhere" / "copy.db")
