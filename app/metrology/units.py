"""Units of the trade in both systems, by factors exact by definition (NIST SP 811, Appendix B).

The tables hold fractions, so every factor is exact, a pound on a square inch too. `…_exact` takes and gives Decimal:
what is a finite decimal comes out whole, anything else to fifty digits, so the way there and back returns what was
typed. Without the suffix floats go in and out, as the decimals they print, rounded once.

A volume flow counts volume at the conditions its scale was made for: a "standard" cubic foot is one at 70 °F or at
60 °F, a normal litre one at 0 °C, and the same gas reads up to 8 % apart. `flow_to_l_min` changes the units of volume
and time alone; `flow_at_other_conditions` carries a flow from one reference condition to another.
A scale needs its label.
"""

import math
from collections.abc import Mapping
from decimal import Context, Decimal
from fractions import Fraction
from typing import TypeVar

from app.metrology.errors import MeasurementError

ZERO_CELSIUS_K = 273.15
CUBIC_INCH_CM3 = 16.387064
_FIFTY_DIGITS = Context(prec=50)
Entry = TypeVar("Entry")

LENGTHS_MM: dict[str, Fraction] = {"mm": Fraction(1), "cm": Fraction(10), "in": Fraction("25.4")}
VOLUMES_CM3: dict[str, Fraction] = {
    "cm3": Fraction(1),
    "l": Fraction(1000),
    "in3": Fraction("16.387064"),
    "ft3": Fraction("28316.846592"),
    "us_gal": Fraction("3785.411784"),
    "us_fl_oz": Fraction("29.5735295625"),
}
FLOWS_L_MIN: dict[str, Fraction] = {
    "l_min": Fraction(1),
    "ft3_h": Fraction("28.316846592") / 60,
    "ft3_min": Fraction("28.316846592"),
}
PRESSURES_KPA: dict[str, Fraction] = {
    "kpa": Fraction(1),
    "hpa": Fraction("0.1"),
    "atm": Fraction("101.325"),
    "psi": Fraction("0.45359237") * Fraction("9.80665") / Fraction("0.0254") ** 2 / 1000,
    "inhg": Fraction("3.386389"),  # conventional inch of mercury, digits as printed
}
# degrees of the unit in one kelvin, and its reading at 0 °C
TEMPERATURES: dict[str, tuple[Fraction, Fraction]] = {
    "c": (Fraction(1), Fraction(0)),
    "f": (Fraction("1.8"), Fraction(32)),
    "k": (Fraction(1), Fraction("273.15")),
}


def _known(table: Mapping[str, Entry], unit: str) -> Entry:
    if unit not in table:
        raise MeasurementError("unit", f"The unit “{unit[:20]}” is not known here. Known are {', '.join(table)}.")
    return table[unit]


def _fraction(value: float | Decimal) -> Fraction:
    if not math.isfinite(value):
        raise MeasurementError("value", f"{value} is no quantity that can be converted. Enter a plain number.")
    return Fraction(value if isinstance(value, Decimal) else repr(value))  # repr: 25.4 is meant as 25.4


def _decimal(value: Fraction) -> Decimal:
    return _FIFTY_DIGITS.divide(Decimal(value.numerator), Decimal(value.denominator))


def length_to_mm_exact(value: Decimal, unit: str) -> Decimal:
    """Length in millimetres from a unit of LENGTHS_MM."""
    return _decimal(_fraction(value) * _known(LENGTHS_MM, unit))


def length_from_mm_exact(value_mm: Decimal, unit: str) -> Decimal:
    """Length in a unit of LENGTHS_MM from millimetres."""
    return _decimal(_fraction(value_mm) / _known(LENGTHS_MM, unit))


def length_to_mm(value: float, unit: str) -> float:
    """Length in millimetres from a unit of LENGTHS_MM."""
    return float(_fraction(value) * _known(LENGTHS_MM, unit))


def length_from_mm(value_mm: float, unit: str) -> float:
    """Length in a unit of LENGTHS_MM from millimetres."""
    return float(_fraction(value_mm) / _known(LENGTHS_MM, unit))


def volume_to_cm3_exact(value: Decimal, unit: str) -> Decimal:
    """Volume in cm³ from a unit of VOLUMES_CM3."""
    return _decimal(_fraction(value) * _known(VOLUMES_CM3, unit))


def volume_from_cm3_exact(value_cm3: Decimal, unit: str) -> Decimal:
    """Volume in a unit of VOLUMES_CM3 from cm³."""
    return _decimal(_fraction(value_cm3) / _known(VOLUMES_CM3, unit))


