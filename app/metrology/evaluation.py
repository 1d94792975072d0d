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
from app.metrology.rejection import rejection_factor, shared_out
from app.metrology.rules import DESIGNATED_CYLINDER, MEAN_OF_CYLINDERS
from app.metrology.screening import NOTHING, Screened, screen
from app.metrology.uncertainty import Combined, combine, mean_of
from app.metrology.verdict import EngineVerdict, Judged, judge_engine

USUAL_FACTOR = 1.7  # where the search for a quantile starts, in standard uncertainties


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
    rejection = _rejection_factors(rule, [parts for _, parts in to_judge])
    factors = _Factors(inputs)
    judged = {
        one.cylinder: _judge(rule, one, parts, factors, k) for (one, parts), k in zip(to_judge, rejection, strict=True)
    }
    results = tuple(
        [
            judged.get(one.cylinder) or _unjudged(rule, one, parts, factors)
            for one, parts in zip(measurement.results, combined, strict=True)
        ]
    )
    outcome = judge_engine(
        rule, [one.judged for one in judged.values() if one.judged is not None], missing, screened.doubts
    )
    return Evaluation(
        measurement,
        results,
        judged[outcome.decided.cylinder],
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


def _rejection_factors(rule: Rule, judged: Sequence[Combined]) -> list[float]:
    """Of each judged result, in its standard uncertainties; 0 where the rule does not guard against rejection.

    One factor for the engine: that of the result with the greatest own share, never too small for any other. Where one
    cylinder repeats so badly that its errors are known from other degrees of freedom than those of its siblings, it may
    not shield them: then none takes more than its own part of the risk, shared out evenly (Bonferroni).
    """
    count = len(judged)
    if rule.decision_rule not in GUARDED_REJECTION:
        return [0.0] * count
    widest = max(judged, key=_own_share)
    of_engine = rejection_factor(widest.parts, widest.spread, count, rule.confidence)
    if len({one.parts.own_dof for one in judged}) == 1:
        return [of_engine] * count
    return [min(of_engine, shared_out(one.spread, count, rule.confidence)) for one in judged]


def _own_share(one: Combined) -> float:
    return one.parts.own_share


class _Factors:
    """Coverage and acceptance factors; those of one engine are nearly alike, so the last one is a good guess."""

    def __init__(self, inputs: AssessmentInputs) -> None:
        self._covered = 0.5 + 0.5 * inputs.coverage_probability
        self._confidence = inputs.rule.confidence if inputs.rule.decision_rule in GUARDED_ACCEPTANCE else None
        self._coverage = self._acceptance = USUAL_FACTOR

    def coverage(self, one: Combined) -> float:
        u = one.standard_uncertainty
        self._coverage = one.spread.quantile(self._covered, self._coverage * u) / u
        return self._coverage

    def acceptance_guard(self, one: Combined) -> float:
        """Distance from the tolerance limit, in the result's unit; 0 where the rule guards against nothing here."""
        if self._confidence is None:
            return 0.0
        guard = one.spread.quantile(self._confidence, self._acceptance * one.standard_uncertainty)
        self._acceptance = guard / one.standard_uncertainty
        return guard


def _judge(rule: Rule, one: Measured, parts: Combined, factors: _Factors, rejection: float) -> Evaluated:
    u = parts.standard_uncertainty
    probability = conformance_probability(rule, one.value, parts.spread)
    decision = decide(rule, one.value, factors.acceptance_guard(parts), rejection * u)
    margin = decision.side.margin(one.value, decision.tolerance_limit) / u
    return Evaluated(
        one, parts, factors.coverage(parts), probability, Judged(one.cylinder, decision, probability, margin)
    )


def _unjudged(rule: Rule, one: Measured, parts: Combined, factors: _Factors) -> Evaluated:
    probability = conformance_probability(rule, one.value, parts.spread)
    return Evaluated(one, parts, factors.coverage(parts), probability, None)
