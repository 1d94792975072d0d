"""The one door of the core: from what was measured to a verdict with everything it followed from."""

from collections.abc import Sequence

from app.metrology import CORE_VERSION
from app.metrology.conformity import GUARDED_ACCEPTANCE
from app.metrology.errors import MeasurementError
from app.metrology.evaluation import Evaluated, Evaluation, evaluate
from app.metrology.geometry import clearance_volume_cm3, swept_volume_cm3
from app.metrology.inputs import (
    AcousticObservations,
    AssessmentInputs,
    Calibration,
    Conditions,
    CylinderCheck,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
)
from app.metrology.joint import Figure, joint_conformance_probability
from app.metrology.measurement import COMPRESSION_RATIO, QUANTITIES, WHOLE_ENGINE
from app.metrology.methods import METHODS
from app.metrology.reasons import explain
from app.metrology.results import Assessment, CylinderResult, Suspicion
from app.metrology.rules import MEAN_OF_CYLINDERS, written_limit
from app.metrology.stored import assessment_to_data, inputs_from_data, inputs_to_data
from app.metrology.uncertainty import budget_of

__all__ = [
    "AcousticObservations",
    "Assessment",
    "AssessmentInputs",
    "Calibration",
    "Conditions",
    "CylinderCheck",
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
    """The verdict on one engine under one rule, in figures and words. Raises MeasurementError(field, sentence)."""
    found = evaluate(inputs)
    rule, method = inputs.rule, METHODS[inputs.method]
    results = tuple(_result(inputs, found, one) for one in found.results)
    decided = next(
        (one for one in results if one.cylinder == found.decided.measured.cylinder),
        None,
    ) or _result(inputs, found, found.decided)
    _, unit = QUANTITIES[method.quantity]
    outcome = found.outcome
    decision = outcome.decided.decision
    return Assessment(
        core_version=CORE_VERSION,
        method=inputs.method,
        quantity=method.quantity,
        unit=unit,
        verdict=outcome.verdict,
        action=outcome.action,
        reason=explain(inputs, found, decided),
        deciding=decided.label,
        side=decision.side.key,
        limit=written_limit(rule, decision.side),
        tolerance_limit=decision.tolerance_limit,
        acceptance_limit=decision.acceptance_limit,
        rejection_limit=decision.rejection_limit,
        acceptance_factor=_acceptance_factor(inputs, found.decided),
        rejection_factor=_rejection_factor(decided, decision.tolerance_limit),
        judged=found.judged,
        engine_conformance_probability=_probability_of_engine(rule, found),
        results=results,
        not_measured=found.not_measured,
        decided=decided,
        suspicions=found.screened.suspicions,
        corrections=method.corrections(inputs.engine, inputs.observations, found.decided.measured),
        temperature_effect_per_kelvin=decided.temperature_effect_per_kelvin,
    )


def _acceptance_factor(inputs: AssessmentInputs, one: Evaluated) -> float:
    """Of one result, in its standard uncertainties; 0 where the rule does not guard against accepting."""
    if inputs.rule.decision_rule not in GUARDED_ACCEPTANCE:
        return 0.0
    return one.combined.spread.quantile(inputs.rule.confidence) / one.combined.standard_uncertainty


def _rejection_factor(decided: CylinderResult, tolerance_limit: float) -> float:
    """Of the deciding result, in its standard uncertainties; 0 where the rule does not guard against rejecting."""
    if decided.rejection_limit is None:
        return 0.0
    return abs(decided.rejection_limit - tolerance_limit) / decided.standard_uncertainty


def _probability_of_engine(rule: Rule, found: Evaluation) -> float:
    judged = [one for one in (*found.results, found.decided) if one.judged is not None]
    if found.judged == 1:
        return found.decided.conformance_probability
    return joint_conformance_probability(
        rule, [Figure(one.measured.value, one.combined.parts) for one in judged[: found.judged]]
    )


def _result(inputs: AssessmentInputs, found: Evaluation, one: Evaluated) -> CylinderResult:
    measured, combined, decision = one.measured, one.combined, one.judged.decision if one.judged else None
    method = METHODS[inputs.method]
    words = method.source_words(inputs.engine, inputs.observations, measured)
    is_ratio = method.quantity == COMPRESSION_RATIO
    swept_cm3 = swept_volume_cm3(inputs.engine.bore_mm, inputs.engine.stroke_mm)
    return CylinderResult(
        cylinder=measured.cylinder,
        label=label_of(inputs, measured.cylinder),
        indications=_indications(inputs, measured.cylinder),
        mean_indication=measured.mean_indication,
        value=measured.value,
        standard_uncertainty=combined.standard_uncertainty,
        effective_degrees_of_freedom=combined.effective_dof,
        degrees_of_freedom_used=combined.spread.dof,
        coverage_factor=one.coverage_factor,
        coverage_probability=inputs.coverage_probability,
        expanded_uncertainty=one.coverage_factor * combined.standard_uncertainty,
        conformance_probability=one.conformance_probability,
        verdict=decision.verdict if decision else "",
        side=decision.side.key if decision else "",
        acceptance_limit=decision.acceptance_limit if decision else None,
        rejection_limit=decision.rejection_limit if decision else None,
        clearance_volume_cm3=clearance_volume_cm3(swept_cm3, measured.value) if is_ratio else None,
        temperature_effect_per_kelvin=_per_kelvin(found, measured.sensitivity),
        budget=budget_of(found.measurement.sources, measured, combined, words),
    )


def label_of(inputs: AssessmentInputs, cylinder: int) -> str:
    """The result in words, to begin a sentence."""
    if cylinder != WHOLE_ENGINE:
        return f"Cylinder {cylinder}"
    return "The mean of the cylinders" if inputs.rule.applies_to == MEAN_OF_CYLINDERS else "The engine"


def _indications(inputs: AssessmentInputs, cylinder: int) -> tuple[str, ...]:
    if not isinstance(inputs.observations, AcousticObservations):
        return ()
    return next((one.indications for one in inputs.observations.readings if one.cylinder == cylinder), ())


def _per_kelvin(found: Evaluation, sensitivity: Sequence[float]) -> float | None:
    names = [source.name for source in found.measurement.sources]
    return sensitivity[names.index("gas_temperature")] if "gas_temperature" in names else None
