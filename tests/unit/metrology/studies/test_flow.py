"""The flow study by hand: a straight line, a curve, what is neither, and airflows that tell nothing."""

import math

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.studies.flow import FlowPoint, FlowStudy, flow_study
from app.metrology.studies.mean_squares import VarianceRatioTest

CUBIC = {-2.0: -1.0, -1.0: 2.0, 1.0: -2.0, 2.0: 1.0}  # at right angles to 1, x and x² over these places


def study_of(by_offset: dict[float, tuple[float, ...]], resolution: float = 0.0) -> FlowStudy:
    return flow_study([FlowPoint(10.0 + off, shown) for off, shown in by_offset.items()], 10.0, resolution)


def with_scatter(means: dict[float, float], apart: float = 0.01) -> dict[float, tuple[float, ...]]:
    return {off: (mean - apart, mean + apart) for off, mean in means.items()}


def test_a_line_without_repeats_by_hand() -> None:
    """x −2, −1, 1, 2, y 10.0, 10.3, 10.5, 11.0: slope 2.2/10; residuals 0.01, −0.07, 0.17… give s² = 0.046/2.

    z = x² − 2.5, Σz² = 9, c = 0.3/9; F = 0.01/0.036 with 1 and 1: p = 1 − (2/π)·atan √F.
    """
    study = study_of({-2.0: (10.0,), -1.0: (10.3,), 1.0: (10.5,), 2.0: (11.0,)})
    assert study.shape == "straight"
    assert study.sensitivity == pytest.approx(0.22)
    assert study.standard_uncertainty == pytest.approx(math.sqrt(0.0023))
    assert study.degrees_of_freedom == 2.0
    assert study.lack_of_fit is None
    assert study.line.origin == 10.0
    assert study.line.intercept == pytest.approx(10.45)
    assert study.curvature.coefficient == pytest.approx(0.3 / 9.0)
    assert study.curvature.coefficient_standard_uncertainty == pytest.approx(math.sqrt(0.036 / 9.0))
    assert study.curvature.slope_at_set_point == pytest.approx(0.22)
    assert study.curvature.slope_standard_uncertainty == pytest.approx(math.sqrt(0.036 / 10.0))
    assert study.curvature.degrees_of_freedom == 1.0
    assert study.curvature.test.ratio == pytest.approx(0.01 / 0.036)
    assert study.curvature.test.probability == pytest.approx(1.0 - 2.0 / math.pi * math.atan(math.sqrt(0.01 / 0.036)))
    assert study.curvature.lack_of_fit is None
    assert (study.lowest_l_min, study.highest_l_min, study.airflows, study.indications) == (8.0, 12.0, 4, 4)
    assert study.set_point_l_min == 10.0


def test_lack_of_fit_against_the_repeats_by_hand() -> None:
    """The same means, each from a pair ±0.2: 2·0.046/2 against 8·0.04/4; what a parabola leaves, 2·0.036 against it."""
    study = study_of(with_scatter({-2.0: 10.0, -1.0: 10.3, 1.0: 10.5, 2.0: 11.0}, 0.2))
    assert study.shape == "straight"
    assert study.lack_of_fit is not None
    assert study.lack_of_fit.ratio == pytest.approx(0.046 / 0.08)
    # F with 2 and ν: p = (1 + 2F/ν)^(−ν/2)
    assert study.lack_of_fit.probability == pytest.approx((1.0 + 0.046 / 0.08 / 2.0) ** -2)
    assert study.curvature.lack_of_fit is not None
    assert study.curvature.lack_of_fit.ratio == pytest.approx(0.072 / 0.08)
    assert study.degrees_of_freedom == 6.0
    assert study.standard_uncertainty == pytest.approx(math.sqrt((0.092 + 0.32) / 6.0 / 20.0))
    assert study.curvature.degrees_of_freedom == 5.0
    assert study.curvature.test.ratio == pytest.approx(0.02 / ((0.072 + 0.32) / 5.0))


