"""What can go wrong, in the field's words. Nothing here knows HTTP; `web` holds the one table of answers."""

from collections.abc import Mapping


class LogbookError(Exception):
    """A refusal a person can read. `errors` maps a field's name to its sentence; "" is the whole form."""

    def __init__(self, message: str, errors: Mapping[str, str] | None = None) -> None:
        super().__init__(message)
        self.message = message
        self.errors: dict[str, str] = dict(errors or {})


class NotFound(LogbookError):
    """No such record, or none that this person may know of: both get the same answer."""

    def __init__(self, what: str = "record") -> None:
        super().__init__(f"The logbook has no such {what}. Check the address, or go back and choose again.")


class Invalid(LogbookError):
    """Something typed cannot be taken as it stands; every field concerned has its sentence."""

    def __init__(self, errors: Mapping[str, str], message: str = "") -> None:
        super().__init__(message or next(iter(errors.values()), "Something needs to be put right."), errors)


class Conflict(LogbookError):
    """The logbook already holds something else under this id or this name."""

    def __init__(self, message: str = "") -> None:
        super().__init__(
            message
            or "The logbook already holds something else under this id. What is kept stays; open it and compare."
        )


class Refused(LogbookError):
    """Understood, but the rules of the work do not allow it now."""


class NeedsSignIn(LogbookError):
    """Nobody is signed in, or the session has ended."""

    def __init__(self) -> None:
        super().__init__("Sign in to go on.")


class TooMany(LogbookError):
    """Too many tries; `retry_after_s` says when the next one counts."""

    def __init__(self, message: str, retry_after_s: int) -> None:
        super().__init__(message)
        self.retry_after_s = retry_after_s


class Unavailable(LogbookError):
    """Busy or out of reach for the moment; the same call may be sent again."""
