"""The gauge study by averages and ranges: done with pencil and paper, and a second way beside the analysis of variance.

AIAG, Measurement Systems Analysis, 4th ed., chapter III, range sheet. From memory. It knows no interaction: where
inspectors differ more on some parts than on others, that goes into the repeatability or is lost.
"""

import math
from dataclasses import dataclass

from app.metrology.studies.design import Cells, mean_of, nothing_varies
from app.metrology.studies.range_constants import d2_star
from app.metrology.studies.shares import distinct_categories


@dataclass(frozen=True, slots=True)
class RangeStudy:
    """Standard deviations in the unit of the readings, and what they were taken from.

    `below_zero`: the inspectors' means lie closer together than the scatter alone explains, and AV was set to 0.
    """

    mean_range: float  # of the repeats, over all cells
    inspector_difference: float  # greatest less least of the inspectors' means
    part_range: float  # greatest less least of the parts' means
    k1: float
    k2: float
    k3: float
    repeatability: float  # EV
    reproducibility: float  # AV
    gauge: float  # GRR
    part: float  # PV
    total: float  # TV
    below_zero: bool

    @property
    def distinct_categories(self) -> int | None:
        """ndc; None where the gauge shows no spread of its own."""
        return distinct_categories(self.part, self.gauge)

    def share_of_total(self, standard_deviation: float) -> float:
        """One of the five over TV, 0 to 1: %GRR and its like."""
        return standard_deviation / self.total


def analyse_ranges(cells: Cells) -> RangeStudy:
    """EV = R̄·K₁; AV = √((X̄diff·K₂)² − EV²/(p·r)); PV = Rₚ·K₃; each K is 1/d₂* for its count of values and ranges.

    Raises MeasurementError where all readings are the same.
    """
    parts, inspectors, repeats = len(cells.plan.parts), len(cells.plan.inspectors), cells.plan.repeats
    k1 = 1.0 / d2_star(repeats, parts * inspectors)
    k2, k3 = 1.0 / d2_star(inspectors, 1), 1.0 / d2_star(parts, 1)
    mean_range = mean_of([one for row in cells.ranges() for one in row])
    by_inspector, by_part = cells.inspector_means(), cells.part_means()
    difference, part_range = max(by_inspector) - min(by_inspector), max(by_part) - min(by_part)
    repeatability = mean_range * k1
    between = (difference * k2) ** 2 - repeatability**2 / (parts * repeats)
    reproducibility, part = math.sqrt(max(between, 0.0)), part_range * k3
    gauge = math.hypot(repeatability, reproducibility)
    total = math.hypot(gauge, part)
    if total == 0.0:
        raise nothing_varies()
    return RangeStudy(
        mean_range=mean_range,
        inspector_difference=difference,
        part_range=part_range,
        k1=k1,
        k2=k2,
        k3=k3,
        repeatability=repeatability,
        reproducibility=reproducibility,
        gauge=gauge,
        part=part,
        total=total,
        below_zero=between < 0.0,
    )
