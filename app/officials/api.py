from dataclasses import dataclass
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request, Response

from app.database import Database
from app.errors import Invalid
from app.officials import service, signing_keys, throttle
from app.officials.access import Administrator, Anyone, MaybePerson, cookie_name
from app.officials.keyring import Keyring
from app.officials.schemas import PasswordIn, PersonIn, PersonView, PinIn, PreferencesIn, SignIn
from app.officials.service import CurrentPerson
from app.web import Db

router = APIRouter(prefix="/api", tags=["people"])


def _keyring(request: Request) -> Keyring:
    keyring: Keyring = request.app.state.keyring
    return keyring


Keys = Annotated[Keyring, Depends(_keyring)]


@router.post("/session")
def sign_in(request: Request, response: Response, data: SignIn, db: Db, _who: MaybePerson) -> dict[str, str]:
    """The token goes into the cookie only; a new one at every sign-in, the old one ends."""
    address = request.client.host if request.client else "unknown"
    with throttle.one_at_a_time(*service.sign_in_keys(data, address)):
        with db.read() as session:
            known = service.known_hash(session, data, address)
        fits = service.password_fits(known, data.password)  # costly on purpose, so outside any transaction
        with db.write() as session:
            outcome = service.finish_sign_in(session, data, address, fits=fits)
            previous = request.cookies.get(cookie_name(request))
            if outcome.token is not None and previous is not None:
                service.sign_out(session, previous)
    if outcome.token is None or outcome.person is None:
        raise Invalid({"password": "Name and password do not go together. Type both again."})
    response.set_cookie(
        cookie_name(request),
        outcome.token,
        max_age=int(service.LONGEST.total_seconds()),
        httponly=True,
        samesite="lax",
        secure=request.app.state.settings.cookies_are_secure,
    )
    return {"full_name": outcome.person.full_name}


@router.delete("/session", status_code=204)
def sign_out(request: Request, response: Response, db: Db, _who: MaybePerson) -> None:
    token = request.cookies.get(cookie_name(request))
    if token is not None:
        with db.write() as session:
            service.sign_out(session, token)
    response.delete_cookie(cookie_name(request), secure=request.app.state.settings.cookies_are_secure, httponly=True)


@router.get("/people")
def list_people(db: Db, me: Administrator) -> list[PersonView]:
    with db.read() as session:
        return service.people(session)


@router.put("/people/{person_id}")
def put_person(request: Request, person_id: UUID, data: PersonIn, db: Db, me: Administrator) -> PersonView:
    with db.write() as session:
        return service.add_person(session, me.full_name, person_id, data, request.app.state.settings.units)


@router.get("/me")
def read_me(db: Db, me: Anyone) -> PersonView:
    with db.read() as session:
        return service.person_view(service.person_of(session, me.id))


@router.put("/me/preferences")
def put_preferences(data: PreferencesIn, db: Db, me: Anyone) -> PersonView:
    with db.write() as session:
        service.set_preferences(session, me, data)
        return service.person_view(service.person_of(session, me.id))


@router.post("/me/password", status_code=204)
def change_password(data: PasswordIn, db: Db, me: Anyone) -> None:
    if not _own_password_fits(db, me, data.current_password):
        raise Invalid({"current_password": "The present password does not fit. Type it again."})
    with db.write() as session:
        service.change_password(session, me, data)


@router.post("/me/pin")
def set_pin(data: PinIn, db: Db, me: Anyone, keys: Keys) -> PersonView:
    if not _own_password_fits(db, me, data.password):
        raise Invalid({"password": "The password does not fit. Type it again."})
    with db.write() as session:
        return service.set_pin(session, me, data, keys)


def _own_password_fits(db: Database, me: CurrentPerson, password: str) -> bool:
    with throttle.one_at_a_time(service.password_key(me)):
        with db.read() as session:
            known = service.own_hash(session, me)
        fits = service.password_fits(known, password)
        with db.write() as session:
            service.finish_own_password(session, me, fits=fits)
    return fits


@dataclass(frozen=True, slots=True)
class UnlockedKey:
    """A signing key opened for one signature; it lives no longer than the request."""

    id: UUID
    certificate_pem: str
    private_pem: str


def unlock_signing_key(
    db: Database, me: CurrentPerson, pin: str, keyring: Keyring, key_id: UUID | None = None
) -> UnlockedKey:
    """The costly part runs outside any transaction; a PIN that does not fit is counted in one of its own."""
    with throttle.one_at_a_time(service.pin_key(me)):
        with db.read() as session:
            key = service.key_to_unlock(session, me, key_id)
            found_id, certificate, sealed = key.id, key.certificate_pem, key.sealed
        try:
            with service.HASHING:
                private_pem = signing_keys.unseal(sealed, pin, keyring.pepper)
        except signing_keys.WrongPin:
            with db.write() as session:
                service.count_wrong_pin(session, me)
            raise Invalid({"pin": "This PIN does not fit. Type it again."}) from None
        with db.write() as session:
            service.forget_wrong_pins(session, me)
    return UnlockedKey(found_id, certificate, private_pem)
