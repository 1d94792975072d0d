"""Correlated propagation, simultaneous sets, lines and groups, each on 200 random cases against independent libraries.

`uncertainties`, `GTC` and `metrolopy` propagate by their own differentiation; `GTC`, `scipy` and `numpy` evaluate
simultaneous sets, lines and groups from the raw values.
"""

import math
from typing import Any

import GTC  # type: ignore[import-untyped]
import metrolopy  # type: ignore[import-untyped]
import numpy as np
import pytest
import uncertainties  # type: ignore[import-untyped]
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from app.metrology.analysis_of_variance import group_of, one_way
from app.metrology.correlation import (
    combined_standard_uncertainty,
    correlations_of,
    covariance_of_results,
    simultaneous_means,
)
from app.metrology.line_fit import fit_line

CASES = settings(max_examples=200, deadline=None)

Table = list[list[float]]


@st.composite
def correlated(draw: st.DrawFn) -> tuple[list[float], list[float], Table]:
    """Estimates, standard uncertainties and correlations that can be: of random mixtures of independent causes."""
    count = draw(st.integers(2, 5))
    mixtures = [
        np.array(draw(st.lists(st.floats(-1.0, 1.0), min_size=count + 1, max_size=count + 1))) for _ in range(count)
    ]
    assume(all(float(one @ one) > 0.01 for one in mixtures))
    unit = [one / math.sqrt(float(one @ one)) for one in mixtures]
    table = [
        [1.0 if a == b else max(-1.0, min(1.0, float(unit[min(a, b)] @ unit[max(a, b)]))) for b in range(count)]
        for a in range(count)
    ]
    assume(all(abs(table[a][b]) < 0.999 for a in range(count) for b in range(a)))
    # a library that factors the table needs one well away from singular
    assume(float(np.linalg.eigvalsh(np.array(table))[0]) > 1e-6)
    estimates = draw(st.lists(st.floats(1.0, 100.0), min_size=count, max_size=count))
    u = [abs(value) * draw(st.floats(0.001, 0.05)) for value in estimates]
    return estimates, u, table


def products(values: Any) -> tuple[Any, Any]:
    """Two results of the same inputs: the product of all, and the first by the last with the second added."""
    product = values[0]
    for one in values[1:]:
        product = product * one
    return product, values[0] / values[-1] + values[1]


def sensitivities(estimates: list[float]) -> Table:
    """By hand: what each input does to the two results of `products`."""
    product = math.prod(estimates)
    second = [0.0] * len(estimates)
    second[0] += 1.0 / estimates[-1]
    second[-1] -= estimates[0] / estimates[-1] ** 2
    second[1] += 1.0
    return [[product / value for value in estimates], second]


@given(correlated())
@CASES
def test_uncertainties_finds_the_same_variances_and_covariances(case: tuple[list[float], list[float], Table]) -> None:
    estimates, u, table = case
    theirs = products(uncertainties.correlated_values_norm(list(zip(estimates, u, strict=True)), np.array(table)))
    ours = covariance_of_results(sensitivities(estimates), u, table)
    matrix = uncertainties.covariance_matrix(list(theirs))
    for a in range(2):
        for b in range(2):
            assert ours[a][b] == pytest.approx(matrix[a][b], rel=1e-6, abs=1e-9 * math.sqrt(ours[0][0] * ours[1][1]))
    assert combined_standard_uncertainty(sensitivities(estimates)[0], u, table) == pytest.approx(
        theirs[0].std_dev, rel=1e-6
    )


@given(correlated())
@CASES
def test_gtc_finds_the_same_uncertainties_and_correlation(case: tuple[list[float], list[float], Table]) -> None:
    estimates, u, table = case
    inputs = [GTC.ureal(value, deviation, independent=False) for value, deviation in zip(estimates, u, strict=True)]
    for a in range(len(inputs)):
        for b in range(a):
            GTC.set_correlation(table[a][b], inputs[a], inputs[b])
    theirs = products(inputs)
    ours = covariance_of_results(sensitivities(estimates), u, table)
    assert math.sqrt(ours[0][0]) == pytest.approx(GTC.uncertainty(theirs[0]), rel=1e-9)
    assert math.sqrt(ours[1][1]) == pytest.approx(GTC.uncertainty(theirs[1]), rel=1e-9)
    assert correlations_of(ours)[0][1] == pytest.approx(GTC.get_correlation(*theirs), abs=1e-9)


@given(correlated())
@CASES
def test_metrolopy_finds_the_same_uncertainties(case: tuple[list[float], list[float], Table]) -> None:
    estimates, u, table = case
    theirs = products(metrolopy.gummy.create(estimates, u=u, correlation_matrix=table))
    ours = covariance_of_results(sensitivities(estimates), u, table)
    assert [math.sqrt(ours[place][place]) for place in range(2)] == pytest.approx([one.u for one in theirs], rel=1e-6)


