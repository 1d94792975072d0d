"""Propagation with correlated inputs, and the covariances that simultaneous observations show. JCGM 100:2008, 5.2."""

import math
from collections.abc import Sequence
from itertools import pairwise

from app.metrology.errors import MeasurementError

Matrix = tuple[tuple[float, ...], ...]

_DUST = 1e-9  # of a correlation or a relative variance: noise of the arithmetic


def combined_standard_uncertainty(
    sensitivities: Sequence[float], standard_uncertainties: Sequence[float], correlations: Sequence[Sequence[float]]
) -> float:
    """u of one result: u² = Σ cᵢ·cⱼ·uᵢ·uⱼ·rᵢⱼ, in the result's unit. JCGM 100:2008, equation (16).

    The three run parallel; correlations are a square symmetric table with 1 on its diagonal. Raises MeasurementError
    where that cannot be.
    """
    return math.sqrt(covariance_of_results([sensitivities], standard_uncertainties, correlations)[0][0])


def covariance_of_results(
    sensitivities: Sequence[Sequence[float]],
    standard_uncertainties: Sequence[float],
    correlations: Sequence[Sequence[float]],
) -> Matrix:
    """Variances and covariances of several results of the same inputs, one row of sensitivities for each result.

    u(yₖ, yₗ) = Σ cₖᵢ·cₗⱼ·uᵢ·uⱼ·rᵢⱼ, in the product of the results' units. JCGM 100:2008, H.2.3.
    """
    count = len(standard_uncertainties)
    if any(not 0.0 <= u < math.inf for u in standard_uncertainties):
        raise MeasurementError("standard_uncertainties", "A standard uncertainty is a finite number, 0 or more.")
    _check_correlations(correlations, count)
    if any(len(row) != count for row in sensitivities):
        raise MeasurementError("sensitivities", f"{count} inputs need {count} sensitivities for every result.")
    parts = [[c * u for c, u in zip(row, standard_uncertainties, strict=True)] for row in sensitivities]
    return tuple(tuple(_covariance(one, other, correlations) for other in parts) for one in parts)


def _covariance(one: Sequence[float], other: Sequence[float], correlations: Sequence[Sequence[float]]) -> float:
    terms = (a * b * r for a, row in zip(one, correlations, strict=True) for b, r in zip(other, row, strict=True))
    found = math.fsum(terms)
    # parts that cancel exactly leave noise of either sign; a variance is none
    return max(found, 0.0) if one is other else found


def correlations_of(covariances: Sequence[Sequence[float]]) -> Matrix:
    """r = u(a, b)/(u(a)·u(b)) for every pair, 1 on the diagonal. JCGM 100:2008, equation (14).

    Raises MeasurementError where one does not vary at all: then it has no correlation.
    """
    deviations = [math.sqrt(row[place]) for place, row in enumerate(covariances)]
    if 0.0 in deviations:
        raise MeasurementError("covariances", "A quantity that does not vary has no correlation: leave it out.")
    # held within ±1: of quantities that wholly follow each other the quotient computes to a hair beyond
    return tuple(
        tuple(
            1.0 if a == b else max(-1.0, min(1.0, entry / (deviations[a] * deviations[b])))
            for b, entry in enumerate(row)
        )
        for a, row in enumerate(covariances)
    )


def simultaneous_means(sets: Sequence[Sequence[float]]) -> tuple[tuple[float, ...], Matrix]:
    """Means of quantities observed together, and the variances and covariances of those means.

    One set is one observation of all quantities. s(q̄, r̄) = Σ(qₖ − q̄)(rₖ − r̄)/(n(n − 1)), n − 1 degrees of freedom.
    JCGM 100:2008, equation (17).
    """
    count = len(sets)
    if count < 2:
        raise MeasurementError("sets", "Observe all quantities together at least twice.")
    if any(len(one) != len(other) for one, other in pairwise(sets)):
        raise MeasurementError("sets", "Every set has one observation of each quantity.")
    columns = list(zip(*sets, strict=True))
    means = tuple(math.fsum(column) / count for column in columns)
    off = [[value - mean for value in column] for column, mean in zip(columns, means, strict=True)]
    covariances = tuple(
        tuple(math.fsum(a * b for a, b in zip(one, other, strict=True)) / (count * (count - 1)) for other in off)
        for one in off
    )
    return means, covariances


def _check_correlations(correlations: Sequence[Sequence[float]], count: int) -> None:
    if len(correlations) != count or any(len(row) != count for row in correlations):
        raise MeasurementError("correlations", f"{count} inputs need a table of {count} by {count} correlations.")
    for a, row in enumerate(correlations):
        if row[a] != 1.0:
            raise MeasurementError("correlations", "Every quantity has the correlation 1 with itself.")
        for b, r in enumerate(row):
            if not -1.0 <= r <= 1.0:
                raise MeasurementError("correlations", "A correlation lies between −1 and 1.")
            if r != correlations[b][a]:
                raise MeasurementError("correlations", "A correlation is the same both ways round.")
    if not _can_be(correlations):
        raise MeasurementError("correlations", "These correlations contradict one another: check them together.")


def _can_be(correlations: Sequence[Sequence[float]]) -> bool:
    """Whether no combination of the quantities gets a negative variance: Cholesky's method, allowing for zeros."""
    lower: list[list[float]] = []
    for a, row in enumerate(correlations):
        own: list[float] = []
        for b in range(a):
            left = row[b] - math.fsum(x * y for x, y in zip(own, lower[b], strict=False))
            if lower[b][b] > 0.0:
                own.append(left / lower[b][b])
            elif abs(left) > math.sqrt(_DUST):
                return False  # b follows wholly from those before it, so its correlations do too
            else:
                own.append(0.0)
        variance = row[a] - math.fsum(x * x for x in own)
        if variance < -_DUST:
            return False
        own.append(math.sqrt(variance) if variance > _DUST else 0.0)
        lower.append(own)
    return True
