"""The series authority and the certificates it issues."""

from datetime import UTC, datetime, timedelta, timezone

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtensionOID, NameOID

from app.officials.authority import create_authority, fingerprint, issue_certificate, private_key_pem, serial_text

NOW = datetime(2026, 2, 1, 9, 30, 15, 999, tzinfo=UTC)


def public_pem() -> str:
    return (
        ec.generate_private_key(ec.SECP256R1())
        .public_key()
        .public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
        .decode()
    )


def loaded(pem: str) -> x509.Certificate:
    return x509.load_pem_x509_certificate(pem.encode())


@pytest.fixture(scope="module")
def authority() -> tuple[str, str]:
    return create_authority("Northfell Kart Series", NOW)


def test_the_authority_is_p256_speaks_for_its_series_and_lasts_25_years(authority: tuple[str, str]) -> None:
    certificate = loaded(authority[0])
    assert isinstance(certificate.public_key(), ec.EllipticCurvePublicKey)
    assert certificate.public_key().curve.name == "secp256r1"
    assert certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value == "Northfell Kart Series"
    assert certificate.not_valid_before_utc == datetime(2026, 2, 1, 9, 30, 15, tzinfo=UTC)
    assert certificate.not_valid_after_utc == datetime(2051, 2, 1, 9, 30, 15, tzinfo=UTC)
    basic = certificate.extensions.get_extension_for_class(x509.BasicConstraints)
    assert basic.critical
    assert (basic.value.ca, basic.value.path_length) == (True, 0)
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage).value
    assert usage.key_cert_sign
    assert usage.crl_sign
    assert not usage.digital_signature


def test_an_inspectors_certificate_is_for_signing_and_chains_to_the_authority(
    authority: tuple[str, str],
) -> None:
    certificate = loaded(issue_certificate(*authority, "Ilse Vandermoor", public_pem(), NOW))
    certificate.verify_directly_issued_by(loaded(authority[0]))
    assert certificate.not_valid_after_utc.year == 2041
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage)
    assert usage.critical
    assert usage.value.digital_signature
    assert usage.value.content_commitment
    assert not usage.value.key_cert_sign
    # RFC 9336, section 3.1: id-kp-documentSigning is 1.3.6.1.5.5.7.3.36; RFC 5280, 4.2.1.12: emailProtection is ….3.4.
    extended = certificate.extensions.get_extension_for_oid(ExtensionOID.EXTENDED_KEY_USAGE).value
    assert [use.dotted_string for use in extended] == ["1.3.6.1.5.5.7.3.36", "1.3.6.1.5.5.7.3.4"]
    basic = certificate.extensions.get_extension_for_class(x509.BasicConstraints).value
    assert not basic.ca


def test_a_certificate_never_outlives_its_authority(authority: tuple[str, str]) -> None:
    late = NOW + timedelta(days=365 * 20)
    certificate = loaded(issue_certificate(*authority, "Ilse Vandermoor", public_pem(), late))
    assert certificate.not_valid_after_utc == loaded(authority[0]).not_valid_after_utc


def test_an_authority_made_on_29_february_ends_on_the_28th() -> None:
    certificate = loaded(create_authority("Leap Cup", datetime(2028, 2, 29, 12, tzinfo=UTC))[0])
    assert certificate.not_valid_after_utc == datetime(2053, 2, 28, 12, tzinfo=UTC)


def test_local_time_is_turned_into_utc_and_a_time_without_zone_is_refused() -> None:
    local = datetime(2026, 2, 1, 1, 0, tzinfo=timezone(timedelta(hours=2)))
    assert loaded(create_authority("X", local)[0]).not_valid_before_utc == datetime(2026, 1, 31, 23, 0, tzinfo=UTC)
    with pytest.raises(ValueError, match="time zone"):
        create_authority("X", datetime(2026, 2, 1))  # noqa: DTZ001


@pytest.mark.parametrize("name", ["Fjordløpet Åpen Klasse – 北部選手権", "A" * 64, "O'Hara, R=1; <b>"])
def test_names_are_kept_as_they_are_written(name: str) -> None:
    certificate = loaded(create_authority(name, NOW)[0])
    assert certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value == name


def test_a_name_longer_than_a_certificate_can_hold_is_cut_with_a_mark_and_no_name_is_refused() -> None:
    # RFC 5280, appendix A.1: ub-common-name is 64.
    name = loaded(create_authority("B" * 80, NOW)[0]).subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value
    assert name == "B" * 61 + "…"
    long_name = "北" * 30
    name = loaded(create_authority(long_name, NOW)[0]).subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value
    assert name == "北" * 20 + "…"
    with pytest.raises(ValueError, match="needs a name"):
        create_authority(" \n ", NOW)


def test_another_authoritys_key_cannot_issue_in_this_ones_name(authority: tuple[str, str]) -> None:
    stranger = create_authority("Northfell Kart Series", NOW)
    with pytest.raises(ValueError, match="does not belong"):
        issue_certificate(authority[0], stranger[1], "Ilse Vandermoor", public_pem(), NOW)


def test_an_authority_not_in_force_issues_nothing(authority: tuple[str, str]) -> None:
    with pytest.raises(ValueError, match="not in force"):
        issue_certificate(*authority, "Ilse Vandermoor", public_pem(), NOW - timedelta(days=1))


def test_every_certificate_has_its_own_serial_and_the_slip_prints_it_in_hexadecimal(authority: tuple[str, str]) -> None:
    issued = [issue_certificate(*authority, "Ilse Vandermoor", public_pem(), NOW) for _ in range(3)]
    serials = {serial_text(pem) for pem in issued}
    assert len(serials) == 3
    assert serial_text(issued[0]) == f"{loaded(issued[0]).serial_number:x}"


def test_the_fingerprint_reads_in_groups_of_four_and_differs_between_authorities(authority: tuple[str, str]) -> None:
    text = fingerprint(authority[0])
    assert len(text.split()) == 16
    assert all(len(group) == 4 for group in text.split())
    assert text != fingerprint(create_authority("Northfell Kart Series", NOW)[0])


def test_only_elliptic_curve_keys_are_certified(authority: tuple[str, str]) -> None:
    from cryptography.hazmat.primitives.asymmetric import rsa

    rsa_public = (
        rsa.generate_private_key(65537, 2048)
        .public_key()
        .public_bytes(serialization.Encoding.PEM, serialization.PublicFormat.SubjectPublicKeyInfo)
        .decode()
    )
    with pytest.raises(TypeError, match="P-256"):
        issue_certificate(*authority, "Ilse Vandermoor", rsa_public, NOW)


def test_the_private_key_text_reads_back_as_the_same_key() -> None:
    key = ec.generate_private_key(ec.SECP256R1())
    again = serialization.load_pem_private_key(private_key_pem(key).encode(), password=None)
    assert isinstance(again, ec.EllipticCurvePrivateKey)
    assert again.private_numbers() == key.private_numbers()
