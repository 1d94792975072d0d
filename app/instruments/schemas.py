"""What is asked and what is shown of instruments, their reference volumes, calibrations and verifications."""

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Literal
from uuid import UUID

from pydantic import AfterValidator, Field, ValidationInfo, field_validator

from app.happenings import HappenedView
from app.instruments.ledger_schemas import (
    MOST_POINTS,
    CalibrationPointIn,
    CalibrationPointView,
    CertificateFileView,
    CondemnationView,
    NoteView,
    RaisedDoubtView,
    WithdrawalView,
)
from app.instruments.procedure import STEP_KEYS, STEPS, StepKey, gas_off_ambient, not_confirmed
from app.intake import Exact, Flow, In, Name, Number, Temperature, View, Volume, read_number, within
from app.metrology.indications import parse_indication
from app.metrology.inputs import AcousticObservations
from app.metrology.methods import METHODS

AccuracyMeaning = Literal["limits", "expanded_k2", "standard"]
Stage = Literal["opening", "during", "closing"]
DueState = Literal["in_time", "soon", "overdue", "none"]

ACCURACY_MEANINGS: dict[AccuracyMeaning, str] = {
    "limits": "The error stays within ± this figure",
    "expanded_k2": "An expanded uncertainty with k = 2",
    "standard": "A standard uncertainty",
}
STAGES: dict[Stage, str] = {"opening": "Opening", "during": "During the day", "closing": "Closing"}
MOST_INDICATIONS = 12
# methods whose instrument shows the ratio itself; a burette or a gauge is no instrument of this book
INSTRUMENT_METHODS = {key: method for key, method in METHODS.items() if method.observations is AcousticObservations}

Serial = Annotated[str, Field(min_length=1, max_length=60)]


def _as_shown(typed: str) -> str:
    """Kept as typed, so that "10.50" still shows its resolution; refused when it cannot be read."""
    parse_indication(typed, "indications")
    return typed


# ---- asked ------------------------------------------------------------------------------------------------------


class InstrumentIn(In):
    """Typed quantities have no unit in their name; `model_dump(by_alias=True)` gives the names of the columns."""

    name: Annotated[str, Field(min_length=1, max_length=60, title="Name")]
    serial: Annotated[Serial, Field(title="Serial number")]
    method: Annotated[str, Field(title="Method")]
    resolution: Annotated[Number, within("0.0001", "1", "The resolution"), Field(title="Resolution")]
    stated_accuracy: Annotated[Number, within("0.0001", "5", "The stated accuracy"), Field(title="Stated accuracy")]
    accuracy_meaning: Annotated[AccuracyMeaning, Field(title="What the accuracy means")]
    airflow_set_point: Annotated[
        Flow,
        within("0.01", "1000", "An airflow of", "flow"),
        Field(title="Airflow set-point", serialization_alias="airflow_set_point_l_min"),
    ]
    airflow_tolerance: Annotated[
        Flow,
        within("0", "100", "An airflow tolerance of", "flow"),
        Field(title="Airflow tolerance", serialization_alias="airflow_tolerance_l_min"),
    ]
    airflow_sensitivity: Annotated[
        Annotated[Number, within("-5", "5", "A change of the indication by")] | None,
        Field(title="What a litre per minute does"),
    ] = None
    settable_cylinders: Annotated[list[int], Field(title="Cylinder counts that can be set")]
    displacement_min: Annotated[
        Volume,
        within("1", "200000", "A displacement of", "volume"),
        Field(title="Smallest displacement", serialization_alias="displacement_min_cm3"),
    ]
    displacement_max: Annotated[
        Volume,
        within("1", "200000", "A displacement of", "volume"),
        Field(title="Largest displacement", serialization_alias="displacement_max_cm3"),
    ]

    @field_validator("method")
    @classmethod
    def _known_method(cls, value: str) -> str:
        if value not in INSTRUMENT_METHODS:
            raise ValueError("This method is not known here. Choose one of the list.")
        return value

    @field_validator("settable_cylinders", mode="before")
    @classmethod
    def _counts(cls, typed: object) -> list[int]:
        """A list, or text such as "4, 6 and 8": sorted, each once."""
        parts = typed.replace("and", ",").replace(";", ",").split(",") if isinstance(typed, str) else typed
        if not isinstance(parts, list) or not parts:
            raise ValueError("Write the cylinder counts with commas between them, such as 4, 6, 8.")
        counts: set[int] = set()
        for part in parts:
            try:
                count, rest = read_number(part)
            except ValueError:
                count, rest = Decimal(0), "?"
            if rest or count != int(count) or not 1 <= count <= 48:
                raise ValueError(
                    f"“{str(part).strip()[:20]}” is not a cylinder count. Write whole numbers from 1 to 48 with commas "
                    "between them, such as 4, 6, 8."
                )
            counts.add(int(count))
        return sorted(counts)


