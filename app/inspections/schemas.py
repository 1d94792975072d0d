from datetime import datetime
from decimal import Decimal
from typing import Annotated, Any, Literal
from uuid import UUID

from pydantic import AfterValidator, AwareDatetime, Field, field_validator

from app.entries.schemas import EntryView
from app.intake import Exact, Flow, GaugePressure, In, Number, Pressure, Temperature, View, Volume, show_both, within
from app.regulations.schemas import RuleView

TemperatureSource = Literal["thermometer_in_chamber", "coolant_gauge", "ambient_on_stand"]


def _not_kelvin(whose: str, hottest_c: int) -> AfterValidator:
    """297 °C is no air, but it is what a thermometer in kelvin shows on a spring day; `whose` begins the sentence."""

    def check(value: Decimal) -> Decimal:
        celsius = value - Decimal("273.15")
        if not -20 <= celsius <= hottest_c:
            return value
        raise ValueError(
            f"{whose} cannot be at {show_both(value, 'temperature')}. Was it typed in kelvin? "
            f"{value.normalize():f} K are {show_both(celsius, 'temperature')}."
        )

    return AfterValidator(check)


GasTemperature = Annotated[
    Temperature, _not_kelvin("The gas", 120), within("-20", "120", "A gas temperature of", "temperature")
]
AirTemperature = Annotated[
    Temperature, _not_kelvin("The air", 60), within("-20", "60", "An air temperature of", "temperature")
]
CheckKind = Literal["leak_down", "refitted"]
Reason = Annotated[str, Field(max_length=400)]


class ConditionsIn(In):
    """What is dialled on the instrument, and what gas and air are."""

    set_displacement: Annotated[
        Volume, within("20", "20000", "A displacement of", "volume"), Field(title="Displacement dialled")
    ]
    set_cylinders: Annotated[int, Field(ge=1, le=24, title="Cylinders dialled")]
    set_gas_temperature: Annotated[GasTemperature, Field(title="Gas temperature dialled")]
    gas_temperature: Annotated[GasTemperature, Field(title="Gas temperature in the chamber")]
    temperature_source: Annotated[TemperatureSource, Field(title="How the gas temperature is known")]
    airflow: Annotated[Flow, within("0.01", "200", "An airflow of", "flow"), Field(title="Airflow")]
    ambient_temperature: Annotated[AirTemperature | None, Field(title="Air temperature")] = None
    pressure: Annotated[
        Annotated[Pressure, within("50", "110", "An air pressure of", "pressure")] | None, Field(title="Air pressure")
    ] = None
    humidity: Annotated[
        Annotated[Number, within("0", "100", "A relative humidity of")] | None, Field(title="Relative humidity")
    ] = None
    crank_step: Annotated[
        Annotated[Number, within("0", "20", "A crank step, in degrees, of")], Field(title="Step of the crank")
    ] = Decimal(0)
    rod_ratio: Annotated[
        Annotated[Number, within("1", "3", "A rod ratio, rod length over stroke, of")] | None,
        Field(title="Rod ratio"),
    ] = None

    @field_validator("temperature_source", mode="before")
    @classmethod
    def _no_surface_reading(cls, value: object) -> object:
        if value == "infrared_surface":
            raise ValueError(
                "An infrared thermometer reads the metal's surface, not the gas inside. "
                "Measure in the chamber, or take the coolant gauge."
            )
        return value


class CorrectedConditionsIn(ConditionsIn):
    """Conditions that replace those on the sheet, which stay in the record."""

    replaces_id: UUID
    reason: Annotated[str, Field(min_length=1, max_length=400, title="Why the conditions are corrected")]


class InspectionIn(ConditionsIn):
    """Opens a work sheet: one engine, one visit."""

    entry_id: UUID
    instrument_id: Annotated[UUID, Field(title="Instrument")]
    conditions_id: UUID
    cautions_confirmed: Annotated[bool, Field(title="The five cautions", validate_default=True)] = False
    repeats_id: UUID | None = None
    repeat_reason: Annotated[Reason, Field(title="Why it is measured again")] = ""

    @field_validator("cautions_confirmed")
    @classmethod
    def _all_of_this_is_so(cls, value: bool) -> bool:
        if not value:
            raise ValueError("Go through the five cautions and confirm that all of them hold before air goes on.")
        return value


class ReadingIn(In):
    """The indications of one cylinder as the instrument shows them, digit for digit."""

    cylinder: Annotated[int, Field(ge=1, le=24, title="Cylinder")]
    indications: Annotated[list[Annotated[str, Field(max_length=40)]], Field(max_length=9, title="Readings")] = Field(
        default_factory=list
    )
    not_measured_reason: Annotated[Reason, Field(title="Why it was not measured")] = ""
    taken_at: AwareDatetime | None = None
    replaces_id: UUID | None = None
    reason: Annotated[Reason, Field(title="Why the reading is corrected")] = ""


class ReadingWithId(ReadingIn):
    id: UUID


class ReadingsIn(In):
    """Several readings at once, all or none of them kept."""

    readings: Annotated[list[ReadingWithId], Field(max_length=48)]


