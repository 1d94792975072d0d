"""What a gauge's spread is a share of: the whole spread of the study, or the tolerance of a class."""

import math
from dataclasses import dataclass

from app.metrology.errors import MeasurementError

# Study variation is six standard deviations, within which 99.73 % of a normal distribution lie. AIAG, Measurement
# Systems Analysis, 4th ed.; editions before it took 5.15 (99 %). From memory.
STUDY_SPREAD = 6.0
# 1.41·PV/GRR, truncated: how many 97 % intervals of the gauge fit side by side into the spread of the parts. AIAG, MSA,
# 4th ed., chapter III; the 1.41 stands there for √2. From memory.
CATEGORIES_FACTOR = 1.41


@dataclass(frozen=True, slots=True)
class ToleranceSpan:
    """What a class leaves to the engines, in the unit of the readings.

    Two limits: the width between them, held against the whole study variation 6·s. One limit: the distance from it to
    where the engines usually lie, held against the half 3·s, since only one side of the spread can pass it.
    """

    span: float
    one_sided: bool = False

    def __post_init__(self) -> None:
        if not 0.0 < self.span < math.inf:
            raise MeasurementError(
                "span",
                "The tolerance is the width between the two limits, or the distance to the only one: more than 0.",
            )

    @property
    def spread(self) -> float:
        """How many standard deviations are held against it: 6, or 3 for one limit."""
        return STUDY_SPREAD / 2.0 if self.one_sided else STUDY_SPREAD

    def share(self, standard_deviation: float) -> float:
        """6·s over the width, or 3·s over the distance; 1 where the gauge alone fills it."""
        return self.spread * standard_deviation / self.span


def distinct_categories(part: float, gauge: float) -> int | None:
    """ndc = ⌊1.41·PV/GRR⌋ from two standard deviations; None where the gauge shows no spread of its own."""
    return math.floor(CATEGORIES_FACTOR * part / gauge) if gauge > 0.0 else None
