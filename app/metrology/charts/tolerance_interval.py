"""Between which limits does a stated share of all values lie, seen from a sample? Normal tolerance intervals.

mean ± k₂·s holds at least the share `content` of a normal distribution in the share `confidence` of all samples;
mean + k₁·s leaves that share below it. NIST/SEMATECH e-Handbook, 7.2.6.3, has the approximations of Natrella and Howe;
G. J. Hahn and W. Q. Meeker, Statistical Intervals, the exact factors (from memory).
"""

import math

from app.metrology.distributions import hermite_nodes
from app.metrology.errors import MeasurementError
from app.metrology.risk.searching import crossing

_NODES = 64


def one_sided_factor(count: int, content: float, confidence: float) -> float:
    """Exact k₁ = t′/√n: the `confidence` quantile of non-central t, n − 1 dof, with its centre at z(content)·√n.

    The quantile is `scipy.special.nctdtrit`, the inverse of the distribution function by Boost.
    """
    _check(count, content, confidence)
    from scipy import special

    off_centre = float(special.ndtri(content)) * math.sqrt(count)
    return float(special.nctdtrit(count - 1, off_centre, confidence)) / math.sqrt(count)


def one_sided_factor_approximate(count: int, content: float, confidence: float) -> float:
    """k₁ by M. G. Natrella (1963), as the e-Handbook computes it; right to a few thousandths from 40 values on.

    Raises MeasurementError for so few values that the approximation has no answer.
    """
    _check(count, content, confidence)
    from scipy import special

    z_content, z_confidence = float(special.ndtri(content)), float(special.ndtri(confidence))
    a = 1.0 - z_confidence**2 / (2.0 * (count - 1))
    b = z_content**2 - z_confidence**2 / count
    if a <= 0.0:
        raise MeasurementError("count", f"The approximation does not hold for {count} values. Take the exact factor.")
    return (z_content + math.sqrt(z_content**2 - a * b)) / a


def two_sided_factor_approximate(count: int, content: float, confidence: float) -> float:
    """k₂ by W. G. Howe, J. Amer. Statist. Assoc. 64 (1969), as in the e-Handbook."""
    _check(count, content, confidence)
    from scipy import special

    z = float(special.ndtri((1.0 + content) / 2.0))
    return z * math.sqrt((count - 1) * (1.0 + 1.0 / count) / float(special.chdtri(count - 1, confidence)))


def two_sided_factor(count: int, content: float, confidence: float) -> float:
    """Exact k₂: the one with which the mean over x̄ of P(k·s reaches far enough about x̄) is the confidence.

    About a mean off by a standard deviations the content lies within ±r, r² being the quantile of non-central χ² with
    1 dof and a²; k·s ≥ r has the probability P(χ² ≥ (n − 1)·r²/k²). Gauss–Hermite quadrature over x̄.
    """
    start = two_sided_factor_approximate(count, content, confidence)
    from scipy import special

    nodes, weights = hermite_nodes(_NODES)
    squares = [float(special.chndtrix(content, 1.0, node * node / count)) for node in nodes]

    def beyond_confidence(factor: float) -> float:
        return (
            math.fsum(
                weight * float(special.chdtrc(count - 1, (count - 1) * square / factor**2))
                for weight, square in zip(weights, squares, strict=True)
            )
            - confidence
        )

    return crossing(beyond_confidence, start, 1e-3 * start, precision=1e-9, floor=0.5 * start)


def _check(count: int, content: float, confidence: float) -> None:
    if count < 2:
        raise MeasurementError("count", "A tolerance interval needs at least two values. Measure more.")
    for field, share in (("content", content), ("confidence", confidence)):
        if not 0.0 < share < 1.0:
            raise MeasurementError(field, f"A share lies between 0 and 1, as 0.95; {share:g} was given.")
