from datetime import datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field

from app.inspections.schemas import AcknowledgementIn
from app.intake import In, View

Pin = Annotated[str, Field(min_length=1, max_length=40, title="PIN")]


class SignOffIn(AcknowledgementIn):
    """The inspector's PIN unlocks the signing key for this one slip; it is kept nowhere."""

    pin: Pin

    def acknowledgement(self) -> AcknowledgementIn:
        return AcknowledgementIn(**self.model_dump(exclude={"pin"}))


class SignatureIn(In):
    pin: Pin


class SlipView(View):
    id: UUID
    inspection_id: UUID
    number: str
    code: str
    signed: bool
    sha256: str
    numbered_at: datetime
    verify_url: str


class SlipStanding(View):
    """All that a stranger learns from a slip's code."""

    known: bool
    code: str
    number: str = ""
    event: str = ""
    signed_at: datetime | None = None
    sha256: str = ""


class FindingView(View):
    question: str
    holds: bool | None
    sentence: str


class VerificationView(View):
    genuine: bool
    summary: str
    findings: list[FindingView]
    sha256: str
    number: str
    in_this_logbook: bool
