"""`spread` for arrays: how likely an error goes further than a distance to one side, rectangle and bell convolved.

Student's t costs a continued fraction for every entry. From a hundred degrees of freedom on, Hill's normalising
transformation (Communications of the ACM 13, 1970, Algorithm 395; from memory) and the series of the density's height
in 1/ν give the same to 1e-14, by which time the bell of nearly every inspection is reached.
"""

import numpy as np
from scipy.special import ndtr, stdtr

from app.metrology.bulk.columns import Flags, Floats
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
    bells = Bells(dof)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        found = bells.integrals(from_edge / scale)
        from_edge -= half_width
        from_edge -= half_width
        found -= bells.integrals(from_edge / scale)
        found *= 0.5 * scale / half_width
    np.maximum(found, 0.0, out=found)
    no_rectangle = half_width <= NO_RECTANGLE * scale
    if no_rectangle.any():
        u = np.sqrt(half_width[no_rectangle] ** 2 / 3.0 + scale[no_rectangle] ** 2)
        found[no_rectangle] = Bells(dof[no_rectangle]).probabilities(-distance[no_rectangle] / u)
    no_bell = scale <= NO_BELL * half_width
    if no_bell.any():
        found[no_bell] = np.maximum(0.0, 0.5 - 0.5 * distance[no_bell] / half_width[no_bell])
    return found


class Bells:
    """Student's t distributions, one for every entry, with whole or infinitely many degrees of freedom."""

    def __init__(self, dof: Floats) -> None:
        self._dof = np.where(dof > NORMAL_FROM, NEARLY_NORMAL, dof)
        few = dof < HILL_FROM
        self._few: Flags | None = few if few.any() else None
        self._a = self._dof - 0.5
        self._b = 48.0 * self._a * self._a
        over = 1.0 / self._dof
        series = 1.0 / 32.0 + over * (5.0 / 128.0 - over * (21.0 / 2048.0 + over * (399.0 / 8192.0)))
        self._height = (1.0 + over * (over * series - 0.25)) / _ROOT_TWO_PI
        if self._few is not None:
            self._height[few] = _HEIGHTS[dof[few].astype(np.int64)]

    def probabilities(self, z: Floats) -> Floats:
        """P(T ≤ z)."""
        return self._probabilities(z, np.log1p(z * z / self._dof))

    def integrals(self, z: Floats) -> Floats:
        """∫ P(T ≤ t) dt from −∞ to z; with one degree of freedom, where that is infinite, up to a constant."""
        squares = z * z
        log = np.log1p(squares / self._dof)
        found = self._probabilities(z, log)
        found *= z
        # the density at z, times (ν + z²)/(ν − 1)
        log *= -0.5 * (self._dof + 1.0)
        part: Floats = np.exp(log, out=log)
        part *= self._height
        squares += self._dof
        part *= squares
        part /= self._dof - 1.0
        if self._few is not None:
            single = self._dof == 1.0
            part[single] = -np.log1p(z[single] ** 2) / (2.0 * np.pi)
        found += part
        return found

    def _probabilities(self, z: Floats, log: Floats) -> Floats:
        """P(T ≤ z); `log` is ln(1 + z²/ν). Hill: the normal deviate that is exceeded as often as z is."""
        y = self._a * log
        above = -0.4 * y
        above -= 3.3
        above *= y
        above -= 24.0
        above *= y
        above -= 85.5
        below = 0.8 * y
        below *= y
        below += 100.0
        below += self._b
        above /= below
        above += y
        above += 3.0
        above /= self._b
        above += 1.0
        above *= np.sqrt(y, out=y)
        found: Floats = ndtr(np.copysign(above, z, out=above), out=above)
        if self._few is not None:
            found[self._few] = stdtr(self._dof[self._few], z[self._few])
        return found
