"""Units of the trade in both systems, by factors exact by definition (NIST SP 811, Appendix B).

`…_exact` takes and gives Decimal: into the core's unit the product is exact; out of it the quotient carries fifty
digits, so the way there and back returns what was typed. Without the suffix floats go in and out, rounded once.

A volume flow counts volume at the conditions its scale was made for: a "standard" cubic foot is one at 70 °F or at
60 °F, a normal litre one at 0 °C, and the same gas reads up to 8 % apart. `flow_to_l_min` changes the units of volume
and time alone; `flow_at_other_conditions` carries a flow from one reference condition to another.
A scale needs its label.
"""

from collections.abc import Mapping
from decimal import Context, Decimal
from typing import TypeVar

from app.metrology.errors import MeasurementError

ZERO_CELSIUS_K = 273.15
CUBIC_INCH_CM3 = 16.387064
_EXACT = Context(prec=50)
Entry = TypeVar("Entry")

LENGTHS_MM: dict[str, Decimal] = {"mm": Decimal(1), "cm": Decimal(10), "in": Decimal("25.4")}
VOLUMES_CM3: dict[str, Decimal] = {
    "cm3": Decimal(1),
    "l": Decimal(1000),
    "in3": Decimal("16.387064"),
    "ft3": Decimal("28316.846592"),
    "us_gal": Decimal("3785.411784"),
    "us_fl_oz": Decimal("29.5735295625"),
}
FLOWS_L_MIN: dict[str, Decimal] = {
    "l_min": Decimal(1),
    "scfh": Decimal("0.4719474432"),  # 28.316846592 L / 60 min
    "ft3_min": Decimal("28.316846592"),
}
PRESSURES_KPA: dict[str, Decimal] = {
    "kpa": Decimal(1),
    "hpa": Decimal("0.1"),
    "atm": Decimal("101.325"),
    # 0.45359237 kg × 9.80665 m/s² on a square inch: no finite decimal, so fifty digits of it
    "psi": _EXACT.divide(Decimal("4.4482216152605"), Decimal("0.64516")),
    "inhg": Decimal("3.386389"),  # conventional inch of mercury, digits as printed
}
# degrees of a unit in one kelvin, and its reading at 0 °C
TEMPERATURES: dict[str, tuple[Decimal, Decimal]] = {
    "c": (Decimal(1), Decimal(0)),
    "f": (Decimal("1.8"), Decimal(32)),
    "k": (Decimal(1), Decimal("273.15")),
}


def _known(table: Mapping[str, Entry], unit: str) -> Entry:
    if unit not in table:
        raise MeasurementError("unit", f"The unit “{unit}” is not known here. Known are {', '.join(table)}.")
    return table[unit]


def length_to_mm_exact(value: Decimal, unit: str) -> Decimal:
    """Length in millimetres from a unit of LENGTHS_MM. NIST SP 811, Appendix B."""
    return _EXACT.multiply(value, _known(LENGTHS_MM, unit))


def length_from_mm_exact(value_mm: Decimal, unit: str) -> Decimal:
    """Length in a unit of LENGTHS_MM from millimetres. NIST SP 811, Appendix B."""
    return _EXACT.divide(value_mm, _known(LENGTHS_MM, unit))


def length_to_mm(value: float, unit: str) -> float:
    """Length in millimetres from a unit of LENGTHS_MM."""
    return float(length_to_mm_exact(_decimal(value), unit))


def length_from_mm(value_mm: float, unit: str) -> float:
    """Length in a unit of LENGTHS_MM from millimetres."""
    return float(length_from_mm_exact(_decimal(value_mm), unit))


def volume_to_cm3_exact(value: Decimal, unit: str) -> Decimal:
    """Volume in cm³ from a unit of VOLUMES_CM3. NIST SP 811, Appendix B."""
    return _EXACT.multiply(value, _known(VOLUMES_CM3, unit))


def volume_from_cm3_exact(value_cm3: Decimal, unit: str) -> Decimal:
    """Volume in a unit of VOLUMES_CM3 from cm³. NIST SP 811, Appendix B."""
    return _EXACT.divide(value_cm3, _known(VOLUMES_CM3, unit))


def volume_to_cm3(value: float, unit: str) -> float:
    """Volume in cm³ from a unit of VOLUMES_CM3."""
    return float(volume_to_cm3_exact(_decimal(value), unit))


def volume_from_cm3(value_cm3: float, unit: str) -> float:
    """Volume in a unit of VOLUMES_CM3 from cm³."""
    return float(volume_from_cm3_exact(_decimal(value_cm3), unit))


