from datetime import date, datetime
from typing import Annotated, Literal
from uuid import UUID

from pydantic import Field, field_validator

from app.intake import In, Name, View

Role = Literal["administrator", "official", "inspector", "competitor"]
ROLES: dict[Role, str] = {
    "administrator": "Administrator: people, keys, backups",
    "official": "Official: rule book, events, entries, instruments, protests",
    "inspector": "Inspector: the shed, from verification to signed slip",
    "competitor": "Competitor: their own record",
}
SignInName = Annotated[str, Field(pattern=r"^[a-z0-9][a-z0-9._-]{1,58}$", title="Sign-in name")]
Password = Annotated[str, Field(min_length=1, max_length=256, title="Password")]


class SignIn(In):
    sign_in_name: Annotated[str, Field(max_length=60, title="Sign-in name")]
    password: Password


class PersonIn(In):
    full_name: Name
    sign_in_name: SignInName
    roles: Annotated[list[Role], Field(default_factory=list, validate_default=True, title="What they do")]
    password: Password
    ends_on: date | None = None

    @field_validator("sign_in_name", mode="before")
    @classmethod
    def _in_small_letters(cls, value: object) -> object:
        return value.strip().lower() if isinstance(value, str) else value

    @field_validator("roles", mode="before")
    @classmethod
    def _one_is_a_list_too(cls, value: object) -> object:
        return [value] if isinstance(value, str) else value

    @field_validator("roles")
    @classmethod
    def _at_least_one(cls, value: list[Role]) -> list[Role]:
        if not value:
            raise ValueError("Choose at least one: without one, nobody can do anything here.")
        return value

    @field_validator("password")
    @classmethod
    def _long_enough(cls, value: str) -> str:
        return checked_password(value)


class PasswordIn(In):
    current_password: Annotated[str, Field(min_length=1, max_length=256, title="Present password")]
    new_password: Annotated[str, Field(min_length=1, max_length=256, title="New password")]

    @field_validator("new_password")
    @classmethod
    def _long_enough(cls, value: str) -> str:
        return checked_password(value)


class PinIn(In):
    password: Password
    pin: Annotated[str, Field(max_length=40, title="PIN")]


class PreferencesIn(In):
    units: Literal["metric", "inch"]
    pad_side: Literal["right", "left"]


class PersonView(View):
    id: UUID
    full_name: str
    sign_in_name: str
    roles: list[str]
    units: str
    pad_side: str
    ends_on: date | None
    created_at: datetime
    certificate_serial: str | None
    has_pin: bool


def checked_password(value: str) -> str:
    """Length is what makes a password strong; the few that everyone tries first are refused by name."""
    if len(value) < 10:
        raise ValueError("The password is too short. Use at least 10 characters; a few words in a row do well.")
    if len(set(value.lower())) < 5 or value.lower() in _TRIED_FIRST:
        raise ValueError("This password is among the first anyone would try. Choose a few words of your own.")
    return value


_TRIED_FIRST = frozenset(
    (
        "password12",
        "password123",
        "1234567890",
        "qwertyuiop",
        "administrator",
        "0123456789",
        "letmein1234",
        "passwordpassword",
    )
)
