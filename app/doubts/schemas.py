from datetime import datetime
from typing import Annotated, Literal
from uuid import UUID

from pydantic import AwareDatetime, Field, field_validator

from app.happenings import HappenedView
from app.intake import In, View

PAGE_ROWS = 50
Decision = Literal["upheld", "measured_again", "withdrawn"]
State = Literal["sound", "in_doubt", "upheld", "measured_again", "withdrawn"]
DECISIONS: dict[str, str] = {"upheld": "Upheld", "measured_again": "Measured again", "withdrawn": "Withdrawn"}
STATES: dict[str, str] = {"in_doubt": "In doubt", **DECISIONS}
DECISION_NOTES: dict[str, str] = {
    "upheld": "The result stands as it was signed. Say what shows that the engine was measured rightly.",
    "measured_again": "A later signed sheet of the same engine takes its place. Measure it again first.",
    "withdrawn": "The result no longer stands, and nothing takes its place.",
}
_SHORTEST_REASONS, _FEWEST_WORDS = 10, 2

# ---- what is decided ---------------------------------------------------------------------------------------------


class DecideIn(In):
    """One decision with one reason, about as many results as it holds for."""

    verdict_ids: Annotated[
        list[UUID], Field(default_factory=list, max_length=500, title="Results", validate_default=True)
    ]
    decision: Annotated[Decision, Field(title="Decision")]
    reasons: Annotated[str, Field(max_length=4000, title="A reason")]
    measured_again_as: Annotated[UUID | None, Field(title="Later sheet")] = None
    known_at: Annotated[AwareDatetime | None, Field(title="When the page was loaded")] = None  # later causes: not meant

    @field_validator("verdict_ids", mode="before")
    @classmethod
    def _one_is_a_list_too(cls, value: object) -> object:
        """A form with one box ticked sends one value."""
        return [value] if isinstance(value, str) else value

    @field_validator("verdict_ids")
    @classmethod
    def _each_once(cls, value: list[UUID]) -> list[UUID]:
        if not value:
            raise ValueError("Tick the results that this decision is about.")
        return list(dict.fromkeys(value))

    @field_validator("reasons")
    @classmethod
    def _is_a_sentence(cls, value: str) -> str:
        if len(value) < _SHORTEST_REASONS or len(value.split()) < _FEWEST_WORDS:
            raise ValueError("Write the reasons as a whole sentence: the competitor reads them on the notice.")
        return value


class DecisionView(View):
    act_id: UUID
    decision: str
    words: str
    reasons: str
    decided_by: str
    decided_at: datetime
    measured_again_as: UUID | None  # the later sheet that takes its place


class DecidedView(View):
    """One act of deciding: what its notice tells."""

    act_id: UUID
    decision: str
    words: str
    reasons: str
    decided_by: str
    decided_at: datetime
    verdict_ids: list[UUID]
    measured_again_as: dict[UUID, UUID]  # by verdict, the later sheet


# ---- how a result stands -----------------------------------------------------------------------------------------


class CauseOfDoubt(View):
    cause_id: UUID
    kind: str
    reason: str
    raised_at: datetime
    is_open: bool


class StandingView(View):
    """How a signed result stands today. The result itself stays as it was signed, whatever is said here."""

    verdict_id: UUID
    state: State
    words: str  # empty where nothing is known against it
    sentence: str
    since: datetime | None
    causes: list[CauseOfDoubt]
    decision: DecisionView | None  # the one that counts; of a result in doubt again, the last one before


# ---- the work list -----------------------------------------------------------------------------------------------


class CauseLine(View):
    """One cause on the work list."""

    cause_id: UUID
    kind: str
    kind_words: str
    instrument_id: UUID
    instrument_name: str
    reason: str
    since: datetime | None
    until: datetime
    raised_at: datetime
    raised_by: str
    open: int
    decided: int
    is_looked_back: bool  # False while its results are still being found


class WorkListView(View):
    waiting: list[CauseLine]
    settled: list[CauseLine]
    open: int  # over all causes


class LaterSheet(View):
    """A signed sheet that measured the same engine again and stands itself."""

    inspection_id: UUID
    words: str


class DoubtedRow(View):
    """One result under its cause."""

    verdict_id: UUID
    inspection_id: UUID
    car_number: str
    competitor: str
    class_code: str
    event_name: str
    measured_until: datetime
    decided_at: datetime
    verdict: str
    picture: str  # the verdict as it is drawn: empty where a leak or a gap keeps it open
    kind: str
    value: str
    expanded_uncertainty: str
    slip_number: str  # empty where no slip was numbered
    is_open: bool
    decision: DecisionView | None  # that ended this doubt
    standing: StandingView
    later_sheets: list[LaterSheet]


class CauseView(View):
    as_of: datetime  # a decision names it, so that it does not settle a cause nobody saw
    line: CauseLine
    rows: list[DoubtedRow]
    only_open: bool
    total: int  # in this list
    page: int
    pages: int
    acts: list[UUID]  # of deciding about results in this list: each has its notice
    happened: list[HappenedView]
