"""How many trials: a fixed number, or as many as it takes for the figures to stand still. JCGM 101:2008, 7.9."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.draws import Draws
from app.metrology.monte_carlo.intervals import Interval, Summary, covered, enough_trials, summarise

SEQUENCE = 10_000
MOST_TRIALS = 1_000_000


class Simulation(Protocol):
    """Whatever draws results: `next` gives the next trials, one row an output; each output has so many moments."""

    @property
    def moments(self) -> Sequence[int]: ...

    def next(self, trials: int) -> Draws: ...


@dataclass(frozen=True, slots=True)
class Outcome:
    """The outputs in order, the trials behind them, and whether they stood still."""

    summaries: tuple[Summary, ...]
    trials: int
    steady: bool  # of a fixed number of trials: nothing was tested, so False
    tolerances: tuple[float, ...]  # numerical tolerance of each output, in its unit; empty when nothing was tested


def numerical_tolerance(standard_uncertainty: float, significant_digits: int) -> float:
    """δ = ½·10^l where the standard uncertainty, rounded to so many digits c, is c·10^l. JCGM 101:2008, 7.9.2."""
    if not 0.0 < standard_uncertainty < math.inf:
        raise MeasurementError("standard_uncertainty", "A tolerance follows from a standard uncertainty above 0.")
    if not 1 <= significant_digits <= 9:
        raise MeasurementError("significant_digits", "Significant digits are 1 to 9; 1 or 2 are usual.")
    _, exponent = f"{standard_uncertainty:.{significant_digits - 1}e}".split("e")
    return 0.5 * 10.0 ** (int(exponent) - (significant_digits - 1))


def run_fixed(simulation: Simulation, trials: int, coverage_probability: float = 0.95) -> Outcome:
    """So many trials, chosen beforehand. JCGM 101:2008, 7.2."""
    covered(trials, coverage_probability)
    drawn = simulation.next(trials)
    return Outcome(_summaries([drawn], simulation.moments, coverage_probability), trials, steady=False, tolerances=())


def run_adaptive(
    simulation: Simulation,
    coverage_probability: float = 0.95,
    significant_digits: int = 1,
    tolerances: Sequence[float] | None = None,
    interval: Callable[[Summary], Interval] = lambda summary: summary.symmetric,
    most_trials: int = MOST_TRIALS,
    least_sequences: int = 2,
) -> Outcome:
    """Sequences of trials until y, u and both ends of the interval of every output stand still. JCGM 101:2008, 7.9.4.

    Still is: twice the standard deviation of the mean over the sequences is within the numerical tolerance, which
    follows from u and the significant digits unless given (8.2 wants a fifth of it for a validation). Where an output
    has no variance, its ends alone are watched, and without a given tolerance half the half-length stands for u.
    The clause begins to judge after two sequences, which now and then agree by chance: more can be asked for.
    """
    length = max(SEQUENCE, enough_trials(coverage_probability))
    if least_sequences < 2:
        raise MeasurementError("least_sequences", "Two sequences are the least that show how far they differ.")
    if most_trials < least_sequences * length:
        raise MeasurementError(
            "most_trials",
            f"{least_sequences} sequences of {length} trials are the least: allow {least_sequences * length}.",
        )
    watched = [
        _Watched(moments, significant_digits, interval, tolerances[place] if tolerances is not None else None)
        for place, moments in enumerate(simulation.moments)
    ]
    sequences: list[Draws] = []
    while True:
        drawn = simulation.next(length)
        sequences.append(drawn)
        for one, row in zip(watched, drawn, strict=True):
            one.take(summarise(row.copy(), coverage_probability, one.moments))
        steady = len(sequences) >= least_sequences and all(one.is_still() for one in watched)
        if steady or (len(sequences) + 1) * length > most_trials:
            break
    return Outcome(
        summaries=_summaries(sequences, simulation.moments, coverage_probability),
        trials=len(sequences) * length,
        steady=steady,
        tolerances=tuple(one.tolerance() for one in watched),
    )


def _summaries(sequences: Sequence[Draws], moments: Sequence[int], coverage_probability: float) -> tuple[Summary, ...]:
    return tuple(
        summarise(np.concatenate([drawn[place] for drawn in sequences]), coverage_probability, of_output)
        for place, of_output in enumerate(moments)
    )


class _Watched:
    """What the sequences of one output gave so far."""

    def __init__(
        self,
        moments: int,
        significant_digits: int,
        interval: Callable[[Summary], Interval],
        tolerance: float | None,
    ) -> None:
        self.moments = moments
        self._digits, self._interval, self._given = significant_digits, interval, tolerance
        self._figures: list[list[float]] = []
        self._trials = 0

    def take(self, summary: Summary) -> None:
        ends = self._interval(summary)
        figures = [summary.mean, summary.standard_uncertainty, ends.low, ends.high]
        self._figures.append([figure for figure in figures if figure is not None])
        self._trials += summary.trials

    def is_still(self) -> bool:
        tolerance = self.tolerance()
        return all(2.0 * _deviation_of_mean(series) <= tolerance for series in zip(*self._figures, strict=True))

    def tolerance(self) -> float:
        """Of the standard uncertainty from all trials so far (step i), unless it was given."""
        if self._given is not None:
            return self._given
        scale = self._standard_uncertainty() if self.moments > 1 else self._quarter_length()
        return numerical_tolerance(scale, self._digits) if scale > 0.0 else 0.0  # nothing varies: it stands still

    def _quarter_length(self) -> float:
        low, high = (math.fsum(series) for series in zip(*(figures[-2:] for figures in self._figures), strict=True))
        return (high - low) / len(self._figures) / 4.0

    def _standard_uncertainty(self) -> float:
        """Of all trials as one set, from the mean and standard deviation of sequences equally long."""
        means = [figures[0] for figures in self._figures]
        middle, each = math.fsum(means) / len(means), self._trials / len(means)
        within = math.fsum(figures[1] ** 2 for figures in self._figures) * (each - 1.0)
        between = math.fsum((mean - middle) ** 2 for mean in means) * each
        return math.sqrt((within + between) / (self._trials - 1.0))


def _deviation_of_mean(series: Sequence[float]) -> float:
    middle = math.fsum(series) / len(series)
    return math.sqrt(math.fsum((one - middle) ** 2 for one in series) / (len(series) * (len(series) - 1)))
