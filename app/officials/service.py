"""Use cases around people. `session` first, then who does it, then what; never a commit."""

import hashlib
import secrets
from dataclasses import dataclass
from datetime import timedelta
from functools import lru_cache
from threading import BoundedSemaphore
from uuid import UUID, uuid4

from argon2 import PasswordHasher
from argon2.exceptions import VerifyMismatchError
from sqlalchemy import select
from sqlalchemy.orm import Session, selectinload

from app import audit
from app.database import now, row_of
from app.errors import Conflict, Invalid, Refused
from app.officials import authority, signing_keys, throttle
from app.officials.keyring import Keyring
from app.officials.models import Person, SigningKey, SignInSession
from app.officials.schemas import PasswordIn, PersonIn, PersonView, PinIn, PreferencesIn, SignIn

IDLE = timedelta(hours=4)
LONGEST = timedelta(hours=12)
_SEEN_EVERY = timedelta(minutes=1)
_hasher = PasswordHasher()
HASHING = BoundedSemaphore(2)  # each takes 64 MiB: strangers must not fill the memory by trying to sign in


@dataclass(frozen=True, slots=True)
class CurrentPerson:
    """Who is asking: a value, not a row, so nothing can be loaded or changed through it."""

    id: UUID
    full_name: str
    roles: frozenset[str]
    units: str
    pad_side: str

    def may(self, *roles: str) -> bool:
        return not self.roles.isdisjoint(roles)


@dataclass(frozen=True, slots=True)
class SignInOutcome:
    token: str | None
    person: CurrentPerson | None


def person_view(person: Person) -> PersonView:
    key = person.keys[-1] if person.keys else None
    return PersonView(
        id=person.id,
        full_name=person.full_name,
        sign_in_name=person.sign_in_name,
        roles=person.roles,
        units=person.units,
        pad_side=person.pad_side,
        ends_on=person.ends_on,
        created_at=person.created_at,
        certificate_serial=key.certificate_serial if key else None,
        has_pin=key is not None,
    )


def people(session: Session) -> list[PersonView]:
    everyone = select(Person).options(selectinload(Person.keys)).order_by(Person.full_name)
    return [person_view(person) for person in session.scalars(everyone)]


def person_of(session: Session, person_id: UUID) -> Person:
    return row_of(session, Person, person_id, "person")


def add_person(session: Session, by: str, person_id: UUID, data: PersonIn, units: str) -> PersonView:
    taken = session.scalar(select(Person).where(Person.sign_in_name == data.sign_in_name))
    if taken is not None:
        if taken.id == person_id and _is_the_same(taken, data):
            return person_view(taken)
        if taken.id == person_id:
            raise Conflict(
                "The logbook already has this person, and differently. What is kept stays; look at the list."
            )
        raise Invalid({"sign_in_name": f"“{data.sign_in_name}” is taken. Choose another sign-in name."})
    if session.get(Person, person_id) is not None:
        raise Conflict("The logbook already has another person under this id. Load the page again.")
    person = Person(
        id=person_id,
        sign_in_name=data.sign_in_name,
        full_name=data.full_name,
        roles=sorted(data.roles),
        password_hash=_hasher.hash(data.password),
        units=units,
        pad_side="right",
        created_at=now(session),
        ends_on=data.ends_on,
    )
    session.add(person)
    audit.record(session, by, "person added", person.id, {"name": person.full_name, "roles": person.roles})
    return person_view(person)


def _is_the_same(person: Person, data: PersonIn) -> bool:
    kept = (person.full_name, set(person.roles), person.ends_on)
    return kept == (data.full_name, set(data.roles), data.ends_on) and password_fits(
        person.password_hash, data.password
    )


def known_hash(session: Session, data: SignIn, address: str) -> str:
    """The password hash to compare with; an unknown name gets one too, and costs the same time."""
    throttle.check_not_blocked(session, *sign_in_keys(data, address))
    person = _person_named(session, data)
    return person.password_hash if person else _hash_of_nothing()


def finish_sign_in(session: Session, data: SignIn, address: str, *, fits: bool) -> SignInOutcome:
    """Counts a failure instead of raising, so that the count is committed; the same words for every failure."""
    keys = sign_in_keys(data, address)
    person = _person_named(session, data)
    if not fits or person is None or _has_ended(session, person):
        throttle.count_failure(session, *keys)
        # only a name that is somebody's: what stands there otherwise may be a password in the wrong field
        audit.record(session, "nobody", "sign-in refused", None, {"name": person.sign_in_name if person else "unknown"})
        return SignInOutcome(None, None)
    throttle.forget_failures(session, keys[0])
    token = secrets.token_urlsafe(32)
    session.add(
        SignInSession(
            token_sha256=_digest(token), person_id=person.id, created_at=now(session), last_seen_at=now(session)
        )
    )
    return SignInOutcome(token, _current(person))


def sign_in_keys(data: SignIn, address: str) -> tuple[str, str]:
    return f"name:{data.sign_in_name.lower()}", f"address:{address}"


