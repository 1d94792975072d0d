"""The probability that every judged cylinder of an engine conforms, their errors having a part in common.

Given the shared error the cylinders are independent: P = ∫ f_S(s)·∏ P_i(s) ds, by Simpson's rule on a grid that
resolves the narrowest own part. Where the shared bell is Student's t, the grid is even in w with s = h·sinh(w), h being
the width of the shared error: close where its density is, ever wider along its tails.
"""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from app.metrology.distributions import t_probabilities, t_quantile
from app.metrology.inputs import Rule
from app.metrology.rejection import Parts
from app.metrology.rules import tolerance_limits
from app.metrology.spread import Spread

if TYPE_CHECKING:
    from numpy import float64
    from numpy.typing import NDArray

REACH = 8.0  # standard deviations of the shared bell
FEWEST_STEPS, MOST_STEPS = 200, 2000
STEPS_IN_OWN = 4.0  # grid points within one standard deviation of the narrowest own part
NO_TAIL = 1e-5  # probability on either side beyond the end of the grid of a Student's t
NO_PART = 1e-9  # of an own part: a step to the eye of the grid


class Figure(NamedTuple):
    """A judged value and its error taken apart, in the value's unit."""

    value: float
    parts: Parts


def joint_conformance_probability(rule: Rule, judged: Sequence[Figure]) -> float:
    """P(every judged true value lies within the tolerance limits), 0 to 1."""
    import numpy as np

    widest = max(judged, key=_shared).parts
    shared = Spread(widest.shared_half_width, widest.shared_scale, widest.shared_dof)
    narrowest = max(NO_PART, min(one.parts.own_scale for one in judged))
    grid, weights = _grid_of(shared, narrowest)
    all_inside = np.ones_like(grid)
    for one in judged:
        all_inside = all_inside * _inside(rule, one, grid)
    return min(1.0, float(np.sum(weights * all_inside) / np.sum(weights)))


def _grid_of(shared: Spread, narrowest: float) -> "tuple[NDArray[float64], NDArray[float64]]":
    """Shared errors, and their weights but for a constant factor."""
    import numpy as np

    width = shared.half_width + shared.scale
    if width == 0.0:
        return np.zeros(1), np.ones(1)
    is_student = not math.isinf(shared.dof)
    if is_student:
        reach = math.asinh((shared.half_width + shared.scale * t_quantile(1.0 - NO_TAIL, shared.dof)) / width)
        closest = narrowest / width
    else:
        reach, closest = shared.half_width + REACH * shared.scale, narrowest
    steps = 2 * min(MOST_STEPS, max(FEWEST_STEPS, math.ceil(STEPS_IN_OWN * reach / closest)))
    grid = np.linspace(-reach, reach, steps + 1)
    weights = np.where(np.arange(steps + 1) % 2, 4.0, 2.0)
    weights[[0, -1]] = 1.0
    if is_student:
        weights *= np.cosh(grid)
        grid = width * np.sinh(grid)
    return grid, weights * _density(shared, grid)


def _density(shared: Spread, at: "NDArray[float64]") -> "NDArray[float64]":
    """Of the shared error at every grid point, but for a constant factor."""
    import numpy as np

    if shared.scale == 0.0:
        return np.ones_like(at)
    if shared.half_width == 0.0 and math.isinf(shared.dof):
        return np.exp(-0.5 * (at / shared.scale) ** 2)
    if shared.half_width == 0.0:
        return np.power(1.0 + (at / shared.scale) ** 2 / shared.dof, -0.5 * (shared.dof + 1.0))
    above = t_probabilities((at + shared.half_width) / shared.scale, shared.dof)
    density: NDArray[float64] = above - t_probabilities((at - shared.half_width) / shared.scale, shared.dof)
    return density


def _shared(one: Figure) -> float:
    return one.parts.shared_half_width**2 / 3.0 + one.parts.shared_scale**2


def _inside(rule: Rule, one: Figure, shared_error: "NDArray[float64]") -> "NDArray[float64]":
    """P(true value within the limits) of one cylinder, given each shared error."""
    import numpy as np

    inside = np.ones_like(shared_error)
    scale = max(NO_PART, one.parts.own_scale)
    for side, limit in tolerance_limits(rule):
        margin = side.sign * (limit - one.value + shared_error)
        inside = inside - t_probabilities(-margin / scale, one.parts.own_dof)
    return np.maximum(0.0, inside)
