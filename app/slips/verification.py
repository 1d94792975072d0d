"""Is this file the slip that was signed? Every promise is looked at on its own and answered in words.

Never raises, whatever it is given. Only slip workers and the command line import this: it is heavy, and an upload may
be built to harm, so the web process leaves it to a worker with a time limit.
"""

import hashlib
import logging
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime
from io import BytesIO
from itertools import pairwise
from typing import Any

from asn1crypto import pem, x509
from pyhanko.pdf_utils.reader import PdfFileReader
from pyhanko.sign.diff_analysis import ModificationLevel
from pyhanko.sign.validation import validate_pdf_signature
from pyhanko.sign.validation.pdf_embedded import EmbeddedPdfSignature
from pyhanko.sign.validation.status import PdfSignatureStatus, SignatureCoverageLevel
from pyhanko_certvalidator import ValidationContext

from app.slips.findings import ALTERED, GENUINE, NOT_A_SLIP, STORED, Finding, SlipVerification
from app.slips.printed import is_shown, printed_runs, without_spaces
from app.slips.recomputation import QUESTION as VERDICT_FOLLOWS
from app.slips.recomputation import recomputed_verdict
from app.slips.record import RecordError, read_record

ATTACHMENT = "record.json"
LARGEST_SLIP_BYTES = 8 * 1024 * 1024

WHOLE_FILE = "Does the signature cover the whole file?"
INTACT = "Is the signature intact?"
AUTHORITY = "Did this series' authority certify the inspector, and was that in force at signing?"
INSPECTOR = "Is it signed by the inspector it names?"
RECORD = "Is the record inside the file whole?"
PRINTED = "Do the pages show what the record says?"


def verify_slip(pdf: bytes, authority_pem: str, expected_sha256: str | None = None) -> SlipVerification:
    """Answers every question; `genuine` only when none is answered with no and none that matters stays open."""
    digest = hashlib.sha256(pdf).hexdigest()
    if len(pdf) > LARGEST_SLIP_BYTES:
        return _not_a_slip(digest, "The file is far larger than any slip.")
    with _quiet():
        try:
            authority = x509.Certificate.load(pem.unarmor(authority_pem.encode())[2])
            reader = PdfFileReader(BytesIO(pdf))
            signatures = list(reader.embedded_signatures)
            attached = _attachments(reader)
        except Exception:  # a damaged file can fail anywhere inside the PDF library
            return _unreadable(digest, pdf)
        if not attached and not signatures:
            return _not_a_slip(digest, "It is a PDF, but it carries neither a record nor a signature.")
        return _judge(_Slip(pdf, digest, authority, reader, signatures, attached), expected_sha256)


class _Slip:
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


def _judge(slip: _Slip, expected_sha256: str | None) -> SlipVerification:
    findings = [*_signature_findings(slip), _record_finding(slip), *_content_findings(slip)]
    if expected_sha256 is not None:
        same = expected_sha256.lower() == slip.digest
        words = "Yes, byte for byte." if same else "No: the logbook keeps another file under this number."
        findings.append(Finding(STORED, same, words))
    genuine = all(
        finding.holds or (finding.holds is None and finding.question == VERDICT_FOLLOWS) for finding in findings
    )
    return SlipVerification(
        genuine, GENUINE if genuine else ALTERED, tuple(findings), slip.digest, slip.record, slip.signer, slip.signed_at
    )


def _signature_findings(slip: _Slip) -> list[Finding]:
    questions = (WHOLE_FILE, INTACT, AUTHORITY)
    if not slip.signatures:
        return [Finding(question, False, "No: the file carries no signature.") for question in questions]
    try:
        checked = [(signature, _status(signature, slip.authority)) for signature in slip.signatures]
    except Exception:  # see verify_slip
        return [Finding(question, False, "No: the signature is damaged and cannot be read.") for question in questions]
    first = slip.signatures[0]
    slip.signer = str(first.signer_cert.subject.native.get("common_name", ""))
    slip.signed_at = _signed_at(first)
    return [_whole_file(slip, checked), _intact(slip, checked), _authority(slip, checked)]


def _whole_file(slip: _Slip, checked: list[tuple[EmbeddedPdfSignature, PdfSignatureStatus]]) -> Finding:
    if len(checked) != 1:  # a second one is lawful in a PDF, and may bring along what is drawn over the page
        return Finding(WHOLE_FILE, False, f"No: the file carries {len(checked)} signatures, and a slip one.")
    last = checked[-1][1]
    if last.coverage != SignatureCoverageLevel.ENTIRE_FILE:
        return Finding(WHOLE_FILE, False, "No: something was added to the file after it was signed.")
    if any(status.coverage < SignatureCoverageLevel.ENTIRE_REVISION for _, status in checked):
        return Finding(WHOLE_FILE, False, "No: a signature leaves a part of the file uncovered.")
    if not all(_container_is_plain(slip.pdf, signature) for signature in slip.signatures):
        return Finding(WHOLE_FILE, False, "No: the place that holds the signature holds something else besides.")
    return Finding(WHOLE_FILE, True, "Yes, from the first byte to the last.")


def _intact(slip: _Slip, checked: list[tuple[EmbeddedPdfSignature, PdfSignatureStatus]]) -> Finding:
    for _, status in checked:
        if not (status.intact and status.valid):
            return Finding(INTACT, False, "No: at least one byte differs from what was signed.")
        level = status.modification_level
        if status.docmdp_ok is False or (level is not None and level > ModificationLevel.FORM_FILLING):
            return Finding(INTACT, False, "No: the file was changed after it was signed, in a way that is not allowed.")
    return Finding(INTACT, True, "Yes: what was signed is unchanged.")


