"""How far a value must stand beyond its limit before the engine is rejected, at the risk stated for the whole engine.

Judged cylinder by cylinder at 95 %, an engine whose eight cylinders all stand exactly at the limit is wrongly rejected
far more often than one time in twenty: any of eight errors may be the large one. The factor k here keeps the risk for
the engine: with every cylinder at the limit, P(the greatest of the errors exceeds k·u) = 1 − confidence. The errors
have a shared part S (accuracy, temperature, bore, stroke) and an own part each, M being the greatest of the own ones:

    P(S + M ≤ x) = E[F_S(x − M)],   P(M ≤ m) = F_own(m)^N,

by Gauss–Legendre quadrature over the distribution of whichever part is the narrower one. Where the shared part is an
estimate itself (what inspectors differ by, from a gauge study), its bell is Student's t, one for all cylinders. Every
cylinder is taken to have the own share of the one that has most of it: the less two errors have in common, the greater
their maximum (Slepian 1962), so the factor is never too small.
"""

import math
from functools import lru_cache
from typing import NamedTuple

from app.metrology.distributions import hermite_nodes, legendre_nodes, t_quantile
from app.metrology.spread import MOST_STEPS, Spread

NODES, NODES_ACROSS = 16, 10
FEWEST_DOF = 3.0
FLAT = 1e-12
LONGEST_STEP = 1.0  # from where the curve still bends upwards a whole step would leap into its flat end
NO_PART = 1e-6  # share of the standard uncertainty below which a part does not count
CLOSE_ENOUGH = 1e-6  # of a step of Newton's method: what is left is of the order of its square


class Parts(NamedTuple):
    """A result's error taken apart, in the result's unit: shared rectangle and bell, own bell, and the bells' dof."""

    shared_half_width: float
    shared_scale: float
    own_scale: float
    own_dof: float
    shared_dof: float = math.inf

    @property
    def own_share(self) -> float:
        """The own part of the variance, 0 to 1."""
        own = self.own_scale**2
        return own / (own + self.shared_scale**2 + self.shared_half_width**2 / 3.0)


def rejection_factor(parts: Parts, spread: Spread, cylinders: int, confidence: float) -> float:
    """k of one engine with so many cylinders judged, each like these parts; in standard uncertainties of one result.

    `spread` is that one result's as a whole, as its own verdict uses it: with one cylinder its quantile is the factor,
    and with more none is smaller. An own part known from fewer than three degrees of freedom has such tails that no
    quadrature reaches them: there the sum of the single risks bounds that of the engine (Bonferroni).
    """
    u = spread.standard_uncertainty
    of_one = spread.quantile(confidence, start=1.6 * u) / u
    shared = Spread(parts.shared_half_width / u, parts.shared_scale / u, parts.shared_dof)
    own, dof = parts.own_scale / u, parts.own_dof
    if cylinders == 1 or own < NO_PART:
        return of_one
    if dof < FEWEST_DOF:
        return shared_out(spread, cylinders, confidence)
    if shared.standard_uncertainty < NO_PART:
        found = t_quantile(confidence ** (1.0 / cylinders), dof)
    elif own <= shared.standard_uncertainty:
        greatest, weights = _greatest_own(cylinders, dof)
        found = _root(tuple(own * one for one in greatest), weights, shared, 1, confidence, of_one)
    else:
        values, weights = _nodes_of(shared)
        found = _root(values, weights, Spread(0.0, own, dof), cylinders, confidence, of_one)
    return max(of_one, found if found > 0.0 else shared_out(spread, cylinders, confidence))


def shared_out(spread: Spread, cylinders: int, confidence: float) -> float:
    """The factor of one result when every cylinder takes an even part of the engine's risk; never too small."""
    u = spread.standard_uncertainty
    return spread.quantile(1.0 - (1.0 - confidence) / cylinders, start=1.6 * u) / u


def _root(
    values: tuple[float, ...],
    weights: tuple[float, ...],
    other: Spread,
    power: int,
    confidence: float,
    start: float,
) -> float:
    """The x with Σ w·F(x − value)^power = confidence, F being the other part's distribution function; by Newton.

    0 where the nodes end before that: so far out only the bound is left.
    """
    x = start
    for _ in range(MOST_STEPS):
        reached, density = 0.0, 0.0
        for value, weight in zip(values, weights, strict=True):
            probability, its_density = other.probability_and_density(x - value)
            all_but_one = weight * probability ** (power - 1)
            reached += all_but_one * probability
            density += power * all_but_one * its_density
        if density < FLAT:
            return 0.0
        closer = x + min(LONGEST_STEP, (confidence - reached) / density)
        if abs(closer - x) <= CLOSE_ENOUGH:
            break
        x = closer
    return closer


@lru_cache(maxsize=1024)
def _greatest_own(cylinders: int, dof: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Quantiles of the greatest of so many errors of one bell, at the nodes of a quadrature over its probability."""
    nodes, weights = legendre_nodes(NODES)
    # crowded towards probability 1, where the greatest error of a heavy-tailed bell decides
    away = [0.5 - 0.5 * node for node in nodes]
    greatest = tuple(t_quantile((1.0 - left**4) ** (1.0 / cylinders), dof) for left in away)
    return greatest, tuple(2.0 * left**3 * weight for left, weight in zip(away, weights, strict=True))


def _nodes_of(shared: Spread) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Values of the shared error and their weights: rectangle and bell crossed."""
    flat, flat_weights = legendre_nodes(NODES_ACROSS)
    bell, bell_weights = hermite_nodes(NODES_ACROSS) if math.isinf(shared.dof) else _student_nodes(shared.dof)
    pairs = [
        (shared.half_width * x + shared.scale * z, 0.5 * of_x * of_z)
        for x, of_x in zip(flat, flat_weights, strict=True)
        for z, of_z in zip(bell, bell_weights, strict=True)
    ]
    return tuple(value for value, _ in pairs), tuple(weight for _, weight in pairs)


@lru_cache(maxsize=1024)
def _student_nodes(dof: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Quantiles of Student's t at the nodes of a quadrature over its probability, crowded towards both tails."""
    nodes, weights = legendre_nodes(NODES)
    # p = (1 + x)²·(2 − x)/4 rises flatly from 0 at x = −1 and to 1 at x = 1
    quantiles = tuple(t_quantile((1.0 + node) ** 2 * (2.0 - node) / 4.0, dof) for node in nodes)
    return quantiles, tuple(0.75 * (1.0 - node * node) * weight for node, weight in zip(nodes, weights, strict=True))
