"""An inspector's private key, sealed so that neither the database alone nor the PIN alone can open it."""

import base64
import hashlib
import os
import stat
from collections.abc import Mapping
from itertools import pairwise
from pathlib import Path
from typing import TypedDict

from argon2.low_level import Type, hash_secret_raw
from cryptography.exceptions import InvalidTag
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF

from app.errors import Invalid, Refused, Unavailable
from app.officials.authority import private_key_pem

FORMAT = "shedbook-key/1"
PEPPER_BYTES = 32
PIN_SHORTEST, PIN_LONGEST = 6, 12
# RFC 9106, section 4, second recommended option: 64 MiB, 3 passes, 4 lanes.
TIME_COST, MEMORY_KIB, LANES = 3, 65536, 4
# A record from elsewhere must not be able to order more work than this.
MOST_TIME_COST, MOST_MEMORY_KIB, MOST_LANES = 16, 1_048_576, 16


class SealedKey(TypedDict):
    """Plain JSON types: this is what the database keeps."""

    format: str
    public_pem: str
    salt: str
    nonce: str
    sealed: str
    time_cost: int
    memory_kib: int
    lanes: int
    pepper_mark: str


class WrongPin(Refused):
    """The PIN does not open this key; nothing else is said, and nothing else could be."""

    def __init__(self) -> None:
        super().__init__("This PIN does not open your signing key. Type it again.", {"pin": "This PIN does not fit."})


class UnsuitablePin(Invalid):
    """A PIN that would be guessed first."""

    def __init__(self, sentence: str) -> None:
        super().__init__({"pin": sentence})


