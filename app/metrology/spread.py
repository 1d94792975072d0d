"""How the error of a result is distributed: one rectangular part and a bell, both centred, independent of each other.

A budget often holds one dominant source of which only limits are known (the stated accuracy of the instrument) beside
others whose sum is bell-shaped: then Student's t about the whole overstates the tails (EA-4/02, S9 and S10, take 1.65
and 1.83 instead of 2). Here the two are convolved exactly. With G the integral of the bell's distribution function F,

    P(X ≤ x) = s/(2a)·[G((x + a)/s) − G((x − a)/s)],    f(x) = [F((x + a)/s) − F((x − a)/s)]/(2a).
"""

import math
from functools import cache
from typing import NamedTuple

from app.metrology.distributions import NORMAL_FROM, t_probability, t_quantile

NO_RECTANGLE = 1e-4  # half-width below this share of the bell's scale: one bell of the same variance, within 1e-9
NO_BELL = 1e-9
CLOSE_ENOUGH = 1e-8  # of a step of Newton's method: what is left is of the order of its square
MOST_STEPS = 60
_ROOT_TWO, _ROOT_TWO_PI = math.sqrt(2.0), math.sqrt(2.0 * math.pi)


class Spread(NamedTuple):
    """Half-width a of the rectangular part; scale s and degrees of freedom of the bell (infinite: normal).

    a and s in the result's unit; either may be 0, not both.
    """

    half_width: float
    scale: float
    dof: float

    @property
    def standard_uncertainty(self) -> float:
        """√(a²/3 + s²): the scale of a t counts as its standard uncertainty (JCGM 100:2008, 4.2)."""
        return math.sqrt(self.half_width**2 / 3.0 + self.scale**2)

    def probability(self, x: float) -> float:
        """P(error ≤ x)."""
        return self.probability_and_density(x)[0]

    def probability_and_density(self, x: float) -> tuple[float, float]:
        """P(error ≤ x), and the probability density at x per unit of the result."""
        half_width, scale, dof = self
        if half_width <= NO_RECTANGLE * scale:
            u = self.standard_uncertainty
            return bell_probability(x / u, dof), bell_density(x / u, dof) / u
        if scale <= NO_BELL * half_width:
            inside = abs(x) <= half_width
            return min(1.0, max(0.0, 0.5 + 0.5 * x / half_width)), 0.5 / half_width if inside else 0.0
        # the left tail by symmetry: the difference of two large integrals would round a small right one off
        from_edge = half_width - abs(x)
        below_high, integral_high = _bell_and_integral(from_edge / scale, dof)
        below_low, integral_low = _bell_and_integral((from_edge - 2.0 * half_width) / scale, dof)
        tail = max(0.0, 0.5 * scale / half_width * (integral_high - integral_low))
        probability = 0.5 if x == 0.0 else tail if x < 0.0 else 1.0 - tail
        return probability, 0.5 * (below_high - below_low) / half_width

    def quantile(self, probability: float, start: float = 0.0) -> float:
        """The x ≥ 0 with P(error ≤ x) = probability, for one from 0.5 below 1; `start` is a guess.

        Newton's method: on the right half the distribution function is concave, so every step from the left of the
        root stays left of it, and one from the right lands there.
        """
        half_width, scale, dof = self
        if half_width <= NO_RECTANGLE * scale:
            return t_quantile(probability, dof) * self.standard_uncertainty
        if scale <= NO_BELL * half_width:
            return (2.0 * probability - 1.0) * half_width
        x = start
        for _ in range(MOST_STEPS):
            reached, density = self.probability_and_density(x)
            closer = max(0.0, x + (probability - reached) / density) if density > 0.0 else 0.0
            if abs(closer - x) <= CLOSE_ENOUGH * (half_width + scale):
                return closer
            x = closer
        return x


def bell_probability(z: float, dof: float) -> float:
    """P(T ≤ z) of Student's t, of the normal distribution for infinite degrees of freedom."""
    if dof > NORMAL_FROM:
        return 0.5 * math.erfc(-z / _ROOT_TWO)
    return t_probability(z, dof)


def bell_density(z: float, dof: float) -> float:
    """The density of Student's t at z."""
    if dof > NORMAL_FROM:
        return math.exp(-0.5 * z * z) / _ROOT_TWO_PI
    return bell_height(dof) * math.exp(-0.5 * (dof + 1.0) * math.log1p(z * z / dof))


def _bell_and_integral(z: float, dof: float) -> tuple[float, float]:
    """P(T ≤ z), and its integral from −∞ to z; with one degree of freedom, where that is infinite, up to a constant."""
    below = bell_probability(z, dof)
    if dof > NORMAL_FROM:
        return below, z * below + bell_density(z, dof)
    if dof == 1.0:
        return below, z * below - math.log1p(z * z) / (2.0 * math.pi)
    return below, z * below + (dof + z * z) / (dof - 1.0) * bell_density(z, dof)


@cache
def bell_height(dof: float) -> float:
    """The density of Student's t at 0."""
    return math.exp(math.lgamma(0.5 * (dof + 1.0)) - math.lgamma(0.5 * dof)) / math.sqrt(dof * math.pi)
