"""What is typed when bores and strokes are gauged."""

import re
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Annotated

from pydantic import BeforeValidator, Field, ValidationInfo

from app.bench_sheets.forms.quantities import AsRead, CylinderNumber, Kelvin, SingleMetalKey
from app.intake import KINDS, In, Length, Temperature, unit_of

_READ = re.compile(r"([0-9]{1,3})(?:[.,]([0-9]{1,6}))?\s*(\D*)")


def _millimetres(typed: object, info: ValidationInfo) -> object:
    """The digits as read, in millimetres. Inches come out with the last decimal whose step is no finer than theirs:
    4.0005 in was read to 0.0001 in, which is 0.00254 mm, so it is kept as 101.61 mm and not as 101.6127 mm."""
    found = _READ.fullmatch(typed.strip()) if isinstance(typed, str) else None
    if found is None:
        return typed  # the core says what cannot be read
    length = KINDS["length"]
    system = (info.context or {}).get("units", "metric")
    unit = length.spellings.get(found[3].lower()) if found[3] else unit_of("length", system)
    if unit is None:
        raise ValueError(f"“{found[3][:20]}” is not a unit of length known here. Write mm or in.")
    whole, decimals = found[1], found[2] or ""
    if unit == "mm":
        return f"{whole}.{decimals}" if decimals else whole
    kept = Decimal(1).scaleb(2 - len(decimals)) if len(decimals) > 2 else Decimal(1)
    inches = Decimal(f"{whole}.{decimals or 0}")
    return f"{length.to_stored(inches, unit).quantize(kept, ROUND_HALF_EVEN):f}"


Gauged = Annotated[AsRead, BeforeValidator(_millimetres)]


class LengthInstrumentIn(In):
    name: Annotated[str, Field(min_length=1, max_length=120, title="Measured with")]
    error_limit: Annotated[Length, Field(title="Limits of its error, ±")]


class CylinderLengthsIn(In):
    cylinder: CylinderNumber
    diameters: Annotated[list[Gauged], Field(max_length=16, title="Diameters")] = []  # noqa: RUF012  # pydantic copies it
    strokes: Annotated[list[Gauged], Field(max_length=16, title="Strokes")] = []  # noqa: RUF012


class DimensionalIn(In):
    bore_instrument: LengthInstrumentIn
    stroke_instrument: LengthInstrumentIn
    metal_temperature: Annotated[Temperature, Field(title="Temperature of block and crank")]
    metal_temperature_standard_uncertainty: Annotated[Kelvin, Field(title="Standard uncertainty of that temperature")]
    instrument_temperature: Annotated[Temperature, Field(title="Temperature of the gauges")]
    instrument_temperature_standard_uncertainty: Annotated[
        Kelvin, Field(title="Standard uncertainty of that temperature")
    ]
    block_metal: Annotated[SingleMetalKey, Field(title="Metal of the block")]
    crank_metal: Annotated[SingleMetalKey, Field(title="Metal of the crank")]
    cylinders: Annotated[list[CylinderLengthsIn], Field(max_length=24, title="Cylinders")] = []  # noqa: RUF012


USUAL = {
    "metal_temperature_standard_uncertainty": ("1", ""),
    "instrument_temperature_standard_uncertainty": ("1", ""),
    "crank_metal": ("steel", ""),
}
