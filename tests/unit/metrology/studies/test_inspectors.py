"""Inspectors on one reference volume, by hand."""

import math

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.studies.inspectors import compare_inspectors
from app.metrology.studies.mean_squares import Interval, MeanSquare, Term, interval_of_combination

APART = {"Wren": [5.0, 6.0, 7.0], "Kestrel": [1.0, 2.0, 3.0]}


def test_two_inspectors_of_three_runs_by_hand() -> None:
    """Means 6 and 2, scatter 1 with 4 dof; F = 24; u² = (1/4)/3 + (1/4)/3; t(0.9875; 4) = 3.4954, tables."""
    found = compare_inspectors(APART)
    assert found.mean == 4.0
    assert (found.within, found.within_degrees_of_freedom) == (1.0, 4.0)
    assert found.between == pytest.approx(math.sqrt(23.0 / 3.0))
    assert found.test.ratio == pytest.approx(24.0)
    assert found.test.probability == pytest.approx(0.00805, abs=1e-5)
    assert found.differ
    wren, kestrel = found.inspectors
    assert (wren.inspector, wren.runs, wren.mean, wren.difference) == ("Wren", 3, 6.0, 2.0)
    assert (kestrel.inspector, kestrel.mean, kestrel.difference) == ("Kestrel", 2.0, -2.0)
    assert wren.standard_uncertainty == pytest.approx(math.sqrt(1.0 / 6.0))
    half = 3.4954 * math.sqrt(1.0 / 6.0)
    assert wren.interval == pytest.approx((2.0 - half, 2.0 + half), abs=1e-4)
    assert not wren.explained_by_scatter
    assert not kestrel.explained_by_scatter


def test_the_interval_between_inspectors_is_that_of_the_difference_of_mean_squares() -> None:
    found = compare_inspectors(APART)
    # the means' variance is 8; what the scatter of three runs puts into it is taken off
    low, high = interval_of_combination([Term(1.0, MeanSquare(8.0, 1.0)), Term(-1.0 / 3.0, MeanSquare(1.0, 4.0))], 0.95)
    assert found.between_interval == pytest.approx((math.sqrt(low), math.sqrt(high)))
    assert found.between_interval.low > 0.0


def test_the_uncertainty_of_an_inspector_counts_the_runs_of_all_by_hand() -> None:
    """4 | 1, 2, 3 | 2, 4: s² = (2 + 2)/3; the first: (2/3)²/1 + (1/3 + 1/2)/9; t(1 − 0.05/6; 3) = 4.8567, tables."""
    found = compare_inspectors({"a": [4.0], "b": [1.0, 2.0, 3.0], "c": [2.0, 4.0]})
    variance = 4.0 / 3.0
    expected = [
        math.sqrt(variance * (4.0 / 9.0 + (1.0 / 3.0 + 1.0 / 2.0) / 9.0)),
        math.sqrt(variance * (4.0 / 27.0 + (1.0 + 1.0 / 2.0) / 9.0)),
        math.sqrt(variance * (4.0 / 18.0 + (1.0 + 1.0 / 3.0) / 9.0)),
    ]
    assert [one.standard_uncertainty for one in found.inspectors] == pytest.approx(expected)
    assert [one.difference for one in found.inspectors] == pytest.approx([1.0, -1.0, 0.0])
    first = found.inspectors[0]
    assert first.interval.high - 1.0 == pytest.approx(4.8567 * expected[0], rel=1e-4)
    assert 1.0 - first.interval.low == pytest.approx(4.8567 * expected[0], rel=1e-4)
    assert first.explained_by_scatter
    # about the mean of all runs, 16/6: 16/9 + 3·4/9 + 2·1/9 = 10/3 with 2 degrees of freedom
    assert found.test.ratio == pytest.approx(10.0 / 6.0 / variance)
    assert not found.differ
    harmonic = 3.0 / (1.0 + 1.0 / 3.0 + 1.0 / 2.0)
    _, high = interval_of_combination(
        [Term(1.0, MeanSquare(1.0, 2.0)), Term(-1.0 / harmonic, MeanSquare(variance, 3.0))], 0.95
    )
    assert found.between_interval == pytest.approx((0.0, math.sqrt(high)))


