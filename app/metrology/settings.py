"""What to dial on an instrument that cannot be set to the engine as it is.

The instrument divides displacement by cylinder count, so any pair with the engine's own swept volume a cylinder shows
the engine's own ratio (common practice, no source): a twelve-cylinder engine of 400 in³ is set on a six-cylinder
instrument as 200 in³, a two-cylinder engine of 100 in³ on a four-cylinder one as 200 in³.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from app.metrology.errors import MeasurementError
from app.metrology.phrases import cylinders_in_words, volume_both

_DUST = 1e-9  # a displacement at the very end of the range still fits


@dataclass(frozen=True, slots=True)
class SettingChoice:
    """One pair to dial, displacement of the whole (as set) in cm³, with its sentence in both unit systems."""

    cylinders: int
    displacement_cm3: float
    sentence: str


def find_settings(
    cylinders: int,
    displacement_cm3: float,
    settable_cylinders: Sequence[int],
    displacement_min_cm3: float,
    displacement_max_cm3: float,
) -> tuple[SettingChoice, ...]:
    """Every pair that shows this engine's own ratio, best first: its true cylinder count, then the nearest counts.

    Of two counts equally near, the greater comes first. Empty when the instrument cannot take any.
    """
    _check(cylinders, displacement_cm3, settable_cylinders, displacement_min_cm3, displacement_max_cm3)
    low, high = displacement_min_cm3 * (1.0 - _DUST), displacement_max_cm3 * (1.0 + _DUST)
    by_distance = sorted(set(settable_cylinders), key=lambda count: (abs(count - cylinders), -count))
    pairs = ((count, displacement_cm3 * count / cylinders) for count in by_distance)
    return tuple(
        SettingChoice(count, to_set_cm3, _sentence(count, to_set_cm3, cylinders, displacement_cm3))
        for count, to_set_cm3 in pairs
        if low <= to_set_cm3 <= high
    )


def explain_no_settings(
    cylinders: int,
    displacement_cm3: float,
    settable_cylinders: Sequence[int],
    displacement_min_cm3: float,
    displacement_max_cm3: float,
) -> str:
    """Why `find_settings` found nothing, in a sentence; empty when it did find something."""
    if find_settings(cylinders, displacement_cm3, settable_cylinders, displacement_min_cm3, displacement_max_cm3):
        return ""
    needed = _listed(
        f"{volume_both(displacement_cm3 * count / cylinders)} on {count}" for count in sorted(set(settable_cylinders))
    )
    return (
        f"This instrument takes {volume_both(displacement_min_cm3)} to {volume_both(displacement_max_cm3)}, but each "
        f"cylinder of this engine sweeps {volume_both(displacement_cm3 / cylinders)}, which would need {needed}. "
        "Use an instrument with another range."
    )


def _sentence(count: int, to_set_cm3: float, cylinders: int, displacement_cm3: float) -> str:
    dial = f"Set {volume_both(to_set_cm3)} and {cylinders_in_words(count)}"
    if count == cylinders:
        return f"{dial}: the engine as it is."
    return (
        f"{dial}: the same {volume_both(to_set_cm3 / count)} a cylinder as this engine's "
        f"{volume_both(displacement_cm3)} in {cylinders_in_words(cylinders)}."
    )


def _listed(phrases: Iterable[str]) -> str:
    return ", or ".join(phrases) or "a cylinder count that can be set"


def _check(
    cylinders: int,
    displacement_cm3: float,
    settable_cylinders: Sequence[int],
    displacement_min_cm3: float,
    displacement_max_cm3: float,
) -> None:
    if cylinders < 1:
        raise MeasurementError("cylinders", "Enter how many cylinders the engine has, 1 or more.")
    if not 0.0 < displacement_cm3 < math.inf:
        raise MeasurementError("displacement_cm3", "Enter the engine's whole displacement, more than nothing.")
    if any(count < 1 for count in settable_cylinders):
        raise MeasurementError("settable_cylinders", "A cylinder count that can be set is 1 or more.")
    if not 0.0 <= displacement_min_cm3 <= displacement_max_cm3 < math.inf:
        raise MeasurementError(
            "displacement_max_cm3", "The instrument's displacement range runs from its least to its greatest setting."
        )
