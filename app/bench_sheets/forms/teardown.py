"""What is typed when the engine is taken down and every volume of the chamber is measured by itself."""

from typing import Annotated

from pydantic import Field

from app.bench_sheets.forms.quantities import USUAL_POURING, CylinderNumber, Fills, Poured, PouringIn
from app.intake import In, Length


class GasketIn(In):
    bore: Annotated[Length, Field(title="Opening of the gasket")]
    bore_standard_uncertainty: Annotated[Length, Field(title="Standard uncertainty of the gasket’s opening")]
    thickness: Annotated[Length, Field(title="Thickness of the gasket, pressed")]
    thickness_standard_uncertainty: Annotated[Length, Field(title="Standard uncertainty of the gasket’s thickness")]


class CreviceIn(In):
    diametral_clearance: Annotated[Length, Field(title="Bore less top land")]
    diametral_clearance_standard_uncertainty: Annotated[
        Length, Field(title="Standard uncertainty of the top land’s clearance")
    ]
    height: Annotated[Length, Field(title="From the crown to the top ring")]
    height_standard_uncertainty: Annotated[Length, Field(title="Standard uncertainty of the top land’s height")]


class CylinderPartsIn(In):
    cylinder: CylinderNumber
    head_fills: Annotated[Fills, Field(title="Fills of the head’s chamber")] = []  # noqa: RUF012  # pydantic copies it
    deck_clearance: Annotated[Length, Field(title="Crown below the deck")]
    crown_fills: Annotated[Fills, Field(title="Fills down the bore")] = []  # noqa: RUF012
    crown_depth: Annotated[Length, Field(title="Depth of the crown’s rim during those fills")] = 0  # type: ignore[assignment]
    reliefs: Annotated[Poured, Field(title="Valve reliefs not counted yet")] = 0  # type: ignore[assignment]


class TeardownIn(In):
    pouring: PouringIn
    plate_flatness: Annotated[Length, Field(title="Flatness of plate and head, ±")]
    gasket: GasketIn
    crevice: CreviceIn
    deck_clearance_standard_uncertainty: Annotated[Length, Field(title="Standard uncertainty of the deck clearance")]
    crown_depth_standard_uncertainty: Annotated[Length, Field(title="Standard uncertainty of the crown’s depth")]
    reliefs_standard_uncertainty: Annotated[Poured, Field(title="Standard uncertainty of the valve reliefs")]
    plug: Annotated[Poured, Field(title="Fitted plug against the poured one")]
    plug_standard_uncertainty: Annotated[Poured, Field(title="Standard uncertainty of the plug’s volume")]
    cylinders: Annotated[list[CylinderPartsIn], Field(max_length=24, title="Cylinders")] = []  # noqa: RUF012


USUAL = {
    **USUAL_POURING,
    "plate_flatness": ("0.02", "length"),
    "gasket.bore_standard_uncertainty": ("0.1", "length"),
    "gasket.thickness_standard_uncertainty": ("0.02", "length"),
    "crevice.diametral_clearance_standard_uncertainty": ("0.02", "length"),
    "crevice.height_standard_uncertainty": ("0.05", "length"),
    "deck_clearance_standard_uncertainty": ("0.01", "length"),
    "crown_depth_standard_uncertainty": ("0.01", "length"),
    "reliefs_standard_uncertainty": ("0.05", ""),
    "plug": ("0", ""),
    "plug_standard_uncertainty": ("0.05", ""),
}
