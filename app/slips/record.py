"""The record a slip or a notice carries: one canonical form, its digest, and the short code people type."""

import hashlib
import json
import unicodedata
from collections.abc import Mapping
from typing import Any
from uuid import UUID

import rfc8785

FORMAT = "shedbook-record/1"
NOTICE_FORMAT = "shedbook-notice/1"
CODE_LENGTH = 8
# Crockford's base 32: no I, L, O, U, so that no letter is taken for a digit over the telephone.
ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_ALIKE = str.maketrans("OIL", "011")


class RecordError(ValueError):
    """Bytes that are not the canonical form of a slip's or a notice's record."""


def canonical_bytes(record: Mapping[str, Any]) -> bytes:
    """RFC 8785. Measures are decimal strings: a float would lose its trailing zeros, and with them the resolution."""
    _refuse_floats(record)
    return rfc8785.dumps(dict(record))


def record_digest(canonical: bytes) -> str:
    return hashlib.sha256(canonical).hexdigest()


def read_record(canonical: bytes) -> dict[str, Any]:
    """Reads a record back and insists that the bytes are its one canonical form."""
    try:
        record = json.loads(
            canonical.decode("utf-8"),
            object_pairs_hook=_without_doubles,
            parse_float=_no_float,
            parse_constant=_no_float,
        )
        if not isinstance(record, dict) or record.get("format") not in (FORMAT, NOTICE_FORMAT):
            raise RecordError("not a record of this format")
        again = canonical_bytes(record)
    except (ValueError, RecursionError, rfc8785.CanonicalizationError) as problem:
        raise RecordError(str(problem)) from problem
    if again != canonical:
        raise RecordError("not in canonical form")
    return record


def slip_code(slip_id: UUID) -> str:
    """Eight characters that find a slip or notice; made of the id: a tablet can show it before the server has it."""
    bits = int.from_bytes(hashlib.sha256(slip_id.bytes).digest()[:5], "big")
    return "".join(ALPHABET[bits >> shift & 31] for shift in range(35, -1, -5))


def normalise_code(typed: str) -> str:
    """What somebody read aloud or typed: case, spaces, dashes, O for 0, I or L for 1 make no difference."""
    plain = unicodedata.normalize("NFKC", typed).upper()
    return "".join(sign for sign in plain if sign.isalnum()).translate(_ALIKE)


def _refuse_floats(value: object) -> None:
    if isinstance(value, float):
        raise TypeError(f"A record holds decimal strings, not the float {value!r}.")
    if isinstance(value, Mapping):
        for inner in value.values():
            _refuse_floats(inner)
    elif isinstance(value, list | tuple):
        for inner in value:
            _refuse_floats(inner)


def _without_doubles(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise RecordError("the same name twice")
    return found


def _no_float(text: str) -> float:
    raise RecordError(f"a bare number with a fraction: {text[:40]}")
