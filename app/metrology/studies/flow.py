"""The flow study: what a litre per minute does to the indication, from one reference volume at several airflows.

A straight line by least squares through all indications, JCGM 100:2008, H.3, its origin at the set-point; then whether
a straight line does. Lack of fit against the pure scatter of the repeats, and the quadratic term, are F tests as in
Draper and Smith, Applied Regression Analysis, chapters 1 and 12 (from memory).
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from app.metrology.analysis_of_variance import Group, group_of
from app.metrology.distributions import (
    INFINITE,
    coverage_factor,
    standard_uncertainty_rectangular,
    standard_uncertainty_resolution,
)
from app.metrology.errors import MeasurementError
from app.metrology.line_fit import LineFit, fit_line
from app.metrology.studies.mean_squares import CONFIDENCE, MeanSquare, VarianceRatioTest, variance_ratio_test
from app.metrology.uncertainty import effective_degrees_of_freedom

# Three places fit a parabola always: the fourth is the first that can tell a line from a curve and a curve from none.
FEWEST_AIRFLOWS = 4
# The airflows reach over a tenth of the set-point at least; nearer together, the float's own reading decides the slope.
# Our own choice, no source.
LEAST_SPAN = 0.10
SIGNIFICANCE = 0.05
_NOISE = 1e-12  # of the widest indication from the first: what squares of less amount to is the arithmetic's

Shape = Literal["straight", "curved", "uneven"]


@dataclass(frozen=True, slots=True)
class FlowPoint:
    """What the instrument showed on the reference volume at one airflow, in units of ratio."""

    airflow_l_min: float
    indications: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Curvature:
    """The quadratic fit y = a + b·(x − set-point) + c·(x − set-point)²; ratio, L/min."""

    slope_at_set_point: float  # b
    slope_standard_uncertainty: float
    coefficient: float  # c
    coefficient_standard_uncertainty: float
    degrees_of_freedom: float
    test: VarianceRatioTest  # of c
    lack_of_fit: VarianceRatioTest | None  # what the parabola leaves over, against the repeats; None without any


@dataclass(frozen=True, slots=True)
class FlowStudy:
    """The sensitivity in ratio per L/min, its standard uncertainty, and how it was come by.

    straight: the line's slope and uncertainty. curved: the slope of the parabola at the set-point; what the choice
    between line and parabola moves it by is taken as limits (JCGM 100:2008, 4.3.7) and added to its uncertainty.
    uneven: the indications at one airflow stand together and off any line or parabola, as where the airflow was not
    set exactly or something else changed in between; the line's slope, its uncertainty from the scatter of the
    airflows' means about it. At the least the uncertainty is what the resolution leaves.
    """

    set_point_l_min: float
    lowest_l_min: float
    highest_l_min: float
    airflows: int
    indications: int
    sensitivity: float
    standard_uncertainty: float
    degrees_of_freedom: float
    shape: Shape
    line: LineFit
    lack_of_fit: VarianceRatioTest | None  # of the line, against the repeats; None where no airflow has any
    curvature: Curvature

    @property
    def for_budget(self) -> float:
        """√(c² + u²(c)), which times u(airflow) is the contribution that takes the uncertainty of c along.

        The airflow's expectation is the set-point, so the product c·(q − q₀) has exactly this variance; JCGM 100:2008,
        5.1.2, note, names the term of second order that does it.
        """
        return math.hypot(self.sensitivity, self.standard_uncertainty)

    @property
    def expanded_uncertainty(self) -> float:
        """Of the sensitivity, 95 %; JCGM 100:2008, 6.2.1 and G.3."""
        return coverage_factor(CONFIDENCE, self.degrees_of_freedom) * self.standard_uncertainty

    @property
    def shows_an_effect(self) -> bool:
        """Whether the sensitivity differs from 0 by more than its expanded uncertainty."""
        return abs(self.sensitivity) > self.expanded_uncertainty


def flow_study(points: Sequence[FlowPoint], set_point_l_min: float, resolution: float = 0.0) -> FlowStudy:
    """The study from indications at four or more airflows on both sides of the set-point.

    `resolution` in units of ratio is the step of the display. Raises MeasurementError(field, sentence).
    """
    levels = _levels(points, set_point_l_min, resolution)
    airflow = [flow for flow, values in levels.items() for _ in values]
    shown = [value for values in levels.values() for value in values]
    line = fit_line(airflow, shown, set_point_l_min)
    groups = {flow - set_point_l_min: group_of(values) for flow, values in levels.items()}
    of_resolution = standard_uncertainty_resolution(resolution)
    # Repeats that agree to the last digit still scatter within the step of the display, and all alike: their mean is no
    # better known than one of them, so the step counts as often as an airflow was read.
    floor = max(
        len(shown) / len(levels) * of_resolution**2, (_NOISE * max(abs(value - shown[0]) for value in shown)) ** 2
    )
    scatter = _pure_scatter(list(groups.values()), floor)
    about_line = _left_over(groups, [line.intercept, line.slope])
    lack_of_fit = None if scatter is None else variance_ratio_test(about_line, scatter)
    curvature = _curvature(line, airflow, shown, groups, floor)
    shape = _shape(lack_of_fit, curvature)
    sensitivity, uncertainty, degrees_of_freedom = _sensitivity(shape, line, about_line, curvature, airflow)
    least = of_resolution / math.sqrt(_spread(list(levels)))
    if uncertainty < least:
        uncertainty, degrees_of_freedom = least, INFINITE
    return FlowStudy(
        set_point_l_min=set_point_l_min,
        lowest_l_min=min(levels),
        highest_l_min=max(levels),
        airflows=len(levels),
        indications=len(shown),
        sensitivity=sensitivity,
        standard_uncertainty=uncertainty,
        degrees_of_freedom=degrees_of_freedom,
        shape=shape,
        line=line,
        lack_of_fit=lack_of_fit,
        curvature=curvature,
    )


def _levels(points: Sequence[FlowPoint], set_point_l_min: float, resolution: float) -> dict[float, list[float]]:
    """All indications by airflow, rising."""
    if not 0.0 < set_point_l_min < math.inf:
        raise MeasurementError("set_point_l_min", "The instrument's airflow set-point is more than nothing.")
    if not 0.0 <= resolution < math.inf:
        raise MeasurementError("resolution", "The resolution is the last step of the display, 0 or more.")
    levels: dict[float, list[float]] = {}
    for place, point in enumerate(points):
        if not 0.0 < point.airflow_l_min < math.inf:
            raise MeasurementError(
                f"points.{place}.airflow_l_min", "Enter the airflow that the flowmeter showed, more than 0."
            )
        if not point.indications or not all(math.isfinite(value) for value in point.indications):
            raise MeasurementError(
                f"points.{place}.indications",
                "Enter what the instrument showed at this airflow, one indication at least, or take the airflow out.",
            )
        levels.setdefault(point.airflow_l_min, []).extend(point.indications)
    _check_reach(sorted(levels), set_point_l_min)
    return dict(sorted(levels.items()))


def _check_reach(airflows: Sequence[float], set_point_l_min: float) -> None:
    if len(airflows) < FEWEST_AIRFLOWS:
        raise MeasurementError(
            "points",
            f"A flow study takes {FEWEST_AIRFLOWS} different airflows or more; here are {len(airflows)}. With fewer, "
            "nothing tells a line from a curve. Set further airflows and read the reference volume at each.",
        )
    lowest, highest = airflows[0], airflows[-1]
    if not lowest < set_point_l_min < highest:
        missing = "below" if lowest >= set_point_l_min else "above"
        raise MeasurementError(
            "points",
            f"No airflow lies {missing} the set-point {set_point_l_min:g} L/min. What counts is how the indication "
            f"changes across it: read the reference volume at airflows {missing} it too.",
        )
    least = LEAST_SPAN * set_point_l_min
    if highest - lowest < least * (1.0 - 1e-9):  # 1.1 − 1.0 is a little less than 0.1
        raise MeasurementError(
            "points",
            f"The airflows from {lowest:g} to {highest:g} L/min lie too close together to show a slope. Let them reach "
            f"over {least:g} L/min or more, a tenth of the set-point.",
        )


def _pure_scatter(groups: Sequence[Group], floor: float) -> MeanSquare | None:
    """Of the repeats about the mean at their airflow; None where none was repeated."""
    degrees_of_freedom = sum(group.count - 1 for group in groups)
    if not degrees_of_freedom:
        return None
    squares = math.fsum((group.count - 1) * group.standard_deviation**2 for group in groups)
    return MeanSquare(max(squares / degrees_of_freedom, floor), float(degrees_of_freedom))


def _left_over(groups: Mapping[float, Group], coefficients: Sequence[float]) -> MeanSquare:
    """Of the airflows' means about the polynomial in x from the set-point, each counted as often as it was read."""
    degrees_of_freedom = len(groups) - len(coefficients)
    squares = math.fsum(
        group.count * (group.mean - math.fsum(c * off**power for power, c in enumerate(coefficients))) ** 2
        for off, group in groups.items()
    )
    return MeanSquare(squares / degrees_of_freedom, float(degrees_of_freedom))


