"""What the mean of g ranges of m values is a multiple of: d₂* of the average-and-range method, by quadrature.

d₂*(m, g) = √(E[R̄²])/σ = √(d₂² + d₃²/g), d₂ and d₃ mean and standard deviation of the range of m standard normal values.
Duncan, Quality Control and Industrial Statistics, table D3; AIAG, Measurement Systems Analysis, 4th ed., appendix C.
From memory; d₂* = √2 for two values in one group shows that it is the root of the mean square that is meant.
"""

import math
from functools import lru_cache

from app.metrology.distributions import legendre_nodes
from app.metrology.errors import MeasurementError

FEWEST_VALUES, MOST_VALUES = 2, 50
# With more ranges than these AIAG takes d₂ itself: the footnote of its range sheet, "assumed to be greater than 15".
# From memory; K1 = 0.8862 and 0.5908 for two and three repeats are 1/d₂.
MANY_RANGES = 15
_NODES = 160
_FARTHEST = 9.0  # beyond ±9 no normal value counts at double precision
_WIDEST = 16.0  # and no range of fifty of them beyond 16


@lru_cache(maxsize=128)
def range_moments(values: int) -> tuple[float, float]:
    """(d₂, d₃) of the range of this many standard normal values.

    P(R ≤ w) = m·∫φ(x)·(Φ(x + w) − Φ(x))^(m−1) dx; the moments are ∫P(R > w) dw and 2·∫w·P(R > w) dw.
    """
    if not FEWEST_VALUES <= values <= MOST_VALUES:
        raise MeasurementError("values", f"A range is taken of {FEWEST_VALUES} to {MOST_VALUES} values.")
    import numpy as np
    from scipy import special

    nodes, weights = (np.asarray(column) for column in legendre_nodes(_NODES))
    x, x_weights = _FARTHEST * nodes, _FARTHEST * weights
    w, w_weights = _WIDEST / 2.0 * (nodes + 1.0), _WIDEST / 2.0 * weights
    density = np.exp(-0.5 * x * x) / math.sqrt(2.0 * math.pi)
    between = special.ndtr(x[:, None] + w[None, :]) - special.ndtr(x)[:, None]
    beyond = 1.0 - values * ((x_weights * density) @ between ** (values - 1))
    mean = float(w_weights @ beyond)
    mean_of_square = 2.0 * float(w_weights @ (w * beyond))
    return mean, math.sqrt(mean_of_square - mean * mean)


def d2_star(values: int, ranges: int) -> float:
    """d₂* of the mean of so many ranges, each of so many values; d₂ itself above 15 ranges, as AIAG has it."""
    if ranges < 1:
        raise MeasurementError("ranges", "A mean range is taken over one range at the least.")
    d2, d3 = range_moments(values)
    return d2 if ranges > MANY_RANGES else math.sqrt(d2 * d2 + d3 * d3 / ranges)