@st.composite
def simultaneous(draw: st.DrawFn) -> Table:
    quantities = draw(st.integers(2, 4))
    rows = draw(
        st.lists(st.lists(st.integers(-1000, 1000), min_size=quantities, max_size=quantities), min_size=3, max_size=12)
    )
    table = [[5.0 + value * 1e-3 for value in row] for row in rows]
    assume(all(len(set(column)) > 1 for column in zip(*table, strict=True)))
    return table


@given(simultaneous())
@CASES
def test_numpy_and_gtc_find_the_same_covariances_of_simultaneous_sets(sets: Table) -> None:
    means, covariances = simultaneous_means(sets)
    columns = np.array(sets).T
    off = np.abs(np.corrcoef(columns) - np.eye(len(columns)))
    assume(off.max() < 0.9999)  # GTC refuses what computes to a hair beyond 1
    theirs = np.cov(columns) / len(sets)
    assert means == pytest.approx(columns.mean(axis=1))
    assert np.array(covariances) == pytest.approx(theirs, rel=1e-9, abs=1e-15)
    assert np.array(correlations_of(covariances)) == pytest.approx(np.corrcoef(columns), abs=1e-9)
    by_gtc = GTC.ta.multi_estimate_real([list(column) for column in columns])
    assert [math.sqrt(row[place]) for place, row in enumerate(covariances)] == pytest.approx(
        [GTC.uncertainty(one) for one in by_gtc], rel=1e-9
    )
    assert correlations_of(covariances)[0][1] == pytest.approx(GTC.get_correlation(by_gtc[0], by_gtc[1]), abs=1e-9)


@st.composite
def points(draw: st.DrawFn) -> tuple[list[float], list[float]]:
    x = draw(st.lists(st.integers(-500, 500), min_size=4, max_size=15))
    assume(len(set(x)) > 2)
    slope, noise = draw(st.floats(-2.0, 2.0)), st.integers(-1000, 1000)
    y = [3.0 + slope * value * 0.1 + draw(noise) * 1e-3 for value in x]
    return [value * 0.1 for value in x], y


@given(points(), st.floats(-60.0, 60.0))
@CASES
def test_scipy_and_gtc_fit_the_same_line(case: tuple[list[float], list[float]], there: float) -> None:
    x, y = case
    ours = fit_line(x, y)
    assume(ours.residual_standard_deviation > 1e-6)  # theirs lose their digits on points that lie on a line
    by_scipy = stats.linregress(x, y)
    assert ours.slope == pytest.approx(by_scipy.slope, rel=1e-9, abs=1e-9)
    assert ours.intercept == pytest.approx(by_scipy.intercept, rel=1e-9, abs=1e-9)
    assert ours.slope_standard_uncertainty == pytest.approx(by_scipy.stderr, rel=1e-5)
    assert ours.intercept_standard_uncertainty == pytest.approx(by_scipy.intercept_stderr, rel=1e-5)
    by_gtc = GTC.ta.line_fit(x, y)
    intercept, slope = by_gtc.a_b
    assert ours.correlation == pytest.approx(GTC.get_correlation(intercept, slope), abs=1e-6)
    predicted, theirs = ours.predict(there), intercept + slope * there
    assert predicted.value == pytest.approx(GTC.value(theirs), rel=1e-8, abs=1e-8)
    assert predicted.standard_uncertainty == pytest.approx(GTC.uncertainty(theirs), rel=1e-5)
    assert predicted.degrees_of_freedom == pytest.approx(GTC.dof(theirs), rel=1e-6)


@st.composite
def groups(draw: st.DrawFn) -> Table:
    found = draw(
        st.lists(st.lists(st.integers(-1000, 1000), min_size=1, max_size=6), min_size=2, max_size=8),
    )
    assume(any(len(set(one)) > 1 for one in found))
    return [[10.0 + value * 1e-3 for value in one] for one in found]


@given(groups())
@CASES
def test_scipy_finds_the_same_variance_ratio_and_the_same_verdict_on_groups(values: Table) -> None:
    ours = one_way([group_of(one) for one in values])
    theirs = stats.f_oneway(*values)
    assert ours.variance_ratio == pytest.approx(theirs.statistic, rel=1e-6, abs=1e-9)
    if abs(theirs.pvalue - 0.05) > 1e-6:
        assert ours.differs(0.05) == (theirs.pvalue < 0.05)
    pooled = [one for group in values for one in group]
    without = np.std(pooled, ddof=1) / math.sqrt(len(pooled))
    assert ours.standard_uncertainty_without_effect == pytest.approx(without, rel=1e-9)
