"""Units of the trade in both systems, by factors that are exact by definition (NIST SP 811, Appendix B).

Decimal arithmetic in, Decimal out: `…_exact`. Floats in, floats out: the same factor, rounded once.
A volume flow in ft³/h or L/min counts volume at whatever conditions the scale was made for. "Standard" cubic feet are
at 70 °F or 60 °F, normal litres at 0 °C: the same gas reads up to 8 % apart. `volume_flow…` changes the unit of volume
and time alone; `reduced_volume_flow` changes the reference temperature too. A flow scale needs its label.
"""

from decimal import Decimal
from fractions import Fraction

ZERO_CELSIUS_K = 273.15

LENGTHS_MM: dict[str, Decimal] = {"mm": Decimal(1), "cm": Decimal(10), "in": Decimal("25.4")}
VOLUMES_CM3: dict[str, Decimal] = {
    "cm3": Decimal(1),
    "L": Decimal(1000),
    "in3": Decimal("16.387064"),
    "ft3": Decimal("28316.846592"),
    "us_gal": Decimal("3785.411784"),
    "us_fl_oz": Decimal("29.5735295625"),
}
# per minute; an hour is sixty of them, so one cubic foot an hour is no finite decimal of litres a minute
FLOWS_L_MIN: dict[str, Fraction] = {
    "l_min": Fraction(1),
    "ft3_h": Fraction("28.316846592") / 60,
    "ft3_min": Fraction("28.316846592"),
    "m3_h": Fraction(1000, 60),
}
PRESSURES_KPA: dict[str, Decimal] = {
    "kpa": Decimal(1),
    "psi": Decimal("6.894757293168361336722673445"),  # 0.45359237 kg × 9.80665 m/s² / (0.0254 m)²
    "atm": Decimal("101.325"),
    "hpa": Decimal("0.1"),
    "inhg": Decimal("3.386389"),  # conventional inch of mercury, as printed
}


def kelvin_from_celsius(temperature_c: float) -> float:
    """Thermodynamic temperature in kelvin."""
    return temperature_c + ZERO_CELSIUS_K


def fahrenheit_from_celsius(temperature_c: float) -> float:
    """Temperature in degrees Fahrenheit."""
    return temperature_c * 1.8 + 32.0


def cubic_centimetres_from_cubic_inches(volume_in3: float) -> float:
    """Volume in cm³ from cubic inches."""
    return volume_in3 * 16.387064