def test_a_curve_is_told_by_its_slope_at_the_set_point_and_by_what_the_line_says_otherwise() -> None:
    """y = 10 + 0.1x + 0.05x² at −1, 0, 1, 2: the line's slope is 0.15, so ±0.05 as limits, 0.05/√3."""
    study = study_of({off: (10.0 + 0.1 * off + 0.05 * off * off,) for off in (-1.0, 0.0, 1.0, 2.0)})
    assert study.shape == "curved"
    assert study.line.slope == pytest.approx(0.15)
    assert study.sensitivity == pytest.approx(0.1)
    assert study.standard_uncertainty == pytest.approx(0.05 / math.sqrt(3.0))
    assert study.degrees_of_freedom > 1e9
    assert study.curvature.coefficient == pytest.approx(0.05)
    assert study.curvature.test.probability < 1e-6


def test_the_scatter_of_a_curve_adds_to_what_the_choice_moves() -> None:
    """Pairs ±0.01 about the same parabola: s² = 8·0.0001/5; x² falls on a line of slope 1 there, Σz² = 2·4, Σx² = 10.

    u² of the slope: s²·(1/10 + 1/8).
    """
    study = study_of(with_scatter({off: 10.0 + 0.1 * off + 0.05 * off * off for off in (-1.0, 0.0, 1.0, 2.0)}))
    assert study.shape == "curved"
    own = 0.0008 / 5.0 * (1.0 / 10.0 + 1.0 / 8.0)
    both = own + 0.0025 / 3.0
    assert study.curvature.slope_standard_uncertainty == pytest.approx(math.sqrt(own))
    assert study.curvature.coefficient_standard_uncertainty == pytest.approx(math.sqrt(0.0008 / 5.0 / 8.0))
    assert study.standard_uncertainty == pytest.approx(math.sqrt(both))
    assert study.degrees_of_freedom == pytest.approx(both**2 / (own**2 / 5.0))
    assert study.curvature.lack_of_fit is not None
    assert study.curvature.lack_of_fit.probability > 0.99


def test_means_that_lie_off_line_and_parabola_alike_are_uneven() -> None:
    """0.05 of a cubic, pairs ±0.01: Σ of the means 2·10·0.0025 = 0.05, /2 dof, /20."""
    study = study_of(with_scatter({off: 10.0 + 0.1 * off + 0.05 * of_cubic for off, of_cubic in CUBIC.items()}))
    assert study.shape == "uneven"
    assert study.sensitivity == pytest.approx(0.1)
    assert study.standard_uncertainty == pytest.approx(math.sqrt(0.025 / 20.0))
    assert study.degrees_of_freedom == 2.0
    assert study.lack_of_fit is not None
    assert study.lack_of_fit.ratio == pytest.approx(0.025 / 0.0002)
    assert study.curvature.lack_of_fit is not None
    assert study.curvature.lack_of_fit.ratio == pytest.approx(0.05 / 0.0002)


def test_a_curve_that_leaves_the_means_off_it_is_uneven_and_no_curve() -> None:
    study = study_of(with_scatter({off: 10.0 + 0.2 * off * off + 0.05 * of_cubic for off, of_cubic in CUBIC.items()}))
    assert study.curvature.test.probability < 0.05
    assert study.shape == "uneven"


