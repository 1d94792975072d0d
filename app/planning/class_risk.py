"""The risks over a whole class, and behind one measured value: JCGM 106:2012, clauses 7 and 9."""

from app.errors import Invalid
from app.metrology.errors import MeasurementError
from app.metrology.inputs import Rule
from app.metrology.risk.global_risk import measured_engine, specific_risk
from app.metrology.risk.planning import one_error
from app.metrology.risk.processes import Distribution, History, Normal
from app.metrology.rules import SIDES
from app.planning import budget
from app.planning.case import Case
from app.planning.schemas import BehindView, ClassRiskView, PlanIn, SpreadSource

USUAL_INSIDE, USUAL_SPREAD = 0.10, 0.15  # ratio; a guess, no source: builders aim just inside the printed limit


def spread_of(rule: Rule, history: History, data: PlanIn) -> tuple[SpreadSource, Normal, str]:
    """How the engines are taken to spread, and the sentence that says whence. Raises Invalid where it cannot be had."""
    asked = data.spread or (
        "declared" if data.mean or data.standard_deviation or not history.distribution else "history"
    )
    if asked == "history":
        if history.distribution is None:
            raise Invalid({"spread": history.sentence})
        return "history", history.distribution, history.sentence
    side = SIDES[rule.kind]
    mean = float(data.mean) if data.mean is not None else round(rule.limit - side.sign * USUAL_INSIDE, 4)
    deviation = float(data.standard_deviation) if data.standard_deviation is not None else USUAL_SPREAD
    declared = data.mean is not None or data.standard_deviation is not None
    words = "declared" if declared else "a guess: builders aim just inside the limit"
    return (
        "declared",
        Normal(mean, deviation),
        f"The engines of the class are taken to spread about {mean:.2f} with a standard deviation of {deviation:.2f} "
        f"(normal distribution; {words}).",
    )


def class_risk(case: Case, drawn_from: SpreadSource, process: Normal, sentence: str) -> ClassRiskView:
    """What is found of engines against what they truly are."""
    risk = measured_engine(process, budget.tolerance_of(case.rule), case.limits, case.errors, case.judged)
    inside = 1.0 - risk.nonconforming
    right_accepted, right_rejected = risk.accepted - risk.consumers_risk, risk.rejected - risk.producers_risk
    return ClassRiskView(
        sentence=sentence,
        drawn_from=drawn_from,
        mean=process.mean,
        standard_deviation=process.standard_deviation,
        inside_conforming=right_accepted,
        inside_inconclusive=max(0.0, inside - right_accepted - risk.producers_risk),
        inside_nonconforming=risk.producers_risk,
        past_conforming=risk.consumers_risk,
        past_inconclusive=max(0.0, risk.nonconforming - risk.consumers_risk - right_rejected),
        past_nonconforming=right_rejected,
        past_among_conforming=risk.nonconforming_among_accepted,
        inside_among_nonconforming=risk.conforming_among_rejected,
        error_bound=risk.error_bound,
    )


def behind_values(case: Case, process: Distribution) -> list[BehindView]:
    """Where a verdict turns, the probability that the true value lies past the tolerance limit all the same."""
    found: dict[float, str] = {}
    for label, measured in (
        ("acceptance limit", case.acceptance_limit),
        ("tolerance limit", case.tolerance_limit),
        ("rejection limit", case.rejection_limit),
    ):
        if measured is not None:
            found[measured] = f"{found[measured]} and {label}" if measured in found else label
    return [_behind(case, process, label, measured) for measured, label in found.items()]


def _behind(case: Case, process: Distribution, label: str, measured: float) -> BehindView:
    error = one_error(case.parts, case.averaged_over)
    tolerance = budget.tolerance_of(case.rule)
    alone = specific_risk(measured, error, tolerance).nonconforming
    try:
        in_class: float | None = specific_risk(measured, error, tolerance, process).nonconforming
    except MeasurementError:
        in_class = None
    return BehindView(label=label, measured=measured, past=alone, past_in_class=in_class)
