"""The factors of control charts, computed from the distribution of the range and of s in normal samples.

d₂ and d₃ are mean and standard deviation of the range W of n independent standard normal values,

    P(W ≤ w) = n ∫ φ(x)·[Φ(x + w) − Φ(x)]ⁿ⁻¹ dx,   E(W) = ∫ P(W > w) dw,   E(W²) = 2 ∫ w·P(W > w) dw

(L. H. C. Tippett, Biometrika 17, 1925), c₄ is the mean of s over σ. The rest follows from these three, with limits
three standard deviations off: ISO 7870-2, Annex with the factors for control lines (from memory).
"""

import math
from functools import cache
from typing import NamedTuple

from app.metrology.distributions import legendre_nodes
from app.metrology.errors import MeasurementError

SMALLEST, GREATEST = 2, 25  # sizes that tables give, and for which the quadrature below is checked
_WIDEST_RANGE = 14.0  # in standard deviations; of 25 values not one sample in 1e20 spreads wider
_FURTHEST = 9.0
_STEP = 0.0625  # of the trapezoidal rule, which is exact to the last digits for what dies out like a normal density
_PLACES = tuple(_STEP * turn for turn in range(-round(_FURTHEST / _STEP), round(_FURTHEST / _STEP) + 1))


class ChartConstants(NamedTuple):
    """For subgroups of `size` values; all are pure numbers."""

    size: int
    d2: float  # mean range over σ
    d3: float  # standard deviation of the range over σ
    c4: float  # mean of s over σ
    A2: float  # limits of x̄ from the mean range
    A3: float  # limits of x̄ from the mean s
    D3: float  # limits of the range
    D4: float
    B3: float  # limits of s
    B4: float


@cache
def chart_constants(size: int) -> ChartConstants:
    """The factors for subgroups of 2 to 25 values. Raises MeasurementError for other sizes."""
    if not SMALLEST <= size <= GREATEST:
        raise MeasurementError(
            "size", f"A subgroup has {SMALLEST} to {GREATEST} values; {size} were given. Form smaller or larger ones."
        )
    d2, d3 = _range_moments(size)
    c4 = math.sqrt(2.0 / (size - 1)) * math.exp(math.lgamma(size / 2.0) - math.lgamma((size - 1) / 2.0))
    of_range, of_s = 3.0 * d3 / d2, 3.0 * math.sqrt(1.0 - c4 * c4) / c4
    return ChartConstants(
        size=size,
        d2=d2,
        d3=d3,
        c4=c4,
        A2=3.0 / (d2 * math.sqrt(size)),
        A3=3.0 / (c4 * math.sqrt(size)),
        D3=max(0.0, 1.0 - of_range),
        D4=1.0 + of_range,
        B3=max(0.0, 1.0 - of_s),
        B4=1.0 + of_s,
    )


def _range_moments(size: int) -> tuple[float, float]:
    nodes, weights = legendre_nodes(64)
    half = _WIDEST_RANGE / 2.0
    ranges = [half * (1.0 + node) for node in nodes]
    wider = [
        half * weight * (1.0 - _range_probability(width, size)) for width, weight in zip(ranges, weights, strict=True)
    ]
    mean = math.fsum(wider)
    square = 2.0 * math.fsum(width * share for width, share in zip(ranges, wider, strict=True))
    return mean, math.sqrt(square - mean * mean)


def _range_probability(width: float, size: int) -> float:
    """P(W ≤ width): the lowest value is at x, the others lie within `width` above it."""
    return size * _STEP * math.fsum(_density(x) * (_below(x + width) - _below(x)) ** (size - 1) for x in _PLACES)


def _density(x: float) -> float:
    return math.exp(-x * x / 2.0) / math.sqrt(2.0 * math.pi)


def _below(x: float) -> float:
    return math.erfc(-x / math.sqrt(2.0)) / 2.0