@pytest.mark.parametrize(("quadratic", "shape"), [(10.0, "uneven"), (6.0, "straight")])
def test_means_off_the_line_alone_are_uneven_too(quadratic: float, shape: str) -> None:
    """In units of the pairs' variance: cubic 7 (below F 7.71 of 1 and 4), so 17/2 above F 6.94 of 2 and 4, 13/2 not.

    The parabola's own term: 10/(11/5) = 4.5, below F 6.61 of 1 and 5.
    """
    unit = 0.0002
    cubic, square = math.sqrt(7.0 * unit / 20.0), math.sqrt(quadratic * unit / 18.0)
    study = study_of(
        with_scatter({off: 10.0 + square * (off * off - 2.5) + cubic * of_cubic for off, of_cubic in CUBIC.items()})
    )
    assert study.lack_of_fit is not None
    assert study.curvature.lack_of_fit is not None
    assert study.lack_of_fit.ratio == pytest.approx((7.0 + quadratic) / 2.0)
    assert study.curvature.lack_of_fit.ratio == pytest.approx(7.0)
    assert study.curvature.test.ratio == pytest.approx(quadratic / (11.0 / 5.0))
    assert study.shape == shape


def test_a_display_that_stands_still_leaves_its_step_as_uncertainty() -> None:
    """0.01/√12 over √10; a bound, so with infinite degrees of freedom."""
    still = dict.fromkeys((-2.0, -1.0, 1.0, 2.0), (10.5, 10.5))
    study = study_of(still, resolution=0.01)
    assert study.sensitivity == 0.0
    assert study.standard_uncertainty == pytest.approx(0.01 / math.sqrt(12.0) / math.sqrt(10.0))
    assert study.degrees_of_freedom == math.inf
    assert study.shape == "straight"
    assert not study.shows_an_effect
    assert study.expanded_uncertainty == pytest.approx(1.959964 * study.standard_uncertainty, rel=1e-6)
    unknown = study_of(still)
    assert (unknown.standard_uncertainty, unknown.degrees_of_freedom) == (0.0, 6.0)
    assert unknown.lack_of_fit == VarianceRatioTest(1.0, 1.0)


def test_steps_of_the_display_are_no_lack_of_fit() -> None:
    """10.00, 10.01, 10.01, 10.02 twice each: off the line by 0.004 at the most, less than half a step.

    Repeats share their step: 2·0.01²/12 is what it puts into a mean square of the means.
    """
    steps = {-2.0: (10.00, 10.00), -1.0: (10.01, 10.01), 1.0: (10.01, 10.01), 2.0: (10.02, 10.02)}
    told, untold = study_of(steps, resolution=0.01), study_of(steps)
    assert told.lack_of_fit is not None
    assert told.curvature.lack_of_fit is not None
    assert told.lack_of_fit.ratio == pytest.approx(4e-5 / (2.0 * 1e-4 / 12.0))
    assert told.curvature.lack_of_fit.ratio == pytest.approx(8e-5 / (2.0 * 1e-4 / 12.0))
    assert told.shape == "straight"
    assert untold.shape == "uneven"
    assert told.sensitivity == untold.sensitivity == pytest.approx(0.004)
    # what the step leaves over Σx² = 10 is more than what the scatter about the line, 8e-5/6, leaves over 20
    assert told.standard_uncertainty == pytest.approx(0.01 / math.sqrt(120.0))
    assert told.degrees_of_freedom == math.inf
    assert untold.standard_uncertainty == pytest.approx(math.sqrt(4e-5 / 20.0))


def test_points_on_a_line_leave_no_noise_of_the_arithmetic() -> None:
    study = study_of({off: (10.0 + 0.1 * off, 10.0 + 0.1 * off) for off in (-2.0, -1.0, 0.5, 2.0)})
    assert study.shape == "straight"
    assert study.sensitivity == pytest.approx(0.1)
    assert study.standard_uncertainty < 1e-12
    assert study.shows_an_effect


def test_one_airflow_set_twice_is_one_place() -> None:
    points = [FlowPoint(8.0, (10.0,)), FlowPoint(12.0, (11.0,)), FlowPoint(8.0, (10.2,)), FlowPoint(9.0, (10.3,))]
    once = flow_study([*points, FlowPoint(11.0, (10.5,))], 10.0)
    assert (once.airflows, once.indications) == (4, 5)
    assert once.lack_of_fit is not None
    with pytest.raises(MeasurementError, match="here are 3"):
        flow_study(points, 10.0)


