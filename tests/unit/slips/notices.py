"""Notice records for tests, invented."""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Any

from app.slips.record import NOTICE_FORMAT
from tests.unit.slips.records import identity

REASON = "The closing verification on reference volume RV-7 read 11.41, 0.16 off its mark; it may be off by 0.05."
REASONS = "The drift is 0.02 of a ratio and each of these engines lies 0.30 inside its limit."


def digest_of(number: str) -> str:
    return hashlib.sha256(number.encode()).hexdigest()


def a_notice(
    slips: int = 12,
    decision: str = "",
    *,
    reason: str = REASON,
    reasons: str = REASONS,
    unsigned: Sequence[int] = (),
    changes: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """A notice of doubt, or of this decision; `unsigned` are slips without a file yet."""
    record: dict[str, Any] = {
        "format": NOTICE_FORMAT,
        "notice": {
            "number": "NT-000003",
            "code": "9M4RX2ZD",
            "kind": "decision" if decision else "doubt",
            "issued_at": "2026-05-03T17:20:08Z",
            "software": "shedbook 0.1.0",
            "verify_url": "https://logbook.northfell.example/verify/9M4RX2ZD",
        },
        "series": ["Northfell Saloon Car Series"],
        "official": {"name": "Ilse Vandermoor", "certificate_serial": identity()["serial"], "role": "official"},
        "causes": [
            {
                "reason": reason,
                "since": "2026-05-02T08:10:44Z",
                "until": "2026-05-03T16:58:02Z",
                "certificate": "",
                "instrument": {"name": "Resonance meter, shed B", "serial": "RM-204"},
                "raised_at": "2026-05-03T16:58:02Z",
                "raised_by": "Pell Ashdown",
            }
        ],
        "decision": {
            "decision": decision,
            "reasons": reasons,
            "decided_by": "Ilse Vandermoor",
            "decided_at": "2026-05-03T17:20:08Z",
        }
        if decision
        else None,
        "slips": [
            {
                "number": f"SL-{number:06d}",
                "sha256": "" if number in unsigned else digest_of(f"SL-{number:06d}"),
                "event": "Spring Meeting, 2026-05-02",
                "measured_again_as": f"SL-{number + 500:06d}" if decision == "measured_again" else None,
            }
            for number in range(1, slips + 1)
        ],
    }
    return {**record, **(changes or {})}
