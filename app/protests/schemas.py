from datetime import datetime
from typing import Annotated, Literal
from uuid import UUID

from pydantic import Field

from app.happenings import HappenedView
from app.inspections.schemas import InspectionView
from app.inspections.signed_result import SignedResultView
from app.intake import In, View

Decision = Literal["upheld", "not_upheld", "withdrawn", "inadmissible"]
StepKind = Literal["note", "upheld", "not_upheld", "withdrawn", "inadmissible"]
DECISIONS: dict[str, str] = {
    "upheld": "Upheld",
    "not_upheld": "Not upheld",
    "withdrawn": "Withdrawn",
    "inadmissible": "Inadmissible",
}
STATES: dict[str, str] = {"open": "Open", **DECISIONS}
DECISION_NOTES: dict[str, str] = {
    "upheld": "The protest is right; say what follows for the result.",
    "not_upheld": "The result stands.",
    "withdrawn": "Whoever lodged it takes it back.",
    "inadmissible": "It cannot be heard: too late without good reason, no fee, or not by an entered competitor.",
}


class ProtestIn(In):
    lodged_by_id: Annotated[UUID, Field(title="Competitor who protests")]
    grounds: Annotated[str, Field(min_length=1, max_length=4000, title="Ground of the protest")]
    fee: Annotated[str, Field(min_length=1, max_length=60, title="Fee")]
    late_reason: Annotated[str, Field(max_length=1000, title="Reason for taking it in late")] = ""


class StepIn(In):
    kind: Annotated[StepKind, Field(title="What is added")]
    text: Annotated[str, Field(max_length=8000, title="Words")] = ""


class StepView(View):
    id: UUID
    kind: str
    words: str
    text: str
    by: str
    at: datetime


class ProtestLine(View):
    """A protest in a list."""

    id: UUID
    reference: str
    inspection_id: UUID
    car_number: str
    class_code: str
    event_name: str
    defending: str
    lodged_by: str
    lodged_at: datetime
    is_late: bool
    state: str
    state_words: str
    decided_at: datetime | None
    verdict: str
    picture: str
    kind: str


class ProtestView(View):
    """The claim beside the record it is held against."""

    line: ProtestLine
    grounds: str
    fee: str
    late_reason: str
    taken_in_by: str
    protest_until: datetime
    steps: list[StepView]
    reason_not_to_decide: str  # why this person may not decide it; empty when they may
    sheet: InspectionView
    result: SignedResultView
    happened: list[HappenedView]


class ProtesterView(View):
    """Somebody who may protest: entered in the same event."""

    competitor_id: UUID
    words: str


class ProtestableView(View):
    """A signed result as the form for a protest needs it."""

    inspection_id: UUID
    sheet: InspectionView
    result: SignedResultView
    protest_until: datetime
    is_late: bool
    time_words: str  # until when, or the sentence that it is over
    competitors: list[ProtesterView]
    earlier: list[ProtestLine]
