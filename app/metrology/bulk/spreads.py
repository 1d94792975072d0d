"""`spread` for arrays: how likely an error goes further than a distance to one side, rectangle and bell convolved.

Student's t costs a continued fraction for every entry. From a hundred degrees of freedom on, Hill's normalising
transformation (Communications of the ACM 13, 1970, Algorithm 395; from memory) and the series of the density's height
in 1/ν give the same to 1e-14, by which time the bell of nearly every inspection is reached.
"""

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, stdtr

from app.metrology.bulk.columns import Floats
from app.metrology.distributions import NORMAL_FROM
from app.metrology.spread import NO_BELL, NO_RECTANGLE, bell_height

HILL_FROM = 100.0
NEARLY_NORMAL = (
    1e15  # degrees of freedom that stand for infinitely many: the difference lies below a float's last digit
)
_HEIGHTS = np.array([0.0, *(bell_height(float(dof)) for dof in range(1, int(HILL_FROM)))])
_ROOT_TWO_PI = np.sqrt(2.0 * np.pi)


def tails(half_width: Floats, scale: Floats, dof: Floats, distance: Floats) -> Floats:
    """P(error > distance) for distances ≥ 0, entry by entry, of errors with this rectangle and bell (`spread.Spread`).

    All in the result's unit but the degrees of freedom, which are whole or infinite. NaN gives NaN.
    """
    from_edge = half_width - distance
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        near = _integrals(from_edge / scale, dof)
        near -= _integrals((from_edge - 2.0 * half_width) / scale, dof)
        near *= 0.5 * scale / half_width
    found: Floats = np.maximum(near, 0.0, out=near)
    no_rectangle = half_width <= NO_RECTANGLE * scale
    if no_rectangle.any():
        u = np.sqrt(half_width[no_rectangle] ** 2 / 3.0 + scale[no_rectangle] ** 2)
        found[no_rectangle] = bell_probabilities(-distance[no_rectangle] / u, dof[no_rectangle])
    no_bell = scale <= NO_BELL * half_width
    if no_bell.any():
        found[no_bell] = np.maximum(0.0, 0.5 - 0.5 * distance[no_bell] / half_width[no_bell])
    return found


def bell_probabilities(z: Floats, dof: Floats) -> Floats:
    """P(T ≤ z) of Student's t with whole or infinitely many degrees of freedom."""
    return _bells(z, dof)[0]


def _integrals(z: Floats, dof: Floats) -> Floats:
    """∫ P(T ≤ t) dt from −∞ to z; with one degree of freedom, where that is infinite, up to a constant."""
    below, density = _bells(z, dof)
    many = np.where(dof > NORMAL_FROM, NEARLY_NORMAL, dof)
    density *= (many + z * z) / (many - 1.0)
    single = dof == 1.0
    if single.any():
        density[single] = -np.log1p(z[single] ** 2) / (2.0 * np.pi)
    below *= z
    below += density
    return below


def _bells(z: Floats, dof: Floats) -> tuple[Floats, Floats]:
    """P(T ≤ z) and the density of Student's t at z."""
    many = np.where(dof > NORMAL_FROM, NEARLY_NORMAL, dof)
    log = np.log1p(z * z / many)
    below: Floats = ndtr(_normalised(z, many, log))
    density: Floats = np.exp(-0.5 * (many + 1.0) * log)
    one_over = 1.0 / many
    series = 1.0 / 32.0 + one_over * (5.0 / 128.0 - one_over * (21.0 / 2048.0 + one_over * (399.0 / 8192.0)))
    height = (1.0 + one_over * (one_over * series - 0.25)) / _ROOT_TWO_PI
    few: NDArray[np.bool_] = dof < HILL_FROM
    if few.any():
        below[few] = stdtr(dof[few], z[few])
        height[few] = _HEIGHTS[dof[few].astype(np.int64)]
    density *= height
    return below, density


def _normalised(z: Floats, dof: Floats, log: Floats) -> Floats:
    """The normal deviate that is exceeded as often as z is; `log` is ln(1 + z²/ν)."""
    a = dof - 0.5
    b = 48.0 * a * a
    y = a * log
    inner = (((-0.4 * y - 3.3) * y - 24.0) * y - 85.5) / (0.8 * y * y + 100.0 + b)
    return np.copysign(np.sqrt(y) * (1.0 + (inner + y + 3.0) / b), z)
