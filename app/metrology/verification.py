"""Judging an instrument's verification on a reference volume: do its indications meet the mark, at its airflow?

Two questions, and two answers that are both shown. Accepted is what lies within the permitted deviation of the mark:
that is the rule of use, fixed beforehand, and it alone decides. E_n asks whether mark and instrument agree within what
both claim of themselves; it decides nothing, but tells where a permission is wider or narrower than those claims.
"""

import math
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction

from app.metrology.agreement import COVERAGE_FACTOR, Agreement, StatedResult, compare, shown
from app.metrology.distributions import standard_uncertainty_rectangular, standard_uncertainty_resolution
from app.metrology.errors import MeasurementError
from app.metrology.indications import parse_indication
from app.metrology.inputs import Instrument
from app.metrology.methods.accuracy import accuracy_of
from app.metrology.repeatability import scatter
from app.metrology.units import ZERO_CELSIUS_K


@dataclass(frozen=True, slots=True)
class VerificationJudgement:
    """What a verification showed, in units of ratio. A single indication has no standard deviation."""

    mean: float
    standard_deviation: float | None
    deviation: float  # from the nearest edge of the mark: negative below it, 0 inside, positive above
    accepted: bool
    reason: str


@dataclass(frozen=True, slots=True)
class Mark:
    """What is written on a reference volume, in units of ratio; `low` and `high` are one where it is one number.

    `step` is the last digit written. The expanded uncertainty has k = 2; None where nobody stated one.
    """

    low: float
    high: float
    step: float
    expanded_uncertainty: float | None = None

    @property
    def middle(self) -> float:
        return (self.low + self.high) / 2.0


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

    The tolerance of the airflow is how closely its flowmeter can be read; nobody may use it to steer the indication.
    Worked in exact decimals: 10.60 is within 0.10 of 10.50. Indications as typed; raises MeasurementError.
    """
    _check(indications, mark_low, mark_high, permitted_deviation)
    _check_airflow(airflow_l_min, airflow_set_point_l_min, airflow_tolerance_l_min)
    values = _read(indications)
    mean = _mean(values)
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


def agreement_with_mark(indications: tuple[str, ...], instrument: Instrument, mark: Mark) -> Agreement:
    """E_n of the mean of at least two indications against the middle of the mark, as `agreement` has it.

    ISO 13528:2022, 9.7, and ISO/IEC 17043, Annex B (from memory): E_n = (x̄ − m)/√(U_x² + U_m²), both with k = 2.
    U_x is that of the mean: the instrument's stated accuracy as the core reads it, half a step of the indication, and
    the scatter over √n of these very indications. U_m is the one stated for the mark. Where none is, an interval
    counts as limits, U_m = 2a/√3 of its half width a; a single number counts to half its last digit, which is the
    least it can be, so that E_n rather shows a difference than hides it. Raises MeasurementError.
    """
    _check(indications, mark.low, mark.high, 0.0)
    if len(indications) < 2:
        raise MeasurementError(
            "indications", "One indication shows no scatter. Seat the reference volume again and read it once more."
        )
    mean = StatedResult(
        float(_mean(_read(indications))),
        COVERAGE_FACTOR * standard_uncertainty_of_mean(indications, instrument),
        COVERAGE_FACTOR,
    )
    marked = StatedResult(mark.middle, expanded_uncertainty_of_mark(mark), COVERAGE_FACTOR)
    return compare(mean, marked)


def standard_uncertainty_of_mean(indications: tuple[str, ...], instrument: Instrument) -> float:
    """Of the mean of at least two indications on a reference volume, in units of ratio. JCGM 100:2008, 4.2.3, 5.1.2."""
    read = [parse_indication(text, f"indications.{place}") for place, text in enumerate(indications)]
    resolution = max(instrument.resolution, *(one.resolution for one in read))
    return math.hypot(
        accuracy_of(instrument)[1],
        standard_uncertainty_resolution(resolution),
        scatter([one.value for one in read]) / math.sqrt(len(read)),
    )


def expanded_uncertainty_of_mark(mark: Mark) -> float:
    """U with k = 2 in units of ratio: stated, or from the mark's own half width, JCGM 100:2008, 4.3.7."""
    if mark.expanded_uncertainty is not None:
        return mark.expanded_uncertainty
    half_width = (mark.high - mark.low) / 2.0 if mark.high > mark.low else mark.step / 2.0
    return COVERAGE_FACTOR * standard_uncertainty_rectangular(half_width)


def agreement_sentence(e_n: float, accepted: bool) -> str:
    """What E_n says beside the judgement; where the two differ, what that means."""
    agree = abs(e_n) <= 1.0
    said = f"E_n = {shown(e_n)}: mark and instrument {'agree' if agree else 'do not agree'} within what both claim."
    if agree == accepted:
        return said
    if accepted:
        return (
            f"{said} The permitted deviation decides, and it is kept: it allows more than mark and instrument claim of "
            "themselves. An official should look whether the mark has moved or the stated accuracy is too good."
        )
    return (
        f"{said} The permitted deviation decides, and it is not kept: it allows less than mark and instrument claim of "
        "themselves, so the miss alone does not show that either of them is wrong."
    )


def warmth_per_kelvin(mark: float, temperature_c: float) -> float:
    """How much too high the ratio of a reference volume reads for each kelvin that its gas is warmer than dialled.

    The tone fixes c²/V and c² ∝ T, so the gas seems 1/T smaller in volume a kelvin, 0.34 % at 20 °C, and r − 1, which
    is one volume over that one, greater by as much. `mark` in units of ratio, result in units of ratio per kelvin.
    """
    return (mark - 1.0) / (temperature_c + ZERO_CELSIUS_K)


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
        "The instrument may not be used until it has been calibrated."
    )


def _read(indications: tuple[str, ...]) -> list[float]:
    return [parse_indication(text, f"indications.{place}").value for place, text in enumerate(indications)]


def _mean(values: list[float]) -> Fraction:
    return sum((_exact(value) for value in values), Fraction(0)) / len(values)


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
