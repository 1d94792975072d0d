"""Which values of a few stand apart from the rest, by Grubbs' test and its generalised, repeated form."""

import math
from collections.abc import Sequence

from app.metrology.distributions import t_quantile
from app.metrology.repeatability import scatter

SIGNIFICANCE = 0.05
FEWEST = 3


def grubbs_critical_value(count: int, significance: float = SIGNIFICANCE) -> float:
    """One-sided critical value of G = (mean − lowest)/s for `count` ≥ 3 values. Grubbs, Technometrics 11 (1969).

    G = (n−1)/√n·√(t²/(n−2+t²)) with t the upper significance/n point of Student's t at n − 2 degrees of freedom.
    """
    t = t_quantile(1.0 - significance / count, count - 2)
    return (count - 1) / math.sqrt(count) * math.sqrt(t * t / (count - 2 + t * t))


def low_outliers(values: Sequence[float], significance: float = SIGNIFICANCE, most: int | None = None) -> int:
    """How many of the lowest values stand apart from the rest, by Grubbs' test repeated on what remains.

    The generalised procedure of Rosner (Technometrics 25, 1983), one-sided: every step up to `most` is taken, and the
    last significant one counts, because two leaking cylinders hide each other in the first step. `most` leaves a
    majority of cylinders standing unless given.
    """
    rising = sorted(values)
    found = 0
    for taken in range((len(rising) - 1) // 2 if most is None else most):
        rest = rising[taken:]
        if len(rest) < FEWEST:
            break
        deviation = scatter(rest)
        if deviation > 0.0 and grubbs_statistic(rest) > grubbs_critical_value(len(rest), significance):
            found = taken + 1
    return found


def grubbs_statistic(values: Sequence[float]) -> float:
    """G = (mean − lowest)/s of at least two values that are not all equal."""
    return (math.fsum(values) / len(values) - min(values)) / scatter(values)
