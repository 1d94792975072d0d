"""Measures that every check takes: a number between bounds, a key of a table, a temperature, a count."""

from collections.abc import Mapping

from app.metrology.errors import MeasurementError
from app.metrology.units import ZERO_CELSIUS_K

MOST_CYLINDERS = 48
COLDEST_C, HOTTEST_C = -40.0, 200.0


def check_count(count: int, field: str, whose: str) -> None:
    """`whose` begins the sentence: "The engine"."""
    if not 1 <= count <= MOST_CYLINDERS:
        raise MeasurementError(field, f"{whose} cannot have {count} cylinders. Enter 1 to {MOST_CYLINDERS}.")


def check_temperature(temperature_c: float, field: str, name: str) -> None:
    """Refuses what no engine has, and kelvin typed for degrees Celsius; `name` begins the sentence."""
    if COLDEST_C <= temperature_c <= HOTTEST_C:
        return
    in_celsius = temperature_c - ZERO_CELSIUS_K
    hint = (
        f" Was it typed in kelvin? {temperature_c:g} K are {in_celsius:.1f} °C."
        if COLDEST_C <= in_celsius <= HOTTEST_C
        else ""
    )
    raise MeasurementError(
        field,
        f"{name} is given as {temperature_c:g} °C; it lies between {COLDEST_C:g} °C and {HOTTEST_C:g} °C.{hint}",
    )


def between(value: float, least: float, greatest: float, field: str, name: str, example: str) -> None:
    """Refuses what lies outside, not-a-number too; `name` begins the sentence."""
    if not least <= value <= greatest:
        raise MeasurementError(
            field, f"{name} is given as {value:g}; it lies between {least:g} and {greatest:g}, for example {example}."
        )


def check_key(key: str, table: Mapping[str, object], field: str, name: str) -> None:
    """Refuses what the table does not hold."""
    if key not in table:
        raise MeasurementError(field, f"The {name} “{key[:40]}” is not known here. Known are {', '.join(table)}.")