def flow_to_l_min_exact(value: Decimal, unit: str) -> Decimal:
    """Volume flow, conditions unchanged, in L/min from a unit of FLOWS_L_MIN. NIST SP 811, Appendix B."""
    return _EXACT.multiply(value, _known(FLOWS_L_MIN, unit))


def flow_from_l_min_exact(value_l_min: Decimal, unit: str) -> Decimal:
    """Volume flow, conditions unchanged, in a unit of FLOWS_L_MIN from L/min. NIST SP 811, Appendix B."""
    return _EXACT.divide(value_l_min, _known(FLOWS_L_MIN, unit))


def flow_to_l_min(value: float, unit: str) -> float:
    """Volume flow, conditions unchanged, in L/min from a unit of FLOWS_L_MIN."""
    return float(flow_to_l_min_exact(_decimal(value), unit))


def flow_from_l_min(value_l_min: float, unit: str) -> float:
    """Volume flow, conditions unchanged, in a unit of FLOWS_L_MIN from L/min."""
    return float(flow_from_l_min_exact(_decimal(value_l_min), unit))


def pressure_to_kpa_exact(value: Decimal, unit: str) -> Decimal:
    """Pressure in kPa from a unit of PRESSURES_KPA. NIST SP 811, Appendix B."""
    return _EXACT.multiply(value, _known(PRESSURES_KPA, unit))


def pressure_from_kpa_exact(value_kpa: Decimal, unit: str) -> Decimal:
    """Pressure in a unit of PRESSURES_KPA from kPa. NIST SP 811, Appendix B."""
    return _EXACT.divide(value_kpa, _known(PRESSURES_KPA, unit))


def pressure_to_kpa(value: float, unit: str) -> float:
    """Pressure in kPa from a unit of PRESSURES_KPA."""
    return float(pressure_to_kpa_exact(_decimal(value), unit))


def pressure_from_kpa(value_kpa: float, unit: str) -> float:
    """Pressure in a unit of PRESSURES_KPA from kPa."""
    return float(pressure_from_kpa_exact(_decimal(value_kpa), unit))


def temperature_to_c_exact(value: Decimal, unit: str) -> Decimal:
    """Temperature in °C from a unit of TEMPERATURES. NIST SP 811, Appendix B."""
    per_kelvin, at_zero_c = _known(TEMPERATURES, unit)
    return _EXACT.divide(_EXACT.subtract(value, at_zero_c), per_kelvin)


def temperature_from_c_exact(value_c: Decimal, unit: str) -> Decimal:
    """Temperature in a unit of TEMPERATURES from °C. NIST SP 811, Appendix B."""
    per_kelvin, at_zero_c = _known(TEMPERATURES, unit)
    return _EXACT.add(_EXACT.multiply(value_c, per_kelvin), at_zero_c)


def temperature_to_c(value: float, unit: str) -> float:
    """Temperature in °C from a unit of TEMPERATURES."""
    return float(temperature_to_c_exact(_decimal(value), unit))


def temperature_from_c(value_c: float, unit: str) -> float:
    """Temperature in a unit of TEMPERATURES from °C."""
    return float(temperature_from_c_exact(_decimal(value_c), unit))


def temperature_difference_to_k(value: float, unit: str) -> float:
    """A difference (or an uncertainty) of temperature in kelvin: the zero of the scale does not enter."""
    return float(_EXACT.divide(_decimal(value), _known(TEMPERATURES, unit)[0]))


def temperature_difference_from_k(value_k: float, unit: str) -> float:
    """A difference (or an uncertainty) of temperature in degrees of a unit, from kelvin."""
    return float(_EXACT.multiply(_decimal(value_k), _known(TEMPERATURES, unit)[0]))


def kelvin_from_celsius(temperature_c: float) -> float:
    """Thermodynamic temperature in kelvin, for formulas."""
    return temperature_c + ZERO_CELSIUS_K


def flow_at_other_conditions(
    flow: float, from_c: float, to_c: float, from_kpa: float = 101.325, to_kpa: float = 101.325
) -> float:
    """The same gas flow counted at another reference temperature (°C) and pressure (kPa), same unit. Ideal gas."""
    return flow * kelvin_from_celsius(to_c) / kelvin_from_celsius(from_c) * from_kpa / to_kpa


def _decimal(value: float) -> Decimal:
    # repr, not the binary value: 25.4 is meant as 25.4
    return Decimal(repr(value))
