"""What a check of a slip or notice found, in words. Plain data: the web process reads it without the PDF machinery."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

GENUINE = "This slip is genuine: it is, byte for byte, what the inspector signed."
ALTERED = "This file is not the slip that was signed. Do not rely on it."
GENUINE_NOTICE = "This notice is genuine: it is, byte for byte, what the official signed."
ALTERED_NOTICE = "This file is not the notice that was signed. Do not rely on it."
NOT_A_SLIP = "This file is neither a slip nor a notice of this logbook."
NOT_RELEASED = (
    "The signature is of this series, but this logbook never handed out this file. "
    "Do not rely on it, and show it to the officials."
)
# The file is one thing, what became of its result since another: said in the same breath.
BUT = {
    "in_doubt": "But the result on it is in doubt.",
    "measured_again": "But the engine was measured again, and the later slip counts.",
    "withdrawn": "But the result on it was withdrawn and no longer counts.",
}
NOT_KNOWN_OFFLINE = (
    "This says what was signed, not how it stands today: whether a result was put in doubt, decided about or withdrawn "
    "since, only the logbook knows. Ask it at"
)
STORED = "Is it the very file that the logbook keeps?"


@dataclass(frozen=True, slots=True)
class Finding:
    """One promise of the paper: `holds` is None where it could not be looked at."""

    question: str
    holds: bool | None
    sentence: str


@dataclass(frozen=True, slots=True)
class SlipVerification:
    """`record` is what the file says of itself; believe it only when `genuine`."""

    genuine: bool
    sentence: str
    findings: tuple[Finding, ...]
    sha256: str
    record: Mapping[str, Any] | None = None
    signer: str = ""
    signed_at: datetime | None = None

    @property
    def broken(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.holds is False)


@dataclass(frozen=True, slots=True)
class SignedSlip:
    """The bytes to store, and their digest for the log."""

    pdf: bytes
    sha256: str