def volume_to_cm3(value: float, unit: str) -> float:
    """Volume in cm³ from a unit of VOLUMES_CM3."""
    return float(_fraction(value) * _known(VOLUMES_CM3, unit))


def volume_from_cm3(value_cm3: float, unit: str) -> float:
    """Volume in a unit of VOLUMES_CM3 from cm³."""
    return float(_fraction(value_cm3) / _known(VOLUMES_CM3, unit))


def flow_to_l_min_exact(value: Decimal, unit: str) -> Decimal:
    """Volume flow, conditions unchanged, in L/min from a unit of FLOWS_L_MIN."""
    return _decimal(_fraction(value) * _known(FLOWS_L_MIN, unit))


def flow_from_l_min_exact(value_l_min: Decimal, unit: str) -> Decimal:
    """Volume flow, conditions unchanged, in a unit of FLOWS_L_MIN from L/min."""
    return _decimal(_fraction(value_l_min) / _known(FLOWS_L_MIN, unit))


def flow_to_l_min(value: float, unit: str) -> float:
    """Volume flow, conditions unchanged, in L/min from a unit of FLOWS_L_MIN."""
    return float(_fraction(value) * _known(FLOWS_L_MIN, unit))


def flow_from_l_min(value_l_min: float, unit: str) -> float:
    """Volume flow, conditions unchanged, in a unit of FLOWS_L_MIN from L/min."""
    return float(_fraction(value_l_min) / _known(FLOWS_L_MIN, unit))


def pressure_to_kpa_exact(value: Decimal, unit: str) -> Decimal:
    """Pressure in kPa from a unit of PRESSURES_KPA."""
    return _decimal(_fraction(value) * _known(PRESSURES_KPA, unit))


def pressure_from_kpa_exact(value_kpa: Decimal, unit: str) -> Decimal:
    """Pressure in a unit of PRESSURES_KPA from kPa."""
    return _decimal(_fraction(value_kpa) / _known(PRESSURES_KPA, unit))


def pressure_to_kpa(value: float, unit: str) -> float:
    """Pressure in kPa from a unit of PRESSURES_KPA."""
    return float(_fraction(value) * _known(PRESSURES_KPA, unit))


def pressure_from_kpa(value_kpa: float, unit: str) -> float:
    """Pressure in a unit of PRESSURES_KPA from kPa."""
    return float(_fraction(value_kpa) / _known(PRESSURES_KPA, unit))


def temperature_to_c_exact(value: Decimal, unit: str) -> Decimal:
    """Temperature in °C from a unit of TEMPERATURES."""
    return _decimal(_to_celsius(_fraction(value), unit))


def temperature_from_c_exact(value_c: Decimal, unit: str) -> Decimal:
    """Temperature in a unit of TEMPERATURES from °C."""
    return _decimal(_from_celsius(_fraction(value_c), unit))


def temperature_to_c(value: float, unit: str) -> float:
    """Temperature in °C from a unit of TEMPERATURES."""
    return float(_to_celsius(_fraction(value), unit))


def temperature_from_c(value_c: float, unit: str) -> float:
    """Temperature in a unit of TEMPERATURES from °C."""
    return float(_from_celsius(_fraction(value_c), unit))


def _to_celsius(value: Fraction, unit: str) -> Fraction:
    per_kelvin, at_zero_c = _known(TEMPERATURES, unit)
    return (value - at_zero_c) / per_kelvin


def _from_celsius(value_c: Fraction, unit: str) -> Fraction:
    per_kelvin, at_zero_c = _known(TEMPERATURES, unit)
    return value_c * per_kelvin + at_zero_c


def temperature_difference_to_k(value: float, unit: str) -> float:
    """A difference (or an uncertainty) of temperature in kelvin: the zero of the scale does not enter."""
    return float(_fraction(value) / _known(TEMPERATURES, unit)[0])


def temperature_difference_from_k(value_k: float, unit: str) -> float:
    """A difference (or an uncertainty) of temperature in degrees of a unit, from kelvin."""
    return float(_fraction(value_k) * _known(TEMPERATURES, unit)[0])


def kelvin_from_celsius(temperature_c: float) -> float:
    """Thermodynamic temperature in kelvin, for formulas."""
    return temperature_c + ZERO_CELSIUS_K


def flow_at_other_conditions(
    flow: float, from_c: float, to_c: float, from_kpa: float = 101.325, to_kpa: float = 101.325
) -> float:
    """The same gas flow counted at another reference temperature (°C) and pressure (kPa), same unit. Ideal gas."""
    return flow * kelvin_from_celsius(to_c) / kelvin_from_celsius(from_c) * from_kpa / to_kpa
