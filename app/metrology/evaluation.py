"""From inputs to the verdict in numbers: what is worked out for every sheet, each time it is looked at.

The words about it are made in `assessment`, once somebody is to read them.
"""

from collections.abc import Sequence
from typing import NamedTuple

from app.metrology.checking import check_inputs
from app.metrology.conformity import (
    GUARDED_ACCEPTANCE,
    GUARDED_REJECTION,
    conformance_probability,
    decide,
)
from app.metrology.errors import MeasurementError
from app.metrology.inputs import AssessmentInputs, Rule
from app.metrology.measurement import WHOLE_ENGINE, Measured, Measurement
from app.metrology.methods import METHODS
from app.metrology.rejection import rejection_factor
from app.metrology.rules import DESIGNATED_CYLINDER, MEAN_OF_CYLINDERS
from app.metrology.screening import NOTHING, Screened, screen
from app.metrology.uncertainty import Combined, combine, mean_of
from app.metrology.verdict import EngineVerdict, Judged, judge_engine


class Evaluated(NamedTuple):
    """One result with its uncertainty; `judged` is None where the rule does not judge it by itself."""

    measured: Measured
    combined: Combined
    coverage_factor: float
    conformance_probability: float
    judged: Judged | None


class Evaluation(NamedTuple):
    """The verdict on one engine in numbers."""

    measurement: Measurement
    results: tuple[Evaluated, ...]  # the measured cylinders in order, or the engine
    decided: Evaluated  # the one that decided; the mean is none of the results
    rejection_factor: float
    judged: int
    not_measured: tuple[int, ...]
    screened: Screened
    outcome: EngineVerdict


def evaluate(inputs: AssessmentInputs) -> Evaluation:
    """The verdict on one engine under one rule. Raises MeasurementError(field, sentence) on what cannot be."""
    check_inputs(inputs)
    rule, method = inputs.rule, METHODS[inputs.method]
    measurement = method.measure(inputs.engine, inputs.observations)
    combined = [combine(measurement.sources, one) for one in measurement.results]
    missing = _not_measured(inputs, measurement)
    screened = screen(measurement, inputs.observations) if method.chamber_closed else NOTHING
    if rule.applies_to == MEAN_OF_CYLINDERS:
        to_judge = [(mean := mean_of(measurement), combine(measurement.sources, mean))]
    elif rule.applies_to == DESIGNATED_CYLINDER:
        to_judge = [pair for pair in zip(measurement.results, combined, strict=True) if _is_designated(rule, pair[0])]
        if not to_judge:
            raise MeasurementError(
                "readings",
                f"The rule judges cylinder {rule.designated_cylinder}, which has no figure yet. Measure that one.",
            )
        missing = ()
    else:
        to_judge = list(zip(measurement.results, combined, strict=True))
    rejection = _rejection_factor(rule, [parts for _, parts in to_judge])
    judged = {one.cylinder: _judge(inputs, one, parts, rejection) for one, parts in to_judge}
    results = tuple(
        judged.get(one.cylinder) or _unjudged(inputs, one, parts)
        for one, parts in zip(measurement.results, combined, strict=True)
    )
    outcome = judge_engine(
        rule, [one.judged for one in judged.values() if one.judged is not None], missing, screened.doubts
    )
    return Evaluation(
        measurement,
        results,
        judged[outcome.decided.cylinder],
        rejection,
        len(judged),
        missing,
        screened,
        outcome,
    )


def _is_designated(rule: Rule, one: Measured) -> bool:
    return one.cylinder == rule.designated_cylinder


def _not_measured(inputs: AssessmentInputs, measurement: Measurement) -> tuple[int, ...]:
    measured = {one.cylinder for one in measurement.results}
    if WHOLE_ENGINE in measured:
        return ()
    return tuple([number for number in range(1, inputs.engine.cylinders + 1) if number not in measured])


def _rejection_factor(rule: Rule, judged: Sequence[Combined]) -> float:
    """Of the engine, in standard uncertainties of a result; 0 where the rule does not guard against rejection.

    It is that of the judged result with the greatest own share: never too small for any other.
    """
    if rule.decision_rule not in GUARDED_REJECTION:
        return 0.0
    widest = max(judged, key=_own_share)
    return rejection_factor(widest.parts, widest.spread, len(judged), rule.confidence)


def _own_share(one: Combined) -> float:
    return one.parts.own_share


def _quantile(one: Combined, probability: float) -> float:
    """In standard uncertainties of this result."""
    u = one.standard_uncertainty
    return one.spread.quantile(probability, start=1.6 * u) / u


def _judge(inputs: AssessmentInputs, one: Measured, parts: Combined, rejection: float) -> Evaluated:
    rule, u = inputs.rule, parts.standard_uncertainty
    probability = conformance_probability(rule, one.value, parts.spread)
    acceptance = _quantile(parts, rule.confidence) if rule.decision_rule in GUARDED_ACCEPTANCE else 0.0
    decision = decide(rule, one.value, acceptance * u, rejection * u)
    margin = decision.side.margin(one.value, decision.tolerance_limit) / u
    return Evaluated(
        one,
        parts,
        _quantile(parts, 0.5 + 0.5 * inputs.coverage_probability),
        probability,
        Judged(one.cylinder, decision, probability, margin),
    )


def _unjudged(inputs: AssessmentInputs, one: Measured, parts: Combined) -> Evaluated:
    return Evaluated(
        one,
        parts,
        _quantile(parts, 0.5 + 0.5 * inputs.coverage_probability),
        conformance_probability(inputs.rule, one.value, parts.spread),
        None,
    )
