"""Indications as typed: "10.50" is a value and the resolution that its digits show."""

import re
from dataclasses import dataclass
from decimal import Decimal

from app.metrology.errors import MeasurementError

LOWEST, HIGHEST = Decimal(1), Decimal(100)
_AS_TYPED = re.compile(r"([0-9]{1,3})(?:[.,]([0-9]{1,6}))?")
_PLAIN = re.compile(r"[0-9]{1,3}(?:\.([0-9]{1,6}))?")
_STEPS = tuple(float(Decimal(1).scaleb(-digits)) for digits in range(7))
_BLANKS = " \t\u00a0\u2009\u202f"


@dataclass(frozen=True, slots=True)
class Indication:
    """One figure shown by the instrument, and the step of its last typed digit; both in units of ratio."""

    value: float
    resolution: float


def read_indication(text: str, cylinder: int, place: int) -> tuple[float, float]:
    """(value, resolution that the digits show) of one indication of a sheet. Raises MeasurementError on any other text.

    The quick way in for figures that were looked at when they were typed; what it cannot read, `parse_indication` says.
    """
    match = _PLAIN.fullmatch(text)
    if match is not None:
        value = float(text)
        if 1.0 < value < 100.0:
            return value, _STEPS[len(match.group(1) or "")]
    found = parse_indication(text, f"readings.{cylinder}.indications.{place}")
    return found.value, found.resolution


def parse_indication(text: str, field: str) -> Indication:
    """Reads one indication; decimal point or comma, blanks around it allowed, exponents and signs not.

    Raises MeasurementError on anything that is not a plain ratio between 1 and 100.
    """
    typed = text.strip(_BLANKS)
    match = _AS_TYPED.fullmatch(typed)
    if match is None:
        raise MeasurementError(
            field,
            f"“{_shortened(typed)}” cannot be read as an indication. Type the digits as shown, for example 10.50."
            if typed
            else "An indication is empty. Type the digits as shown, for example 10.50, or take the line away.",
        )
    whole, fraction = match.group(1), match.group(2) or ""
    value = Decimal(f"{whole}.{fraction or '0'}")
    if not LOWEST < value < HIGHEST:
        raise MeasurementError(
            field,
            f"{typed} cannot be a compression ratio: it lies above 1 and below 100. Was the decimal point left out?",
        )
    return Indication(float(value), float(Decimal(1).scaleb(-len(fraction))))


def _shortened(text: str) -> str:
    return text if len(text) <= 20 else f"{text[:20]}…"