def _authority(slip: _Slip, checked: list[tuple[EmbeddedPdfSignature, PdfSignatureStatus]]) -> Finding:
    if slip.signed_at is None:
        return Finding(AUTHORITY, False, "No: the signature does not say when it was made.")
    for signature, status in checked:
        strangers = [other for other in signature.other_embedded_certs if other.dump() != slip.authority.dump()]
        if not status.trusted or strangers:
            return Finding(
                AUTHORITY, False, "No: the certificate does not come from this series' authority, or was not in force."
            )
    when = slip.signed_at.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    return Finding(AUTHORITY, True, f"Yes: {slip.signer}, certified by this series and in force on {when}.")


def _record_finding(slip: _Slip) -> Finding:
    if len(slip.attached) != 1:
        words = "No: the file carries no record." if not slip.attached else "No: the file carries more than one record."
        return Finding(RECORD, False, words)
    try:
        slip.record = read_record(slip.attached[0])
    except RecordError:
        return Finding(RECORD, False, "No: the record is not in the one form that a slip's record has.")
    return Finding(RECORD, True, "Yes: it is there, once, in its one canonical form.")


def _content_findings(slip: _Slip) -> Iterator[Finding]:
    checks = ((INSPECTOR, _named_inspector), (PRINTED, _printed), (VERDICT_FOLLOWS, _verdict))
    for question, check in checks:
        if slip.record is None:
            yield Finding(question, False, "No: without the record this cannot be shown.")
            continue
        try:
            yield check(slip, slip.record)
        except Exception:  # a record of the right format may still lack any part
            yield Finding(question, False, "No: the record or the page lacks a part that every slip has.")


def _named_inspector(slip: _Slip, record: Mapping[str, Any]) -> Finding:
    inspector = record["inspector"]
    certificate = slip.signatures[0].signer_cert
    if inspector["certificate_serial"] != f"{certificate.serial_number:x}":
        return Finding(INSPECTOR, False, "No: it names one certificate and is signed with another.")
    # The name in a certificate may have been cut to fit.
    if not str(inspector["name"]).startswith(slip.signer.removesuffix("…")):
        return Finding(INSPECTOR, False, f"No: it names {inspector['name']}, but {slip.signer} signed it.")
    return Finding(INSPECTOR, True, f"Yes: {inspector['name']}, certificate {inspector['certificate_serial']}.")


def _printed(slip: _Slip, record: Mapping[str, Any]) -> Finding:
    runs = printed_runs(slip.reader.root)
    text = "".join(runs)
    if ("Car", without_spaces(record["entry"]["car_number"])) not in pairwise(runs):
        return Finding(
            PRINTED, False, f"No: car number {record['entry']['car_number']} of the record is not on the page."
        )
    for what, words in _literals(record):
        if not is_shown(words, text):
            return Finding(PRINTED, False, f"No: {what} {words} of the record is not on the page.")
    return Finding(
        PRINTED, True, f"Yes: number {record['slip']['number']}, code {record['slip']['code']} and the readings."
    )


def _literals(record: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """What every version of the page prints exactly as it stands in the record."""
    yield "the number", record["slip"]["number"]
    yield "the code", record["slip"]["code"]
    yield "the inspector", record["inspector"]["name"]
    yield "the certificate", record["inspector"]["certificate_serial"]
    yield "the competitor", record["competitor"]["name"]
    yield "the engine", record["engine"]["serial"]
    yield "the limit", record["rule"]["limit"]
    for reading in record["readings"]:
        for indication in reading["indications"]:
            yield "the reading", indication


def _verdict(_: _Slip, record: Mapping[str, Any]) -> Finding:
    return recomputed_verdict(record)


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


def _attachments(reader: PdfFileReader) -> list[bytes]:
    node: Any = reader.root
    for name in ("/Names", "/EmbeddedFiles", "/Names"):
        if name not in node:
            return []
        node = node[name]
    pairs = [(str(node[at]), node[at + 1].get_object()) for at in range(0, len(node) - 1, 2)]
    return [bytes(spec["/EF"]["/F"].data) for name, spec in pairs if name == ATTACHMENT]


def _unreadable(digest: str, pdf: bytes) -> SlipVerification:
    if b"%PDF-" not in pdf[:1024]:
        return _not_a_slip(digest, "It is not a PDF file." if pdf else "The file is empty.")
    words = "No: the file is damaged or cut short and cannot be read to its end."
    return SlipVerification(False, ALTERED, (Finding(WHOLE_FILE, False, words),), digest)


def _not_a_slip(digest: str, why: str) -> SlipVerification:
    return SlipVerification(False, NOT_A_SLIP, (Finding("Is it a slip?", False, f"No. {why}"),), digest)


@contextmanager
def _quiet() -> Iterator[None]:
    """The library logs each oddity of a file with its trace; the findings say the same in words."""
    loggers = [logging.getLogger(name) for name in ("pyhanko", "pyhanko_certvalidator")]
    before = [logger.disabled for logger in loggers]
    for logger in loggers:
        logger.disabled = True
    try:
        yield
    finally:
        for logger, was in zip(loggers, before, strict=True):
            logger.disabled = was
