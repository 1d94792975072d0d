"""The one door of the core: from what was measured to a verdict with everything it followed from."""

from app.metrology import CORE_VERSION
from app.metrology.checking import check_inputs
from app.metrology.conformity import CONFORMING, INCONCLUSIVE, NONCONFORMING, decide
from app.metrology.errors import MeasurementError
from app.metrology.frozen import Data, from_data, to_data
from app.metrology.indications import parse_indication
from app.metrology.inputs import (
    AssessmentInputs,
    Conditions,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
)
from app.metrology.methods import METHODS, Measurement
from app.metrology.repeatability import evaluate_repeatability
from app.metrology.results import MEAN, Assessment, CylinderResult
from app.metrology.rounding import percent, rounded
from app.metrology.rules import RULE_KINDS
from app.metrology.screening import Suspicion
from app.metrology.uncertainty import Budget, combine, combine_mean

__all__ = [
    "Assessment",
    "AssessmentInputs",
    "Conditions",
    "CylinderReading",
    "CylinderResult",
    "Engine",
    "Instrument",
    "MeasurementError",
    "Rule",
    "Settings",
    "Suspicion",
    "assess",
    "assessment_to_data",
    "inputs_from_data",
    "inputs_to_data",
]


def assess(inputs: AssessmentInputs) -> Assessment:
    """The verdict on one engine under one rule. Raises MeasurementError(field, sentence) on what cannot be."""
    check_inputs(inputs)
    rule, kind = inputs.rule, RULE_KINDS[inputs.rule.kind]
    tolerance_limit = kind.tolerance_limit(rule.limit, rule.tolerance)
    method = METHODS[inputs.instrument.method]
    results: list[CylinderResult] = []
    per_kelvin: dict[int, float] = {}
    for reading in sorted(inputs.readings, key=lambda item: item.cylinder):
        if not reading.indications:
            continue
        shown = [
            parse_indication(text, f"readings.{reading.cylinder}.indications.{place}")
            for place, text in enumerate(reading.indications)
        ]
        resolution = max(inputs.instrument.resolution, *(item.resolution for item in shown))
        values = [item.value for item in shown]
        mean = sum(values) / len(values)
        measurement = method.measure(
            inputs.engine, inputs.instrument, inputs.settings, inputs.conditions, mean, resolution,
            evaluate_repeatability(values, resolution, inputs.repeatability),
        )
        per_kelvin[reading.cylinder] = measurement.effect_per_kelvin
        results.append(_result(inputs, tolerance_limit, reading.cylinder, reading.indications, mean, measurement.value,
                               measurement.clearance_volume_cm3, combine(measurement.components)))
    if not results:
        raise MeasurementError("readings", "No cylinder has an indication yet. Enter the readings of at least one.")
    decided = min(results, key=lambda result: (result.conformance_probability, result.cylinder))
    missing = tuple(sorted(set(range(1, inputs.engine.cylinders + 1)) - set(per_kelvin)))
    verdict = decided.verdict if not missing or decided.verdict == NONCONFORMING else INCONCLUSIVE
    value, U = rounded(decided.value, decided.expanded_uncertainty)
    return Assessment(
        core_version=CORE_VERSION, verdict=verdict, action=rule.inconclusive_action if verdict == INCONCLUSIVE else "",
        reason=f"{decided.label} decides: {value} ± {U}, {percent(decided.conformance_probability)}.",
        deciding=decided.label, limit=rule.limit, tolerance_limit=tolerance_limit,
        acceptance_limit=decided.acceptance_limit, rejection_limit=decided.rejection_limit, results=tuple(results),
        not_measured=missing, decided=decided, suspicions=(), corrections=method.corrections(
            inputs.engine, inputs.settings, inputs.conditions, decided.mean_indication),
        temperature_effect_per_kelvin=per_kelvin[decided.cylinder],
    )


def _result(inputs: AssessmentInputs, tolerance_limit: float, cylinder: int, indications: tuple[str, ...],
            mean_indication: float, value: float, clearance_volume_cm3: float, budget: Budget) -> CylinderResult:
    rule = inputs.rule
    decision = decide(RULE_KINDS[rule.kind], rule.decision_rule, rule.confidence, tolerance_limit, value,
                      budget.standard_uncertainty, budget.degrees_of_freedom_used)
    k = budget.coverage_factor(inputs.coverage_probability)
    return CylinderResult(
        cylinder=cylinder, indications=indications, mean_indication=mean_indication, value=value,
        standard_uncertainty=budget.standard_uncertainty,
        effective_degrees_of_freedom=budget.effective_degrees_of_freedom,
        degrees_of_freedom_used=budget.degrees_of_freedom_used, coverage_factor=k,
        coverage_probability=inputs.coverage_probability, expanded_uncertainty=k * budget.standard_uncertainty,
        conformance_probability=decision.conformance_probability, verdict=decision.verdict,
        acceptance_limit=decision.acceptance_limit, rejection_limit=decision.rejection_limit,
        clearance_volume_cm3=clearance_volume_cm3, budget=budget,
    )


def inputs_to_data(inputs: AssessmentInputs) -> dict[str, Data]:
    """Plain JSON types, every number as decimal text; `inputs_from_data` reads it back exactly."""
    return dict(to_data(inputs))


def inputs_from_data(data: Data) -> AssessmentInputs:
    """The frozen inputs again. Strict: raises MeasurementError on a missing, unknown or misshapen entry."""
    inputs: AssessmentInputs = from_data(AssessmentInputs, data, "inputs")
    return inputs


def assessment_to_data(assessment: Assessment) -> dict[str, Data]:
    """Plain JSON types, every number as decimal text; components carry their contribution too."""
    return dict(to_data(assessment))