def _spread(places: Sequence[float]) -> float:
    """Σ(x − x̄)²."""
    middle = math.fsum(places) / len(places)
    return math.fsum((place - middle) ** 2 for place in places)


def _curvature(
    line: LineFit, airflow: Sequence[float], shown: Sequence[float], groups: Mapping[float, Group], floor: float
) -> Curvature:
    """The parabola from the line: what is left of the squares once a line is taken from them too is orthogonal to both.

    With z = x² − (p + q·x), x from the set-point, c = Σzy/Σz², and the slope at the set-point is the line's less c·q.
    """
    off = [flow - line.origin for flow in airflow]
    squares = fit_line(off, [value * value for value in off])
    z = [value * value - squares.predict(value).value for value in off]
    z_spread = math.fsum(value * value for value in z)
    about_line = [value - line.intercept - line.slope * place for value, place in zip(shown, off, strict=True)]
    coefficient = math.fsum(a * b for a, b in zip(z, about_line, strict=True)) / z_spread
    degrees_of_freedom = float(len(off) - 3)
    left = math.fsum((value - coefficient * of_z) ** 2 for value, of_z in zip(about_line, z, strict=True))
    residual = MeanSquare(max(left / degrees_of_freedom, floor), degrees_of_freedom)
    scatter = _pure_scatter(list(groups.values()), floor)
    slope = line.slope - coefficient * squares.slope
    constant = line.intercept - coefficient * squares.intercept
    return Curvature(
        slope_at_set_point=slope,
        slope_standard_uncertainty=math.sqrt(residual.value * (1.0 / _spread(airflow) + squares.slope**2 / z_spread)),
        coefficient=coefficient,
        coefficient_standard_uncertainty=math.sqrt(residual.value / z_spread),
        degrees_of_freedom=degrees_of_freedom,
        test=variance_ratio_test(MeanSquare(coefficient**2 * z_spread, 1.0), residual),
        lack_of_fit=None
        if scatter is None
        else variance_ratio_test(_left_over(groups, [constant, slope, coefficient]), scatter),
    )


