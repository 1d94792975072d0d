"""Does the verdict follow from the record? The core works it out again from the frozen inputs."""

import math
from collections.abc import Mapping
from decimal import Decimal, InvalidOperation
from typing import TYPE_CHECKING, Any

from app.slips.findings import Finding
from app.slips.opinion import opinion_problem

if TYPE_CHECKING:
    from app.metrology.assessment import AssessmentInputs, Rule

QUESTION = "Does the verdict follow from the readings?"
# Another processor or library may differ in the last digits of a float; a slip's decision never hangs on those.
RELATIVE_TOLERANCE = 1e-9

_SHOWN_AS_INPUT = {
    "engine": ("bore_mm", "stroke_mm", "cylinders"),
    "settings": ("displacement_cm3", "cylinders", "gas_temperature_c"),
    "conditions": ("gas_temperature_c", "gas_temperature_standard_uncertainty_k", "temperature_source"),
    "instrument": ("method", "resolution", "stated_accuracy", "accuracy_meaning"),
    "rule": ("kind", "limit", "tolerance", "applies_to", "decision_rule", "confidence", "inconclusive_action"),
}
_CALIBRATION = ("certificate", "deviation", "expanded_uncertainty", "coverage_factor")


def recomputed_verdict(record: Mapping[str, Any]) -> Finding:
    """Compares the figures shown with the frozen inputs, and those inputs' verdict with the one on the slip."""
    from app.metrology import CORE_VERSION
    from app.metrology.assessment import assess, assessment_to_data, inputs_from_data
    from app.metrology.errors import MeasurementError

    stored, version = record["result"], str(record["result"]["core_version"])
    try:
        inputs = inputs_from_data(record["inputs"])
        differing = _differing_inputs(record, inputs)
        if differing:
            said = f"No: the verdict was worked out from another {differing} than the slip shows."
            return Finding(QUESTION, False, said)
        again = assessment_to_data(assess(inputs))
    except MeasurementError as problem:
        return Finding(QUESTION, False, f"No: from these readings no verdict can be worked out at all ({problem}).")
    if version != CORE_VERSION:
        if again["verdict"] != stored["verdict"]:
            words = (
                f"The slip was worked out by version {version} of the method; version {CORE_VERSION} decides otherwise."
            )
            return Finding(QUESTION, None, f"{words} Use a program with version {version} to repeat it.")
        words = f"Yes: version {CORE_VERSION} of the method comes to the same verdict as version {version} did then."
        return Finding(QUESTION, True, words)
    return _same_version(again, record)


def _same_version(again: Mapping[str, Any], record: Mapping[str, Any]) -> Finding:
    """Of a slip of today's method every figure has to come out again, and the simulation beside it has to fit."""
    if not _same(again, record["result"]):
        return Finding(
            QUESTION, False, "No: worked out again from the same readings, the figures come out differently."
        )
    if problem := opinion_problem(record):
        return Finding(QUESTION, False, f"No: the simulation beside the verdict {problem}.")
    return Finding(
        QUESTION, True, "Yes: worked out again from the readings, every figure and the verdict are the same."
    )


def _differing_inputs(record: Mapping[str, Any], inputs: "AssessmentInputs") -> str:
    """The inputs are those of the slip's own form, read by today's core; what the slip shows is held against them."""
    observed = inputs.observations
    used = {"engine": inputs.engine, "rule": inputs.rule}
    used |= {part: getattr(observed, part) for part in ("settings", "conditions", "instrument")}
    for part, names in _SHOWN_AS_INPUT.items():
        for name in names:
            if not _same(_plain(getattr(used[part], name)), record[part][name]):
                return f"{part} ({name.replace('_', ' ')})"
    if differing := _differing_rule(record["rule"], inputs.rule):
        return differing
    calibration, kept = record["instrument"]["calibration"], observed.instrument.calibration
    shown = None if calibration is None else {name: calibration[name] for name in _CALIBRATION}
    if not _same(None if kept is None else {name: _plain(getattr(kept, name)) for name in _CALIBRATION}, shown):
        return "calibration"
    readings = [
        (reading["cylinder"], list(reading["indications"]), reading["not_measured_reason"])
        for reading in record["readings"]
    ]
    read = [(str(one.cylinder), list(one.indications), one.not_measured_reason) for one in observed.readings]
    return "" if _same(read, readings) else "set of readings"


def _differing_rule(shown: Mapping[str, Any], used: "Rule") -> str:
    """What later rules say besides; a slip of the time before says nothing of it and had nothing of it."""
    for name in ("lower_limit", "designated_cylinder"):
        value = getattr(used, name)
        if not _same("" if value is None else repr(value), shown.get(name, "")):
            return f"rule ({name.replace('_', ' ')})"
    if used.tolerance_covers_uncertainty is not shown.get("tolerance_covers_uncertainty", False):
        return "rule (tolerance covers uncertainty)"
    return ""


def _plain(value: object) -> object:
    return repr(value) if isinstance(value, int | float) else value


def _same(one: object, other: object) -> bool:
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_same(one[name], other[name]) for name in one)
    if isinstance(one, list | tuple) and isinstance(other, list | tuple):
        return len(one) == len(other) and all(_same(left, right) for left, right in zip(one, other, strict=True))
    if one is None or other is None or isinstance(one, bool) or isinstance(other, bool):
        return one is other
    left, right = str(one), str(other)
    if left == right:
        return True
    try:
        left_number, right_number = float(Decimal(left)), float(Decimal(right))
    except InvalidOperation:
        return False
    return math.isclose(left_number, right_number, rel_tol=RELATIVE_TOLERANCE, abs_tol=1e-12)