def check_pin(pin: str) -> None:
    """Refuses what a rival would try first; the pepper and the counted tries do the rest."""
    if not (pin.isascii() and pin.isdigit()):
        raise UnsuitablePin("Use digits only for the PIN.")
    if not PIN_SHORTEST <= len(pin) <= PIN_LONGEST:
        raise UnsuitablePin(f"Choose a PIN of {PIN_SHORTEST} to {PIN_LONGEST} digits; this one has {len(pin)}.")
    for length in range(1, len(pin) // 2 + 1):
        if (pin[:length] * len(pin))[: len(pin)] == pin:
            raise UnsuitablePin("This PIN repeats itself and would be guessed first. Mix the digits more.")
    steps = {(int(right) - int(left)) % 10 for left, right in pairwise(pin)}
    if len(steps) == 1:
        raise UnsuitablePin("This PIN counts up or down in even steps and would be guessed first. Mix the digits more.")
    if len(set(pin)) < 3:
        raise UnsuitablePin("This PIN uses only two different digits. Use at least three.")


def new_sealed_key(pin: str, pepper: bytes) -> SealedKey:
    """Makes a P-256 key that only this PIN together with this server's pepper can open."""
    check_pin(pin)
    key = ec.generate_private_key(ec.SECP256R1())
    return _seal(key, pin, pepper)


def reseal(sealed: Mapping[str, object], old_pin: str, new_pin: str, pepper: bytes) -> SealedKey:
    """The same key under another PIN; the certificate stays as it is."""
    check_pin(new_pin)
    return _seal(_open(sealed, old_pin, pepper), new_pin, pepper)


def unseal(sealed: Mapping[str, object], pin: str, pepper: bytes) -> str:
    """The private key (PEM). Keep it no longer than one signature takes."""
    return private_key_pem(_open(sealed, pin, pepper))


def read_or_create_pepper(path: Path) -> bytes:
    """The server's secret: 32 random bytes in a file of mode 0600 outside the database and its backups."""
    try:
        handle = os.open(path, os.O_RDONLY)
    except FileNotFoundError:
        path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
        with os.fdopen(handle, "wb") as file:
            pepper = os.urandom(PEPPER_BYTES)
            file.write(pepper)
            file.flush()
            os.fsync(file.fileno())
        return pepper
    with os.fdopen(handle, "rb") as file:
        if stat.S_IMODE(os.fstat(file.fileno()).st_mode) & 0o077:
            raise Unavailable(f"Others can read {path}. Set its mode to 600, then start again.")
        pepper = file.read()
    if len(pepper) != PEPPER_BYTES:
        raise Unavailable(f"{path} is damaged. Put back the copy from your safe; without it no signing key opens.")
    return pepper


def _seal(key: ec.EllipticCurvePrivateKey, pin: str, pepper: bytes) -> SealedKey:
    salt, nonce = os.urandom(16), os.urandom(12)
    public_pem = (
        key.public_key()
        .public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
        .decode()
    )
    plain = key.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    wrap = _wrapping_key(pin, pepper, salt, (TIME_COST, MEMORY_KIB, LANES))
    return SealedKey(
        format=FORMAT,
        public_pem=public_pem,
        salt=_text(salt),
        nonce=_text(nonce),
        sealed=_text(AESGCM(wrap).encrypt(nonce, plain, _bound_to(public_pem))),
        time_cost=TIME_COST,
        memory_kib=MEMORY_KIB,
        lanes=LANES,
        pepper_mark=_pepper_mark(pepper),
    )


def _open(sealed: Mapping[str, object], pin: str, pepper: bytes) -> ec.EllipticCurvePrivateKey:
    try:
        public_pem, mark, kind = str(sealed["public_pem"]), str(sealed["pepper_mark"]), sealed["format"]
        salt, nonce, box = (base64.b64decode(str(sealed[name]), validate=True) for name in ("salt", "nonce", "sealed"))
        time_cost, memory_kib, lanes = (int(str(sealed[name])) for name in ("time_cost", "memory_kib", "lanes"))
    except (KeyError, ValueError) as problem:
        raise Unavailable("This signing key's record is damaged. Have a new key issued.") from problem
    in_bounds = 1 <= time_cost <= MOST_TIME_COST and 1 <= lanes <= MOST_LANES and 8 * lanes <= memory_kib
    if kind != FORMAT or not in_bounds or memory_kib > MOST_MEMORY_KIB or len(nonce) != 12 or len(salt) < 16:
        raise Unavailable("This signing key's record is damaged. Have a new key issued.")
    if mark != _pepper_mark(pepper):
        # Otherwise every right PIN would be called wrong after a restore without the pepper file.
        raise Unavailable("This key was sealed with another server's secret file. Put it back, or issue a new key.")
    wrap = _wrapping_key(pin, pepper, salt, (time_cost, memory_kib, lanes))
    try:
        plain = AESGCM(wrap).decrypt(nonce, box, _bound_to(public_pem))
    except InvalidTag:
        raise WrongPin from None
    key = serialization.load_der_private_key(plain, password=None)
    if not isinstance(key, ec.EllipticCurvePrivateKey):
        raise Unavailable("This signing key's record is damaged. Have a new key issued.")
    return key


def _wrapping_key(pin: str, pepper: bytes, salt: bytes, cost: tuple[int, int, int]) -> bytes:
    time_cost, memory_kib, lanes = cost
    stretched = hash_secret_raw(
        pin.encode(), salt, time_cost=time_cost, memory_cost=memory_kib, parallelism=lanes, hash_len=32, type=Type.ID
    )
    # The pepper goes in as HKDF's salt: without it, the stretched PIN is useless, however weak the PIN.
    return HKDF(algorithm=hashes.SHA256(), length=32, salt=pepper, info=FORMAT.encode()).derive(stretched)


def _pepper_mark(pepper: bytes) -> str:
    if len(pepper) < 16:
        raise ValueError("The server's secret must be at least 16 random bytes.")
    return hashlib.sha256(b"shedbook pepper mark\0" + pepper).hexdigest()[:16]


def _bound_to(public_pem: str) -> bytes:
    return f"{FORMAT}\n{public_pem}".encode()


def _text(raw: bytes) -> str:
    return base64.b64encode(raw).decode()
