"""The demo season, really loaded, once for all tests that look at it."""

import fcntl
import os
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import pytest

from app.config import Settings
from app.demo import is_loaded
from app.demo.season import load_season

LOADED_AT = datetime(2026, 11, 25, 10, 40, 31, tzinfo=UTC)


class PulledThePlug(Exception):
    """What a test raises where a load is to be cut off."""


@dataclass(frozen=True)
class Loaded:
    settings: Settings
    said: list[str]

    @property
    def database_url(self) -> str:
        return self.settings.resolved_database_url


def settings_in(folder: Path) -> Settings:
    return Settings(data_folder=folder, public_url="http://testserver")


def cut_off_at_the_first_word(_line: str) -> None:
    raise PulledThePlug


@pytest.fixture(scope="session")
def season(tmp_path_factory: pytest.TempPathFactory) -> Loaded:
    """Loaded after a first try was cut off, as a person would who starts it again. Test workers share the one load."""
    base = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:
        base = base.parent
    settings, said = settings_in(base / "season" / "demo"), base / "said.txt"
    with (base / "season.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not is_loaded(settings):
            with pytest.raises(PulledThePlug):
                load_season(settings, LOADED_AT, cut_off_at_the_first_word)
            assert not is_loaded(settings)
            lines: list[str] = []
            load_season(settings, LOADED_AT, lines.append)
            said.write_text("\n".join(lines))
    return Loaded(settings, said.read_text().splitlines())
