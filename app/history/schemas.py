from datetime import date, datetime
from typing import Annotated, Literal
from uuid import UUID

from pydantic import Field

from app.bench_sheets.schemas import BenchLine
from app.doubts.schemas import STATES, StandingView
from app.happenings import HappenedView
from app.inspections.comparing import ComparisonView
from app.inspections.schemas import InspectionView
from app.inspections.signed_result import SignedResultView
from app.instruments.schemas import CalibrationView, InstrumentView, VerificationView
from app.intake import In, View
from app.protests.schemas import ProtestLine
from app.slips.schemas import NoticeMark, SlipView

PAGE_ROWS = 50

# ---- search ------------------------------------------------------------------------------------------------------

VerdictFilter = Literal["conforming", "nonconforming", "inconclusive", "none"]
VERDICT_FILTERS: dict[str, str] = {
    "conforming": "Inside the limit",
    "nonconforming": "Past the limit",
    "inconclusive": "Across the limit",
    "none": "No verdict yet",
}


StandingFilter = Literal["in_doubt", "upheld", "measured_again", "withdrawn"]
STANDING_FILTERS: dict[str, str] = STATES


class SearchIn(In):
    """One box and the filters; the whole search stands in the address."""

    q: Annotated[str, Field(max_length=200, title="Words")] = ""
    class_id: Annotated[UUID | None, Field(title="Class")] = None
    event_id: Annotated[UUID | None, Field(title="Event")] = None
    instrument_id: Annotated[UUID | None, Field(title="Instrument")] = None
    standing: Annotated[StandingFilter | None, Field(title="Standing")] = None
    verdict: Annotated[VerdictFilter | None, Field(title="Verdict")] = None
    from_on: Annotated[date | None, Field(title="From")] = None
    until_on: Annotated[date | None, Field(title="Until")] = None
    page: Annotated[int, Field(ge=1, le=1_000_000, title="Page")] = 1


class FoundRow(View):
    """One sheet in a list; figures are those of its slip, empty while it is not signed."""

    inspection_id: UUID
    car_number: str
    competitor: str
    class_code: str
    event_name: str
    engine_serial: str
    instrument: str
    opened_at: datetime
    decided_at: datetime | None
    verdict: str
    picture: str  # the verdict as it is drawn: empty where a leak or a gap keeps it open
    kind: str
    value: str
    expanded_uncertainty: str
    limit: str
    tolerance_limit: str
    slip_number: str
    standing: str  # a key of STANDING_FILTERS; empty where nothing is known against it


class SearchView(View):
    rows: list[FoundRow]
    total: int
    page: int
    pages: int
    nothing_found: str  # the sentence for an empty list
    close_to: list[str]  # what the book holds that reads nearly the same


class Choice(View):
    id: UUID
    words: str


class FiltersView(View):
    """What a search can be narrowed to."""

    events: list[Choice]
    classes: list[Choice]
    instruments: list[Choice]


# ---- one record --------------------------------------------------------------------------------------------------


class LinkedSheet(View):
    """Another sheet of the same engine at the same event."""

    inspection_id: UUID
    relation: Literal["measured again from", "measured again as"]
    reason: str
    opened_at: datetime
    verdict: str
    picture: str
    kind: str


class DetailedHappenedView(HappenedView):
    details: str


class InstrumentThatDay(View):
    """The instrument as it stood for this result: its certificate then, and every verification at the event."""

    instrument: InstrumentView
    calibration: CalibrationView | None
    verifications: list[VerificationView]


class RecordView(View):
    """Everything the logbook holds about one sheet."""

    id: UUID
    is_signed: bool
    protest_is_open: bool  # a protest lodged now would be in time
    sheet: InspectionView
    result: SignedResultView | None
    standing: StandingView | None  # how the signed result stands today
    notices: list[NoticeMark]  # that name its slip
    instrument: InstrumentThatDay
    linked: list[LinkedSheet]
    comparisons: list[ComparisonView]  # of every two signed results for this engine at this entry
    bench: list[BenchLine]  # this engine opened, poured or gauged at this event
    protests: list[ProtestLine]
    slip: SlipView | None
    happened: list[DetailedHappenedView]


# ---- the competitor's own ----------------------------------------------------------------------------------------


class OwnProtest(View):
    """A protest as its parties read it: where it stands and, once decided, why."""

    reference: str
    against: str
    event_name: str
    lodged_by: str
    lodged_at: datetime
    state: str
    state_words: str
    decided_at: datetime | None
    reasons: str


class OwnRow(View):
    inspection_id: UUID
    car_number: str
    class_code: str
    event_name: str
    decided_at: datetime
    verdict: str
    picture: str
    kind: str
    value: str
    expanded_uncertainty: str
    limit_text: str
    rule_sentence: str
    protest_until: datetime
    protest_is_open: bool
    standing: StandingView
    notices: list[NoticeMark]
    slip: SlipView | None


class OwnRecordsView(View):
    competitor: str
    licence: str
    is_linked: bool  # an official has tied this account to a competitor
    results: list[OwnRow]
    bench: list[BenchLine]  # signed ones of engines opened, poured or gauged
    protests: list[OwnProtest]  # those they lodged


class OwnRecordView(View):
    id: UUID
    sheet: InspectionView
    result: SignedResultView
    standing: StandingView
    notices: list[NoticeMark]
    slip: SlipView | None
    protest_until: datetime
    protest_is_open: bool
    protests: list[OwnProtest]  # those against this result


# ---- the log -----------------------------------------------------------------------------------------------------


class LogLine(View):
    seq: int
    at: datetime
    who: str
    what: str
    details: str
    subject: UUID | None
    digest: str


class ChainView(View):
    """What reading the whole log found."""

    entries: int
    holds: bool
    broken_at: int | None
    head: str
    sentence: str


class LogView(View):
    lines: list[LogLine]
    entries: int
    older_before: int | None  # ask for what stands before this number
    chain: ChainView | None  # None when the log is long and the check was not asked for
