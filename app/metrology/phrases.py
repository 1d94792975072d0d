"""Quantities in both unit systems, for sentences."""

from app.metrology.units import temperature_from_c, volume_from_cm3


def volume_both(volume_cm3: float) -> str:
    """A volume in cubic inches and cubic centimetres."""
    return f"{volume_from_cm3(volume_cm3, 'in3'):.2f} in³ ({volume_cm3:.1f} cm³)"


def temperature_both(temperature_c: float) -> str:
    """A temperature in degrees Celsius and Fahrenheit."""
    return f"{temperature_c:.1f} °C ({temperature_from_c(temperature_c, 'f'):.1f} °F)"


def cylinders_in_words(count: int) -> str:
    """A cylinder count."""
    return "1 cylinder" if count == 1 else f"{count} cylinders"
