"""The one door of the core: from what was measured to a verdict with everything it followed from."""

from collections.abc import Sequence

from app.metrology import CORE_VERSION
from app.metrology.checking import check_inputs
from app.metrology.errors import MeasurementError
from app.metrology.evaluation import mean_of, measure_cylinder, read_repeats, result_of
from app.metrology.frozen import Data, from_data, to_data
from app.metrology.inputs import (
    AssessmentInputs,
    Calibration,
    Conditions,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
)
from app.metrology.methods import METHODS
from app.metrology.reasons import explain
from app.metrology.results import Assessment, CylinderResult, Suspicion
from app.metrology.rules import RULE_KINDS
from app.metrology.screening import Repeats, screen, suspected_leaks
from app.metrology.verdict import judge_engine

__all__ = [
    "Assessment",
    "AssessmentInputs",
    "Calibration",
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


INPUTS_FORM = "1"  # of the frozen inputs; rises when an entry is added, and older forms stay readable


def assess(inputs: AssessmentInputs) -> Assessment:
    """The verdict on one engine under one rule. Raises MeasurementError(field, sentence) on what cannot be."""
    check_inputs(inputs)
    rule = inputs.rule
    repeats = read_repeats(inputs)
    if not repeats:
        raise MeasurementError("readings", "No cylinder has an indication yet. Enter those of at least one.")
    found = [measure_cylinder(inputs, one) for one in repeats]
    of_mean = rule.applies_to == "mean_of_cylinders"
    results = tuple(result_of(inputs, one, judged=not of_mean) for one in found)
    suspicions = screen(results, repeats, inputs.instrument, inputs.repeatability)
    missing = _not_measured(inputs.engine, repeats)
    outcome = judge_engine(
        rule,
        judged=(result_of(inputs, mean_of(found), judged=True),) if of_mean else results,
        missing=missing,
        leaking=suspected_leaks(suspicions),
    )
    decided = outcome.decided
    correct = METHODS[inputs.instrument.method].corrections
    return Assessment(
        core_version=CORE_VERSION,
        verdict=outcome.verdict,
        action=outcome.action,
        reason=explain(rule, outcome, inputs.readings),
        deciding=decided.label,
        limit=rule.limit,
        tolerance_limit=RULE_KINDS[rule.kind].tolerance_limit(rule.limit, rule.tolerance),
        acceptance_limit=decided.acceptance_limit,
        rejection_limit=decided.rejection_limit,
        results=results,
        not_measured=missing,
        decided=decided,
        suspicions=suspicions,
        corrections=correct(inputs.engine, inputs.settings, inputs.conditions, decided.mean_indication),
        temperature_effect_per_kelvin=decided.temperature_effect_per_kelvin,
    )


def _not_measured(engine: Engine, repeats: Sequence[Repeats]) -> tuple[int, ...]:
    measured = {one.cylinder for one in repeats}
    return tuple(number for number in range(1, engine.cylinders + 1) if number not in measured)


def inputs_to_data(inputs: AssessmentInputs) -> dict[str, Data]:
    """Plain JSON types, every number as decimal text; `inputs_from_data` reads it back exactly."""
    return {"form": INPUTS_FORM, **to_data(inputs)}


def inputs_from_data(data: Data) -> AssessmentInputs:
    """The frozen inputs again. Strict: raises MeasurementError on a missing, unknown or misshapen entry."""
    if not isinstance(data, dict) or data.get("form") != INPUTS_FORM:
        raise MeasurementError("inputs.form", f"These inputs are not of form {INPUTS_FORM}, the one that is read here.")
    inputs: AssessmentInputs = from_data(
        AssessmentInputs, {name: entry for name, entry in data.items() if name != "form"}, "inputs"
    )
    return inputs


def assessment_to_data(assessment: Assessment) -> dict[str, Data]:
    """Plain JSON types, numbers as decimal text ("inf" for infinite); each component with its contribution too."""
    data: dict[str, Data] = to_data(assessment)
    shown = (assessment.decided, *assessment.results)
    for result, plain in zip(shown, (data["decided"], *data["results"]), strict=True):
        for component, entry in zip(result.budget.components, plain["budget"]["components"], strict=True):
            entry["contribution"] = repr(component.contribution)
    return data