def test_the_budget_takes_the_uncertainty_of_the_slope_along() -> None:
    study = study_of({-2.0: (10.0,), -1.0: (10.3,), 1.0: (10.5,), 2.0: (11.0,)})
    assert study.for_budget == pytest.approx(math.sqrt(0.22**2 + 0.0023))
    # t(0.975; 2) = 4.30265, tables
    assert study.expanded_uncertainty == pytest.approx(4.30265 * math.sqrt(0.0023), rel=1e-5)
    assert study.shows_an_effect


def test_the_fall_of_an_indication_is_an_effect_as_its_rise() -> None:
    falls = study_of({-2.0: (11.0,), -1.0: (10.5,), 1.0: (10.3,), 2.0: (10.0,)})
    assert falls.sensitivity == pytest.approx(-0.22)
    assert falls.shows_an_effect


@pytest.mark.parametrize(("set_point", "airflows"), [(10.0, (9.5, 9.8, 10.2, 10.5)), (1.0, (0.95, 0.98, 1.02, 1.05))])
def test_a_tenth_of_the_set_point_is_far_enough(set_point: float, airflows: tuple[float, ...]) -> None:
    assert flow_study([FlowPoint(one, (10.0,)) for one in airflows], set_point).airflows == 4


@pytest.mark.parametrize(
    ("airflows", "words"),
    [
        ((9.0, 10.0, 11.0), "takes 4 different airflows or more; here are 3"),
        ((), "here are 0"),
        ((10.0, 11.0, 12.0, 13.0), "No airflow lies below the set-point 10 L/min"),
        ((11.0, 12.0, 13.0, 14.0), "No airflow lies below"),
        ((7.0, 8.0, 9.0, 10.0), "No airflow lies above the set-point 10 L/min"),
        ((9.5, 9.8, 10.2, 10.49), "9.5 to 10.49 L/min lie too close together .* reach over 1 L/min or more"),
    ],
)
def test_airflows_that_tell_nothing_are_refused(airflows: tuple[float, ...], words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        flow_study([FlowPoint(one, (10.0,)) for one in airflows], 10.0)
    assert refused.value.field == "points"


@pytest.mark.parametrize(
    ("point", "set_point", "resolution", "field", "words"),
    [
        (FlowPoint(0.0, (10.0,)), 10.0, 0.0, "points.1.airflow_l_min", "more than 0"),
        (FlowPoint(math.inf, (10.0,)), 10.0, 0.0, "points.1.airflow_l_min", "more than 0"),
        (FlowPoint(math.nan, (10.0,)), 10.0, 0.0, "points.1.airflow_l_min", "more than 0"),
        (FlowPoint(9.0, ()), 10.0, 0.0, "points.1.indications", "one indication at least"),
        (FlowPoint(9.0, (10.0, math.nan)), 10.0, 0.0, "points.1.indications", "one indication at least"),
        (FlowPoint(9.0, (10.0,)), 0.0, 0.0, "set_point_l_min", "more than nothing"),
        (FlowPoint(9.0, (10.0,)), math.inf, 0.0, "set_point_l_min", "more than nothing"),
        (FlowPoint(9.0, (10.0,)), 10.0, -0.01, "resolution", "0 or more"),
        (FlowPoint(9.0, (10.0,)), 10.0, math.inf, "resolution", "0 or more"),
    ],
)
def test_figures_that_cannot_be_are_refused(
    point: FlowPoint, set_point: float, resolution: float, field: str, words: str
) -> None:
    points = [FlowPoint(8.0, (10.0,)), point, FlowPoint(11.0, (10.0,)), FlowPoint(12.0, (10.0,))]
    with pytest.raises(MeasurementError, match=words) as refused:
        flow_study(points, set_point, resolution)
    assert refused.value.field == field
