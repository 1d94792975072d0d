"""Do inspectors differ on one reference volume, beyond what their runs scatter? No ranking: the order is the caller's.

One-way analysis of variance, random effects, groups of any size: JCGM 100:2008, H.5. The history is no designed study:
whoever verified in a colder week, or before a repair, differs by that too.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from app.metrology.analysis_of_variance import OneWay, group_of, one_way
from app.metrology.distributions import t_quantile
from app.metrology.errors import MeasurementError
from app.metrology.studies.mean_squares import (
    CONFIDENCE,
    Interval,
    MeanSquare,
    Term,
    VarianceRatioTest,
    interval_of_combination,
    variance_ratio_test,
)


@dataclass(frozen=True, slots=True)
class InspectorDifference:
    """One inspector's runs against the whole, in the unit of the runs. The interval allows for how many are compared.

    The difference is plain: not drawn towards 0 for few runs. Few runs show in the interval instead.
    """

    inspector: str
    runs: int
    mean: float
    difference: float  # from the mean of all inspectors' means
    standard_uncertainty: float
    interval: Interval  # of the difference

    @property
    def explained_by_scatter(self) -> bool:
        """Whether 0 lies in the interval."""
        return self.interval.low <= 0.0 <= self.interval.high


@dataclass(frozen=True, slots=True)
class InspectorComparison:
    """All inspectors in the order given, and what lies between them, in the unit of the runs."""

    inspectors: tuple[InspectorDifference, ...]
    mean: float  # of the inspectors' means, each counted once
    between: float  # standard deviation of what distinguishes inspectors; 0 where their means lie closer than scatter
    between_interval: Interval
    within: float  # standard deviation of one run about its inspector's mean
    within_degrees_of_freedom: float
    test: VarianceRatioTest
    confidence: float

    @property
    def differ(self) -> bool:
        """Whether the means lie farther apart than the scatter of the runs explains. JCGM 100:2008, H.5.2, F test."""
        return self.test.probability < 1.0 - self.confidence


def compare_inspectors(runs: Mapping[str, Sequence[float]], confidence: float = CONFIDENCE) -> InspectorComparison:
    """The comparison from each inspector's run means on one and the same reference volume, two inspectors or more.

    Each inspector's interval has the significance divided by how many there are (Bonferroni), so that with 20 of them
    not one stands out by chance alone more often than the confidence says. The interval of the standard deviation
    between them is that of `mean_squares` on the means, each counted once, with the harmonic mean of the counts: exact
    in kind for equal counts; Thomas and Hultquist, Ann. Stat. 6 (1978), for others (from memory, simulated in the
    tests), and then widened to hold the estimate. Raises MeasurementError(field, sentence).
    """
    _check(runs)
    first = next(iter(runs.values()))[0]
    # taken from the first run, exactly for runs that are close, so that equal runs leave nothing over
    groups = [group_of([value - first for value in values]) for values in runs.values()]
    found = one_way(groups)
    counts, means = [group.count for group in groups], [group.mean for group in groups]
    test = variance_ratio_test(
        MeanSquare(found.between**2, found.between_degrees_of_freedom),
        MeanSquare(found.within**2, found.within_degrees_of_freedom),
    )
    return InspectorComparison(
        inspectors=_differences(list(runs), counts, means, found, first, confidence),
        mean=first + found.mean,
        between=found.group_effect,
        between_interval=_interval(counts, found, confidence),
        within=found.within,
        within_degrees_of_freedom=found.within_degrees_of_freedom,
        test=test,
        confidence=confidence,
    )


def _check(runs: Mapping[str, Sequence[float]]) -> None:
    for inspector, values in runs.items():
        if not values:
            raise MeasurementError(
                f"runs.{inspector}", f"{inspector} has no run on this reference volume. Leave {inspector} out."
            )
        if not all(math.isfinite(value) for value in values):
            raise MeasurementError(f"runs.{inspector}", f"A run of {inspector} has no figure. Give what it showed.")
    if len(runs) < 2:
        raise MeasurementError("runs", "Two inspectors are the least to compare: there is nothing to hold one against.")
    if all(len(values) == 1 for values in runs.values()):
        raise MeasurementError(
            "runs",
            "Each inspector has a single run, so nothing shows how far runs scatter. Let one of them run it again.",
        )


def _differences(
    labels: Sequence[str],
    counts: Sequence[int],
    means: Sequence[float],
    found: OneWay,
    first: float,
    confidence: float,
) -> tuple[InspectorDifference, ...]:
    """x̄ᵢ − x̄ with u² = s²·((1 − 1/a)²/nᵢ + Σ'1/nⱼ/a²), the others' means being part of the whole."""
    number = len(labels)
    factor = t_quantile(1.0 - (1.0 - confidence) / 2.0 / number, found.within_degrees_of_freedom)
    reciprocals = math.fsum(1.0 / count for count in counts)
    differences = []
    for label, count, mean in zip(labels, counts, means, strict=True):
        of_own, of_others = (1.0 - 1.0 / number) ** 2 / count, (reciprocals - 1.0 / count) / number**2
        uncertainty = found.within * math.sqrt(of_own + of_others)
        away = mean - found.mean
        interval = Interval(away - factor * uncertainty, away + factor * uncertainty)
        differences.append(InspectorDifference(label, count, first + mean, away, uncertainty, interval))
    return tuple(differences)


def _interval(counts: Sequence[int], found: OneWay, confidence: float) -> Interval:
    usual = len(counts) / math.fsum(1.0 / count for count in counts)
    of_means = found.standard_uncertainty**2 * len(counts)  # variance of the means
    low, high = interval_of_combination(
        [
            Term(1.0, MeanSquare(of_means, found.between_degrees_of_freedom)),
            Term(-1.0 / usual, MeanSquare(found.within**2, found.within_degrees_of_freedom)),
        ],
        confidence,
    )
    return Interval(min(math.sqrt(low), found.group_effect), max(math.sqrt(high), found.group_effect))
