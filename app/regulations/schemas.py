from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Literal
from uuid import UUID

from pydantic import AfterValidator, BeforeValidator, Field, ValidationInfo, model_validator

from app.happenings import HappenedView
from app.intake import Exact, In, Name, View, Words, kept_within, read_number, read_plain, read_quantity
from app.metrology.plausible import MOST_CYLINDERS
from app.metrology.rules import WHOLE_ENGINE
from app.regulations.ruled import DISPLACEMENT

Quantity = Literal["compression_ratio", "displacement"]
RuleKindKey = Literal["maximum", "minimum", "range"]
AppliesTo = Literal["every_cylinder", "mean_of_cylinders", "designated_cylinder", "whole_engine"]
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


def _is_displacement(info: ValidationInfo) -> bool:
    return info.data.get("quantity") == DISPLACEMENT


def _read_amount(typed: object, info: ValidationInfo) -> Decimal:
    """A displacement may carry its unit and is kept in cm³; a ratio has none."""
    return read_quantity("volume", typed, info) if _is_displacement(info) else read_plain(typed)


def _possible_limit(value: Decimal, info: ValidationInfo) -> Decimal:
    if _is_displacement(info):
        return kept_within(value, info, "10", "30000", "A displacement of", "volume")
    return kept_within(value, info, "1.5", "30", "A compression ratio of")


def _possible_tolerance(value: Decimal, info: ValidationInfo) -> Decimal:
    if _is_displacement(info):
        return kept_within(value, info, "0", "1000", "A tolerance of", "volume")
    return kept_within(value, info, "0", "5", "A tolerance of")


Amount = Annotated[Exact, BeforeValidator(_read_amount)]  # in the quantity's unit


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
    """What one rule says of one quantity. What its kind or scope does not need stays away; `fitting` looks at that."""

    quantity: Annotated[Quantity, Field(title="Quantity")] = "compression_ratio"
    clause: Annotated[str, Field(title="Clause", min_length=1, max_length=20)]
    text: Annotated[Words, Field(title="Wording", min_length=1)]
    kind: Annotated[RuleKindKey, Field(title="Kind of limit")]
    limit: Annotated[Amount, AfterValidator(_possible_limit), Field(title="Limit")]
    lower_limit: Annotated[Annotated[Amount, AfterValidator(_possible_limit)] | None, Field(title="Lower limit")] = None
    tolerance: Annotated[Amount, AfterValidator(_possible_tolerance), Field(title="Tolerance")]
    tolerance_covers_uncertainty: Annotated[bool, Field(title="Whether the tolerance covers the uncertainty")] = False
    applies_to: Annotated[AppliesTo, Field(title="Applies to")]
    designated_cylinder: Annotated[int | None, Field(title="Designated cylinder", ge=1, le=MOST_CYLINDERS)] = None
    decision_rule: Annotated[DecisionRuleKey, Field(title="Decision rule")]
    confidence: Annotated[Confidence, Field(title="Confidence")]
    inconclusive_action: Annotated[InconclusiveAction, Field(title="When inconclusive")]

    @model_validator(mode="before")
    @classmethod
    def _displacement_is_the_engines(cls, value: object) -> object:
        """Nobody has to say that a displacement is the engine's as a whole."""
        if isinstance(value, dict) and value.get("quantity") == DISPLACEMENT and "applies_to" not in value:
            return {**value, "applies_to": WHOLE_ENGINE}
        return value


class EditionIn(In):
    """`rule` limits the static compression ratio; `further` any other quantity, each once."""

    in_force_from: Annotated[date, Field(title="In force from")]
    protest_minutes: Annotated[int, Field(title="Time for protests", ge=1, le=10080)]
    overdue_days_allowed: Annotated[int, Field(title="Overdue calibration allowed", ge=0, le=366)] = 0
    note: Annotated[Words, Field(title="What changes and why")] = ""
    rule: RuleIn
    further: Annotated[list[RuleIn], Field(title="Further rules", default_factory=list)]

    @property
    def rules(self) -> list[RuleIn]:
        return [self.rule, *self.further]


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
    """One rule of one edition, with everything needed to quote it; a displacement's limits and tolerance in cm³.

    Of a range, `limit` and `tolerance_limit` are the upper ones.
    """

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
    quantity_words: str
    kind: str
    kind_words: str
    limit: Exact
    lower_limit: Exact | None
    limit_words: str
    tolerance: Exact
    tolerance_words: str
    tolerance_covers_uncertainty: bool
    tolerance_limit: Exact
    lower_tolerance_limit: Exact | None
    tolerance_limit_words: str
    applies_to: str
    applies_to_words: str
    designated_cylinder: int | None
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
    overdue_days_allowed: int
    overdue_words: str
    note: str
    published_at: datetime
    published_by: str
    state: Literal["in force", "to come", "replaced"]
    rule: RuleView  # on the static compression ratio
    rules: list[RuleView]  # that one first


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
    side: str  # which side of the rule decided: "maximum" or "minimum"
    acceptance_limit: float | None
    rejection_limit: float | None


class SideView(View):
    """Where the verdict turns on one side of a rule, with a usual spread; in the quantity's unit."""

    side: str
    tolerance_limit: float
    acceptance_limit: float | None
    rejection_limit: float | None  # of the engine
    rejection_limit_of_one: float | None  # where it would lie for one cylinder alone


class MeaningView(View):
    """What a rule would say of engines measured with a usual spread."""

    expanded_uncertainty: float
    cylinders: int  # how many the engines of the examples have judged
    sides: list[SideView]
    sentences: list[str]
    examples: list[ExampleView]
    caption: str
    decimals: int  # worth showing of a value


class ClassBookView(View):
    """A class with all its editions, the newest first, and what the one in force (or else the newest) means."""

    race_class: ClassView
    editions: list[EditionView]
    explained: EditionView | None
    meanings: list[MeaningView]  # of its rules, in order
    happened: list[HappenedView]


class ChangeView(View):
    label: str
    old: str
    new: str
    differs: bool


class PreviewedRule(View):
    quantity: str
    quantity_words: str
    kind: str
    limit: Exact
    lower_limit: Exact | None
    tolerance: Exact
    sentence: str
    meaning: MeaningView


class EditionPreview(View):
    """What a next edition would say and mean, before anybody publishes it."""

    number: int
    rules: list[PreviewedRule]
    changes: list[ChangeView]
