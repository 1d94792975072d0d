"""The record's canonical form and the slip's code."""

import hashlib
from uuid import UUID

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.slips.record import (
    ALPHABET,
    FORMAT,
    RecordError,
    canonical_bytes,
    normalise_code,
    read_record,
    record_digest,
    slip_code,
)


def test_names_are_sorted_and_no_space_is_left_as_rfc_8785_wants() -> None:
    # RFC 8785, section 3.2.3: members sorted by UTF-16 code units; 3.2.1: no whitespace.
    assert (
        canonical_bytes({"b": "2", "a": ["x", None, True], "é": "ü"})
        == '{"a":["x",null,true],"b":"2","é":"ü"}'.encode()
    )


def test_the_digest_is_sha256_of_the_canonical_bytes() -> None:
    # SHA-256 of "{}", as any other program computes it.
    assert record_digest(canonical_bytes({})) == "44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a"


@pytest.mark.parametrize("record", [{"a": 1.5}, {"a": [{"b": 2.0}]}, {"a": ({"b": 0.1},)}])
def test_a_float_is_refused_wherever_it_hides(record: dict[str, object]) -> None:
    with pytest.raises(TypeError, match="decimal strings"):
        canonical_bytes(record)


def test_a_record_read_back_is_the_record_written() -> None:
    record = {"format": FORMAT, "x": {"limit": "10.50", "seals": ["1", "2"], "none": None, "yes": True}}
    assert read_record(canonical_bytes(record)) == record


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"null",
        b"[]",
        b"{}",
        b'{"format":"other/1"}',
        b'{"format": "shedbook-record/1"}',
        b'{"format":"shedbook-record/1","format":"shedbook-record/1"}',
        b'{"b":"1","a":"2","format":"shedbook-record/1"}',
        b'{"a":1.5,"format":"shedbook-record/1"}',
        b'{"a":NaN,"format":"shedbook-record/1"}',
        b'{"a":99999999999999999999,"format":"shedbook-record/1"}',
        b'\xff\xfe{"format":"shedbook-record/1"}',
        b"[" * 100_000,
    ],
)
def test_bytes_that_are_not_the_one_canonical_form_are_not_a_record(data: bytes) -> None:
    with pytest.raises(RecordError):
        read_record(data)


@given(st.binary(max_size=200))
def test_any_bytes_are_either_a_record_or_refused(data: bytes) -> None:
    with pytest.raises(RecordError):
        read_record(data)


def test_the_code_is_eight_signs_made_of_the_first_forty_bits_of_the_ids_digest() -> None:
    slip_id = UUID("0192a1b2-c3d4-7e5f-8a9b-0c1d2e3f4a5b")
    number = int(hashlib.sha256(slip_id.bytes).hexdigest()[:10], 16)
    value = 0
    for sign in slip_code(slip_id):
        value = value * 32 + ALPHABET.index(sign)
    assert value == number
    assert len(slip_code(slip_id)) == 8


@given(st.uuids())
def test_a_code_survives_being_read_aloud_and_typed(slip_id: UUID) -> None:
    code = slip_code(slip_id)
    assert not set(code) & set("ILOU")
    spoken = code.lower().replace("0", "o").replace("1", "l")
    assert normalise_code(f" {spoken[:4]}-{spoken[4:]} ") == code
    assert normalise_code(code.replace("1", "I")) == code


def test_odd_spaces_dashes_and_full_width_signs_make_no_difference() -> None:
    assert normalise_code("７k3q\u2013f2\u00a0zd") == "7K3QF2ZD"


@given(st.text(max_size=60))
def test_anything_typed_can_be_normalised_and_twice_is_once(typed: str) -> None:
    once = normalise_code(typed)
    assert normalise_code(once) == once
