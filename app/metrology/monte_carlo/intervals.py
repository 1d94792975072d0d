"""What a set of draws of a result says: mean, standard deviation, coverage intervals. JCGM 101:2008, 7.5 to 7.7."""

import math
from dataclasses import dataclass

import numpy as np

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.draws import Draws


@dataclass(frozen=True, slots=True)
class Interval:
    """A coverage interval, in the unit of the result."""

    low: float
    high: float

    @property
    def length(self) -> float:
        """From end to end."""
        return self.high - self.low


@dataclass(frozen=True, slots=True)
class Summary:
    """What the draws of one result say, in its unit."""

    trials: int
    coverage_probability: float
    mean: float | None  # None where the distribution has no mean: an input on 1 degree of freedom
    standard_uncertainty: float | None  # None where it has no variance: an input on at most 2
    symmetric: Interval  # as much probability below it as above
    shortest: Interval


def enough_trials(coverage_probability: float) -> int:
    """J, the least that a sequence should have: a hundred beyond the interval. JCGM 101:2008, 7.9.4 b."""
    if not 0.0 < coverage_probability < 1.0:
        raise MeasurementError("coverage_probability", "A coverage probability lies between 0 and 1, such as 0.95.")
    # a millionth of a trial off first: 100/(1 − 0.99) computes to a hair above 10,000
    return math.ceil(100.0 / (1.0 - coverage_probability) - 1e-6)


def covered(trials: int, coverage_probability: float) -> int:
    """q, how many of the sorted draws an interval spans. JCGM 101:2008, 7.7.2.

    Raises MeasurementError where so few trials leave none outside.
    """
    enough = enough_trials(coverage_probability)
    spanned = math.floor(coverage_probability * trials + 0.5)
    if not 0 < spanned < trials:
        raise MeasurementError(
            "trials",
            f"{trials} trials are too few for an interval that covers {coverage_probability:g}: take {enough} or more.",
        )
    return spanned


def summarise(draws: Draws, coverage_probability: float, moments: int = 2) -> Summary:
    """Summary of these draws, which are put into another order. JCGM 101:2008, 7.6 and 7.7.

    Both intervals need the lowest M − q and the highest M − q draws in order and nothing of the middle: two partitions
    and the sorting of two short tails stand for the sorting of the whole. `moments` says how many of mean and variance
    the distribution has. Raises MeasurementError on a draw that is not a finite number.
    """
    trials = len(draws)
    spanned = covered(trials, coverage_probability)
    outside = trials - spanned
    mean = float(draws.mean()) if moments else None
    deviation = _standard_deviation(draws, mean) if mean is not None and moments > 1 else None
    if outside < spanned:
        draws.partition((outside - 1, spanned))
        draws[:outside].sort()
        draws[spanned:].sort()
    else:
        draws.sort()
    if not (math.isfinite(draws[0]) and math.isfinite(draws[-1])):
        raise MeasurementError(
            "draws", "The measurement function gives no finite result for some of the values its inputs may have."
        )
    from_below = (outside + 1) // 2 - 1
    lengths = draws[spanned:] - draws[:outside]
    narrowest = int(lengths.argmin())
    return Summary(
        trials=trials,
        coverage_probability=coverage_probability,
        mean=mean,
        standard_uncertainty=deviation,
        symmetric=Interval(float(draws[from_below]), float(draws[from_below + spanned])),
        shortest=Interval(float(draws[narrowest]), float(draws[narrowest + spanned])),
    )


def _standard_deviation(draws: Draws, mean: float) -> float:
    squares = draws - mean
    np.square(squares, out=squares)
    return math.sqrt(float(squares.sum()) / (len(draws) - 1))
