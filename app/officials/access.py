"""Who may: one dependency for every route. A route without one is found by the tests and refused there."""

from collections.abc import Callable
from typing import Annotated

from fastapi import Depends, Request

from app.errors import NeedsSignIn, NotFound, Refused
from app.officials import service
from app.officials.service import CurrentPerson
from app.web import Db

STAFF = ("administrator", "official", "inspector")
_PLAIN = {
    "administrator": "administrators",
    "official": "officials",
    "inspector": "inspectors",
    "competitor": "competitors",
}


def cookie_name(request: Request) -> str:
    return "__Host-shedbook" if request.app.state.settings.cookies_are_secure else "shedbook"


def maybe_current(request: Request, db: Db) -> CurrentPerson | None:
    """The person signed in, if any; the page's top band needs it even where nobody has to be."""
    request.state.me = None
    token = request.cookies.get(cookie_name(request))
    if token is None:
        return None
    with db.read() as session:
        person, seen_is_due = service.who_is(session, token)
    if seen_is_due:
        with db.write() as session:
            service.mark_seen(session, token)
    request.state.me = person
    return person


MaybePerson = Annotated[CurrentPerson | None, Depends(maybe_current)]


def requires(*roles: str) -> Callable[[MaybePerson], CurrentPerson]:
    """A competitor who strays onto the staff's pages learns nothing, not even that they exist."""

    def current(person: MaybePerson) -> CurrentPerson:
        if person is None:
            raise NeedsSignIn
        if roles and not person.may(*roles):
            if not person.may(*STAFF):
                raise NotFound("page")
            raise Refused(f"This is for {' and '.join(_PLAIN[role] for role in roles)}. Ask one of them.")
        return person

    current.allowed_roles = roles  # type: ignore[attr-defined]  # the access matrix reads it
    return current


Anyone = Annotated[CurrentPerson, Depends(requires())]
Staff = Annotated[CurrentPerson, Depends(requires(*STAFF))]
Administrator = Annotated[CurrentPerson, Depends(requires("administrator"))]
Official = Annotated[CurrentPerson, Depends(requires("official"))]
Inspector = Annotated[CurrentPerson, Depends(requires("inspector"))]
CompetitorSelf = Annotated[CurrentPerson, Depends(requires("competitor"))]
