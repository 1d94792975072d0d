"""What a budget takes of a gauge study: figures by hand from the cells."""

import math
import statistics

import pytest
from scipy import stats

from app.metrology.studies.crossed import GaugeStudy, analyse
from app.metrology.studies.design import Cells, Plan
from app.metrology.studies.for_budget import (
    inspector_intervals,
    repeatability_for_budget,
    reproducibility_for_budget,
)

SHOWN = ((9.80, 9.82), (10.40, 10.41), (11.02, 11.00))


def studied(*added: tuple[float, float, float]) -> GaugeStudy:
    """An inspector for each: what they add to the three parts of SHOWN."""
    plan = Plan(("1", "2", "3"), tuple("ABCDE"[: len(added)]), 2)
    values = tuple(
        tuple(tuple(value + more for value in cell) for cell, more in zip(SHOWN, own, strict=True)) for own in added
    )
    return analyse(Cells(plan, values))


def test_repeatability_is_that_of_the_analysis() -> None:
    found = studied((0.0, 0.0, 0.0), (0.03, 0.03, 0.03), (0.09, 0.09, 0.09))
    # three inspectors with the same scatter: Σ of squares 3·(2 + 0.5 + 2)·1e-4, with 9 + 4 degrees of freedom
    assert repeatability_for_budget(found) == (pytest.approx(math.sqrt(3 * 4.5e-4 / 13)), 13.0)


def test_reproducibility_is_that_of_the_analysis_where_it_stands_on_a_degree_of_freedom() -> None:
    found = studied((0.0, 0.0, 0.0), (0.03, 0.03, 0.03), (0.09, 0.09, 0.09))
    deviation, dof = reproducibility_for_budget(found)
    # variance of the inspectors' means less that of the scatter over 3 parts and 2 repeats
    taken_off = 3 * 4.5e-4 / 13 / 6
    assert deviation == pytest.approx(math.sqrt(statistics.variance([0.0, 0.03, 0.09]) - taken_off))
    assert (deviation, dof) == (found.reproducibility.standard_deviation, found.reproducibility.degrees_of_freedom)
    assert 1.9 < dof < 2.0


def test_of_two_inspectors_the_scatter_is_not_taken_off() -> None:
    found = studied((0.0, 0.0, 0.0), (0.06, 0.06, 0.06))
    assert found.reproducibility.degrees_of_freedom < 1.0
    deviation, dof = reproducibility_for_budget(found)
    assert deviation == pytest.approx(0.06 / math.sqrt(2.0))
    assert deviation > found.reproducibility.standard_deviation
    assert dof == pytest.approx(1.0)


def test_inspectors_who_lie_closer_than_the_scatter_are_carried_whole() -> None:
    found = studied((0.0, 0.0, 0.0), (0.001, 0.001, 0.001), (0.002, 0.002, 0.002))
    assert found.reproducibility.standard_deviation == 0.0
    assert reproducibility_for_budget(found) == (pytest.approx(0.001), pytest.approx(2.0))


def test_an_interaction_counts_in_full_where_the_scatter_is_not_taken_off() -> None:
    """Two parts, two inspectors: B reads 0.06 more, and by δ more on the one and less on the other; F = 1.9."""
    delta = math.sqrt(1.9 * 1.25e-4 / 2.0)
    values = tuple(
        tuple(tuple(value + more for value in cell) for cell, more in zip(SHOWN, own, strict=False))
        for own in ((0.0, 0.0), (0.06 + delta, 0.06 - delta))
    )
    found = analyse(Cells(Plan(("1", "2"), ("A", "B"), 2), values))
    assert found.interaction is not None
    assert found.reproducibility.degrees_of_freedom < 1.0
    deviation, dof = reproducibility_for_budget(found)
    of_means, of_interaction = 0.06**2 / 2.0, (1.0 - 1.0 / 2.0) * 1.9 * 1.25e-4 / 2.0
    assert deviation == pytest.approx(math.sqrt(of_means + of_interaction))
    assert dof == pytest.approx((of_means + of_interaction) ** 2 / (of_means**2 + of_interaction**2))
    assert dof > 1.0


def test_each_mean_has_an_interval_from_what_inspectors_are_tested_against() -> None:
    pooled = studied((0.0, 0.0, 0.0), (0.03, 0.03, 0.03), (0.09, 0.09, 0.09))
    means = [mean for mean, _ in inspector_intervals(pooled)]
    overall = statistics.mean(value for cell in SHOWN for value in cell)
    assert means == pytest.approx([overall, overall + 0.03, overall + 0.09])
    half = stats.t.ppf(0.975, 13) * math.sqrt(3 * 4.5e-4 / 13 / 6)
    assert [interval.high - mean for mean, interval in inspector_intervals(pooled)] == pytest.approx([half] * 3)
    assert [mean - interval.low for mean, interval in inspector_intervals(pooled)] == pytest.approx([half] * 3)
    apart = studied((0.0, 0.0, 0.0), (0.09, 0.0, 0.03))
    mean_square = apart.table.interaction.mean_square
    half = stats.t.ppf(0.975, 2) * math.sqrt(mean_square.value / 6)
    assert [interval.high - mean for mean, interval in inspector_intervals(apart)] == pytest.approx([half] * 2)