class ReferenceVolumeIn(In):
    """The mark is one number, or an interval when `mark_high` is given too."""

    serial: Annotated[Serial, Field(title="Number on it")]
    mark_low: Annotated[Number, within("1.5", "40", "A mark of"), Field(title="Marked value")]
    mark_high: Annotated[Number | None, Field(title="Upper end of the mark")] = None
    permitted_deviation: Annotated[
        Number, within("0", "1", "A permitted deviation of"), Field(title="Permitted deviation")
    ]
    mark_expanded_uncertainty: Annotated[
        Annotated[Number, within("0.0001", "5", "An expanded uncertainty of")] | None,
        Field(title="Expanded uncertainty of the mark"),  # k = 2
    ] = None
    mark_displacement: Annotated[
        Volume,
        within("1", "200000", "A displacement of", "volume"),
        Field(title="Displacement to set", serialization_alias="mark_displacement_cm3"),
    ]
    mark_cylinders: Annotated[int, Field(ge=1, le=48, title="Cylinder count to set")]


class CalibrationIn(In):
    laboratory: Annotated[Name, Field(title="Laboratory")]
    certificate: Annotated[Serial, Field(title="Certificate number")]
    calibrated_on: Annotated[date, Field(title="Date of the calibration")]
    due_on: Annotated[date, Field(title="Date it is due again")]
    # one figure for all, or else the certificate's values point by point: then both come from them
    deviation: Annotated[
        Annotated[Number, within("-5", "5", "A deviation of")] | None, Field(title="Deviation found")
    ] = None
    expanded_uncertainty: Annotated[
        Annotated[Number, within("0.0001", "5", "An expanded uncertainty of")] | None,
        Field(title="Expanded uncertainty"),
    ] = None
    points: Annotated[
        list[CalibrationPointIn],
        Field(default_factory=list, max_length=MOST_POINTS, title="Values of the certificate"),
    ]
    coverage_factor: Annotated[Number, within("1", "5", "A coverage factor of"), Field(title="Coverage factor k")]


class VerificationIn(In):
    instrument_id: Annotated[UUID, Field(title="Instrument")]
    reference_volume_id: Annotated[UUID, Field(title="Reference volume")]
    stage: Annotated[Stage, Field(title="When")]
    indications: Annotated[list[Annotated[str, AfterValidator(_as_shown)]], Field(title="Indications")]
    airflow: Annotated[Flow, within("0", "1000", "An airflow of", "flow"), Field(title="Airflow")]
    ambient_temperature: Annotated[
        Temperature,
        within("-20", "60", "An ambient temperature of", "temperature"),
        Field(title="Ambient temperature"),
    ]
    gas_temperature_set: Annotated[
        Temperature,
        within("-20", "60", "A gas temperature of", "temperature"),
        Field(title="Gas temperature set"),
    ]
    steps_confirmed: Annotated[list[StepKey], Field(title="Steps confirmed")]

    @field_validator("gas_temperature_set")
    @classmethod
    def _is_ambient(cls, value: Decimal, info: ValidationInfo) -> Decimal:
        ambient = info.data.get("ambient_temperature")
        units = (info.context or {}).get("units", "metric")
        sentence = gas_off_ambient(value, ambient, units) if ambient is not None else ""
        if sentence:
            raise ValueError(sentence)
        return value

    @field_validator("steps_confirmed")
    @classmethod
    def _whole(cls, given: list[StepKey]) -> list[StepKey]:
        """All of them, each once and in order: a verification with a step left out judges nothing."""
        missing = not_confirmed(given)
        if missing:
            raise ValueError(" ".join(STEPS[key][1] for key in missing))
        return list(STEP_KEYS)

    @field_validator("indications")
    @classmethod
    def _enough(cls, typed: list[str]) -> list[str]:
        if len(typed) < 3:
            raise ValueError("Three indications are needed at least. Seat the reference volume again for each.")
        if len(typed) > MOST_INDICATIONS:
            raise ValueError(f"At most {MOST_INDICATIONS} indications are taken. Leave the later ones out.")
        return typed


class EngineAskedIn(In):
    """An engine that needs settings: any cylinder count, its whole displacement."""

    cylinders: Annotated[int, Field(ge=1, le=48, title="Number of cylinders")]
    displacement: Annotated[
        Volume, within("10", "100000", "A displacement of", "volume"), Field(title="Whole displacement")
    ]


# ---- shown ------------------------------------------------------------------------------------------------------


