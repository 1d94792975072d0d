"""The Helmholtz resonator: the tone of a volume behind a neck, and the volume behind a tone.

    f = c/(2π)·√(S/(V·L′)),   V = c²·S/(4π²·f²·L′),   L′ = L + ends,

S the neck's cross-section, L′ its length with the air that swings along at both ends. Standard acoustics texts; for a
chamber much smaller than the wavelength.
"""

import math
from typing import NamedTuple

from app.metrology.physics.ranges import finite, more_than_nothing, within

# end corrections in neck radii, low frequency: a free (unflanged) and a flanged opening. Standard texts, from memory.
FREE_END, FLANGED_END = 0.6, 0.85


class Sensitivities(NamedTuple):
    """Relative sensitivities of the volume: (∂V/V)/(∂x/x). All exact: V is a product of powers."""

    frequency: float = -2.0
    speed: float = 2.0
    neck_area: float = 1.0
    effective_length: float = -1.0


SENSITIVITIES = Sensitivities()


def effective_length_m(length_m: float, neck_area_m2: float, end_corrections: float = 0.0) -> float:
    """L′ in m of a round neck: length in m, area in m², end corrections of both ends together in neck radii."""
    within(length_m, 0.0, math.inf, "length_m", "A neck is 0 or more long: an opening in a thin wall has 0.")
    finite(length_m, "length_m", "A length")
    more_than_nothing(neck_area_m2, "neck_area_m2", "A cross-section")
    within(end_corrections, 0.0, 2.0, "end_corrections", "End corrections of both ends are 0 to 2 neck radii.")
    return length_m + end_corrections * math.sqrt(neck_area_m2 / math.pi)


def frequency_hz(volume_m3: float, neck_area_m2: float, effective_length_m: float, speed_m_s: float) -> float:
    """Tone in Hz of a volume in m³ behind a neck of area in m² and effective length in m."""
    more_than_nothing(volume_m3, "volume_m3", "A volume")
    _neck(neck_area_m2, effective_length_m, speed_m_s)
    return speed_m_s / (2.0 * math.pi) * math.sqrt(neck_area_m2 / (volume_m3 * effective_length_m))


def volume_m3(frequency_hz: float, neck_area_m2: float, effective_length_m: float, speed_m_s: float) -> float:
    """Volume in m³ behind a neck that sounds at this frequency in Hz."""
    more_than_nothing(frequency_hz, "frequency_hz", "A frequency")
    _neck(neck_area_m2, effective_length_m, speed_m_s)
    return (speed_m_s / (2.0 * math.pi * frequency_hz)) ** 2 * neck_area_m2 / effective_length_m


def relative_volume_uncertainty(
    frequency: float = 0.0, speed: float = 0.0, neck_area: float = 0.0, effective_length: float = 0.0
) -> float:
    """u(V)/V from the relative standard uncertainties of what it is computed from, independent of each other."""
    given = (frequency, speed, neck_area, effective_length)
    for name, value in zip(Sensitivities._fields, given, strict=True):
        within(value, 0.0, 1.0, name, "A relative standard uncertainty is a fraction from 0 to 1: 1 % is 0.01.")
    return math.hypot(*(factor * value for factor, value in zip(SENSITIVITIES, given, strict=True)))


def relative_volume_change_per_kelvin(kelvin: float) -> float:
    """(dV/V)/dT in 1/K of the volume read from a tone as the gas warms, c² ∝ T: 1/T, at a temperature in kelvin."""
    more_than_nothing(kelvin, "kelvin", "A temperature in kelvin")
    return 1.0 / kelvin


def _neck(neck_area_m2: float, effective_length_m: float, speed_m_s: float) -> None:
    more_than_nothing(neck_area_m2, "neck_area_m2", "A cross-section")
    more_than_nothing(effective_length_m, "effective_length_m", "An effective length")
    more_than_nothing(speed_m_s, "speed_m_s", "A speed of sound")
