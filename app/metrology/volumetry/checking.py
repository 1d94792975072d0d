"""What cannot be is refused here before a burette's readings are used, each with its sentence."""

import math
from collections.abc import Sequence

from app.metrology.errors import MeasurementError
from app.metrology.metals import METALS
from app.metrology.observed import (
    require_few,
    require_reading,
    require_standard_uncertainty,
    require_temperature,
    typed_value,
)
from app.metrology.plausible import between, check_key
from app.metrology.volumetry.delivered import drawings
from app.metrology.volumetry.glassware import BURETTE_CLASSES, CLASS_A_TOLERANCES_CM3, GLASSES, STATED
from app.metrology.volumetry.liquids import LIQUIDS
from app.metrology.volumetry.pouring import Burette, Fill, Pouring

GREATEST_NOMINAL_CM3 = 1000.0
GREATEST_TEMPERATURE_UNCERTAINTY_K = 20.0


def check_pouring(pouring: Pouring, field: str) -> None:
    """Raises MeasurementError at the first thing all fills have in common that cannot be."""
    _check_burette(pouring.burette, f"{field}.burette")
    check_key(pouring.liquid, LIQUIDS, f"{field}.liquid", "liquid")
    check_key(pouring.metal, METALS, f"{field}.metal", "metal")
    liquid = LIQUIDS[pouring.liquid]
    for name, temperature_c, standard_uncertainty_k in (
        ("liquid", pouring.liquid_temperature_c, pouring.liquid_temperature_standard_uncertainty_k),
        ("metal", pouring.metal_temperature_c, pouring.metal_temperature_standard_uncertainty_k),
    ):
        require_temperature(
            temperature_c,
            liquid.coldest_c,
            liquid.hottest_c,
            f"{field}.{name}_temperature_c",
            f"The temperature of the {name}, for a filling with {liquid.label},",
        )
        require_standard_uncertainty(
            standard_uncertainty_k,
            GREATEST_TEMPERATURE_UNCERTAINTY_K,
            f"{field}.{name}_temperature_standard_uncertainty_k",
            f"the {name}'s temperature in kelvin",
            "1",
        )
    between(pouring.loss_cm3, 0.0, 5.0, f"{field}.loss_cm3", "The liquid lost at each fill, in cm³,", "0.05")
    require_standard_uncertainty(
        pouring.loss_standard_uncertainty_cm3,
        5.0,
        f"{field}.loss_standard_uncertainty_cm3",
        "the liquid lost, in cm³,",
        "0.03",
    )
    between(
        pouring.trapped_air_at_most_cm3,
        0.0,
        5.0,
        f"{field}.trapped_air_at_most_cm3",
        "The air that may have stayed in, in cm³,",
        "0.1",
    )


def _check_burette(burette: Burette, field: str) -> None:
    check_key(burette.tolerance_class, BURETTE_CLASSES, f"{field}.tolerance_class", "class of burette")
    check_key(burette.material, GLASSES, f"{field}.material", "material of burettes")
    between(
        burette.nominal_cm3, 1.0, GREATEST_NOMINAL_CM3, f"{field}.nominal_cm3", "The burette's volume in cm³", "100"
    )
    if not 0.0 < burette.graduation_cm3 <= burette.nominal_cm3 / 10.0:
        raise MeasurementError(
            f"{field}.graduation_cm3",
            f"A burette of {burette.nominal_cm3:g} cm³ is not divided into {burette.graduation_cm3:g} cm³. Enter the "
            "volume from one line to the next, for example 0.2.",
        )
    stated = burette.stated_tolerance_cm3
    if burette.tolerance_class == STATED:
        if stated is None or not 0.0 < stated <= burette.nominal_cm3 / 10.0:
            raise MeasurementError(
                f"{field}.stated_tolerance_cm3",
                "Enter the ± limits that the burette's maker or its certificate states, in cm³: above 0 and at most a "
                "tenth of its volume.",
            )
    elif stated is not None:
        raise MeasurementError(
            f"{field}.stated_tolerance_cm3",
            "The class of the burette says its limits. Take the stated ones away, or choose the class “stated”.",
        )
    elif burette.nominal_cm3 not in CLASS_A_TOLERANCES_CM3:
        sizes = ", ".join(f"{size:g}" for size in CLASS_A_TOLERANCES_CM3)
        raise MeasurementError(
            f"{field}.nominal_cm3",
            f"The standards know burettes of {sizes} cm³, none of {burette.nominal_cm3:g} cm³. For another one choose "
            "the class “stated” and enter the limits that its maker states.",
        )


def check_fills(fills: Sequence[Fill], burette: Burette, field: str) -> None:
    """Raises MeasurementError at the first reading that cannot be; fills are counted from 1 in its field."""
    require_few(len(fills), field, "fills")
    for number, fill in enumerate(fills, start=1):
        pairs = drawings(fill)
        for prefix, (start, end) in zip(("", "refilled_"), pairs, strict=False):
            _check_drawing(start, end, burette, f"{field}.{number}.{prefix}")


def _check_drawing(start: str, end: str, burette: Burette, field: str) -> None:
    for name, text in (("start", start), ("end", end)):
        require_reading(text, f"{field}{name}", "a reading of the burette", "23.40")
        if typed_value(text) > burette.nominal_cm3:
            raise MeasurementError(
                f"{field}{name}",
                f"The burette ends at {burette.nominal_cm3:g} cm³ and cannot read {text.strip()}. Fill it up again in "
                "between and enter both drawings, or take a larger one.",
            )
    if not typed_value(start) < typed_value(end):
        raise MeasurementError(
            f"{field}end",
            f"The burette was read {start.strip()} before and {end.strip()} after: nothing was delivered. The scale "
            "counts downwards from the top, so the end is the larger figure. Were the two swapped?",
        )


def check_together(values_cm3: Sequence[float], field: str) -> None:
    """Raises MeasurementError when fills of one volume lie so far apart that one of them was of something else."""
    least, greatest = min(values_cm3), max(values_cm3)
    if greatest - least > max(1.0, 0.1 * math.fsum(values_cm3) / len(values_cm3)):
        raise MeasurementError(
            field,
            f"These fills took from {least:.2f} cm³ to {greatest:.2f} cm³. One volume does not differ so from fill to "
            "fill: look for a slip in the readings, or liquid that ran off, and fill again.",
        )
