"""What a budget takes from a gauge study, and the mean of each inspector for a picture of it."""

import math

from app.metrology.distributions import t_quantile
from app.metrology.studies.crossed import GaugeStudy
from app.metrology.studies.mean_squares import Interval, MeanSquare, Term, estimate, satterthwaite

FEWEST_DEGREES_OF_FREEDOM = 1.0  # Student's t with fewer has no use; the core refuses them


def repeatability_for_budget(study: GaugeStudy) -> tuple[float, float]:
    """(standard deviation of one indication, its degrees of freedom), in the unit of the readings."""
    return study.repeatability.standard_deviation, study.repeatability.degrees_of_freedom


def reproducibility_for_budget(study: GaugeStudy) -> tuple[float, float]:
    """(standard deviation between inspectors, its degrees of freedom), in the unit of the readings.

    The estimate takes the scatter off the spread of the inspectors' means. Where that leaves less than one degree of
    freedom, or nothing (always so with two inspectors), the scatter stays in: the sum is a little too great, which errs
    to the careful side, and it has the inspectors' own degrees of freedom, inspectors − 1, at the least.
    """
    found = study.reproducibility
    if found.standard_deviation > 0.0 and found.degrees_of_freedom >= FEWEST_DEGREES_OF_FREEDOM:
        return found.standard_deviation, found.degrees_of_freedom
    parts, repeats = len(study.cells.plan.parts), study.cells.plan.repeats
    terms = [Term(1.0 / (parts * repeats), study.table.inspector.mean_square)]
    if study.interaction is not None:
        # of the interaction the inspectors' means hold the p-th part only
        terms.append(Term((1.0 - 1.0 / parts) / repeats, study.table.interaction.mean_square))
    return math.sqrt(estimate(terms)), satterthwaite(terms)


def inspector_intervals(study: GaugeStudy) -> tuple[tuple[float, Interval], ...]:
    """(mean, its interval) of each inspector over all parts and repeats, in the order of the plan.

    The parts are the same for all, so what scatters is what the inspectors are tested against: the interaction, or the
    repeats with the interaction where it was pooled.
    """
    plan = study.cells.plan
    against: MeanSquare = (study.table.error if study.table.pooled else study.table.interaction).mean_square
    factor = t_quantile(1.0 - (1.0 - study.confidence) / 2.0, against.degrees_of_freedom)
    half = factor * math.sqrt(against.value / (len(plan.parts) * plan.repeats))
    return tuple((mean, Interval(mean - half, mean + half)) for mean in study.cells.inspector_means())
