"""What the instruments would show: the physics backwards, from an engine's true ratio to a figure on the display.

The way there is the instrument's, not the core's: a tone fixes the chamber's volume only through the speed of sound,
so gas warmer than dialled makes the chamber sound smaller. Scatter and bias are added where the display would show
them. Verdicts follow from these figures; none is wished for.
"""

import random
from collections.abc import Mapping
from dataclasses import dataclass, field
from math import pi

SEED = "wexmoor"
_BUILT_WITHIN = 0.03  # ratio: a builder who measures every chamber brings all cylinders into this band, either way
_SCATTER = 0.006  # ratio, standard deviation: of one indication about the next
_THERMOMETER_ERROR_K = 0.4
_ZERO_CELSIUS_K = 273.15


def numbers_of(*words: object) -> random.Random:
    """The one source of chance: the same words give the same numbers, whatever was drawn elsewhere."""
    return random.Random(" ".join((SEED, *map(str, words))))  # noqa: S311  # scatter, not secrets


def true_ratios(engine: str, ratio: float, cylinders: int) -> list[float]:
    """Each cylinder's own ratio; an engine keeps them from event to event."""
    chance = numbers_of("engine", engine)
    return [ratio + chance.uniform(-_BUILT_WITHIN, _BUILT_WITHIN) for _ in range(cylinders)]


@dataclass(frozen=True, slots=True)
class EngineOnStand:
    """One engine as it truly is while it is measured; `leaks` is by how much of itself a chamber seems larger."""

    bore_mm: float
    stroke_mm: float
    ratios: list[float]
    gas_temperature_c: float
    leaks: Mapping[int, float] = field(default_factory=dict)

    @property
    def swept_cm3(self) -> float:
        return pi / 4.0 * self.bore_mm**2 * self.stroke_mm / 1000.0

    def chamber_cm3(self, cylinder: int) -> float:
        return self.swept_cm3 / (self.ratios[cylinder - 1] - 1.0) * (1.0 + self.leaks.get(cylinder, 0.0))


def ideal_indication(engine: EngineOnStand, cylinder: int, dialled_cm3: float, dialled_c: float) -> float:
    """What a perfect instrument would show; `dialled_cm3` is displacement over cylinder count as set on it."""
    heard_cm3 = (
        engine.chamber_cm3(cylinder) * (dialled_c + _ZERO_CELSIUS_K) / (engine.gas_temperature_c + _ZERO_CELSIUS_K)
    )
    return 1.0 + dialled_cm3 / heard_cm3


def displayed(ideal: float, bias: float, chance: random.Random) -> str:
    return f"{ideal + bias + chance.gauss(0.0, _SCATTER):.2f}"


def true_gas_temperature(thermometer_c: float, chance: random.Random) -> float:
    return thermometer_c + chance.gauss(0.0, _THERMOMETER_ERROR_K)
