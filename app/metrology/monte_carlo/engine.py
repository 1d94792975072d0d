"""A whole engine in simulation: in every trial the shared sources have one error for all cylinders, the own ones each
theirs. So cylinders, their mean and their extremes come out correlated as they are, with nothing linearised.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.adaptive import Outcome, run_fixed
from app.metrology.monte_carlo.draws import BLOCK, Draws, InputQuantity, QuantityDraws

MeasurementFunction = Callable[
    [Draws, Draws], Draws
]  # (shared × trials, cylinders × own × trials) -> cylinders × trials

MEAN, MAXIMUM, MINIMUM, RANGE = "mean", "maximum", "minimum", "range"
Output = int | str  # the place of a cylinder in the model, from 0, or one of the reductions below
_REDUCTIONS: dict[str, Callable[[Draws], Draws]] = {
    MEAN: lambda results: np.asarray(results.mean(axis=0)),
    MAXIMUM: lambda results: np.asarray(results.max(axis=0)),
    MINIMUM: lambda results: np.asarray(results.min(axis=0)),
    RANGE: lambda results: np.asarray(results.max(axis=0) - results.min(axis=0)),
}


@dataclass(frozen=True, slots=True)
class EngineModel:
    """Input quantities and the measurement function of one engine; every cylinder has as many own quantities."""

    shared: tuple[InputQuantity, ...]
    own: tuple[tuple[InputQuantity, ...], ...]  # of each cylinder, in the same order
    function: MeasurementFunction

    def __post_init__(self) -> None:
        if not self.own or len({len(of_cylinder) for of_cylinder in self.own}) > 1:
            raise MeasurementError("own", "A model has at least one cylinder, and all of them the same own quantities.")

    @property
    def cylinders(self) -> int:
        """How many there are."""
        return len(self.own)

    def moments(self, output: Output) -> int:
        """How many of mean and variance an output has: as few as the wildest of the quantities behind it."""
        behind = [*self.shared]
        for place, of_cylinder in enumerate(self.own):
            if isinstance(output, str) or output == place:
                behind += of_cylinder
        return min((one.moments for one in behind), default=2)


class EngineSimulation:
    """The model drawn trial after trial; only the outputs asked for are kept, all else a block at a time."""

    def __init__(self, model: EngineModel, outputs: Sequence[Output], seed: int) -> None:
        for output in outputs:
            known = output in _REDUCTIONS if isinstance(output, str) else 0 <= output < model.cylinders
            if not known:
                raise MeasurementError(
                    "outputs", f"{output} is no output: name a cylinder's place from 0, or {', '.join(_REDUCTIONS)}."
                )
        self._model, self._outputs = model, tuple(outputs)
        own = [one for of_cylinder in model.own for one in of_cylinder]
        self._draws = QuantityDraws([*model.shared, *own], seed)
        self.moments = tuple(model.moments(output) for output in outputs)

    def next(self, trials: int) -> Draws:
        """The next trials of the outputs, one row each."""
        kept = np.empty((len(self._outputs), trials))
        for start in range(0, trials, BLOCK):
            block = kept[:, start : start + BLOCK]
            results = self._results(block.shape[1])
            for output, row in zip(self._outputs, block, strict=True):
                row[:] = _REDUCTIONS[output](results) if isinstance(output, str) else results[output]
        return kept

    def _results(self, trials: int) -> Draws:
        model, drawn = self._model, self._draws.next(trials)
        shared = len(model.shared)
        own = drawn[shared:].reshape(model.cylinders, len(model.own[0]), trials)
        return model.function(drawn[:shared], own)


def simulate_engine(
    model: EngineModel, trials: int, seed: int, coverage_probability: float = 0.95
) -> tuple[Outcome, tuple[Output, ...]]:
    """Every cylinder, the mean and the maximum by a fixed number of trials; the outputs beside, in the same order."""
    outputs: tuple[Output, ...] = (*range(model.cylinders), MEAN, MAXIMUM)
    return run_fixed(EngineSimulation(model, outputs, seed), trials, coverage_probability), outputs
