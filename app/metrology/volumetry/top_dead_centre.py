"""How far the piston stands below top dead centre when the crank is not quite there: never above, so one-sided.

Slider-crank, s stroke and l rod: the piston's drop is k·θ² for small angles, k = s/4·(1 + s/(2·l)). With θ anywhere
within ±a, θ² has the mean a²/3 and the standard deviation 2·a²/(3·√5).
"""

import math
from typing import NamedTuple

USUAL_ROD_TO_STROKE = 1.75  # common practice, no source; 1.5 to 2 changes the drop by less than 4 %


class Drop(NamedTuple):
    """Expected drop and its standard uncertainty in millimetres, and the drop's relative growth per mm of stroke."""

    drop_mm: float
    standard_uncertainty_mm: float
    relative_per_mm_stroke: float


def drop_from_top(stroke_mm: float, rod_length_mm: float | None, crank_within_deg: float) -> Drop:
    """The drop behind a crank set to within ± this many degrees; ten at most, where k·θ² is still within 1 %."""
    rod_mm = USUAL_ROD_TO_STROKE * stroke_mm if rod_length_mm is None else rod_length_mm
    per_square = stroke_mm / 4.0 * (1.0 + stroke_mm / (2.0 * rod_mm))
    growing_rod = 0.0 if rod_length_mm is None else stroke_mm**2 / (8.0 * rod_mm)  # the ratio is kept where it is usual
    square = math.radians(crank_within_deg) ** 2
    return Drop(
        per_square * square / 3.0,
        per_square * square * 2.0 / (3.0 * math.sqrt(5.0)),
        (1.0 + growing_rod / per_square) / stroke_mm,
    )
