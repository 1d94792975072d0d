"""From a frozen record to the bytes that are handed out: render, sign, check. Runs in a slip worker."""

import hashlib
import logging
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from app.errors import Unavailable
from app.slips.document import render_slip
from app.slips.findings import SignedSlip
from app.slips.signing import sign_slip
from app.slips.verification import verify_slip

log = logging.getLogger("shedbook.press")
REASON = "Slip of a technical inspection, released by the inspector"


def make_slip(record: Mapping[str, Any], private_key_pem: str, certificate_pem: str, authority_pem: str) -> SignedSlip:
    """An ECDSA signature is random: the result is stored and never made again."""
    pdf = sign_slip(
        render_slip(record),
        private_key_pem,
        certificate_pem,
        authority_pem,
        name=record["inspector"]["name"],
        reason=f"{REASON}: {record['slip']['number']}",
        signed_at=datetime.fromisoformat(record["slip"]["issued_at"]),
    )
    checked = verify_slip(pdf, authority_pem)
    if not checked.genuine:
        for finding in checked.broken:
            log.error(
                "Slip %s failed its own check: %s %s", record["slip"]["number"], finding.question, finding.sentence
            )
        raise Unavailable(
            f"Slip {record['slip']['number']} failed its own check and was not released: {checked.broken[0].sentence}"
        )
    return SignedSlip(pdf, hashlib.sha256(pdf).hexdigest())
