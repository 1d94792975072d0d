"""The verdict on the engine from the results of its cylinders, what was not measured, and what may leak."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.conformity import CONFORMING, INCONCLUSIVE, NONCONFORMING
from app.metrology.inputs import Rule
from app.metrology.results import CylinderResult
from app.metrology.rules import RULE_KINDS


@dataclass(frozen=True, slots=True)
class EngineVerdict:
    """The verdict, the result that decided it, and what stood in the way of a firmer one."""

    verdict: str
    action: str
    decided: CylinderResult
    missing: tuple[int, ...]  # cylinders whose absence left the verdict open
    leaking: tuple[int, ...]  # cylinders whose suspected leak left the verdict open


def judge_engine(
    rule: Rule, judged: Sequence[CylinderResult], missing: tuple[int, ...], leaking: tuple[int, ...]
) -> EngineVerdict:
    """One verdict from the results that the rule judges: every measured cylinder's, or the mean alone.

    A leak lowers the figure. Under a maximum a figure too high stands all the same, but nothing conforms while a leak
    is open; under a minimum a figure high enough stands, but one too low proves nothing.
    """
    kind = RULE_KINDS[rule.kind]
    tolerance_limit = kind.tolerance_limit(rule.limit, rule.tolerance)

    def nearest_to_failing(result: CylinderResult) -> tuple[float, float, int]:
        # a probability rounds to 1 far inside and to 0 far outside: there the distance in uncertainties tells apart
        margin = kind.margin(result.value, tolerance_limit) / result.standard_uncertainty
        return result.conformance_probability, margin, result.cylinder

    def may_be_a_leak(result: CylinderResult) -> bool:
        return result.cylinder in leaking or (result.is_mean and bool(leaking))

    a_leak_hides_the_fault = kind.sign > 0
    failing = [result for result in judged if result.verdict == NONCONFORMING]
    proven = [result for result in failing if a_leak_hides_the_fault or not may_be_a_leak(result)]
    if missing and rule.applies_to == "mean_of_cylinders":
        proven = []  # the mean of some cylinders is not the mean of the engine
    if proven:
        return EngineVerdict(NONCONFORMING, "", min(proven, key=nearest_to_failing), (), ())

    worst = min(judged, key=nearest_to_failing)
    open_leaks = leaking if a_leak_hides_the_fault or any(may_be_a_leak(result) for result in failing) else ()
    if worst.verdict == CONFORMING and not missing and not open_leaks:
        return EngineVerdict(CONFORMING, "", worst, (), ())
    action = rule.inconclusive_action
    if action == "benefit_of_doubt" and (missing or open_leaks):
        action = "measure_again"  # that benefit is for doubt about a value, not for a value that is not there
    return EngineVerdict(INCONCLUSIVE, action, worst, missing, open_leaks)
