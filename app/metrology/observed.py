"""What is observed on a sheet is taken in here: readings as typed, bounds, mix-ups of unit, each with its sentence."""

import re
from collections.abc import Iterable

from app.metrology.errors import MeasurementError
from app.metrology.inputs import Engine
from app.metrology.plausible import between
from app.metrology.units import ZERO_CELSIUS_K

_AS_TYPED = re.compile(r"[0-9]{1,5}(?:[.,]([0-9]{1,6}))?")
_BLANKS = " \t\u00a0\u2009\u202f"
MOST_REPEATS = 99


def typed_value(text: str) -> float:
    """The value of a reading that `require_reading` has let pass, in the unit it was typed in."""
    return float(text.strip(_BLANKS).replace(",", "."))


def typed_step(text: str) -> float:
    """The step of its last typed digit, same unit."""
    _, _, fraction = text.strip(_BLANKS).replace(",", ".").partition(".")
    return float(f"1e-{len(fraction)}")


def require_reading(text: str, field: str, name: str, example: str) -> None:
    """Raises MeasurementError on anything but plain digits; decimal point or comma, blanks around them allowed."""
    typed = text.strip(_BLANKS)
    if _AS_TYPED.fullmatch(typed) is None:
        shown = typed if len(typed) <= 20 else f"{typed[:20]}…"
        raise MeasurementError(
            field,
            f"“{shown}” cannot be read as {name}. Type the digits as read, for example {example}."
            if typed
            else f"Here {name} is missing. Type the digits as read, for example {example}.",
        )


def require_standard_uncertainty(value: float, greatest: float, field: str, name: str, example: str) -> None:
    """Raises MeasurementError unless 0 ≤ value ≤ greatest; `name` is what the uncertainty is of."""
    between(value, 0.0, greatest, field, f"The standard uncertainty of {name}", example)


def require_temperature(temperature_c: float, least_c: float, greatest_c: float, field: str, name: str) -> None:
    """Raises MeasurementError outside these bounds, and knows kelvin and Fahrenheit when it sees them."""
    if least_c <= temperature_c <= greatest_c:
        return
    hint = ""
    for unit, in_celsius in (
        ("kelvin", temperature_c - ZERO_CELSIUS_K),
        ("Fahrenheit", (temperature_c - 32.0) / 1.8),
    ):
        if not hint and least_c <= in_celsius <= greatest_c:
            sign = "K" if unit == "kelvin" else "°F"
            hint = f" Was it typed in {unit}? {temperature_c:g} {sign} are {in_celsius:.1f} °C."
    raise MeasurementError(
        field, f"{name} is given as {temperature_c:g} °C; it lies between {least_c:g} °C and {greatest_c:g} °C.{hint}"
    )


def require_cylinders(numbers: Iterable[int], engine: Engine, field: str) -> None:
    """Raises MeasurementError at a cylinder that the engine has not, or that stands there twice."""
    seen: set[int] = set()
    for number in numbers:
        if not 1 <= number <= engine.cylinders:
            raise MeasurementError(
                f"{field}.{number}", f"This engine has no cylinder {number}; they run from 1 to {engine.cylinders}."
            )
        if number in seen:
            raise MeasurementError(
                f"{field}.{number}", f"Cylinder {number} appears twice. Put what was measured of it together."
            )
        seen.add(number)


def require_few(count: int, field: str, names: str) -> None:
    """Raises MeasurementError when there are more repeats than anyone makes."""
    if count > MOST_REPEATS:
        raise MeasurementError(field, f"There are {count} {names} here; at most {MOST_REPEATS} are taken.")


def require_prior(prior: tuple[float, float] | None, greatest: float, field: str, example: str) -> None:
    """Raises MeasurementError at a standard deviation known beforehand that cannot be, or has no degrees of freedom."""
    if prior is None:
        return
    between(prior[0], 0.0, greatest, field, "The standard deviation known beforehand", example)
    if not prior[1] >= 1.0:  # infinite is meant, not-a-number is not
        raise MeasurementError(
            field,
            "What is known beforehand needs at least one degree of freedom: two repeats of one thing.",
        )
