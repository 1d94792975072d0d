"""The second opinion on a sheet: the deciding result simulated, and whether that bears its budget out. JCGM 101:2008.

The measurement function is drawn whole, nothing linearised: where the budget and the simulation agree, the first-order
result is validated for this very engine (clause 8).
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from app.metrology.evaluation import Evaluation
from app.metrology.inputs import AcousticObservations, AssessmentInputs, Engine
from app.metrology.measurement import COMPRESSION_RATIO, QUANTITIES, Measured, Measurement
from app.metrology.rules import MEAN_OF_CYLINDERS, tolerance_limits
from app.metrology.units import kelvin_from_celsius

if TYPE_CHECKING:
    from app.metrology.monte_carlo.adaptive import Outcome
    from app.metrology.monte_carlo.draws import InputQuantity
    from app.metrology.monte_carlo.engine import EngineModel, Output

SEED = 101  # one for all sheets, chosen once: whoever repeats the simulation draws the same
MOST_TRIALS = 1_000_000
LEAST_SEQUENCES = 10  # two, the least of the clause, agree by chance now and then
TRIALS_OF_ENGINE = 100_000  # a probability of 0.95 comes out right to 0.0014, with twice the standard deviation
SIGNIFICANT_DIGITS = 1  # of the standard uncertainty that count: no verdict hangs on the second


@dataclass(frozen=True, slots=True)
class SecondOpinion:
    """What the simulation says of the deciding result, in the quantity's unit."""

    cylinder: int  # 0: the mean, or the engine
    mean: float | None  # None where the repeats are too few for the distribution to have one: t on 1 degree of freedom
    standard_uncertainty: float | None  # None likewise, t on at most 2
    symmetric_low: float
    symmetric_high: float
    shortest_low: float
    shortest_high: float
    coverage_probability: float
    trials: int
    seed: int
    steady: bool  # the figures stood still to a fifth of the tolerance
    d_low: float  # how far the lower ends of budget and simulation lie apart
    d_high: float
    tolerance: float
    validated: bool
    engine_conformance_probability: float  # the share of trials in which every judged true value conforms
    sentences: tuple[str, ...]  # for the page


def second_opinion(
    inputs: AssessmentInputs, found: Evaluation, seed: int = SEED, most_trials: int = MOST_TRIALS
) -> SecondOpinion:
    """The simulation of the result that decided in `found`, which is `evaluate(inputs)`.

    Adaptive, to a fifth of the tolerance that it judges by (7.9 and 8.2). Raises MeasurementError where an input is so
    uncertain that it may be what cannot be.
    """
    # NumPy's generators only where something is simulated: the web process starts without them
    from app.metrology.monte_carlo.adaptive import numerical_tolerance, run_adaptive
    from app.metrology.monte_carlo.engine import EngineSimulation
    from app.metrology.monte_carlo.validation import OF_VALIDATION, validate

    decided = found.decided
    u = decided.combined.standard_uncertainty
    model, output = _deciding(inputs, found)
    outcome = run_adaptive(
        EngineSimulation(model, (output,), seed),
        inputs.coverage_probability,
        tolerances=(numerical_tolerance(u, SIGNIFICANT_DIGITS) / OF_VALIDATION,),
        most_trials=most_trials,
        least_sequences=LEAST_SEQUENCES,
    )
    simulated = outcome.summaries[0]
    _, unit = QUANTITIES[inputs.rule.quantity]
    judged = validate(
        decided.measured.value,
        u,
        decided.coverage_factor * u,
        simulated.symmetric,
        SIGNIFICANT_DIGITS,
        "" if unit == "1" else unit,
    )
    return SecondOpinion(
        cylinder=decided.measured.cylinder,
        mean=simulated.mean,
        standard_uncertainty=simulated.standard_uncertainty,
        symmetric_low=simulated.symmetric.low,
        symmetric_high=simulated.symmetric.high,
        shortest_low=simulated.shortest.low,
        shortest_high=simulated.shortest.high,
        coverage_probability=inputs.coverage_probability,
        trials=outcome.trials,
        seed=seed,
        steady=outcome.steady,
        d_low=judged.d_low,
        d_high=judged.d_high,
        tolerance=judged.tolerance,
        validated=judged.validated and outcome.steady,
        engine_conformance_probability=simulated_conformance_probability(inputs, found, seed),
        sentences=_sentences(outcome, seed, judged.sentences),
    )


