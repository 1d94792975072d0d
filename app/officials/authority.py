"""A series' own certificate authority: its certificates say which inspector's key signed a slip, decades later."""

import re
from datetime import UTC, datetime, timedelta

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_YEARS = 25
INSPECTOR_YEARS = 15
# Longest common name a certificate may carry: RFC 5280, appendix A.1, ub-common-name; counted here in UTF-8 bytes.
COMMON_NAME_BYTES = 64
# id-kp-documentSigning: RFC 9336, section 3.1.
# Readers built on NSS (pdfsig) know no such use yet and trust only a certificate that may also sign mail.
DOCUMENT_SIGNING = x509.ObjectIdentifier("1.3.6.1.5.5.7.3.36")


def create_authority(name: str, now: datetime) -> tuple[str, str]:
    """Certificate and private key (both PEM) of a new authority; the key belongs off the server after the ceremony."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = _name(name)
    begins = _whole_second(now)
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(_years_later(begins, AUTHORITY_YEARS))
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(_key_usage(signs_certificates=True), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return _pem(certificate), private_key_pem(key)


def issue_certificate(
    authority_cert: str,
    authority_key: str,
    person_name: str,
    public_key: str,
    now: datetime,
    *,
    years: int = INSPECTOR_YEARS,
) -> str:
    """A certificate (PEM) for one inspector's public key (PEM); it never outlives the authority's own."""
    issuer = x509.load_pem_x509_certificate(authority_cert.encode())
    issuer_key = serialization.load_pem_private_key(authority_key.encode(), password=None)
    holder_key = serialization.load_pem_public_key(public_key.encode())
    if not isinstance(issuer_key, ec.EllipticCurvePrivateKey) or not isinstance(holder_key, ec.EllipticCurvePublicKey):
        raise TypeError("Series authorities and inspectors sign with P-256 keys.")
    if issuer_key.public_key() != issuer.public_key():
        raise ValueError("This private key does not belong to this authority's certificate.")
    begins = _whole_second(now)
    if not issuer.not_valid_before_utc <= begins < issuer.not_valid_after_utc:
        raise ValueError("The authority's own certificate is not in force at this moment; check the clock.")
    certificate = (
        x509.CertificateBuilder()
        .subject_name(_name(person_name))
        .issuer_name(issuer.subject)
        .public_key(holder_key)
        .serial_number(x509.random_serial_number())
        .not_valid_before(begins)
        .not_valid_after(min(_years_later(begins, years), issuer.not_valid_after_utc))
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(_key_usage(signs_certificates=False), critical=True)
        .add_extension(x509.ExtendedKeyUsage([DOCUMENT_SIGNING, ExtendedKeyUsageOID.EMAIL_PROTECTION]), critical=False)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(holder_key), critical=False)
        .add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(issuer_key.public_key()), critical=False)
        .sign(issuer_key, hashes.SHA256())
    )
    return _pem(certificate)


def private_key_pem(key: ec.EllipticCurvePrivateKey) -> str:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    ).decode()


def fingerprint(certificate: str) -> str:
    """SHA-256 of the certificate in groups of four, as printed in the rule book and read out over the telephone."""
    digest = x509.load_pem_x509_certificate(certificate.encode()).fingerprint(hashes.SHA256()).hex().upper()
    return " ".join(re.findall("....", digest))


def serial_text(certificate: str) -> str:
    """The serial number in lower-case hexadecimal, as the slip prints it."""
    return f"{x509.load_pem_x509_certificate(certificate.encode()).serial_number:x}"


def _name(text: str) -> x509.Name:
    common_name = " ".join(text.split())
    if not common_name:
        raise ValueError("A certificate needs a name to speak for.")
    if len(common_name.encode()) > COMMON_NAME_BYTES:
        while len(f"{common_name}…".encode()) > COMMON_NAME_BYTES:
            common_name = common_name[:-1].rstrip()
        common_name += "…"
    return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, common_name)])


def _key_usage(*, signs_certificates: bool) -> x509.KeyUsage:
    # contentCommitment on inspectors: readers that judge a signature as a declaration of will demand it.
    return x509.KeyUsage(
        digital_signature=not signs_certificates,
        content_commitment=not signs_certificates,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=signs_certificates,
        crl_sign=signs_certificates,
        encipher_only=False,
        decipher_only=False,
    )


def _whole_second(moment: datetime) -> datetime:
    # A naive time would silently be taken as UTC; certificates outlive such mistakes.
    if moment.tzinfo is None:
        raise ValueError("A certificate needs a time with its time zone.")
    return moment.astimezone(UTC).replace(microsecond=0)


def _years_later(moment: datetime, years: int) -> datetime:
    try:
        return moment.replace(year=moment.year + years)
    except ValueError:  # 29 February
        return (moment - timedelta(days=1)).replace(year=moment.year + years)


def _pem(certificate: x509.Certificate) -> str:
    return certificate.public_bytes(serialization.Encoding.PEM).decode()
