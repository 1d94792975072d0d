import re
from datetime import datetime
from typing import Annotated
from uuid import UUID

from pydantic import AfterValidator, BeforeValidator, Field

from app.entries.geometry import Geometry
from app.happenings import HappenedView
from app.intake import Exact, In, Length, Name, View, Volume, within


def _code(typed: object) -> object:
    """Numbers on licences and engines are the same in small letters and with one blank more."""
    return " ".join(str(typed).split()).upper() if isinstance(typed, str | int) else typed


def _car(value: str) -> str:
    if not re.fullmatch(r"[0-9A-Z][0-9A-Z-]{0,9}", value):
        raise ValueError(f"“{value[:20]}” is no car number. Use up to 10 digits and letters, such as 41 or 4A.")
    return value


def _apart(typed: object) -> object:
    return [part for part in re.split(r"[\s,;/|]+", typed) if part] if isinstance(typed, str) else typed


def _each_once(value: list[str]) -> list[str]:
    twice = {seal for seal in value if value.count(seal) > 1}
    if twice:
        raise ValueError(f"Seal {min(twice)} is named twice. Each seal has its own number.")
    return value


CarNumber = Annotated[str, BeforeValidator(_code), AfterValidator(_car)]
Licence = Annotated[str, Field(min_length=1, max_length=40), BeforeValidator(_code)]
Serial = Annotated[str, Field(min_length=1, max_length=60), BeforeValidator(_code)]
Seal = Annotated[str, Field(min_length=1, max_length=40), BeforeValidator(_code)]
Seals = Annotated[list[Seal], BeforeValidator(_apart), AfterValidator(_each_once), Field(max_length=40)]


class CompetitorIn(In):
    licence: Annotated[Licence, Field(title="Licence")]
    name: Annotated[Name, Field(title="Name of the competitor")]


class NameIn(In):
    name: Annotated[Name, Field(title="Name of the competitor")]


class AccountIn(In):
    person_id: Annotated[UUID | None, Field(title="Person")] = None


class EngineIn(In):
    serial: Annotated[Serial, Field(title="Engine number")]
    cylinders: Annotated[int, Field(title="Number of cylinders", ge=1, le=24)]
    bore: Annotated[Length, within("20", "250", "A bore of", "length"), Field(title="Bore")]
    stroke: Annotated[Length, within("15", "300", "A stroke of", "length"), Field(title="Stroke")]
    declared_displacement: Annotated[
        Volume, within("10", "30000", "A displacement of", "volume"), Field(title="Displacement")
    ]
    seals: Annotated[Seals, Field(title="Seals")] = []  # noqa: RUF012  # pydantic copies it

    @property
    def geometry(self) -> Geometry:
        return Geometry(self.cylinders, self.bore, self.stroke, self.declared_displacement, self.seals)


class EntryIn(In):
    car_number: Annotated[CarNumber, Field(title="Car number")]
    class_id: Annotated[UUID, Field(title="Class")]
    competitor: CompetitorIn
    engine: EngineIn


class SheetIn(In):
    """A list of entries as text, for callers that speak JSON; others send the text itself."""

    text: Annotated[str, Field(max_length=4_000_000, title="The list")]


class CompetitorView(View):
    id: UUID
    licence: str
    name: str
    person_id: UUID | None
    person_name: str | None


class EngineView(View):
    """`changed` says how it differs from the record it replaces, `doubt` what its own figures do not bear out."""

    id: UUID
    serial: str
    cylinders: int
    bore_mm: Exact
    stroke_mm: Exact
    declared_displacement_cm3: Exact
    computed_displacement_cm3: Exact
    seals: list[str]
    replaces_id: UUID | None
    changed: str
    doubt: str


class EntryView(View):
    id: UUID
    event_id: UUID
    event_name: str
    class_id: UUID
    class_code: str
    class_name: str
    car_number: str
    competitor: CompetitorView
    engine: EngineView
    created_at: datetime


class EntryPageView(View):
    """One entry with what its engine was before, and what happened to all three records."""

    entry: EntryView
    earlier: list[EngineView]
    happened: list[HappenedView]


class CompetitorPageView(View):
    """A competitor, whom the account may be linked with, and every entry."""

    competitor: CompetitorView
    entries: list[EntryView]
    happened: list[HappenedView]


class RowProblem(View):
    """What keeps one row from coming in; `row` counts as a spreadsheet does, the headings being row 1 (0: no row)."""

    row: int
    column: str
    written: str
    sentence: str


class SheetRow(View):
    row: int
    state: str  # "new", "already entered" or "problem"
    car_number: str
    class_code: str
    competitor: str
    engine: str
    said: str


class ImportView(View):
    """What a list would do, or did. Nothing comes in while a problem is left."""

    row_count: int
    new_entries: int
    new_competitors: int
    new_engines: int
    changed_engines: int
    already_entered: int
    notes: list[str]
    problem_count: int
    problems: list[RowProblem]  # the first few hundred
    rows: list[SheetRow]
    imported: bool
    plan: str  # digest of what would be done, so that what is confirmed is what was seen
