from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Literal
from uuid import UUID

from pydantic import AfterValidator, BeforeValidator, Field

from app.happenings import HappenedView
from app.intake import Exact, In, Name, Number, View, Words, read_number, within

RuleKindKey = Literal["maximum", "minimum"]
AppliesTo = Literal["every_cylinder", "mean_of_cylinders"]
DecisionRuleKey = Literal["simple_acceptance", "guarded_acceptance", "guarded_rejection", "three_zones"]
InconclusiveAction = Literal["measure_again", "teardown", "benefit_of_doubt"]


def _as_share(typed: object) -> Decimal:
    """0.95, 95 and "95 %" are the same; nobody means a confidence of 95 in one or of 1 in a hundred."""
    value, rest = read_number(typed)
    if rest not in ("", "%"):
        raise ValueError("Confidence is written as 95 % or 0.95.")
    return value / 100 if rest == "%" or value > 1 else value


def _sure_enough(value: Decimal) -> Decimal:
    if not Decimal("0.80") <= value <= Decimal("0.999"):
        shown = format((value * 100).normalize(), "f")
        raise ValueError(f"Confidence {shown} % is outside 80 to 99.9 %. 95 % is usual.")
    return value


Confidence = Annotated[
    Exact,
    BeforeValidator(_as_share),
    AfterValidator(_sure_enough),
]


class SeriesIn(In):
    name: Annotated[Name, Field(title="Name of the series")]


class EventIn(In):
    series_id: Annotated[UUID, Field(title="Series")]
    name: Annotated[Name, Field(title="Name of the event")]
    venue: Annotated[Name, Field(title="Venue")]
    starts_on: Annotated[date, Field(title="First day")]
    ends_on: Annotated[date, Field(title="Last day")]


class ClassIn(In):
    series_id: Annotated[UUID, Field(title="Series")]
    code: Annotated[str, Field(title="Code", pattern=r"^[A-Za-z0-9][A-Za-z0-9 ./+-]{0,19}$")]
    name: Annotated[Name, Field(title="Name of the class")]


class RuleIn(In):
    clause: Annotated[str, Field(title="Clause", min_length=1, max_length=20)]
    text: Annotated[Words, Field(title="Wording", min_length=1)]
    kind: Annotated[RuleKindKey, Field(title="Kind of limit")]
    limit: Annotated[Number, within("1.5", "30", "A compression ratio of"), Field(title="Limit")]
    tolerance: Annotated[Number, within("0", "5", "A tolerance of"), Field(title="Tolerance")]
    applies_to: Annotated[AppliesTo, Field(title="Applies to")]
    decision_rule: Annotated[DecisionRuleKey, Field(title="Decision rule")]
    confidence: Annotated[Confidence, Field(title="Confidence")]
    inconclusive_action: Annotated[InconclusiveAction, Field(title="When inconclusive")]


class EditionIn(In):
    in_force_from: Annotated[date, Field(title="In force from")]
    protest_minutes: Annotated[int, Field(title="Time for protests", ge=1, le=10080)]
    note: Annotated[Words, Field(title="What changes and why")] = ""
    rule: RuleIn


class SeriesView(View):
    id: UUID
    name: str
    created_at: datetime


class EventView(View):
    id: UUID
    series_id: UUID
    series_name: str
    name: str
    venue: str
    starts_on: date
    ends_on: date
    days: str
    created_at: datetime


class RuleView(View):
    """One rule of one edition, with everything needed to quote it."""

    id: UUID
    edition_id: UUID
    edition_number: int
    in_force_from: date
    protest_minutes: int
    class_id: UUID
    class_code: str
    class_name: str
    clause: str
    text: str
    quantity: str
    kind: str
    kind_words: str
    limit: Exact
    tolerance: Exact
    tolerance_limit: Exact
    applies_to: str
    applies_to_words: str
    decision_rule: str
    decision_rule_words: str
    who_bears_the_doubt: str
    confidence: Exact
    confidence_words: str
    inconclusive_action: str
    action_words: str
    sentence: str


class EditionView(View):
    id: UUID
    class_id: UUID
    number: int
    in_force_from: date
    protest_minutes: int
    note: str
    published_at: datetime
    published_by: str
    state: Literal["in force", "to come", "replaced"]
    rule: RuleView


class ClassView(View):
    """A class with the edition that is in force today; None before its first one is."""

    id: UUID
    series_id: UUID
    series_name: str
    code: str
    name: str
    edition_count: int
    in_force: EditionView | None
    to_come: EditionView | None


class ExampleView(View):
    """One worked example of what a rule means, judged by the core."""

    label: str
    value: float
    expanded_uncertainty: float
    verdict: str
    acceptance_limit: float | None
    rejection_limit: float | None


class MeaningView(View):
    """What a rule would say of engines measured with a usual spread."""

    expanded_uncertainty: float
    acceptance_limit: float | None
    rejection_limit: float | None
    sentences: list[str]
    examples: list[ExampleView]


class ClassBookView(View):
    """A class with all its editions, the newest first, and what the one in force (or else the newest) means."""

    race_class: ClassView
    editions: list[EditionView]
    explained: EditionView | None
    meaning: MeaningView | None
    happened: list[HappenedView]


class ChangeView(View):
    label: str
    old: str
    new: str
    differs: bool


class EditionPreview(View):
    """What a next edition would say and mean, before anybody publishes it."""

    number: int
    sentence: str
    kind: str
    limit: Exact
    tolerance: Exact
    changes: list[ChangeView]
    meaning: MeaningView
