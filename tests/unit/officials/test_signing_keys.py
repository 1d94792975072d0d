"""Inspectors' keys under PIN and pepper."""

import base64
import json
import os
from pathlib import Path

import pytest
from cryptography.hazmat.primitives import serialization

from app.errors import Unavailable
from app.officials.signing_keys import (
    SealedKey,
    UnsuitablePin,
    WrongPin,
    check_pin,
    new_sealed_key,
    read_or_create_pepper,
    reseal,
    unseal,
)

PIN = "482913"
PEPPER = bytes(range(32))


@pytest.fixture(scope="module")
def sealed() -> SealedKey:
    return new_sealed_key(PIN, PEPPER)


def public_of(private_pem: str) -> str:
    key = serialization.load_pem_private_key(private_pem.encode(), password=None)
    return (
        key.public_key()
        .public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
        .decode()
    )


def test_the_right_pin_opens_the_key_that_belongs_to_the_public_key(sealed: SealedKey) -> None:
    assert public_of(unseal(sealed, PIN, PEPPER)) == sealed["public_pem"]


def test_the_sealed_key_survives_json(sealed: SealedKey) -> None:
    assert public_of(unseal(json.loads(json.dumps(sealed)), PIN, PEPPER)) == sealed["public_pem"]


def test_nothing_of_the_private_key_or_pin_lies_open_in_the_record(sealed: SealedKey) -> None:
    text = json.dumps(sealed)
    assert "PRIVATE" not in text
    assert PIN not in text
    opened = serialization.load_pem_private_key(unseal(sealed, PIN, PEPPER).encode(), password=None)
    der = opened.private_bytes(
        serialization.Encoding.DER, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    assert base64.b64encode(der)[40:80].decode() not in text


def test_a_wrong_pin_says_so_and_names_its_field(sealed: SealedKey) -> None:
    with pytest.raises(WrongPin) as refusal:
        unseal(sealed, "482914", PEPPER)
    assert "pin" in refusal.value.errors


def test_the_right_pin_with_another_servers_secret_is_not_called_a_wrong_pin(sealed: SealedKey) -> None:
    with pytest.raises(Unavailable, match="secret file"):
        unseal(sealed, PIN, b"\1" * 32)


def test_a_thief_who_forges_the_pepper_mark_still_cannot_open_with_the_right_pin(sealed: SealedKey) -> None:
    other = b"\1" * 32
    forged = {**sealed, "pepper_mark": new_sealed_key(PIN, other)["pepper_mark"]}
    with pytest.raises(WrongPin):
        unseal(forged, PIN, other)


def test_the_key_is_bound_to_its_public_key(sealed: SealedKey) -> None:
    swapped = {**sealed, "public_pem": new_sealed_key(PIN, PEPPER)["public_pem"]}
    with pytest.raises(WrongPin):
        unseal(swapped, PIN, PEPPER)


@pytest.mark.parametrize(
    "damage",
    [
        {"format": "other/1"},
        {"sealed": "***"},
        {"nonce": "AAAA"},
        {"salt": "AAAA"},
        {"time_cost": 10_000},
        {"memory_kib": 2**31},
        {"memory_kib": 1},
        {"lanes": 0},
        {"time_cost": "many"},
    ],
)
def test_a_damaged_record_is_called_damaged_and_orders_no_endless_work(
    sealed: SealedKey, damage: dict[str, object]
) -> None:
    with pytest.raises(Unavailable, match="damaged"):
        unseal({**sealed, **damage}, PIN, PEPPER)


def test_a_record_without_a_part_is_called_damaged(sealed: SealedKey) -> None:
    parts: dict[str, object] = dict(sealed)
    del parts["nonce"]
    with pytest.raises(Unavailable, match="damaged"):
        unseal(parts, PIN, PEPPER)


def test_changing_the_pin_keeps_the_key_and_shuts_out_the_old_pin(sealed: SealedKey) -> None:
    changed = reseal(sealed, PIN, "907156", PEPPER)
    assert changed["public_pem"] == sealed["public_pem"]
    assert unseal(changed, "907156", PEPPER) == unseal(sealed, PIN, PEPPER)
    with pytest.raises(WrongPin):
        unseal(changed, PIN, PEPPER)


def test_two_keys_under_the_same_pin_share_nothing() -> None:
    one, two = new_sealed_key(PIN, PEPPER), new_sealed_key(PIN, PEPPER)
    assert one["salt"] != two["salt"]
    assert one["nonce"] != two["nonce"]
    assert one["public_pem"] != two["public_pem"]


@pytest.mark.parametrize(
    ("pin", "words"),
    [
        ("12345", "6 to 12"),
        ("1234567890123", "6 to 12"),
        ("48a913", "digits only"),
        ("４８２９１３", "digits only"),
        ("482 913", "digits only"),
        ("", "digits only"),
        ("777777", "repeats"),
        ("121212", "repeats"),
        ("123123", "repeats"),
        ("1231231", "repeats"),
        ("123456", "counts"),
        ("987654", "counts"),
        ("890123", "counts"),
        ("135791", "counts"),
        ("112211", "two different"),
    ],
)
def test_a_pin_that_would_be_guessed_first_is_refused_in_words(pin: str, words: str) -> None:
    with pytest.raises(UnsuitablePin, match=words) as refusal:
        check_pin(pin)
    assert set(refusal.value.errors) == {"pin"}


@pytest.mark.parametrize("pin", ["482913", "100742", "902817364501"])
def test_an_ordinary_pin_is_taken(pin: str) -> None:
    check_pin(pin)


def test_a_new_key_and_a_changed_pin_obey_the_same_rule(sealed: SealedKey) -> None:
    with pytest.raises(UnsuitablePin):
        new_sealed_key("000000", PEPPER)
    with pytest.raises(UnsuitablePin):
        reseal(sealed, PIN, "000000", PEPPER)


def test_the_pepper_file_is_made_once_and_only_its_owner_reads_it(tmp_path: Path) -> None:
    path = tmp_path / "keys" / "pepper"
    first = read_or_create_pepper(path)
    assert len(first) == 32
    assert path.stat().st_mode & 0o777 == 0o600
    assert read_or_create_pepper(path) == first


def test_a_pepper_file_open_to_others_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "pepper"
    read_or_create_pepper(path)
    path.chmod(0o640)
    with pytest.raises(Unavailable, match="600"):
        read_or_create_pepper(path)


def test_a_cut_pepper_file_is_refused_rather_than_replaced(tmp_path: Path) -> None:
    path = tmp_path / "pepper"
    read_or_create_pepper(path)
    os.truncate(path, 7)
    with pytest.raises(Unavailable, match="damaged"):
        read_or_create_pepper(path)


def test_a_short_pepper_is_refused() -> None:
    with pytest.raises(ValueError, match="16 random bytes"):
        new_sealed_key(PIN, b"short")