def _person_named(session: Session, data: SignIn) -> Person | None:
    return session.scalar(select(Person).where(Person.sign_in_name == data.sign_in_name.lower()))


def sign_out(session: Session, token: str) -> None:
    row = session.get(SignInSession, _digest(token))
    if row is not None:
        session.delete(row)


def who_is(session: Session, token: str) -> tuple[CurrentPerson | None, bool]:
    """The person behind a cookie, and whether its last-seen time is due to be moved on."""
    row = session.get(SignInSession, _digest(token))
    if row is None or now(session) - row.last_seen_at > IDLE or now(session) - row.created_at > LONGEST:
        return None, False
    person = person_of(session, row.person_id)
    if _has_ended(session, person):
        return None, False
    return _current(person), now(session) - row.last_seen_at > _SEEN_EVERY


def mark_seen(session: Session, token: str) -> None:
    row = session.get(SignInSession, _digest(token))
    if row is not None:
        row.last_seen_at = now(session)


def own_hash(session: Session, me: CurrentPerson) -> str:
    """Whoever finds a tablet unlocked may not guess its owner's password there either."""
    throttle.check_not_blocked(session, password_key(me))
    return person_of(session, me.id).password_hash


def finish_own_password(session: Session, me: CurrentPerson, *, fits: bool) -> None:
    if fits:
        throttle.forget_failures(session, password_key(me))
    else:
        throttle.count_failure(session, password_key(me))
        audit.record(session, me.full_name, "password refused", me.id, {})


def password_key(me: CurrentPerson) -> str:
    return f"password:{me.id}"


def change_password(session: Session, me: CurrentPerson, data: PasswordIn) -> None:
    """The present password has been looked at before."""
    person = person_of(session, me.id)
    person.password_hash = _hasher.hash(data.new_password)
    for row in session.scalars(select(SignInSession).where(SignInSession.person_id == person.id)):
        session.delete(row)
    audit.record(session, me.full_name, "password changed", person.id, {})


def set_preferences(session: Session, me: CurrentPerson, data: PreferencesIn) -> None:
    person = person_of(session, me.id)
    person.units, person.pad_side = data.units, data.pad_side


def set_pin(session: Session, me: CurrentPerson, data: PinIn, keyring: Keyring) -> PersonView:
    """A new PIN is a new key and certificate; the old key can then no longer be used, its slips stay good."""
    person = person_of(session, me.id)
    if "inspector" not in person.roles and "official" not in person.roles:
        raise Refused("Only inspectors and officials sign, so only they need a PIN.")
    issue_key(session, person, data.pin, keyring)
    return person_view(person)


def issue_key(session: Session, person: Person, pin: str, keyring: Keyring) -> SigningKey:
    sealed = signing_keys.new_sealed_key(pin, keyring.pepper)
    certificate = keyring.issue_certificate(person.full_name, sealed["public_pem"], now(session))
    key = SigningKey(
        id=uuid4(),
        person=person,
        certificate_pem=certificate,
        certificate_serial=authority.serial_text(certificate),
        sealed=dict(sealed),
        issued_at=now(session),
    )
    session.add(key)
    audit.record(session, person.full_name, "signing key issued", person.id, {"serial": key.certificate_serial})
    return key


def key_to_unlock(session: Session, me: CurrentPerson, key_id: UUID | None) -> SigningKey:
    """The newest key of this person, or the one a waiting slip was numbered for."""
    throttle.check_not_blocked(session, pin_key(me))
    keys = person_of(session, me.id).keys
    if not keys:
        raise Refused("You have no PIN yet. Choose one under your name, at the top of the page, then sign.")
    if key_id is None:
        return keys[-1]
    key = next((key for key in keys if key.id == key_id), None)
    if key is None:
        raise Refused("This slip waits for the inspector who decided it. Ask them to sign it.")
    return key


def count_wrong_pin(session: Session, me: CurrentPerson) -> None:
    throttle.count_failure(session, pin_key(me))
    audit.record(session, me.full_name, "PIN refused", me.id, {})


def forget_wrong_pins(session: Session, me: CurrentPerson) -> None:
    throttle.forget_failures(session, pin_key(me))


def pin_key(me: CurrentPerson) -> str:
    return f"pin:{me.id}"


def _current(person: Person) -> CurrentPerson:
    return CurrentPerson(person.id, person.full_name, frozenset(person.roles), person.units, person.pad_side)


def _has_ended(session: Session, person: Person) -> bool:
    return person.ends_on is not None and now(session).date() > person.ends_on


def _digest(token: str) -> bytes:
    return hashlib.sha256(token.encode()).digest()


def password_fits(hashed: str, password: str) -> bool:
    try:
        with HASHING:
            return _hasher.verify(hashed, password)
    except VerifyMismatchError:
        return False


@lru_cache(maxsize=1)
def _hash_of_nothing() -> str:
    """An unknown name costs the same time as a known one."""
    return _hasher.hash(secrets.token_hex(16))
