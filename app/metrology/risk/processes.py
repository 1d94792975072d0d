"""Distributions: of the engines of a class before anyone measures them, and of the error made in measuring them.

An engine's true value and a measurement's error are both quantities with a density; the risks of JCGM 106:2012, clause
9, are integrals over the one with the other inside. `densities` and `probabilities` take many
values at once, as the integrals do; `pdf` and `cdf` one.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np
from scipy import special

from app.metrology.errors import MeasurementError
from app.metrology.risk.quadrature import Array
from app.metrology.risk.searching import crossing

FEWEST = 8  # below that a standard deviation is known to no better than about ±30 %: no base for a statement of risk
_BY_CHANCE = 0.05  # how seldom measuring alone may show that much scatter before the engines are held to differ
_SPREADS = (-9.0, -4.0, 0.0, 4.0, 9.0)  # beyond nine standard deviations lies less than 1e-18
_HARDLY_RECTANGULAR = 1e-3  # half-width to standard deviation; below it the sum differs from a normal by under 1e-12
_NOTHING_LEFT = 40.0  # standard deviations; further out a normal distribution has no digit left
_ROOT_TWO_PI = math.sqrt(2.0 * math.pi)


class Distribution(Protocol):
    """A continuous distribution of one quantity; everything in the unit of that quantity."""

    def densities(self, values: Array) -> Array:
        """The density at each value, per unit."""

    def probabilities(self, values: Array) -> Array:
        """The probability of each value or less."""

    def pdf(self, value: float) -> float:
        """The density there, per unit."""

    def cdf(self, value: float) -> float:
        """The probability of this value or less."""

    def quantile(self, probability: float) -> float:
        """The value that is not exceeded with this probability, which lies between 0 and 1."""

    @property
    def mean(self) -> float: ...
    @property
    def standard_deviation(self) -> float: ...
    @property
    def breaks(self) -> tuple[float, ...]:
        """Where to divide an integral: from where probability begins to where it ends, kinks between; ascending."""


class _OneValue:
    """`pdf` and `cdf` by what the distribution does for many values."""

    __slots__ = ()

    def pdf(self: Distribution, value: float) -> float:
        return float(self.densities(np.array(value)))

    def cdf(self: Distribution, value: float) -> float:
        return float(self.probabilities(np.array(value)))


@dataclass(frozen=True, slots=True)
class Normal(_OneValue):
    """The normal distribution, by mean and standard deviation."""

    mean: float
    standard_deviation: float

    def __post_init__(self) -> None:
        _positive("standard_deviation", self.standard_deviation, "A standard deviation")

    def densities(self, values: Array) -> Array:
        return _phi((values - self.mean) / self.standard_deviation) / self.standard_deviation

    def probabilities(self, values: Array) -> Array:
        return _capital_phi((values - self.mean) / self.standard_deviation)

    def quantile(self, probability: float) -> float:
        return self.mean + self.standard_deviation * float(special.ndtri(_share(probability)))

    @property
    def breaks(self) -> tuple[float, ...]:
        return tuple(self.mean + spread * self.standard_deviation for spread in _SPREADS)


@dataclass(frozen=True, slots=True)
class Gamma(_OneValue):
    """The gamma distribution of a quantity that cannot fall below 0, by shape (1 or more) and rate (per unit)."""

    shape: float
    rate: float

    def __post_init__(self) -> None:
        _positive("rate", self.rate, "The rate of a gamma distribution")
        if not 1.0 <= self.shape < math.inf:
            raise MeasurementError(
                "shape", f"The shape of this gamma distribution is {self.shape:g}; it must be 1 or more."
            )

    def densities(self, values: Array) -> Array:
        scaled = self.rate * np.maximum(values, 0.0)
        density = self.rate * np.exp(special.xlogy(self.shape - 1.0, scaled) - scaled - math.lgamma(self.shape))
        return np.where(values < 0.0, 0.0, density)

    def probabilities(self, values: Array) -> Array:
        return np.asarray(special.gammainc(self.shape, self.rate * np.maximum(values, 0.0)), dtype=np.float64)

    def quantile(self, probability: float) -> float:
        return float(special.gammaincinv(self.shape, _share(probability))) / self.rate

    @property
    def mean(self) -> float:
        return self.shape / self.rate

    @property
    def standard_deviation(self) -> float:
        return math.sqrt(self.shape) / self.rate

    @property
    def breaks(self) -> tuple[float, ...]:
        end = float(special.gammainccinv(self.shape, 1e-18)) / self.rate
        steps = (self.mean + spread * self.standard_deviation for spread in _SPREADS)
        return (0.0, *(step for step in steps if 0.0 < step < end), end)


@dataclass(frozen=True, slots=True)
class Uniform(_OneValue):
    """Equally likely anywhere from `lower` to `upper`."""

    lower: float
    upper: float

    def __post_init__(self) -> None:
        _positive("upper", self.upper - self.lower, "The width of a uniform distribution")

    def densities(self, values: Array) -> Array:
        return np.where((values >= self.lower) & (values <= self.upper), 1.0 / (self.upper - self.lower), 0.0)

    def probabilities(self, values: Array) -> Array:
        return np.clip((values - self.lower) / (self.upper - self.lower), 0.0, 1.0)

    def quantile(self, probability: float) -> float:
        return self.lower + _share(probability) * (self.upper - self.lower)

    @property
    def mean(self) -> float:
        return (self.lower + self.upper) / 2.0

    @property
    def standard_deviation(self) -> float:
        return (self.upper - self.lower) / math.sqrt(12.0)

    @property
    def breaks(self) -> tuple[float, ...]:
        return self.lower, self.upper


@dataclass(frozen=True, slots=True)
class RectangularAndNormal(_OneValue):
    """The sum of an error equally likely within ±half_width and a normal one, both about 0 and independent.

    What an instrument with stated limits of error does to a value, beside everything else that is uncertain.
    """

    half_width: float
    normal_standard_deviation: float

    def __post_init__(self) -> None:
        _positive("half_width", self.half_width, "The half-width of a rectangular error")
        _positive("normal_standard_deviation", self.normal_standard_deviation, "A standard deviation")

    def densities(self, values: Array) -> Array:
        # on the left, where the normal's tail is small and a difference loses nothing to rounding
        spread, side = self.normal_standard_deviation, -np.abs(values)
        inner, outer = (side + self.half_width) / spread, (side - self.half_width) / spread
        return (_capital_phi(inner) - _capital_phi(outer)) / (2.0 * self.half_width)

    def probabilities(self, values: Array) -> Array:
        spread = self.normal_standard_deviation
        side = np.maximum(-np.abs(values), -self.half_width - _NOTHING_LEFT * spread)
        inner, outer = (side + self.half_width) / spread, (side - self.half_width) / spread
        below = spread * (_capital_phi_integral(inner) - _capital_phi_integral(outer)) / (2.0 * self.half_width)
        return np.where(values <= 0.0, below, 1.0 - below)

    def quantile(self, probability: float) -> float:
        _share(probability)
        return crossing(lambda value: self.cdf(value) - probability, 0.0, self.standard_deviation)

    @property
    def mean(self) -> float:
        return 0.0

    @property
    def standard_deviation(self) -> float:
        return math.hypot(self.half_width / math.sqrt(3.0), self.normal_standard_deviation)

    @property
    def breaks(self) -> tuple[float, ...]:
        spread, edge = self.normal_standard_deviation, self.half_width
        steps = {sign * edge + step * spread for sign in (-1.0, 1.0) for step in _SPREADS}
        return tuple(sorted(steps))


def error_distribution(rectangular_half_width: float, normal_standard_deviation: float) -> Distribution | None:
    """The error made of a rectangular part within ±half_width and a normal one, either of which may be 0; both 0: None.

    A rectangle that is nothing beside the normal part is taken into it by its standard deviation, a/√3.
    """
    if rectangular_half_width == 0.0 and normal_standard_deviation == 0.0:
        return None
    if normal_standard_deviation == 0.0:
        return Uniform(-rectangular_half_width, rectangular_half_width)
    if rectangular_half_width < _HARDLY_RECTANGULAR * normal_standard_deviation:
        return Normal(0.0, math.hypot(normal_standard_deviation, rectangular_half_width / math.sqrt(3.0)))
    return RectangularAndNormal(rectangular_half_width, normal_standard_deviation)


@dataclass(frozen=True, slots=True)
class History:
    """What a history of measured values says of the engines themselves; no distribution when it cannot say."""

    distribution: Normal | None
    sentence: str


def from_history(values: Sequence[float], scatter_of_measuring: Sequence[float]) -> History:
    """A normal distribution fitted to measured values, the scatter that measuring adds taken off. JCGM 106:2012, 9.2.

    `scatter_of_measuring` is for each value the standard uncertainty of what differs from one engine to the next. An
    error that all of them share moves their mean and adds no scatter; it must not be counted here. Same unit as the
    values. No distribution, and why not, with too few values, or while measuring may explain their scatter (χ² test).
    """
    count = len(values)
    if count < FEWEST:
        measured = {0: "No engine has been measured yet", 1: "Only 1 engine has been measured"}
        has = measured.get(count, f"Only {count} engines have been measured")
        return History(None, f"{has}; {FEWEST} are needed to say how the engines spread. Declare a spread.")
    mean = math.fsum(values) / count
    variance = math.fsum((value - mean) ** 2 for value in values) / (count - 1)
    of_measuring = math.fsum(scatter**2 for scatter in scatter_of_measuring) / count
    by_chance = float(special.chdtri(count - 1, _BY_CHANCE)) / (count - 1)
    seen = f"{count} engines measured: mean {mean:.3f}, standard deviation {math.sqrt(variance):.3f}"
    if variance <= of_measuring * by_chance:
        return History(
            None,
            f"{seen}; measuring alone scatters by {math.sqrt(of_measuring):.3f} and may show as much. "
            "How far the engines themselves differ cannot be told from that. Declare a spread.",
        )
    own = math.sqrt(variance - of_measuring)
    return History(
        Normal(mean, own),
        f"{seen}; less the scatter of measuring, {math.sqrt(of_measuring):.3f}, the engines themselves spread by "
        f"{own:.3f}. A normal distribution is assumed.",
    )


def _phi(z: Array) -> Array:
    return np.exp(-0.5 * z * z) / _ROOT_TWO_PI


def _capital_phi(z: Array) -> Array:
    return np.asarray(special.ndtr(z), dtype=np.float64)


def _capital_phi_integral(z: Array) -> Array:
    """∫ Φ from −∞ to z."""
    return z * _capital_phi(z) + _phi(z)


def _positive(field: str, value: float, what: str) -> None:
    if not 0.0 < value < math.inf:
        raise MeasurementError(field, f"{what} must be a number above 0; {value:g} was given.")


def _share(probability: float) -> float:
    if not 0.0 < probability < 1.0:
        raise MeasurementError("probability", f"A probability lies between 0 and 1; {probability:g} was given.")
    return probability
