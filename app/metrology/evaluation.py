"""From indications to measurement results: each measured cylinder, and their mean where the rule judges that."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.conformity import conformance_probability, decide
from app.metrology.indications import parse_indication
from app.metrology.inputs import AssessmentInputs, CylinderReading
from app.metrology.methods import METHODS
from app.metrology.repeatability import evaluate_repeatability
from app.metrology.results import MEAN, CylinderResult
from app.metrology.rules import RULE_KINDS
from app.metrology.screening import Repeats
from app.metrology.uncertainty import Budget, combine, combine_mean


@dataclass(frozen=True, slots=True)
class Found:
    """What was measured, before any verdict: figures in units of ratio."""

    cylinder: int
    indications: tuple[str, ...]
    mean_indication: float
    value: float
    clearance_volume_cm3: float
    temperature_effect_per_kelvin: float
    budget: Budget


def read_repeats(inputs: AssessmentInputs) -> tuple[Repeats, ...]:
    """The indications of every measured cylinder as figures, by cylinder. Raises MeasurementError on bad digits.

    The coarser of the instrument's resolution and the one that the typed digits show counts, for the whole cylinder.
    """
    measured = (reading for reading in inputs.readings if reading.indications)
    return tuple(_read(reading, inputs.instrument.resolution) for reading in sorted(measured, key=_cylinder))


def _cylinder(reading: CylinderReading) -> int:
    return reading.cylinder


def _read(reading: CylinderReading, resolution: float) -> Repeats:
    shown = [
        parse_indication(text, f"readings.{reading.cylinder}.indications.{place}")
        for place, text in enumerate(reading.indications)
    ]
    return Repeats(
        cylinder=reading.cylinder,
        as_typed=reading.indications,
        values=tuple(one.value for one in shown),
        resolution=max(resolution, *(one.resolution for one in shown)),
    )


def measure_cylinder(inputs: AssessmentInputs, repeats: Repeats) -> Found:
    """One cylinder by the instrument's method."""
    mean_indication = math.fsum(repeats.values) / len(repeats.values)
    measurement = METHODS[inputs.instrument.method].measure(
        inputs.engine,
        inputs.instrument,
        inputs.settings,
        inputs.conditions,
        mean_indication,
        repeats.resolution,
        evaluate_repeatability(repeats.values, repeats.resolution, inputs.repeatability),
    )
    return Found(
        cylinder=repeats.cylinder,
        indications=repeats.as_typed,
        mean_indication=mean_indication,
        value=measurement.value,
        clearance_volume_cm3=measurement.clearance_volume_cm3,
        temperature_effect_per_kelvin=measurement.effect_per_kelvin,
        budget=combine(measurement.components),
    )


def mean_of(found: Sequence[Found]) -> Found:
    """The arithmetic mean over cylinders, shared sources added linearly, own ones by root sum of squares.

    The clearance volume is the one that belongs to the mean ratio: the harmonic mean of the cylinders' volumes.
    """
    count = len(found)
    return Found(
        cylinder=MEAN,
        indications=(),
        mean_indication=math.fsum(one.mean_indication for one in found) / count,
        value=math.fsum(one.value for one in found) / count,
        clearance_volume_cm3=count / math.fsum(1.0 / one.clearance_volume_cm3 for one in found),
        temperature_effect_per_kelvin=math.fsum(one.temperature_effect_per_kelvin for one in found) / count,
        budget=combine_mean([one.budget for one in found]),
    )


def result_of(inputs: AssessmentInputs, found: Found, judged: bool) -> CylinderResult:
    """The measurement result with coverage interval and conformance probability, and the verdict when `judged`."""
    rule, budget = inputs.rule, found.budget
    kind = RULE_KINDS[rule.kind]
    tolerance_limit = kind.tolerance_limit(rule.limit, rule.tolerance)
    u, dof = budget.standard_uncertainty, budget.degrees_of_freedom_used
    decision = decide(kind, rule.decision_rule, rule.confidence, tolerance_limit, found.value, u, dof)
    factor = budget.coverage_factor(inputs.coverage_probability)
    return CylinderResult(
        cylinder=found.cylinder,
        indications=found.indications,
        mean_indication=found.mean_indication,
        value=found.value,
        standard_uncertainty=u,
        effective_degrees_of_freedom=budget.effective_degrees_of_freedom,
        degrees_of_freedom_used=dof,
        coverage_factor=factor,
        coverage_probability=inputs.coverage_probability,
        expanded_uncertainty=factor * u,
        conformance_probability=conformance_probability(kind, found.value, u, dof, tolerance_limit),
        verdict=decision.verdict if judged else "",
        acceptance_limit=decision.acceptance_limit if judged else None,
        rejection_limit=decision.rejection_limit if judged else None,
        clearance_volume_cm3=found.clearance_volume_cm3,
        temperature_effect_per_kelvin=found.temperature_effect_per_kelvin,
        budget=budget,
    )