def _shape(lack_of_fit: VarianceRatioTest | None, curvature: Curvature) -> Shape:
    """A curve where the parabola explains what the line does not; uneven where neither comes up to the repeats."""
    off_parabola = curvature.lack_of_fit is not None and curvature.lack_of_fit.probability < SIGNIFICANCE
    if off_parabola:
        return "uneven"
    if curvature.test.probability < SIGNIFICANCE:
        return "curved"
    off_line = lack_of_fit is not None and lack_of_fit.probability < SIGNIFICANCE
    return "uneven" if off_line else "straight"


def _sensitivity(
    shape: Shape, line: LineFit, about_line: MeanSquare, curvature: Curvature, airflow: Sequence[float]
) -> tuple[float, float, float]:
    """(sensitivity, standard uncertainty, degrees of freedom)."""
    if shape == "curved":
        own = curvature.slope_standard_uncertainty
        of_choice = standard_uncertainty_rectangular(abs(curvature.slope_at_set_point - line.slope))
        parts = [(own, curvature.degrees_of_freedom), (of_choice, INFINITE)]
        return curvature.slope_at_set_point, math.hypot(own, of_choice), effective_degrees_of_freedom(parts)
    if shape == "uneven":
        return line.slope, math.sqrt(about_line.value / _spread(airflow)), about_line.degrees_of_freedom
    return line.slope, line.slope_standard_uncertainty, line.degrees_of_freedom
