"""What is typed when the whole chamber is poured through the plug hole."""

from typing import Annotated

from pydantic import Field

from app.bench_sheets.forms.quantities import (
    USUAL_POURING,
    CylinderNumber,
    Degrees,
    Fills,
    Poured,
    PouringIn,
)
from app.intake import In, Length


class CylinderFillsIn(In):
    cylinder: CylinderNumber
    fills: Annotated[Fills, Field(title="Fills")] = []  # noqa: RUF012  # pydantic copies it
    not_measured_reason: Annotated[str, Field(max_length=400, title="Why it was not filled")] = ""


class LiquidVolumeIn(In):
    pouring: PouringIn
    plug_hole: Annotated[Poured, Field(title="Volume of the plug hole")]
    plug_hole_standard_uncertainty: Annotated[Poured, Field(title="Standard uncertainty of the plug hole’s volume")]
    crank_within: Annotated[Degrees, Field(title="Top dead centre found to within")]
    rod_length: Annotated[Length | None, Field(title="Connecting rod between centres")] = None
    cylinders: Annotated[list[CylinderFillsIn], Field(max_length=24, title="Cylinders")] = []  # noqa: RUF012


USUAL = {
    **USUAL_POURING,
    "plug_hole_standard_uncertainty": ("0.05", ""),
    "crank_within": ("0.5", ""),
}
