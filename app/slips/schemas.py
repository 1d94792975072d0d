from datetime import datetime
from typing import Annotated
from uuid import UUID

from pydantic import Field

from app.doubts.schemas import DecideIn
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


class DecisionIn(DecideIn):
    """What is decided, and what its notice needs: the id it shall have, and the official's PIN."""

    notice_id: UUID
    pin: Pin

    def decide(self) -> DecideIn:
        return DecideIn(**self.model_dump(exclude={"pin", "notice_id"}))


class SlipView(View):
    id: UUID
    inspection_id: UUID
    number: str
    code: str
    signed: bool
    sha256: str
    numbered_at: datetime
    verify_url: str


class NoticeMark(View):
    """A notice that names a slip, as much of it as everyone may know."""

    id: UUID
    number: str
    code: str
    kind: str
    signed: bool
    issued_at: datetime
    sentence: str


class PaperStanding(View):
    """How what a slip says stands today; the slip itself stays as it was signed."""

    state: str = "sound"
    standing: str = ""  # empty where nothing is known against it
    notices: list[NoticeMark] = Field(default_factory=list)


class SlipStanding(View):
    """All that a stranger learns from the code of a slip, or of a notice."""

    known: bool
    code: str
    kind: str = "slip"  # or notice
    number: str = ""
    event: str = ""
    signed_at: datetime | None = None
    sha256: str = ""
    state: str = "sound"
    standing: str = ""
    notices: list[NoticeMark] = Field(default_factory=list)


class FindingView(View):
    question: str
    holds: bool | None
    sentence: str


class VerificationView(View):
    """`genuine` is about the file; what became of the result since stands in `state`, `standing` and `notices`."""

    genuine: bool
    summary: str
    kind: str = "slip"  # or notice
    state: str = "sound"
    standing: str = ""
    notices: list[NoticeMark] = Field(default_factory=list)
    findings: list[FindingView]
    sha256: str
    number: str
    in_this_logbook: bool


class NoticeLine(View):
    """One notice in the list."""

    id: UUID
    number: str
    kind: str
    heading: str
    why: str
    issued_by: str
    numbered_at: datetime
    signed: bool
    slips: int


class NoticesView(View):
    lines: list[NoticeLine]
    total: int
    page: int
    pages: int


class NamedSlip(View):
    number: str
    sha256: str
    event: str
    measured_again_as: str
    slip_id: UUID | None  # where whoever asks may open it


class NoticeView(View):
    id: UUID
    number: str
    code: str
    kind: str
    about_id: UUID
    heading: str
    meaning: str
    reasons_of_doubt: list[str]
    decision: str
    reasons: str
    issued_by: str
    numbered_at: datetime
    signed: bool
    is_mine: bool  # whoever asks can sign it where it waits for its signature
    sha256: str
    verify_url: str
    slips: list[NamedSlip]
    left_over: int  # slips of the same cause that no notice names yet
