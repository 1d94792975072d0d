"""The kinds of things that are typed on a bench sheet, and what all fillings from a burette have in common."""

from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from app.intake import In, Number, Temperature, Volume, read_number


def _cm3_unless_said(typed: object) -> object:
    value, spelled = read_number(typed)
    return f"{value:f} {spelled or 'cm³'}"


# burettes are divided in cm³ wherever they are sold: without a unit it is that, whatever system a person types in
Poured = Annotated[Volume, BeforeValidator(_cm3_unless_said)]
AsRead = Annotated[str, Field(max_length=20)]
Kelvin = Number
Degrees = Number
CylinderNumber = Annotated[int, Field(ge=1, le=24, title="Cylinder")]

BuretteClass = Literal["a", "b", "stated"]
Glass = Literal["borosilicate", "soda_lime", "acrylic", "polypropylene"]
LiquidKey = Literal["water_wetting_agent", "mineral_oil", "isopropanol", "white_spirit"]
MetalKey = Literal["cast_iron", "steel", "aluminium", "aluminium_on_iron"]
SingleMetalKey = Literal["cast_iron", "steel", "aluminium"]


class BuretteIn(In):
    nominal: Annotated[Poured, Field(title="Volume of the burette")]
    tolerance_class: Annotated[BuretteClass, Field(title="Class of the burette")]
    graduation: Annotated[Poured, Field(title="From one line of the burette to the next")]
    material: Annotated[Glass, Field(title="Material of the burette")] = "borosilicate"
    stated_tolerance: Annotated[Poured | None, Field(title="Limits that its maker states, ±")] = None


class PouringIn(In):
    """What all fillings of one sheet have in common."""

    burette: BuretteIn
    liquid: Annotated[LiquidKey, Field(title="Liquid")]
    liquid_temperature: Annotated[Temperature, Field(title="Temperature of the liquid")]
    liquid_temperature_standard_uncertainty: Annotated[
        Kelvin, Field(title="Standard uncertainty of the liquid’s temperature")
    ]
    metal_temperature: Annotated[Temperature, Field(title="Temperature of the metal")]
    metal_temperature_standard_uncertainty: Annotated[
        Kelvin, Field(title="Standard uncertainty of the metal’s temperature")
    ]
    metal: Annotated[MetalKey, Field(title="Metal of the chamber")]
    loss: Annotated[Poured, Field(title="Liquid lost at each fill")]
    loss_standard_uncertainty: Annotated[Poured, Field(title="Standard uncertainty of the liquid lost")]
    trapped_air_at_most: Annotated[Poured, Field(title="Air that may have stayed in, at most")]


class FillIn(In):
    """One filling, the burette as it was read; the second pair where it had to be filled up once more."""

    start: Annotated[AsRead, Field(title="Burette before")] = ""
    end: Annotated[AsRead, Field(title="Burette after")] = ""
    refilled_start: Annotated[AsRead, Field(title="Burette before, filled up again")] = ""
    refilled_end: Annotated[AsRead, Field(title="Burette after, filled up again")] = ""


Fills = Annotated[list[FillIn], Field(max_length=9)]

USUAL_POURING: dict[str, tuple[str, str]] = {  # name: (stored value, kind of quantity)
    "pouring.burette.material": ("borosilicate", ""),
    "pouring.liquid_temperature_standard_uncertainty": ("1", ""),
    "pouring.metal_temperature_standard_uncertainty": ("1", ""),
    "pouring.loss": ("0.05", ""),
    "pouring.loss_standard_uncertainty": ("0.03", ""),
    "pouring.trapped_air_at_most": ("0.1", ""),
}
