"""Mean squares of a balanced design: their ratio tested, and sums and differences of them with an interval.

A component of variance is γ = Σ c·θ, each θ the expectation of a mean square with its own degrees of freedom, some of
the factors c negative. The interval is the modified large-sample one: Graybill and Wang, J. Am. Stat. Assoc. 75 (1980),
for sums; Ting, Burdick, Graybill, Jeyaratnam and Lu, J. Stat. Comput. Simul. 35 (1990), where some are taken off; both
in Burdick, Borror and Montgomery, Design and Analysis of Gauge R&R Studies (2005). The formulas are from memory, and
the tests hold their coverage against simulation.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from typing import NamedTuple

from app.metrology.distributions import INFINITE, variance_ratio_quantile
from app.metrology.errors import MeasurementError

CONFIDENCE = 0.95


class MeanSquare(NamedTuple):
    """A mean square in the squared unit of the readings, and its degrees of freedom."""

    value: float
    degrees_of_freedom: float


class Term(NamedTuple):
    """One mean square of a combination and the factor it comes in with; no factor is 0."""

    factor: float
    mean_square: MeanSquare

    @property
    def value(self) -> float:
        return self.factor * self.mean_square.value


class Interval(NamedTuple):
    """Two ends, in the unit of what lies between them."""

    low: float
    high: float


@dataclass(frozen=True, slots=True)
class VarianceRatioTest:
    """F, and the probability p of one as great where the two variances are the same."""

    ratio: float
    probability: float


def variance_ratio_test(upper: MeanSquare, lower: MeanSquare) -> VarianceRatioTest:
    """F test of one mean square against another. Where neither varies F is 1 and p is 1; infinite and 0 if one does."""
    if lower.value == 0.0:
        return VarianceRatioTest(math.inf, 0.0) if upper.value > 0.0 else VarianceRatioTest(1.0, 1.0)
    from scipy import special

    ratio = upper.value / lower.value
    return VarianceRatioTest(ratio, float(special.fdtrc(upper.degrees_of_freedom, lower.degrees_of_freedom, ratio)))


def estimate(terms: Sequence[Term]) -> float:
    """Σ c·MS, in the squared unit; it may come out below 0 although what it estimates cannot."""
    return math.fsum([term.value for term in terms])


def satterthwaite(terms: Sequence[Term]) -> float:
    """ν = (Σ c·MS)²/Σ((c·MS)²/ν). Satterthwaite, Biometrics Bull. 2 (1946); JCGM 100:2008, G.4.1, is the same sum.

    With differences it is rough, and it is small there, which errs to the careful side. Where nothing varies, or the
    estimate is not above 0, there is nothing that a budget could carry, and the answer is infinite.
    """
    total = estimate(terms)
    if total <= 0.0:
        return INFINITE
    # relative to the whole, so that fourth powers of a small unit do not vanish
    return 1.0 / math.fsum([(term.value / total) ** 2 / term.mean_square.degrees_of_freedom for term in terms])


def interval_of_combination(terms: Sequence[Term], confidence: float = CONFIDENCE) -> Interval:
    """Two-sided interval of γ = Σ c·θ by the modified large-sample method; its ends are 0 at the least.

    With a single term it is the exact one by chi-square: ν·MS/χ².
    """
    if not 0.0 < confidence < 1.0:
        raise MeasurementError("confidence", "A confidence lies between 0 and 1: 0.95 is usual.")
    tail = (1.0 - confidence) / 2.0
    added = [term for term in terms if term.factor > 0.0]
    taken = [term for term in terms if term.factor < 0.0]
    down = math.fsum([(_g(tail, term) * term.value) ** 2 for term in added])
    down += math.fsum([(_h(tail, term) * term.value) ** 2 for term in taken])
    up = math.fsum([(_h(tail, term) * term.value) ** 2 for term in added])
    up += math.fsum([(_g(tail, term) * term.value) ** 2 for term in taken])
    for one in added:
        for other in taken:
            product = one.value * -other.value
            pair = one.mean_square.degrees_of_freedom, other.mean_square.degrees_of_freedom
            down += _g_difference(tail, *pair) * product
            up += _h_difference(tail, *pair) * product
    if taken:
        down += _among(tail, added)
        up += _among(tail, taken)
    middle = estimate(terms)
    return Interval(max(middle - math.sqrt(max(down, 0.0)), 0.0), max(middle + math.sqrt(max(up, 0.0)), 0.0))


def _among(tail: float, alike: Sequence[Term]) -> float:
    """What terms of one sign add to the squared distance of the end that they bound: G* of Ting et al."""
    return math.fsum(
        [
            _g_sum(tail, one.mean_square.degrees_of_freedom, other.mean_square.degrees_of_freedom)
            * (one.value * other.value)
            / (len(alike) - 1)
            for one, other in combinations(alike, 2)
        ]
    )


def _g(tail: float, term: Term) -> float:
    return _shrinks(tail, term.mean_square.degrees_of_freedom)


def _h(tail: float, term: Term) -> float:
    return _grows(tail, term.mean_square.degrees_of_freedom)


@lru_cache(maxsize=1024)
def _shrinks(tail: float, degrees_of_freedom: float) -> float:
    """G: by what share of itself a variance may be less than its mean square, 1 − ν/χ²(1 − tail; ν)."""
    from scipy import special

    return 1.0 - degrees_of_freedom / float(special.chdtri(degrees_of_freedom, tail))


@lru_cache(maxsize=1024)
def _grows(tail: float, degrees_of_freedom: float) -> float:
    """H: by what share of itself a variance may be more than its mean square, ν/χ²(tail; ν) − 1."""
    from scipy import special

    return degrees_of_freedom / float(special.chdtri(degrees_of_freedom, 1.0 - tail)) - 1.0


@lru_cache(maxsize=1024)
def _g_difference(tail: float, added: float, taken: float) -> float:
    """Puts the lower end of a difference at 0 just where the F test at `tail` turns."""
    f = variance_ratio_quantile(1.0 - tail, added, taken)
    return ((f - 1.0) ** 2 - (_shrinks(tail, added) * f) ** 2 - _grows(tail, taken) ** 2) / f


@lru_cache(maxsize=1024)
def _h_difference(tail: float, added: float, taken: float) -> float:
    """Puts the upper end of a difference at 0 just where the F test at 1 − `tail` turns."""
    f = variance_ratio_quantile(tail, added, taken)
    return ((1.0 - f) ** 2 - (_grows(tail, added) * f) ** 2 - _shrinks(tail, taken) ** 2) / f


@lru_cache(maxsize=1024)
def _g_sum(tail: float, one: float, other: float) -> float:
    """Makes the end of a sum exact where the two make up one chi-square of all their degrees of freedom."""
    both = one + other
    whole = (_shrinks(tail, both) * both) ** 2
    return (whole - (_shrinks(tail, one) * one) ** 2 - (_shrinks(tail, other) * other) ** 2) / (one * other)