def test_more_confidence_asks_for_more() -> None:
    assert compare_inspectors(APART, 0.99).differ
    assert not compare_inspectors(APART, 0.995).differ
    assert compare_inspectors(APART, 0.995).confidence == 0.995
    assert (
        compare_inspectors(APART, 0.99).inspectors[0].interval.low
        < compare_inspectors(APART).inspectors[0].interval.low
    )


def test_the_order_is_the_one_given() -> None:
    turned = compare_inspectors(dict(reversed(APART.items())))
    assert [one.inspector for one in turned.inspectors] == ["Kestrel", "Wren"]


def test_runs_that_are_all_the_same_show_nothing() -> None:
    found = compare_inspectors({"a": [10.1] * 3, "b": [10.1] * 7, "c": [10.1]})
    assert (found.test.ratio, found.test.probability, found.differ) == (1.0, 1.0, False)
    assert (found.between, found.between_interval, found.within) == (0.0, Interval(0.0, 0.0), 0.0)
    assert found.mean == 10.1
    assert all(one.explained_by_scatter and one.interval == Interval(0.0, 0.0) for one in found.inspectors)


def test_runs_without_scatter_differ_if_their_means_do() -> None:
    found = compare_inspectors({"a": [10.0] * 3, "b": [10.5] * 3})
    assert (found.test.ratio, found.test.probability, found.differ) == (math.inf, 0.0, True)
    assert [one.interval for one in found.inspectors] == [Interval(-0.25, -0.25), Interval(0.25, 0.25)]
    assert not any(one.explained_by_scatter for one in found.inspectors)


def test_the_interval_is_widened_to_hold_the_estimate() -> None:
    """Two inspectors of many runs apart, many of one run between them: weighted and counted once part company."""
    many = {"a": [-1.0, -1.1, -0.9] * 20, "b": [1.0, 1.1, 0.9] * 20, **{str(n): [0.0] for n in range(18)}}
    found = compare_inspectors(many)
    assert found.between > 1.0
    assert found.between_interval.high == found.between
    assert 0.0 < found.between_interval.low < found.between
    one_off = {
        "a": [6.0],
        "b": [1.0, 6.0, 0.0, 1.0, 3.0, 0.0, 0.0, 1.0, 3.0, 2.0],
        "c": [3.0, 4.0, 0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 1.0],
        "d": [0.0, 1.0, 3.0, 0.0, 0.0, 3.0, 0.0, 3.0, 0.0, 3.0],
    }
    found = compare_inspectors(one_off)
    assert found.between > 0.0
    assert found.between_interval.low == found.between
    assert found.between_interval.high > found.between


@pytest.mark.parametrize(
    ("runs", "confidence", "field", "words"),
    [
        ({}, 0.95, "runs", "Two inspectors are the least"),
        ({"a": [1.0, 2.0]}, 0.95, "runs", "Two inspectors are the least"),
        ({"a": [1.0], "b": [2.0]}, 0.95, "runs", "Each inspector has a single run"),
        ({"a": [1.0, 2.0], "b": []}, 0.95, "runs.b", "b has no run on this reference volume"),
        ({"a": [1.0, math.nan], "b": [1.0]}, 0.95, "runs.a", "A run of a has no figure"),
        (APART, 1.0, "confidence", "between 0 and 1"),
        (APART, 0.0, "confidence", "between 0 and 1"),
    ],
)
def test_what_cannot_be_compared_is_refused(
    runs: dict[str, list[float]], confidence: float, field: str, words: str
) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        compare_inspectors(runs, confidence)
    assert refused.value.field == field