class CalibrationView(View):
    id: UUID
    laboratory: str
    certificate: str
    calibrated_on: date
    due_on: date
    deviation: Exact
    expanded_uncertainty: Exact
    coverage_factor: Exact
    points: list[CalibrationPointView]
    beyond_accuracy: str  # a sentence where it does not bear out the stated accuracy
    file: CertificateFileView | None
    withdrawal: WithdrawalView | None


class ReferenceVolumeView(View):
    id: UUID
    instrument_id: UUID
    instrument_name: str
    serial: str
    mark_low: Exact
    mark_high: Exact
    mark_text: str
    permitted_deviation: Exact
    lowest_accepted: Exact
    highest_accepted: Exact
    mark_expanded_uncertainty: Exact | None  # k = 2; None where nobody stated one
    mark_displacement_cm3: Exact
    mark_cylinders: int
    passing_too_wide: str  # a sentence where a verification can pass beyond the instrument's stated accuracy
    condemnation: CondemnationView | None


class VerificationView(View):
    id: UUID
    event_id: UUID
    event_name: str
    instrument_id: UUID
    instrument_name: str
    reference_volume: ReferenceVolumeView
    stage: Stage
    stage_words: str
    indications: list[str]
    airflow_l_min: Exact
    airflow_set_point_l_min: Exact
    ambient_temperature_c: Exact
    set_gas_temperature_c: Exact | None  # None: from before it was asked
    steps: list[str]  # what was confirmed, in words; empty from before it was asked
    mean: Exact
    standard_deviation: Exact
    scatter_caution: str = ""  # of one by itself: it scatters wider than those before it
    deviation: Exact
    e_n: Exact | None  # None where the airflow was off, and from before it was worked out
    e_n_sentence: str
    accepted: bool
    off_airflow: bool  # refused for its airflow: says nothing about the instrument itself
    reason: str  # the judgement's own sentence
    headline: str
    sentence: str
    what_to_do: str
    performed_by: str
    performed_at: datetime
    raises_doubt: bool  # it missed its mark: what was measured before it is looked at again
    in_doubt_since: datetime | None  # then: the last good verification before it, if there was one


class HindranceView(View):
    """What keeps an instrument from being used, wherever that is: short words, the whole sentence, what to do."""

    kind: Literal["missed", "fault", "repair", "uncalibrated", "overdue"]
    words: str
    reason: str
    what_to_do: str
    overdue_days: int = 0  # an edition may allow some


class InstrumentView(View):
    id: UUID
    name: str
    serial: str
    method: str
    method_words: str
    resolution: Exact
    stated_accuracy: Exact
    accuracy_meaning: AccuracyMeaning
    accuracy_words: str
    airflow_set_point_l_min: Exact
    airflow_tolerance_l_min: Exact
    airflow_sensitivity: Exact | None  # ratio per L/min, from a flow study
    airflow_sensitivity_words: str
    settable_cylinders: list[int]
    displacement_min_cm3: Exact
    displacement_max_cm3: Exact
    reference_volumes: list[ReferenceVolumeView]
    calibration: CalibrationView | None
    due_state: DueState
    due_words: str
    place: str  # where it was last moved to; empty where nobody noted it
    hindrance: HindranceView | None
    last_verification: VerificationView | None


class InstrumentPageView(View):
    """One instrument whole, for its own page."""

    instrument: InstrumentView
    calibrations: list[CalibrationView]  # latest first
    verifications: list[VerificationView]  # latest first
    notes: list[NoteView]  # faults, repairs and moves, latest first
    doubts: list[RaisedDoubtView]  # latest first
    repeatability: Exact | None  # pooled standard deviation of one indication
    repeatability_degrees_of_freedom: int
    happened: list[HappenedView]


class SettingChoiceView(View):
    cylinders: int
    displacement_cm3: Exact
    sentence: str


class SettingsFoundView(View):
    """The settings this instrument can take for an engine, best first; the reason where there are none."""

    cylinders: int
    displacement_cm3: Exact
    choices: list[SettingChoiceView]
    reason: str


class InstrumentStateView(View):
    """One instrument at one event: may it measure now?"""

    instrument: InstrumentView
    is_open: bool
    state_words: str
    latest: VerificationView | None
    may_be_used: bool  # nothing hinders it, or the editions of the series allow it all the same
    warning: str  # why it may not be used here now and what then, or what is allowed all the same; else empty
    stages: list[Stage]  # the verifications that can be made now, the next one first
    next_stage: Stage | None
    in_doubt_since: datetime | None  # the earliest moment from which results of this event are in doubt


class ShedView(View):
    event_id: UUID
    event_name: str
    venue: str
    starts_on: date
    ends_on: date
    when_words: str
    is_today: bool
    instruments: list[InstrumentStateView]
