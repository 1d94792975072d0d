"""Judging an instrument's verification on a reference volume: do its indications meet the mark, at its airflow?"""

import math
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from app.metrology.errors import MeasurementError
from app.metrology.indications import parse_indication
from app.metrology.repeatability import scatter


@dataclass(frozen=True, slots=True)
class VerificationJudgement:
    """What a verification showed, in units of ratio. A single indication has no standard deviation."""

    mean: float
    standard_deviation: float | None
    deviation: float  # from the nearest edge of the mark: negative below it, 0 inside, positive above
    accepted: bool
    reason: str


def judge_verification(
    indications: tuple[str, ...],
    mark_low: float,
    mark_high: float,
    permitted_deviation: float,
    airflow_l_min: float,
    airflow_set_point_l_min: float,
    airflow_tolerance_l_min: float,
) -> VerificationJudgement:
    """Accepted when the mean lies within the permitted deviation of the mark, with the airflow on its set-point.

    Worked in exact decimals: 10.60 is within 0.10 of 10.50. Indications as typed; raises MeasurementError.
    """
    _check(indications, mark_low, mark_high, permitted_deviation)
    _check_airflow(airflow_l_min, airflow_set_point_l_min, airflow_tolerance_l_min)
    values = [parse_indication(text, f"indications.{place}").value for place, text in enumerate(indications)]
    mean = sum((_exact(value) for value in values), Fraction(0)) / len(values)
    deviation = max(mean - _exact(mark_high), Fraction(0)) - max(_exact(mark_low) - mean, Fraction(0))
    within = abs(deviation) <= _exact(permitted_deviation)
    flow_off = abs(_exact(airflow_l_min) - _exact(airflow_set_point_l_min)) > _exact(airflow_tolerance_l_min)
    return VerificationJudgement(
        mean=float(mean),
        standard_deviation=scatter(values) if len(values) > 1 else None,
        deviation=float(deviation),
        accepted=within and not flow_off,
        reason=(
            f"The airflow is {round(airflow_l_min, 2):g} L/min, off its set-point "
            f"{round(airflow_set_point_l_min, 2):g} L/min by more than {round(airflow_tolerance_l_min, 2):g} L/min, so "
            "nothing is judged. Set it and repeat; the airflow may never be trimmed to make the check read right."
            if flow_off
            else _on_the_mark(
                float(mean), len(values), float(deviation), within, mark_low, mark_high, permitted_deviation
            )
        ),
    )


def _on_the_mark(
    mean: float, count: int, deviation: float, within: bool, mark_low: float, mark_high: float, permitted: float
) -> str:
    mark = f"the mark {mark_low:.2f} to {mark_high:.2f}" if mark_high > mark_low else f"the mark {mark_low:.2f}"
    whose = f"The mean of {count} indications, {mean:.3f}," if count > 1 else f"The indication {mean:.2f}"
    if deviation == 0.0:
        return f"{whose} lies on {mark}."
    side = "above" if deviation > 0.0 else "below"
    if within:
        return f"{whose} lies {abs(deviation):.3f} {side} {mark}; {permitted:g} is permitted."
    return (
        f"{whose} lies {abs(deviation):.3f} {side} {mark}, more than the {permitted:g} permitted. "
        "The instrument may not be used until the cause is found and a verification is accepted."
    )


def _exact(value: float) -> Fraction:
    return Fraction(Decimal(repr(value)))


def _check(indications: tuple[str, ...], mark_low: float, mark_high: float, permitted_deviation: float) -> None:
    if not indications:
        raise MeasurementError(
            "indications", "Enter at least one indication of the instrument on the reference volume."
        )
    if not 1.0 < mark_low <= mark_high < 100.0:
        raise MeasurementError(
            "mark_low",
            "The mark of the reference volume runs from its lower to its upper ratio, both above 1 and below 100.",
        )
    if not 0.0 <= permitted_deviation <= 5.0:
        raise MeasurementError(
            "permitted_deviation", "The permitted deviation is a part of a ratio, 0 or more, as 0.10."
        )


def _check_airflow(airflow_l_min: float, set_point_l_min: float, tolerance_l_min: float) -> None:
    if not 0.0 <= airflow_l_min < math.inf:
        raise MeasurementError("airflow_l_min", "Enter the airflow that the flowmeter shows, 0 or more.")
    if not 0.0 < set_point_l_min < math.inf:
        raise MeasurementError("airflow_set_point_l_min", "The instrument's airflow set-point is more than nothing.")
    if not 0.0 <= tolerance_l_min < math.inf:
        raise MeasurementError("airflow_tolerance_l_min", "The tolerance of the airflow is 0 or more.")
