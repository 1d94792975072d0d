"""What is asked and what is shown of gauge studies, flow studies, and what budgets take from them."""

import re
from datetime import datetime
from typing import Annotated, Literal
from uuid import UUID

from pydantic import Field, field_validator

from app.happenings import HappenedView
from app.instruments.schemas import InstrumentView, ReferenceVolumeView
from app.intake import Exact, Flow, In, Number, View, within
from app.metrology.indications import parse_indication

Kind = Literal["gauge", "flow"]
LONGEST_PART = 60
FEWEST_FLOWS, MOST_FLOWS, FEWEST_REPEATS, MOST_REPEATS = 4, 9, 2, 12

Reason = Annotated[str, Field(min_length=1, max_length=1000)]


def _as_shown(typed: str) -> str:
    parse_indication(typed, "indications")
    return typed


# ---- asked ------------------------------------------------------------------------------------------------------


class GaugeStudyIn(In):
    """Parts as a list, or as text with one a line; held against a class's tolerance or a figure of one's own."""

    instrument_id: UUID
    title: Annotated[str, Field(min_length=1, max_length=120, title="What the study is called")]
    parts: Annotated[list[str], Field(max_length=50, title="What is measured")]
    inspector_ids: Annotated[list[UUID], Field(min_length=1, max_length=20, title="Who measures")]
    repeats: Annotated[int, Field(title="Readings of each part")]
    class_id: UUID | None = None
    tolerance: Annotated[
        Annotated[Number, within("0.001", "10", "A tolerance of")] | None, Field(title="A tolerance of your own")
    ] = None

    @field_validator("parts", mode="before")
    @classmethod
    def _one_a_line(cls, typed: object) -> object:
        lines = typed.splitlines() if isinstance(typed, str) else typed
        if not isinstance(lines, list):
            return lines
        kept = [line.strip() for line in lines if isinstance(line, str) and line.strip()]
        if len(kept) != len(lines) and not isinstance(typed, str):
            raise ValueError("Each part is a name. Write it so that anyone finds the part again.")
        if any(len(line) > LONGEST_PART for line in kept):
            raise ValueError(f"A part's name takes at most {LONGEST_PART} characters. Shorten it.")
        return kept

    @field_validator("inspector_ids", mode="before")
    @classmethod
    def _one_or_more(cls, typed: object) -> object:
        return [typed] if isinstance(typed, str) else typed


class StudyReadingIn(In):
    """One indication, digits as shown. A correction names the reading it replaces, and why."""

    part: Annotated[int, Field(ge=1, title="Part")]
    repeat: Annotated[int, Field(ge=1, title="Reading")]
    indication: Annotated[str, Field(max_length=20, title="What the instrument shows")]
    replaces_id: UUID | None = None
    reason: Annotated[str, Field(max_length=400, title="Why it is corrected")] = ""

    @field_validator("indication")
    @classmethod
    def _readable(cls, typed: str) -> str:
        return _as_shown(typed)


class StudyReadingWithId(StudyReadingIn):
    id: UUID


class StudyReadingsIn(In):
    readings: Annotated[list[StudyReadingWithId], Field(min_length=1, max_length=500)]


class FlowPointIn(In):
    """Indications as a list, or as text with blanks between them."""

    airflow: Annotated[Flow, within("0.01", "1000", "An airflow of", "flow"), Field(title="Airflow")]
    indications: Annotated[list[str], Field(max_length=MOST_REPEATS, title="Indications")]

    @field_validator("indications", mode="before")
    @classmethod
    def _separate(cls, typed: object) -> object:
        return [one for one in re.split(r"[\s;|]+", typed) if one] if isinstance(typed, str) else typed

    @field_validator("indications")
    @classmethod
    def _enough(cls, typed: list[str]) -> list[str]:
        for one in typed:
            _as_shown(one)
        if len(typed) < FEWEST_REPEATS:
            raise ValueError("Read the volume twice or more at each airflow: only repeats show how far it scatters.")
        return typed


class FlowStudyIn(In):
    instrument_id: UUID
    reference_volume_id: Annotated[UUID, Field(title="The reference volume")]
    points: Annotated[list[FlowPointIn], Field(title="Airflows")]
    note: Annotated[str, Field(max_length=1000, title="Note")] = ""
    set_back: Annotated[bool, Field(title="The airflow", validate_default=True)] = False

    @field_validator("points")
    @classmethod
    def _number_of_points(cls, points: list[FlowPointIn]) -> list[FlowPointIn]:
        if not FEWEST_FLOWS <= len(points) <= MOST_FLOWS:
            raise ValueError(f"A flow study takes {FEWEST_FLOWS} to {MOST_FLOWS} airflows; here are {len(points)}.")
        return points

    @field_validator("set_back")
    @classmethod
    def _stands_right_again(cls, value: bool) -> bool:
        if not value:
            raise ValueError("Set the airflow back to its set-point first, then confirm that it stands there.")
        return value


class AdoptionIn(In):
    """`study_id` None ends what was adopted of this kind."""

    kind: Kind
    study_id: UUID | None = None
    reason: Annotated[Reason, Field(title="Reason")]


# ---- shown ------------------------------------------------------------------------------------------------------


class ChoiceView(View):
    id: UUID
    label: str


class StudyStartView(View):
    """What a form for a new study needs."""

    instrument: InstrumentView
    inspectors: list[ChoiceView]
    classes: list[ChoiceView]


