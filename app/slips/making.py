"""From a frozen record to the bytes that are handed out: render, sign, check. Runs in a slip worker."""

import hashlib
import logging
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from app.errors import Unavailable
from app.slips.document import render_slip
from app.slips.findings import SignedSlip
from app.slips.notice_document import render_notice
from app.slips.signing import sign_slip
from app.slips.verification import verify_slip

log = logging.getLogger("shedbook.press")
REASON = "Slip of a technical inspection, released by the inspector"
NOTICE_REASON = "Notice about slips of technical inspections, issued by the official"


def make_slip(record: Mapping[str, Any], private_key_pem: str, certificate_pem: str, authority_pem: str) -> SignedSlip:
    """An ECDSA signature is random: the result is stored and never made again."""
    head = {**record["slip"], "what": "Slip", "reason": REASON, "role": "inspector"}
    return _made(render_slip(record), head, record["inspector"], private_key_pem, certificate_pem, authority_pem)


def make_notice(
    record: Mapping[str, Any], private_key_pem: str, certificate_pem: str, authority_pem: str
) -> SignedSlip:
    """A notice comes the same way, signed by an official."""
    head = {**record["notice"], "what": "Notice", "reason": NOTICE_REASON, "role": "official"}
    return _made(render_notice(record), head, record["official"], private_key_pem, certificate_pem, authority_pem)


def _made(
    rendered: bytes,
    head: Mapping[str, str],
    signatory: Mapping[str, str],
    private_key_pem: str,
    certificate_pem: str,
    authority_pem: str,
) -> SignedSlip:
    pdf = sign_slip(
        rendered,
        private_key_pem,
        certificate_pem,
        authority_pem,
        name=signatory["name"],
        reason=f"{head['reason']}: {head['number']}",
        signed_at=datetime.fromisoformat(head["issued_at"]),
        role=head["role"],
    )
    checked = verify_slip(pdf, authority_pem)
    if not checked.genuine:
        named = f"{head['what']} {head['number']}"
        for finding in checked.broken:
            log.error("%s failed its own check: %s %s", named, finding.question, finding.sentence)
        raise Unavailable(f"{named} failed its own check and was not released: {checked.broken[0].sentence}")
    return SignedSlip(pdf, hashlib.sha256(pdf).hexdigest())
