"""What could be changed about a planned measurement, each change by itself, and all of them together."""

import math
from collections.abc import Callable

from app.metrology.inputs import TEMPERATURE_SOURCES, Calibration
from app.metrology.temperature import STANDARD_UNCERTAINTY_K
from app.planning import budget
from app.planning.budget import Parts

_BEST = "thermometer_in_chamber"
Change = tuple[str, Callable[[Parts], Parts]]  # in words, and what it makes of the errors


def changes_to(
    repeats: int, temperature_source: str, accuracy: tuple[float, bool], calibration: Calibration | None
) -> tuple[list[Change], list[Change]]:
    """What would measure more sharply, and what less.

    `accuracy` is what the plan takes: standard uncertainty in units of ratio, and whether it stands for limits.
    """
    sharper: list[Change] = []
    blunter: list[Change] = []
    for count in (1, 3, 6, 12):
        if count != repeats:
            words = "1 indication a cylinder" if count == 1 else f"{count} indications a cylinder"
            (sharper if count > repeats else blunter).append((words, _repeats(repeats, count)))
    for source, kelvin in STANDARD_UNCERTAINTY_K.items():
        if source != temperature_source:
            better = kelvin < STANDARD_UNCERTAINTY_K[temperature_source]
            words = f"gas temperature by {TEMPERATURE_SOURCES[source]}"
            (sharper if better else blunter).append((words, _temperature(temperature_source, source)))
    u, is_limits = accuracy
    half = f"±{math.sqrt(3.0) * u / 2.0:.2g}" if is_limits else f"u = {u / 2.0:.2g}"
    sharper.append((f"an instrument twice as good ({half})", _accuracy(u / 2.0, is_limits)))
    calibrated = None
    if calibration is not None:
        calibrated = calibration.expanded_uncertainty / calibration.coverage_factor
    if calibrated is not None and calibrated < u:
        words = f"its calibration corrected for (U = {2.0 * calibrated:.2g}, k = 2)"
        sharper.append((words, _accuracy(calibrated, rectangular=False)))
    best = min(u / 2.0, calibrated if calibrated is not None else u)
    sharper.append(("the best of these together", _all_of(repeats, temperature_source, best)))
    return sharper, blunter


def _repeats(before: int, after: int) -> Callable[[Parts], Parts]:
    return lambda parts: budget.with_repeats(parts, before, after)


def _temperature(before: str, after: str) -> Callable[[Parts], Parts]:
    return lambda parts: budget.with_temperature(parts, before, after)


def _accuracy(standard_uncertainty: float, rectangular: bool) -> Callable[[Parts], Parts]:
    return lambda parts: budget.with_accuracy(parts, standard_uncertainty, rectangular=rectangular)


def _all_of(repeats: int, temperature_source: str, accuracy: float) -> Callable[[Parts], Parts]:
    def change(parts: Parts) -> Parts:
        better = budget.with_repeats(parts, repeats, max(repeats, 12))
        better = budget.with_temperature(better, temperature_source, _BEST)
        return budget.with_accuracy(better, accuracy, rectangular=False)

    return change
