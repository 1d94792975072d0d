"""Standard uncertainties from bounds, and the quantiles and probabilities of Student's t.

`scipy.special` is imported on first use: it takes most of a second cold, and the command line must answer at once.
"""

import math
from functools import cache
from types import ModuleType
from typing import Any

INFINITE = math.inf
NORMAL_FROM = 1e6  # from here t differs from the normal quantile by less than 1e-5 at any usual probability


@cache
def _special() -> ModuleType:
    from scipy import special

    return special


def standard_uncertainty_rectangular(half_width: float) -> float:
    """u = a/√3 for a quantity equally likely anywhere within ±a; unit as given. JCGM 100:2008, 4.3.7."""
    return half_width / math.sqrt(3.0)


def standard_uncertainty_triangular(half_width: float) -> float:
    """u = a/√6 for a quantity more likely near the middle of ±a; unit as given. JCGM 100:2008, 4.3.9."""
    return half_width / math.sqrt(6.0)


def standard_uncertainty_u_shaped(half_width: float) -> float:
    """u = a/√2 for a quantity that swings like a sine within ±a; unit as given. JCGM 100:2008, H.1.3.4."""
    return half_width / math.sqrt(2.0)


def standard_uncertainty_expanded(expanded_uncertainty: float, coverage_factor: float) -> float:
    """u = U/k of a stated expanded uncertainty; unit as given. JCGM 100:2008, 4.3.3."""
    return expanded_uncertainty / coverage_factor


def standard_uncertainty_resolution(resolution: float) -> float:
    """u = δ/√12 of a display whose last step is δ; unit as given. JCGM 100:2008, F.2.2.1."""
    return standard_uncertainty_rectangular(resolution / 2.0)


def t_probability(t: float, degrees_of_freedom: float) -> float:
    """P(T ≤ t) of Student's t; the normal distribution for infinite degrees of freedom."""
    if degrees_of_freedom > NORMAL_FROM:
        return float(_special().ndtr(t))
    return float(_special().stdtr(degrees_of_freedom, t))


def t_probabilities(t: Any, degrees_of_freedom: float) -> Any:
    """P(T ≤ t) of Student's t for every entry of an array."""
    if degrees_of_freedom > NORMAL_FROM:
        return _special().ndtr(t)
    return _special().stdtr(degrees_of_freedom, t)


def t_quantile(probability: float, degrees_of_freedom: float) -> float:
    """The t with P(T ≤ t) = probability. One-sided; the normal quantile for infinite degrees of freedom."""
    if degrees_of_freedom > NORMAL_FROM:
        return float(_special().ndtri(probability))
    return float(_special().stdtrit(degrees_of_freedom, probability))


@cache
def legendre_nodes(count: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Nodes and weights of the Gauss–Legendre quadrature over −1 … 1."""
    nodes, weights = _special().roots_legendre(count)
    return tuple(map(float, nodes)), tuple(map(float, weights))


@cache
def hermite_nodes(count: int) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """Nodes and weights of the Gauss–Hermite quadrature over the standard normal distribution; the weights add to 1."""
    nodes, weights = _special().roots_hermitenorm(count)
    return tuple(map(float, nodes)), tuple(float(weight) / math.sqrt(2.0 * math.pi) for weight in weights)


def coverage_factor(coverage_probability: float, degrees_of_freedom: float) -> float:
    """k of the interval that covers symmetrically with this probability. JCGM 100:2008, Table G.2."""
    return t_quantile((1.0 + coverage_probability) / 2.0, degrees_of_freedom)


def variance_ratio_quantile(probability: float, degrees_of_freedom: float, of_reference: float) -> float:
    """The F with P(s₁²/s₂² ≤ F) = probability for two estimates of one variance, s₂ with `of_reference` dof."""
    return float(_special().fdtri(degrees_of_freedom, min(of_reference, NORMAL_FROM), probability))
