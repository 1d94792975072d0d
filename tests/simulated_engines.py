"""Engines whose truth is known, measured by a simulated instrument with the errors that the budget supposes.

The physics runs forwards here: true chamber, true gas, true bore give a tone, the instrument turns it into digits; the
core sees the digits and what was declared. All of it drawn from one seeded generator.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from app.metrology.evaluation import Evaluation, evaluate
from app.metrology.geometry import displacement_cm3, swept_volume_cm3
from app.metrology.inputs import (
    AcousticObservations,
    AssessmentInputs,
    Conditions,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
)

BORE_MM, STROKE_MM, LIMIT = 101.6, 88.392, 10.6
RULE = Rule("maximum", 10.5, 0.1, "every_cylinder", "three_zones", 0.95, "measure_again")
GAS_C, GAS_U_K = 24.0, 1.0


@dataclass(frozen=True)
class Shed:
    """How the measuring is done: engine size, repeats, what the stated accuracy means, whether there is a history."""

    cylinders: int
    repeats: int
    meaning: str = "limits"
    history_dof: int = 24  # 0: none
    accuracy: float = 0.10
    noise: float = 0.02  # true standard deviation of one indication
    resolution: float = 0.01
    inspector: float = 0.0  # true standard deviation between inspectors; one measures the whole engine
    study_dof: int = 0  # of the gauge study that found it; 0: none was adopted


def measured(
    chance: np.random.Generator, shed: Shed, true_ratios: NDArray[np.float64], leak: float = 0.0
) -> AssessmentInputs:
    """One sheet: every error drawn as the budget has it. `leak` lowers what the first cylinder lets be heard."""
    engine = Engine(BORE_MM, STROKE_MM, shed.cylinders)
    settings = Settings(displacement_cm3(BORE_MM, STROKE_MM, shed.cylinders), shed.cylinders, GAS_C)
    true_bore = BORE_MM - engine.bore_standard_uncertainty_mm * chance.normal()
    true_stroke = STROKE_MM - engine.stroke_standard_uncertainty_mm * chance.normal()
    true_gas_k = GAS_C - GAS_U_K * chance.normal() + 273.15
    off = {
        "limits": shed.accuracy * chance.uniform(-1.0, 1.0),
        "expanded_k2": shed.accuracy / 2.0 * chance.normal(),
        "standard": shed.accuracy * chance.normal(),
    }[shed.meaning]
    # the tone fixes the volume through the gas; the instrument turns it into a ratio with what was dialled
    true_clearance = swept_volume_cm3(true_bore, true_stroke) / (true_ratios - 1.0)
    seen_volume = true_clearance * (GAS_C + 273.15) / true_gas_k
    shown = 1.0 + settings.displacement_cm3 / settings.cylinders / seen_volume + off
    shown[0] -= leak
    if shed.inspector:
        shown += shed.inspector * chance.normal()
    noisy = shown[:, None] + shed.noise * chance.normal(size=(shed.cylinders, shed.repeats))
    digits = max(0, -math.floor(math.log10(shed.resolution)))
    history = None
    if shed.history_dof:
        history = (shed.noise * math.sqrt(chance.chisquare(shed.history_dof) / shed.history_dof), shed.history_dof)
    study = None
    if shed.study_dof:
        study = (shed.inspector * math.sqrt(chance.chisquare(shed.study_dof) / shed.study_dof), float(shed.study_dof))
    return AssessmentInputs(
        "acoustic_resonance",
        engine,
        AcousticObservations(
            Instrument("acoustic_resonance", shed.resolution, shed.accuracy, shed.meaning),
            settings,
            Conditions(GAS_C, GAS_U_K, "thermometer_in_chamber"),
            tuple(
                CylinderReading(number, tuple(f"{value:.{digits}f}" for value in row))
                for number, row in enumerate(noisy.tolist(), start=1)
            ),
            history,
            reproducibility=study,
        ),
        RULE,
    )


@dataclass(frozen=True)
class Counted:
    """What happened in how many trials."""

    trials: int
    covered: int = 0  # intervals of one cylinder of each engine that hold its true ratio
    wrongly_rejected: int = 0  # engines with every cylinder exactly at the limit, called nonconforming
    wrongly_accepted: int = 0  # engines with one cylinder a hair beyond the limit, called conforming
    leak_conforming: int = 0  # engines with a planted leak, called conforming

    def share(self, name: str) -> float:
        return float(getattr(self, name)) / self.trials

    def most(self, probability: float) -> float:
        """What a true share would be exceeded by in one of a thousand such runs: mean and 3.1 standard deviations."""
        return probability + 3.1 * math.sqrt(probability * (1.0 - probability) / self.trials)


def simulate(shed: Shed, trials: int, seed: int) -> Counted:
    chance = np.random.default_rng(seed)
    counted = Counted(trials)
    for _ in range(trials):
        at_limit = np.full(shed.cylinders, LIMIT)
        found = evaluate(measured(chance, shed, at_limit))
        which = int(chance.integers(shed.cylinders))
        one_beyond = np.full(shed.cylinders, LIMIT - 0.3)
        one_beyond[int(chance.integers(shed.cylinders))] = LIMIT + 1e-9
        accepted = evaluate(measured(chance, shed, one_beyond))
        leaking = np.full(shed.cylinders, LIMIT - 0.4)
        leaking[0] = LIMIT + 0.3
        leaked = evaluate(measured(chance, shed, leaking, leak=1.2))
        counted = replace(
            counted,
            covered=counted.covered + covers(found, which, LIMIT),
            wrongly_rejected=counted.wrongly_rejected + (found.outcome.verdict == "nonconforming"),
            wrongly_accepted=counted.wrongly_accepted + (accepted.outcome.verdict == "conforming"),
            leak_conforming=counted.leak_conforming + (leaked.outcome.verdict == "conforming"),
        )
    return counted


def covers(found: Evaluation, which: int, truth: float) -> bool:
    result = found.results[which]
    expanded = result.coverage_factor * result.combined.standard_uncertainty
    return abs(result.measured.value - truth) <= expanded
