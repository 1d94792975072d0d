from datetime import datetime
from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import Field, field_validator

from app.entries.schemas import EntryView
from app.intake import In, View
from app.regulations.schemas import RuleView

Units = Literal["metric", "inch"]
Present = Annotated[str, Field(min_length=1, max_length=400)]
Pin = Annotated[str, Field(min_length=1, max_length=40, title="PIN")]


class BenchSheetIn(In):
    """Opens a bench sheet: one engine, one method, and who stands beside it."""

    entry_id: UUID
    method: Annotated[str, Field(max_length=40, title="Method")]
    reason: Annotated[str, Field(min_length=1, max_length=1000, title="Why the engine is opened, poured or gauged")]
    present_for_series: Annotated[Present, Field(title="Present for the series")]
    present_for_competitor: Annotated[Present, Field(title="Present for the competitor")]
    cautions_confirmed: Annotated[bool, Field(title="The cautions", validate_default=True)] = False

    @field_validator("cautions_confirmed")
    @classmethod
    def _all_of_this_is_so(cls, value: bool) -> bool:
        if not value:
            raise ValueError("Go through the cautions and confirm that all of them hold before the engine is touched.")
        return value


class BenchObservationIn(In):
    """All that was observed, whole: `observations` holds what its method asks for, every number as typed.

    A number may carry its unit; without one it is taken in `units`. Burette volumes are in cm³ unless they say other.
    """

    observations: dict[str, Any]
    units: Units = "metric"
    replaces_id: UUID | None = None
    reason: Annotated[str, Field(max_length=400, title="Why it is corrected")] = ""


class BenchSignOffIn(In):
    """The inspector's PIN proves who signs; `observation_id` says what was on the page when it was signed."""

    observation_id: UUID
    pin: Pin


class BenchMethodView(View):
    """A method as the form that opens a sheet offers it; without a rule there is a sentence that says why."""

    key: str
    label: str
    done: str
    rule: RuleView | None
    refusal: str


class BenchStartView(View):
    entry: EntryView
    methods: list[BenchMethodView]


class BenchObservationView(View):
    id: UUID
    units: str
    typed: dict[str, Any]
    observations: dict[str, Any]  # as the core takes them
    taken_by: str
    taken_at: datetime
    replaces_id: UUID | None
    reason: str  # why it replaced the earlier one


class BenchVerdictView(View):
    id: UUID
    verdict: str
    picture: str  # the verdict as it is drawn: empty where a gap keeps it open
    core_version: str
    decided_by: str
    decided_at: datetime
    digest: str


class BenchSheetView(View):
    """Everything of one bench sheet: what the page shows and what the API answers."""

    id: UUID
    entry: EntryView
    rule: RuleView
    method: str
    method_label: str
    present_for_series: str
    present_for_competitor: str
    reason: str
    opened_by: str
    opened_at: datetime
    observation: BenchObservationView | None
    earlier: list[BenchObservationView]
    assessment: dict[str, Any] | None  # the frozen result once signed, else worked out now
    assessment_problem: str  # why there is none
    verdict: BenchVerdictView | None


class BenchLine(View):
    """A bench sheet in a list; figures are those of its frozen result, empty while it is not signed."""

    id: UUID
    car_number: str
    class_code: str
    event_name: str
    method_label: str
    opened_by: str
    opened_at: datetime
    decided_at: datetime | None
    verdict: str
    picture: str
    rule_kind: str
    limit_text: str
    deciding: str
    value_text: str
    uncertainty_text: str
    unit: str
    digest: str


class BenchListView(View):
    entry: EntryView
    sheets: list[BenchLine]  # the newest first
