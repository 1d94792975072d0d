"""Do the signatures of a file hold? One path for slips and notices, as of the moment of signing.

Only slip workers and the command line import this: it is heavy.
"""

from datetime import UTC, datetime
from typing import Any

from asn1crypto import x509
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.diff_analysis import ModificationLevel
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature
from pyhanko.sign.validation.status import PdfSignatureStatus, SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

from app.slips.findings import Finding

WHOLE_FILE = "Does the signature cover the whole file?"
INTACT = "Is the signature intact?"
AUTHORITY = "Did this series' authority certify who signed, and was that in force at signing?"


class SignedFile:
    """The parts of one file while it is judged."""

    def __init__(
        self,
        pdf: bytes,
        digest: str,
        authority: x509.Certificate,
        reader: PdfFileReader,
        signatures: list[EmbeddedPdfSignature],
        attached: list[bytes],
    ) -> None:
        self.pdf, self.digest, self.authority, self.reader = pdf, digest, authority, reader
        self.signatures, self.attached = signatures, attached
        self.record: dict[str, Any] | None = None
        self.signer, self.signed_at = "", None  # type: str, datetime | None


def signature_findings(file: SignedFile) -> list[Finding]:
    questions = (WHOLE_FILE, INTACT, AUTHORITY)
    if not file.signatures:
        return [Finding(question, False, "No: the file carries no signature.") for question in questions]
    try:
        checked = [(signature, _status(signature, file.authority)) for signature in file.signatures]
    except Exception:  # see verification
        return [Finding(question, False, "No: the signature is damaged and cannot be read.") for question in questions]
    first = file.signatures[0]
    file.signer = str(first.signer_cert.subject.native.get("common_name", ""))
    file.signed_at = _signed_at(first)
    return [_whole_file(file, checked), _intact(file, checked), _authority(file, checked)]


def _whole_file(file: SignedFile, checked: list[tuple[EmbeddedPdfSignature, PdfSignatureStatus]]) -> Finding:
    if len(checked) != 1:  # a second one is lawful in a PDF, and may bring along what is drawn over the page
        return Finding(WHOLE_FILE, False, f"No: the file carries {len(checked)} signatures, and it should carry one.")
    last = checked[-1][1]
    if last.coverage != SignatureCoverageLevel.ENTIRE_FILE:
        return Finding(WHOLE_FILE, False, "No: something was added to the file after it was signed.")
    if any(status.coverage < SignatureCoverageLevel.ENTIRE_REVISION for _, status in checked):
        return Finding(WHOLE_FILE, False, "No: a signature leaves a part of the file uncovered.")
    if not all(_container_is_plain(file.pdf, signature) for signature in file.signatures):
        return Finding(WHOLE_FILE, False, "No: the place that holds the signature holds something else besides.")
    return Finding(WHOLE_FILE, True, "Yes, from the first byte to the last.")


def _intact(file: SignedFile, checked: list[tuple[EmbeddedPdfSignature, PdfSignatureStatus]]) -> Finding:
    for _, status in checked:
        if not (status.intact and status.valid):
            return Finding(INTACT, False, "No: at least one byte differs from what was signed.")
        level = status.modification_level
        if status.docmdp_ok is False or (level is not None and level > ModificationLevel.FORM_FILLING):
            return Finding(INTACT, False, "No: the file was changed after it was signed, in a way that is not allowed.")
    return Finding(INTACT, True, "Yes: what was signed is unchanged.")


def _authority(file: SignedFile, checked: list[tuple[EmbeddedPdfSignature, PdfSignatureStatus]]) -> Finding:
    if file.signed_at is None:
        return Finding(AUTHORITY, False, "No: the signature does not say when it was made.")
    for signature, status in checked:
        strangers = [other for other in signature.other_embedded_certs if other.dump() != file.authority.dump()]
        if not status.trusted or strangers:
            return Finding(
                AUTHORITY, False, "No: the certificate does not come from this series' authority, or was not in force."
            )
    when = file.signed_at.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    return Finding(AUTHORITY, True, f"Yes: {file.signer}, certified by this series and in force on {when}.")


def _status(signature: EmbeddedPdfSignature, authority: x509.Certificate) -> PdfSignatureStatus:
    moment = _signed_at(signature)
    # Judged as of the signing: the certificate ends one day, what was signed under it does not.
    context = ValidationContext(trust_roots=[authority], allow_fetching=False, moment=moment)
    return validate_pdf_signature(signature, context)


def _signed_at(signature: EmbeddedPdfSignature) -> datetime | None:
    reported = signature.self_reported_timestamp
    return reported if reported is None or reported.tzinfo else reported.replace(tzinfo=UTC)


def _container_is_plain(pdf: bytes, signature: EmbeddedPdfSignature) -> bool:
    """The hole in the byte range is outside every PDF signature: it must hold the signature, then zeros, no more."""
    start, length, resume, _ = (int(value) for value in signature.byte_range)
    hole = pdf[start + length : resume]
    content = signature.pkcs7_content
    written = content[: _der_length(content)].hex().ljust(len(hole) - 2, "0")
    unsigned = signature.signer_info["unsigned_attrs"].native
    return not unsigned and hole in {f"<{digits}>".encode() for digits in (written, written.upper())}


def _der_length(der: bytes) -> int:
    if der[1] < 0x80:
        return 2 + der[1]
    octets = der[1] & 0x7F
    return 2 + octets + int.from_bytes(der[2 : 2 + octets], "big")
