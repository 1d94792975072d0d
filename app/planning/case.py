"""One way of measuring engines of so many cylinders under one rule, in the core's terms."""

from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.conformity import GUARDED_REJECTION
from app.metrology.inputs import Engine, Rule
from app.metrology.risk.intervals import DecisionLimits, Interval
from app.metrology.risk.operating_characteristic import Characteristic, Errors, alike
from app.metrology.risk.planning import LimitsFor, WhatIf, errors_of, what_ifs
from app.metrology.risk.planning import standard_uncertainty as together
from app.metrology.rules import RuleKind, tolerance_limits
from app.planning import budget
from app.planning.budget import Parts
from app.planning.schemas import PlanIn
from app.planning.service import Chosen


@dataclass(frozen=True, slots=True)
class Case:
    """What is planned; ratios and their errors without unit."""

    rule: Rule
    side: RuleKind
    tolerance_limit: float
    parts: Parts
    cylinders: int
    probability: float
    limits_for: LimitsFor

    @property
    def averaged_over(self) -> int:
        return self.cylinders if budget.is_averaged(self.rule) else 1

    @property
    def judged(self) -> int:
        return budget.judged_count(self.rule, self.cylinders)

    @property
    def errors(self) -> Errors:
        return errors_of(self.parts, self.averaged_over)

    @property
    def standard_uncertainty(self) -> float:
        """Of one judged value."""
        return together(self.parts, self.averaged_over)

    @property
    def limits(self) -> DecisionLimits:
        return self.limits_for(self.parts, self.cylinders)

    @property
    def acceptance_limit(self) -> float | None:
        """As the core draws it: none where the rule only names from where on an engine is rejected."""
        return None if self.rule.decision_rule == "guarded_rejection" else self._end(self.limits.acceptance)

    @property
    def rejection_limit(self) -> float | None:
        """As the core draws it: none where whatever is not accepted is rejected."""
        return self._end(self.limits.rejection) if self.rule.decision_rule in GUARDED_REJECTION else None

    def _end(self, interval: Interval) -> float:
        return interval.upper if self.side.sign > 0 else interval.lower

    @property
    def characteristic(self) -> Characteristic:
        return alike(self.judged, self.errors, self.limits)

    def policed(self, changes: Sequence[tuple[str, Parts]], counts: Sequence[int]) -> tuple[WhatIf, ...]:
        """What each of these ways of measuring would police, at each number of cylinders."""
        return what_ifs(
            changes,
            self.tolerance_limit,
            self.side.sign,
            self.limits_for,
            self.probability,
            counts,
            averaged=budget.is_averaged(self.rule),
        )


def case_of(rule: Rule, engine: Engine, chosen: Chosen, data: PlanIn) -> Case:
    """The rule limits one side; at its tolerance limit the errors are worked out."""
    ((side, limit),) = tolerance_limits(rule)
    parts, degrees = budget.planned_parts(
        engine,
        chosen.instrument,
        data.temperature_source,
        data.repeats,
        chosen.known.repeatability,
        limit,
        chosen.known.reproducibility,
    )
    return Case(rule, side, limit, parts, engine.cylinders, float(data.probability), budget.limits_by(rule, degrees))
