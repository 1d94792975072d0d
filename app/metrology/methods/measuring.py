"""What every measuring method gives back, and what the table of methods holds of each."""

from collections.abc import Callable
from dataclasses import dataclass

from app.metrology.inputs import Conditions, Engine, Instrument, Settings
from app.metrology.repeatability import Repeatability
from app.metrology.uncertainty import Component


@dataclass(frozen=True, slots=True)
class Measurement:
    """One cylinder's ratio by the measurement function, with the clearance volume behind it and every source."""

    value: float
    clearance_volume_cm3: float
    effect_per_kelvin: float  # dr/dT of the gas in the chamber, ratio per kelvin
    components: tuple[Component, ...]


MeasurementFunction = Callable[[Engine, Instrument, Settings, Conditions, float, float, Repeatability], Measurement]
Corrections = Callable[[Engine, Settings, Conditions, float], tuple[str, ...]]


@dataclass(frozen=True, slots=True)
class Method:
    """A measuring method: its key in stored inputs, its plain name, its functions."""

    key: str
    label: str
    measure: MeasurementFunction  # (…, mean indication, resolution, repeatability)
    corrections: Corrections  # (…, mean indication) -> sentences