class CheckIn(In):
    """What was done about a cylinder under suspicion: a leak-down test and what it showed, or the adapter refitted."""

    cylinder: Annotated[int, Field(ge=1, le=24, title="Cylinder")]
    check: Annotated[CheckKind, Field(title="What was done")]
    leak_percent: Annotated[
        Annotated[Number, within("0", "100", "A leak-down percentage of")] | None, Field(title="Leak-down percentage")
    ] = None
    pressure: Annotated[
        Annotated[GaugePressure, within("20", "1500", "A test pressure of", "gauge_pressure")] | None,
        Field(title="Pressure used"),
    ] = None
    note: Annotated[Reason, Field(title="Note")] = ""


class AcknowledgementIn(In):
    """That the team has seen the result, or why there is no sign of it. Not that it agrees."""

    acknowledgement_kind: Annotated[
        Literal["drawn", "typed", "refused", "not_present"], Field(title="The team's acknowledgement")
    ]
    acknowledgement_name: Annotated[str, Field(max_length=120, title="Name")] = ""
    acknowledgement_path: Annotated[
        str, Field(max_length=20000, pattern=r"^(M\d{1,3} \d{1,3}(L\d{1,3} \d{1,3})*)*$")
    ] = ""
    acknowledgement_note: Annotated[Reason, Field(title="Reason, and who saw it")] = ""


class ConditionsView(View):
    id: UUID
    set_displacement_cm3: Exact
    set_cylinders: int
    set_gas_temperature_c: Exact
    gas_temperature_c: Exact
    temperature_source: str
    temperature_source_words: str
    airflow_l_min: Exact
    ambient_temperature_c: Exact | None
    pressure_kpa: Exact | None
    humidity_percent: Exact | None
    crank_step_degrees: Exact
    rod_ratio: Exact | None  # none: unknown, and the core assumes one
    crank_words: str
    taken_by: str
    taken_at: datetime
    reason: str


class ReadingView(View):
    id: UUID
    cylinder: int
    indications: list[str]
    not_measured_reason: str
    taken_by: str
    taken_at: datetime
    received_at: datetime
    replaces_id: UUID | None
    reason: str  # why it replaced the earlier one


class CylinderRow(View):
    cylinder: int
    reading: ReadingView | None
    set_aside: list[ReadingView]  # earlier readings, each replaced for a reason
    set_aside_reasons: list[str]


class CheckView(View):
    """One check of a cylinder, as it was noted."""

    id: UUID
    cylinder: int
    check: str
    check_words: str
    leak_percent: Exact | None
    pressure_kpa: Exact | None
    note: str
    made_by: str
    made_at: datetime
    counts: bool  # false where a later check, or a later reading, took its place


class SuspicionOnSheet(View):
    """A suspicion in the core's words, and the check that settles it or settled it."""

    kind: str
    cylinder: int
    seen: str
    look_for: str
    do: str
    settled_by: str  # empty while it is open
    needs: str  # the check that settles this kind; empty where none does
    check: CheckView | None  # the one that counts, if it was made


class VerdictView(View):
    id: UUID
    verdict: str
    picture: str  # the verdict as it is drawn: empty where a leak or a gap keeps it open
    side: str  # maximum | minimum: the side of the rule that decided
    decided_by: str
    decided_at: datetime
    core_version: str
    acknowledgement_kind: str
    acknowledgement_name: str
    acknowledgement_path: str
    acknowledgement_note: str
    protest_until: datetime


class InstrumentOnSheet(View):
    id: UUID
    name: str
    serial: str
    method: str
    airflow_set_point_l_min: Exact
    airflow_tolerance_l_min: Exact


class InspectionView(View):
    """Everything of one sheet: what the page shows and what the API answers."""

    id: UUID
    entry: EntryView
    rule: RuleView
    instrument: InstrumentOnSheet
    opened_by: str
    opened_at: datetime
    repeats_id: UUID | None
    repeat_reason: str
    conditions: ConditionsView
    earlier_conditions: list[ConditionsView]
    rows: list[CylinderRow]
    missing: list[int]  # cylinders with neither a reading nor a reason
    set_aside_words: str  # how many readings are kept and not used; empty where none is
    checks: list[CheckView]
    suspicions: list[SuspicionOnSheet]
    gas: list[str]  # what other gas than plain dry air would do to this engine's figure
    assessment: dict[str, Any] | None  # the frozen result once signed, else worked out now
    assessment_problem: str  # why there is none yet
    is_provisional: bool
    doubtful: list[str]  # why a verdict signed on it now would be in doubt at once; a signed one has its standing
    verdict: VerdictView | None


class WaitingEntry(View):
    """One line of the waiting list."""

    entry: EntryView
    state: str  # waiting | open | finished
    inspection_id: UUID | None
    verdict: str
    picture: str  # the verdict as it is drawn: empty where a leak or a gap keeps it open
    rule_kind: str
    opened_by: str
    at: datetime | None


class WaitingList(View):
    event_id: UUID
    event_name: str
    venue: str
    open_instruments: list[str]
    entries: list[WaitingEntry]
