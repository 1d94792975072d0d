"""Models to simulate for methods whose results already come with all their sources: from the budget's own figures.

Every source is drawn from the distribution that the budget names for it, shared ones once for all cylinders.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from app.metrology.inputs import Engine
from app.metrology.measurement import Measured, Measurement
from app.metrology.monte_carlo.draws import Draws, InputQuantity
from app.metrology.monte_carlo.engine import EngineModel

Table = NDArray[np.float64]  # one row a result, one column a source


def quantity_of(name: str, distribution: str, value: float, one: Measured, place: int) -> InputQuantity:
    """The input quantity behind a source of a budget, at this place of this result, about this value."""
    return InputQuantity(value, one.u[place], distribution, one.dof[place], one.dof_in_common[place], history=name)


def linear_model(measurement: Measurement) -> EngineModel:
    """y = y₀ + Σ cᵢ·eᵢ: for what is as good as linear in its inputs, such as a displacement in bores and strokes."""
    values = _column([one.value for one in measurement.results])
    return _model(measurement, values, _sensitivities(measurement), None)


def chamber_model(engine: Engine, measurement: Measurement) -> EngineModel:
    """r = 1 + Vs/Vc for the methods that add up the chamber: Vs ∝ B²·S whole, Vc linear in all that it adds up.

    What a source does to Vc, relative to it, follows from what it does to q = r − 1 and to Vs:
    ∂(ln Vc)/∂x = ∂(ln Vs)/∂x − c/q, bore and stroke being the only ones that change Vs.
    """
    above_one = _column([one.value - 1.0 for one in measurement.results])
    names = [source.name for source in measurement.sources]
    bore = np.array([1.0 / engine.bore_mm if name == "bore" else 0.0 for name in names])
    stroke = np.array([1.0 / engine.stroke_mm if name == "stroke" else 0.0 for name in names])
    of_chamber = 2.0 * bore + stroke - _sensitivities(measurement) / above_one
    return _model(measurement, above_one, of_chamber, (bore, stroke))


def _column(values: Sequence[float]) -> Table:
    return np.array(values)[:, np.newaxis]


def _sensitivities(measurement: Measurement) -> Table:
    return np.array([one.sensitivity for one in measurement.results])


def _model(
    measurement: Measurement, values: Table, rates: Table, of_swept: tuple[NDArray[np.float64], ...] | None
) -> EngineModel:
    """Errors e of all sources, `rates` what they do: to the value, or with `of_swept` to the chamber, relatively."""
    sources, results = measurement.sources, measurement.results
    common = [place for place, source in enumerate(sources) if source.shared]
    apart = [place for place, source in enumerate(sources) if not source.shared]

    def errors(one: Measured, places: Sequence[int]) -> tuple[InputQuantity, ...]:
        return tuple(quantity_of(sources[place].name, sources[place].distribution, 0.0, one, place) for place in places)

    def of_engine(shared: Draws, own: Draws) -> Draws:
        change = np.einsum("cs,st->ct", rates[:, common], shared) + np.einsum("cs,cst->ct", rates[:, apart], own)
        if of_swept is None:
            return np.asarray(values + change)
        bore, stroke = (1.0 + np.einsum("s,st->t", rate[common], shared) for rate in of_swept)
        return np.asarray(1.0 + values * bore * bore * stroke / (1.0 + change))

    return EngineModel(errors(results[0], common), tuple(errors(one, apart) for one in results), of_engine)
