"""Is this file the slip, or the notice, that was signed? Every promise is looked at on its own and answered in words.

Never raises, whatever it is given. Only slip workers and the command line import this: it is heavy, and an upload may
be built to harm, so the web process leaves it to a worker with a time limit.
"""

import hashlib
import logging
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from io import BytesIO
from typing import Any

from asn1crypto import pem, x509
from pyhanko.pdf_utils.reader import PdfFileReader

from app.slips.findings import (
    ALTERED,
    ALTERED_NOTICE,
    GENUINE,
    GENUINE_NOTICE,
    NOT_A_SLIP,
    STORED,
    Finding,
    SlipVerification,
)
from app.slips.printed import notice_problem, printed_runs, slip_problem
from app.slips.recomputation import QUESTION as VERDICT_FOLLOWS
from app.slips.recomputation import recomputed_verdict
from app.slips.record import NOTICE_FORMAT, RecordError, read_record
from app.slips.signatures import AUTHORITY, INTACT, WHOLE_FILE, SignedFile, signature_findings

__all__ = [
    "AUTHORITY", "INSPECTOR", "INTACT", "LARGEST_SLIP_BYTES", "OFFICIAL", "PRINTED", "RECORD", "VERDICT_FOLLOWS",
    "WHOLE_FILE", "verify_slip",
]  # fmt: skip
ATTACHMENT = "record.json"
LARGEST_SLIP_BYTES = 8 * 1024 * 1024

INSPECTOR = "Is it signed by the inspector it names?"
OFFICIAL = "Is it signed by the official it names?"
RECORD = "Is the record inside the file whole?"
PRINTED = "Do the pages show what the record says?"
Check = Callable[[SignedFile, Mapping[str, Any]], Finding]


def verify_slip(pdf: bytes, authority_pem: str, expected_sha256: str | None = None) -> SlipVerification:
    """Answers every question; `genuine` only when none is answered with no and none that matters stays open.

    A notice is looked at the same way: the record inside says which of the two the file is.
    """
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
        return _judge(SignedFile(pdf, digest, authority, reader, signatures, attached), expected_sha256)


def _judge(file: SignedFile, expected_sha256: str | None) -> SlipVerification:
    findings = [*signature_findings(file), _record_finding(file)]
    kind = NOTICE if file.record is not None and file.record["format"] == NOTICE_FORMAT else SLIP
    findings += _content_findings(file, kind)
    if expected_sha256 is not None:
        same = expected_sha256.lower() == file.digest
        words = "Yes, byte for byte." if same else "No: the logbook keeps another file under this number."
        findings.append(Finding(STORED, same, words))
    genuine = all(
        finding.holds or (finding.holds is None and finding.question == VERDICT_FOLLOWS) for finding in findings
    )
    return SlipVerification(
        genuine,
        kind.genuine if genuine else kind.altered,
        tuple(findings),
        file.digest,
        file.record,
        file.signer,
        file.signed_at,
    )


def _record_finding(file: SignedFile) -> Finding:
    if len(file.attached) != 1:
        words = "No: the file carries no record." if not file.attached else "No: the file carries more than one record."
        return Finding(RECORD, False, words)
    try:
        file.record = read_record(file.attached[0])
    except RecordError:
        return Finding(RECORD, False, "No: the record is not in the one form that such a record has.")
    return Finding(RECORD, True, "Yes: it is there, once, in its one canonical form.")


def _content_findings(file: SignedFile, kind: "_Kind") -> Iterator[Finding]:
    for question, check in kind.checks:
        if file.record is None:
            yield Finding(question, False, "No: without the record this cannot be shown.")
            continue
        try:
            yield check(file, file.record)
        except Exception:  # a record of the right format may still lack any part
            yield Finding(question, False, f"No: the record or the page lacks a part that every {kind.name} has.")


def _named_inspector(file: SignedFile, record: Mapping[str, Any]) -> Finding:
    return _named_signatory(file, record["inspector"], INSPECTOR)


def _named_official(file: SignedFile, record: Mapping[str, Any]) -> Finding:
    return _named_signatory(file, record["official"], OFFICIAL)


def _named_signatory(file: SignedFile, named: Mapping[str, Any], question: str) -> Finding:
    certificate = file.signatures[0].signer_cert
    if named["certificate_serial"] != f"{certificate.serial_number:x}":
        return Finding(question, False, "No: it names one certificate and is signed with another.")
    # The name in a certificate may have been cut to fit.
    if not str(named["name"]).startswith(file.signer.removesuffix("…")):
        return Finding(question, False, f"No: it names {named['name']}, but {file.signer} signed it.")
    return Finding(question, True, f"Yes: {named['name']}, certificate {named['certificate_serial']}.")


def _printed_slip(file: SignedFile, record: Mapping[str, Any]) -> Finding:
    if problem := slip_problem(printed_runs(file.reader.root), record):
        return Finding(PRINTED, False, f"No: {problem}")
    head = record["slip"]
    return Finding(PRINTED, True, f"Yes: number {head['number']}, code {head['code']} and the readings.")


def _printed_notice(file: SignedFile, record: Mapping[str, Any]) -> Finding:
    if problem := notice_problem(printed_runs(file.reader.root), record):
        return Finding(PRINTED, False, f"No: {problem}")
    head = record["notice"]
    return Finding(PRINTED, True, f"Yes: number {head['number']}, code {head['code']}, the reason and every slip.")


def _verdict(_: SignedFile, record: Mapping[str, Any]) -> Finding:
    return recomputed_verdict(record)


@dataclass(frozen=True, slots=True)
class _Kind:
    """What is asked of one kind of paper beside its signature and record, and what it is called then."""

    name: str
    genuine: str
    altered: str
    checks: tuple[tuple[str, Check], ...]


SLIP = _Kind(
    "slip", GENUINE, ALTERED, ((INSPECTOR, _named_inspector), (PRINTED, _printed_slip), (VERDICT_FOLLOWS, _verdict))
)
NOTICE = _Kind("notice", GENUINE_NOTICE, ALTERED_NOTICE, ((OFFICIAL, _named_official), (PRINTED, _printed_notice)))


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
    return SlipVerification(False, NOT_A_SLIP, (Finding("Is it a slip or a notice?", False, f"No. {why}"),), digest)


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
