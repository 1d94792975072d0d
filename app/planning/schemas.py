"""What is asked of a plan and what it answers: figures of the core with the sentences around them."""

from decimal import Decimal
from typing import Annotated, Literal
from uuid import UUID

from pydantic import AfterValidator, BeforeValidator, Field

from app.intake import Exact, In, Number, View, read_number, within
from app.regulations.schemas import EditionView

TemperatureSource = Literal["thermometer_in_chamber", "coolant_gauge", "ambient_on_stand"]
SpreadSource = Literal["history", "declared"]


def _as_share(typed: object) -> Decimal:
    """0.95, 95 and "95 %" are the same."""
    value, rest = read_number(typed)
    if rest not in ("", "%"):
        raise ValueError("The probability is written as 95 % or 0.95.")
    return value / 100 if rest == "%" or value >= 1 else value


def _worth_planning_for(value: Decimal) -> Decimal:
    if not Decimal("0.5") <= value <= Decimal("0.999"):
        shown = format((value * 100).normalize(), "f")
        raise ValueError(f"A probability of {shown} % is outside 50 to 99.9 %. 95 % is usual.")
    return value


class PlanIn(In):
    """All of it may be left out: then the newest engine, the first instrument and usual figures are taken."""

    instrument_id: Annotated[UUID | None, Field(title="Instrument")] = None
    repeats: Annotated[int, Field(ge=1, le=12, title="Indications a cylinder")] = 3
    temperature_source: Annotated[TemperatureSource, Field(title="How the gas temperature is known")] = (
        "thermometer_in_chamber"
    )
    cylinders: Annotated[int | None, Field(ge=1, le=48, title="Number of cylinders")] = None
    probability: Annotated[
        Exact, BeforeValidator(_as_share), AfterValidator(_worth_planning_for), Field(title="Probability")
    ] = Decimal("0.95")
    spread: Annotated[SpreadSource | None, Field(title="How the engines of the class spread")] = None
    mean: Annotated[Number | None, within("1.5", "30", "A mean ratio of"), Field(title="Mean of the engines")] = None
    standard_deviation: Annotated[
        Number | None, within("0.01", "5", "A standard deviation of"), Field(title="Standard deviation of the engines")
    ] = None


class OddsView(View):
    """How likely each verdict is on an engine that truly stands at this ratio."""

    ratio: float
    conforming: float
    inconclusive: float
    nonconforming: float


class PolicingView(View):
    """From where on an engine is rejected, and up to where accepted, with the probability asked for."""

    label: str
    cylinders: int
    standard_uncertainty: float
    rejected_from: float | None
    accepted_to: float | None
    excess: float | None  # past the tolerance limit; negative inside it
    reserve: float | None  # inside the tolerance limit; negative past it
    caught_text: str  # the figures rounded so that what is said of them stays true
    excess_text: str
    safe_text: str


class BehindView(View):
    """What stands behind a measured value: the probability that the true one is past the tolerance limit."""

    label: str
    measured: float
    past: float  # from the measurement alone
    past_in_class: float | None  # knowing how the class spreads; None where the class rules such a value out


class ClassRiskView(View):
    """Of a thousand engines of the class: what they truly are against what is found."""

    sentence: str  # how the engines are taken to spread
    drawn_from: SpreadSource
    mean: float
    standard_deviation: float
    inside_conforming: float
    inside_inconclusive: float
    inside_nonconforming: float  # the competitor's risk: R_P
    past_conforming: float  # the others' risk: R_C
    past_inconclusive: float
    past_nonconforming: float
    past_among_conforming: float | None
    inside_among_nonconforming: float | None
    error_bound: float


class SourceView(View):
    label: str
    standard_uncertainty: float  # in units of ratio
    shared: bool
    percent_of_variance: float


class PlanView(View):
    """One plan, worked out."""

    instrument_id: UUID
    instrument_name: str
    repeats: int
    temperature_source: TemperatureSource
    temperature_words: str
    cylinders: int
    probability: Exact
    probability_typed: str  # in percent, as a form field takes it
    engine_words: str
    scatter_words: str
    kind: str
    limit: float
    tolerance_limit: float
    acceptance_limit: float | None
    rejection_limit: float | None
    standard_uncertainty: float
    sources: list[SourceView]
    headline: str
    sentences: list[str]
    policing: PolicingView
    curve: list[OddsView]
    table: list[OddsView]
    at_the_limit: OddsView
    doubt: list[str]
    behind: list[BehindView]
    risk: ClassRiskView
    history_sentence: str
    sharper: list[PolicingView]
    blunter: list[PolicingView]
    counts: list[PolicingView]


class InstrumentChoice(View):
    id: UUID
    name: str


class PlanningView(View):
    """A class with the plan for it; without one, what is missing before anything can be planned."""

    class_id: UUID
    class_code: str
    class_name: str
    edition: EditionView | None
    instruments: list[InstrumentChoice]
    plan: PlanView | None
    missing: str
