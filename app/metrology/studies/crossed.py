"""The gauge study by analysis of variance: two-way crossed, random effects, balanced.

A reading is μ + part + inspector + their interaction + scatter, each effect drawn at random. With p parts, o inspectors
and r repeats the mean squares are expected to be σ² + r·σ²(interaction) + o·r·σ²(part) and so on. AIAG, Measurement
Systems Analysis, 4th ed., appendix A; Burdick, Borror and Montgomery, Design and Analysis of Gauge R&R Studies (2005),
chapters 2 and 3; Montgomery, Design and Analysis of Experiments, random factors. From memory.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.studies.design import Cells, mean_of, nothing_varies
from app.metrology.studies.mean_squares import (
    CONFIDENCE,
    Interval,
    MeanSquare,
    Term,
    VarianceRatioTest,
    estimate,
    interval_of_combination,
    satterthwaite,
    variance_ratio_test,
)
from app.metrology.studies.shares import STUDY_SPREAD, ToleranceSpan, distinct_categories

# An interaction whose p is greater is taken as scatter like any other: AIAG practice, MSA 4th ed., appendix A, which
# says that α = 0.25 guards against passing over one that is there. From memory.
POOLING_PROBABILITY = 0.25
_NOISE = 1e-12  # of the widest reading from the first: what squares of less amount to is the arithmetic's


@dataclass(frozen=True, slots=True)
class Line:
    """One source of the table: sum of squares in the squared unit, and its degrees of freedom."""

    sum_of_squares: float
    degrees_of_freedom: float

    @property
    def mean_square(self) -> MeanSquare:
        return MeanSquare(self.sum_of_squares / self.degrees_of_freedom, self.degrees_of_freedom)


@dataclass(frozen=True, slots=True)
class TestedLine(Line):
    """A source that is tested against another."""

    test: VarianceRatioTest


@dataclass(frozen=True, slots=True)
class Table:
    """The analysis of variance. Pooled: the interaction is part of `error`, which the others are tested against."""

    part: TestedLine
    inspector: TestedLine
    interaction: TestedLine
    repeatability: Line  # of the repeats in their cells alone
    error: Line  # what repeatability is taken from: the same, with the interaction where that is pooled
    pooled: bool

    @property
    def total(self) -> Line:
        """Of all readings about their mean."""
        lines = (self.part, self.inspector, self.interaction, self.repeatability)
        return Line(
            math.fsum(line.sum_of_squares for line in lines), math.fsum(line.degrees_of_freedom for line in lines)
        )


@dataclass(frozen=True, slots=True)
class Component:
    """One component as a standard deviation in the unit of the readings, with its interval.

    An estimate of a variance that came out below 0 is set to 0, and `below_zero` says so. For a component that is 0
    the degrees of freedom are infinite: a budget carries nothing of it. Where part of a sum was set to 0, the interval
    is that of the sum without this step, widened to hold the estimate.
    """

    standard_deviation: float
    interval: Interval
    degrees_of_freedom: float
    below_zero: bool = False

    @property
    def variance(self) -> float:
        return self.standard_deviation**2

    @property
    def study_variation(self) -> float:
        """6·s."""
        return STUDY_SPREAD * self.standard_deviation


@dataclass(frozen=True, slots=True)
class GaugeStudy:
    """What the study found. The interaction is None where it was pooled."""

    cells: Cells
    table: Table
    confidence: float
    repeatability: Component  # EV
    inspector: Component
    interaction: Component | None
    reproducibility: Component  # AV: inspector, and interaction where it is kept
    gauge: Component  # GRR: repeatability and reproducibility
    part: Component  # PV
    total: Component  # TV: gauge and part

    @property
    def distinct_categories(self) -> int | None:
        """ndc; None where the gauge shows no spread of its own."""
        return distinct_categories(self.part.standard_deviation, self.gauge.standard_deviation)

    def share_of_total(self, component: Component) -> float:
        """s over that of the whole, 0 to 1: %GRR and its like. The shares of s do not add up to 1, those of s² do."""
        return component.standard_deviation / self.total.standard_deviation

    def contribution(self, component: Component) -> float:
        """s² over that of the whole, 0 to 1."""
        return component.variance / self.total.variance

    def share_of_tolerance(self, component: Component, tolerance: ToleranceSpan) -> tuple[float, Interval]:
        """6·s over the width between two limits or 3·s over the distance to one, and its interval."""
        low, high = (tolerance.share(end) for end in component.interval)
        return tolerance.share(component.standard_deviation), Interval(low, high)


def analyse(cells: Cells, pooled: bool | None = None, confidence: float = CONFIDENCE) -> GaugeStudy:
    """The whole study. `pooled`: whether the interaction is taken as scatter; None leaves it to p > 0.25.

    Raises MeasurementError where all readings are the same.
    """
    table = analysis_of_variance(cells, pooled)
    if table.total.sum_of_squares == 0.0:
        raise nothing_varies()
    return _study(cells, table, confidence)


def analysis_of_variance(cells: Cells, pooled: bool | None = None) -> Table:
    """Sums of squares, degrees of freedom, F and p. Tested against the interaction, or against what it is pooled to."""
    parts, inspectors, repeats = len(cells.plan.parts), len(cells.plan.inspectors), cells.plan.repeats
    part, inspector, interaction, repeatability = _sums_of_squares(cells)
    within = Line(repeatability, float(parts * inspectors * (repeats - 1)))
    of_both = Line(interaction, float((parts - 1) * (inspectors - 1)))
    interaction_test = variance_ratio_test(of_both.mean_square, within.mean_square)
    if pooled is None:
        pooled = interaction_test.probability > POOLING_PROBABILITY
    error = (
        Line(interaction + repeatability, of_both.degrees_of_freedom + within.degrees_of_freedom) if pooled else within
    )
    reference = error if pooled else of_both

    def tested(sum_of_squares: float, degrees_of_freedom: int) -> TestedLine:
        square = Line(sum_of_squares, float(degrees_of_freedom)).mean_square
        test = variance_ratio_test(square, reference.mean_square)
        return TestedLine(sum_of_squares, float(degrees_of_freedom), test)

    return Table(
        part=tested(part, parts - 1),
        inspector=tested(inspector, inspectors - 1),
        interaction=TestedLine(interaction, of_both.degrees_of_freedom, interaction_test),
        repeatability=within,
        error=error,
        pooled=pooled,
    )


def _sums_of_squares(cells: Cells) -> tuple[float, float, float, float]:
    """Of part, inspector, interaction, repeats; each summed up by itself, since differences of sums lose digits."""
    parts, inspectors, repeats = len(cells.plan.parts), len(cells.plan.inspectors), cells.plan.repeats
    first = cells.values[0][0][0]
    # taken from the first reading, exactly for readings that are close, so that equal readings leave nothing over
    away = [[[value - first for value in cell] for cell in row] for row in cells.values]
    means = [[mean_of(cell) for cell in row] for row in away]
    of_inspector = [mean_of(row) for row in means]
    of_part = [mean_of(column) for column in zip(*means, strict=True)]
    overall = mean_of(of_inspector)
    widest = max(abs(value) for row in away for cell in row for value in cell)
    noise = parts * inspectors * repeats * (_NOISE * widest) ** 2

    def told(squares: Sequence[float], times: int) -> float:
        found = times * math.fsum(squares)
        return found if found > noise else 0.0

    return (
        told([(mean - overall) ** 2 for mean in of_part], inspectors * repeats),
        told([(mean - overall) ** 2 for mean in of_inspector], parts * repeats),
        told(
            [
                (mean - of_inspector[i] - of_part[k] + overall) ** 2
                for i, row in enumerate(means)
                for k, mean in enumerate(row)
            ],
            repeats,
        ),
        told(
            [
                (value - mean) ** 2
                for row, row_means in zip(away, means, strict=True)
                for cell, mean in zip(row, row_means, strict=True)
                for value in cell
            ],
            1,
        ),
    )


def _study(cells: Cells, table: Table, confidence: float) -> GaugeStudy:
    parts, inspectors, repeats = len(cells.plan.parts), len(cells.plan.inspectors), cells.plan.repeats
    squares = (table.part, table.inspector, table.interaction, table.error)
    of_inspector, of_part = 1.0 / (parts * repeats), 1.0 / (inspectors * repeats)
    own = (0.0, 0.0, 0.0, 1.0)
    if table.pooled:
        interaction = None
        inspector, part = (0.0, of_inspector, 0.0, -of_inspector), (of_part, 0.0, 0.0, -of_part)
    else:
        interaction = (0.0, 0.0, 1.0 / repeats, -1.0 / repeats)
        inspector, part = (0.0, of_inspector, -of_inspector, 0.0), (of_part, 0.0, -of_part, 0.0)
    between = (inspector,) if interaction is None else (inspector, interaction)

    def component(*factors: tuple[float, ...]) -> Component:
        return _component(factors, [line.mean_square for line in squares], confidence)

    return GaugeStudy(
        cells=cells,
        table=table,
        confidence=confidence,
        repeatability=component(own),
        inspector=component(inspector),
        interaction=None if interaction is None else component(interaction),
        reproducibility=component(*between),
        gauge=component(own, *between),
        part=component(part),
        total=component(own, *between, part),
    )


def _component(summed: Sequence[tuple[float, ...]], mean_squares: Sequence[MeanSquare], confidence: float) -> Component:
    """The sum of single components, each given by the factors of the mean squares, those below 0 left out."""
    kept = [factors for factors in summed if estimate(_terms([factors], mean_squares)) > 0.0]
    terms = _terms(kept, mean_squares)
    deviation = math.sqrt(max(estimate(terms), 0.0))
    low, high = interval_of_combination(_terms(summed, mean_squares), confidence)
    return Component(
        standard_deviation=deviation,
        interval=Interval(math.sqrt(low), max(math.sqrt(high), deviation)),
        degrees_of_freedom=satterthwaite(terms),
        below_zero=any(estimate(_terms([factors], mean_squares)) < 0.0 for factors in summed),
    )


def _terms(summed: Sequence[tuple[float, ...]], mean_squares: Sequence[MeanSquare]) -> list[Term]:
    """The factors added up, and what then comes in not at all left out."""
    factors = [math.fsum(one[place] for one in summed) for place in range(len(mean_squares))]
    return [Term(factor, square) for factor, square in zip(factors, mean_squares, strict=True) if factor != 0.0]