def simulated_conformance_probability(
    inputs: AssessmentInputs, found: Evaluation, seed: int = SEED, trials: int = TRIALS_OF_ENGINE
) -> float:
    """P(every judged true value lies within the tolerance limits), 0 to 1, with all cylinders drawn together."""
    import numpy as np

    from app.metrology.monte_carlo.engine import MEAN, EngineSimulation

    judged = [place for place, one in enumerate(found.results) if one.judged is not None]
    drawn = EngineSimulation(model_of(inputs, found.measurement), judged or (MEAN,), seed).next(trials)
    # of a trial all cylinders count together: the worst margin on any side
    margins = [(side.sign * (limit - drawn)).min(axis=0) for side, limit in tolerance_limits(inputs.rule)]
    return float((np.min(margins, axis=0) >= 0.0).mean())


def _sentences(outcome: "Outcome", seed: int, judged: tuple[str, ...]) -> tuple[str, ...]:
    drawn = f"{outcome.trials:,} times every source was drawn at random (seed {seed}) and the result worked out anew"
    if outcome.steady:
        return (f"{drawn}, until the figures stood still.", *judged)
    return (f"{drawn}; even so the figures did not stand still, and bear nothing out.", judged[0])


def model_of(inputs: AssessmentInputs, measurement: Measurement) -> "EngineModel":
    """The model to simulate of this sheet, its cylinders in the order of the measurement's results."""
    from app.metrology.monte_carlo.budgets import chamber_model, linear_model

    if isinstance(inputs.observations, AcousticObservations):
        return _acoustic(inputs.engine, inputs.observations, measurement, measurement.results)
    if inputs.rule.quantity == COMPRESSION_RATIO:
        return chamber_model(inputs.engine, measurement)
    return linear_model(measurement)


def _deciding(inputs: AssessmentInputs, found: Evaluation) -> "tuple[EngineModel, Output]":
    """The model of what decided: all cylinders for their mean, else that one alone."""
    from app.metrology.monte_carlo.engine import MEAN

    measurement, decided = found.measurement, found.decided.measured
    if inputs.rule.applies_to == MEAN_OF_CYLINDERS:
        return model_of(inputs, measurement), MEAN
    return model_of(inputs, measurement._replace(results=(decided,))), 0


def _acoustic(
    engine: Engine, observations: AcousticObservations, measurement: Measurement, results: tuple[Measured, ...]
) -> "EngineModel":
    from app.metrology.monte_carlo.acoustic import NO_AIRFLOW, acoustic_model
    from app.metrology.monte_carlo.budgets import quantity_of

    names = [source.name for source in measurement.sources]

    def quantity(name: str, value: float, one: Measured) -> "InputQuantity":
        place = names.index(name)
        return quantity_of(name, measurement.sources[place].distribution, value, one, place)

    def if_studied(name: str) -> "InputQuantity | None":
        return quantity(name, 0.0, first) if name in names else None

    first, settings, conditions = results[0], observations.settings, observations.conditions
    sensitivity = observations.instrument.airflow_sensitivity
    return acoustic_model(
        bore_mm=quantity("bore", engine.bore_mm, first),
        stroke_mm=quantity("stroke", engine.stroke_mm, first),
        gas_temperature_k=quantity("gas_temperature", kelvin_from_celsius(conditions.gas_temperature_c), first),
        instrument_error=quantity("stated_accuracy", 0.0, first),
        indications=[
            (quantity("repeatability", one.mean_indication or 0.0, one), quantity("resolution", 0.0, one))
            for one in results
        ],
        set_volume_cm3=settings.displacement_cm3 / settings.cylinders,
        set_gas_temperature_k=kelvin_from_celsius(settings.gas_temperature_c),
        airflow_error_l_min=NO_AIRFLOW if sensitivity is None else quantity("airflow", 0.0, first),
        airflow_sensitivity=sensitivity or 0.0,
        crank_step_degrees=conditions.crank_step_degrees,
        rod_ratio=conditions.rod_ratio,
        airflow_sensitivity_error=if_studied("airflow_sensitivity"),
        inspector_error=if_studied("reproducibility"),
    )