class ProgressView(View):
    """How far an inspector is. `letter` is given to officials, and to the inspector whose it is."""

    id: UUID
    name: str
    letter: str
    taken: int
    planned: int


class StepView(View):
    number: int
    inspector_id: UUID
    inspector: str
    part_number: int
    part: str
    repeat: int
    is_done: bool


class OwnReadingView(View):
    """A reading of one's own while the study runs: no figure, so that nobody repeats one from memory."""

    id: UUID
    part_number: int
    part: str
    repeat: int
    taken_at: datetime


class NextView(View):
    """What the signed-in inspector reads now, and who is still at an earlier round."""

    step: StepView
    number: int
    of: int
    waiting_for: list[str]


class ComponentView(View):
    """One line of the table of components; standard deviations in units of ratio, shares 0 to 1."""

    key: str
    label: str
    note: str
    standard_deviation: float | None
    low: float | None
    high: float | None
    degrees_of_freedom: str | None  # decimal text, “∞” for infinite
    contribution: float | None  # of the variance
    share_of_total: float | None
    share_of_tolerance: float | None
    share_low: float | None
    share_high: float | None
    by_range: float | None
    range_share: float | None
    range_share_of_tolerance: float | None


class LetterMeanView(View):
    letter: str
    mean: float
    low: float
    high: float


class SetAsideView(View):
    letter: str
    part: str
    repeat: int
    indication: str
    instead: str
    reason: str
    at: datetime


class GaugeResultView(View):
    """Readings as typed: figures[inspector][part][repeat], inspectors and parts in the order of the plan."""

    letters: list[str]
    parts: list[str]
    figures: list[list[list[str]]]
    values: list[list[list[float]]]
    components: list[ComponentView]
    interaction_pooled: bool
    means: list[LetterMeanView]
    mean_range: float
    distinct_categories: int | None
    range_distinct_categories: int | None
    meaning: str  # for the tolerance it is held against; empty without one
    sentences: list[str]
    range_sentences: list[str]
    for_budget: dict[str, str]  # what an adoption would freeze, as decimal text
    budget_words: str
    set_aside: list[SetAsideView]


class AdoptedView(View):
    """A study's figures in every budget, as they were frozen that day."""

    id: UUID
    kind: Kind
    study_id: UUID
    title: str
    figures_words: str
    reason: str
    adopted_by: str
    adopted_at: datetime
    passed_over: str  # why budgets take nothing of it all the same: made before a repair; else ""


class GaugeStudyView(View):
    id: UUID
    instrument_id: UUID
    instrument_name: str
    title: str
    parts: list[str]
    repeats: int
    tolerance: Exact | None
    held_against: str
    planned_by: str
    planned_at: datetime
    plan_sentences: list[str]
    inspectors: list[ProgressView]
    order: list[StepView]
    taken: int
    planned: int
    missing_words: str  # empty when complete
    next: NextView | None
    own_readings: list[OwnReadingView]  # that the signed-in inspector may correct
    is_mine: bool
    result: GaugeResultView | None
    problem: str  # why a complete study has no result
    adopted: AdoptedView | None  # where budgets take this study
    happened: list[HappenedView]


class FlowPointView(View):
    airflow_l_min: Exact
    indications: list[str]
    mean: float


class FlowStudyView(View):
    """Slopes in ratio per L/min."""

    id: UUID
    instrument_id: UUID
    instrument_name: str
    set_point_l_min: Exact
    airflow_tolerance_l_min: Exact
    reference_volume: ReferenceVolumeView
    points: list[FlowPointView]
    note: str
    made_by: str
    made_at: datetime
    sensitivity: float
    standard_uncertainty: float
    degrees_of_freedom: str
    expanded_uncertainty: float
    shape: str
    line: list[tuple[float, float, float]]  # airflow, ratio on the line, its expanded uncertainty
    curve: list[tuple[float, float]]  # airflow, ratio on the parabola; empty where a line does
    sentences: list[str]
    budget_words: str
    verified_after: bool
    adopted: AdoptedView | None
    happened: list[HappenedView]


class StudyLine(View):
    id: UUID
    kind: Kind
    title: str
    state: str
    is_complete: bool
    is_adopted: bool
    at: datetime


class StudiesView(View):
    """What an instrument's page says of its studies; the newest first."""

    instrument_id: UUID
    instrument_name: str
    studies: list[StudyLine]
    adopted: list[AdoptedView]


class ComparedView(View):
    """One inspector's runs on one reference volume against the whole, in units of ratio."""

    letter: str
    name: str
    runs: int
    mean: float
    difference: float
    low: float
    high: float


class VolumeComparisonView(View):
    """Runs on one reference volume, by who made them; without figures there is a sentence that says why."""

    volume: ReferenceVolumeView
    runs: int
    since: datetime
    until: datetime
    problem: str
    inspectors: list[ComparedView]
    between: float | None
    between_low: float | None
    between_high: float | None
    within: float | None
    sentences: list[str]


class InspectorsView(View):
    instrument_id: UUID
    instrument_name: str
    began_words: str  # what made the instrument another than it was; empty: nothing did
    earlier: int  # verifications before that, which are left out
    missed: int  # those since then that missed their mark, which are left out too
    volumes: list[VolumeComparisonView]
