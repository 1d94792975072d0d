"""Settings: read once in `__main__`, frozen, passed on as an argument; never imported as a value."""

from pathlib import Path
from typing import Literal
from zoneinfo import ZoneInfo, available_timezones

from pydantic import Field, field_validator
from pydantic_settings import BaseSettings, SettingsConfigDict


def _shared_root() -> Path:
    """Templates, static files and migrations lie beside the package in a checkout, inside it in a wheel."""
    checkout = Path(__file__).resolve().parent.parent
    if (checkout / "templates").is_dir():
        return checkout
    return Path(__file__).resolve().parent / "_shared"


SHARED_ROOT = _shared_root()


class Settings(BaseSettings):
    """Every setting has a SHEDBOOK_ environment variable of the same name."""

    model_config = SettingsConfigDict(env_prefix="SHEDBOOK_", frozen=True, extra="ignore")

    data_folder: Path = Path("data")
    database_url: str = ""  # empty: SQLite at <data_folder>/shedbook.db
    public_url: str = "http://127.0.0.1:8000"
    allowed_hosts: tuple[str, ...] = ("127.0.0.1", "localhost", "testserver")
    secure_cookies: bool = False  # True behind TLS, also without an https public_url
    units: Literal["metric", "inch"] = "metric"  # of new people; each person may change theirs
    time_zone: str = "UTC"  # of the sheds, such as Europe/London; pages show it, records and slips keep UTC
    slip_workers: int = Field(default=1, ge=1, le=8)
    slip_seconds: float = 30.0
    look_back_piece: int = Field(default=2000, ge=1, le=100_000)  # verdicts entered in one transaction

    @field_validator("time_zone")
    @classmethod
    def _known_zone(cls, value: str) -> str:
        if value not in available_timezones():
            raise ValueError(f"“{value}” is no time zone known here. Write it like Europe/London.")
        return value

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)

    @property
    def cookies_are_secure(self) -> bool:
        """The cookie then gets its __Host- name, and never travels without TLS."""
        return self.secure_cookies or self.public_url.startswith("https://")

    @property
    def resolved_database_url(self) -> str:
        return self.database_url or f"sqlite:///{self.data_folder / 'shedbook.db'}"

    @property
    def keys_folder(self) -> Path:
        """Secrets that must never lie in the database or its backups."""
        return self.data_folder / "keys"
