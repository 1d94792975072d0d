"""Quantities are held to where a formula has been shown to be right, with a sentence that says where that is."""

import math

from app.metrology.errors import MeasurementError

ABSOLUTE_ZERO_C = -273.15
LOWEST_KPA, HIGHEST_KPA = 50.0, 110.0  # the air of any place a race is held at
COLDEST_GAS_C, HOTTEST_GAS_C = -20.0, 120.0  # the gas in a chamber, cold paddock to just stopped


def within(value: float, low: float, high: float, field: str, sentence: str) -> None:
    """Refuse what does not lie from `low` to `high`, both allowed; not-a-number lies nowhere."""
    if not low <= value <= high:
        raise MeasurementError(field, sentence)


def more_than_nothing(value: float, field: str, name: str) -> None:
    """Refuse what is not a finite quantity above zero."""
    if not 0.0 < value < math.inf:
        raise MeasurementError(field, f"{name} is more than nothing, and a plain number.")


def finite(value: float, field: str, name: str) -> None:
    """Refuse infinity and what is no number."""
    if not math.isfinite(value):
        raise MeasurementError(field, f"{name} is a plain number.")


def a_ratio(ratio: float) -> None:
    """Refuse what is no compression ratio."""
    if not 1.0 < ratio < math.inf:
        raise MeasurementError("ratio", "A compression ratio is more than 1: no chamber is larger than its cylinder.")


def a_relative_humidity(relative_humidity: float) -> None:
    """Refuse what is no relative humidity from 0 to 1."""
    within(
        relative_humidity,
        0.0,
        1.0,
        "relative_humidity",
        "Relative humidity is taken as a fraction from 0 to 1: 50 % is 0.5.",
    )


def a_gas_temperature(temperature_c: float) -> None:
    """Refuse a temperature the gas in a chamber cannot have."""
    within(
        temperature_c,
        COLDEST_GAS_C,
        HOTTEST_GAS_C,
        "temperature_c",
        f"The gas in a chamber lies between {COLDEST_GAS_C:g} and {HOTTEST_GAS_C:g} °C. Was it given in kelvin?",
    )


def an_air_pressure(pressure_kpa: float) -> None:
    """Refuse a pressure the air outdoors cannot have."""
    within(
        pressure_kpa,
        LOWEST_KPA,
        HIGHEST_KPA,
        "pressure_kpa",
        f"The pressure of the air lies between {LOWEST_KPA:g} and {HIGHEST_KPA:g} kPa, as a barometer at this place "
        "shows it: not reduced to sea level, and not a gauge pressure.",
    )
