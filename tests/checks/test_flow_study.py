"""The flow study against the line in print, a least-squares fit of NumPy's, and simulated studies."""

import math

import numpy as np
import pytest

from app.metrology.studies.flow import FlowPoint, flow_study

# JCGM 100:2008, Table H.6: eleven thermometer readings and their corrections. Found (GTC documentation).
PLACES = (21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511)
CORRECTIONS = (-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160)


def test_the_slope_of_the_calibration_line_in_print() -> None:
    """JCGM 100:2008, H.3.3: y₂ = 0.00218, s(y₂) = 0.00067, s = 0.0035, n − 2 = 9. Found; recomputed 0.002183, 0.000668.

    The arithmetic knows no unit: degrees stand in for litres per minute.
    """
    points = [FlowPoint(place, (shown,)) for place, shown in zip(PLACES, CORRECTIONS, strict=True)]
    study = flow_study(points, 24.0)
    assert study.line.slope == pytest.approx(0.00218, abs=5e-6)
    assert study.line.slope == pytest.approx(0.002183, abs=5e-7)
    assert study.line.slope_standard_uncertainty == pytest.approx(0.00067, abs=5e-6)
    assert study.line.slope_standard_uncertainty == pytest.approx(0.000668, abs=5e-7)
    assert study.line.degrees_of_freedom == 9.0
    assert study.line.residual_standard_deviation == pytest.approx(0.0035, abs=5e-5)


@pytest.mark.parametrize("seed", range(5))
def test_line_and_parabola_by_another_least_squares_fit(seed: int) -> None:
    rng = np.random.default_rng(seed)
    airflows = np.sort(rng.uniform(8.0, 12.0, 6))
    counts = rng.integers(1, 5, 6)
    shown = [
        tuple(map(float, rng.normal(10.5 + 0.05 * (flow - 10.0), 0.02, n)))
        for flow, n in zip(airflows, counts, strict=True)
    ]
    study = flow_study([FlowPoint(float(f), y) for f, y in zip(airflows, shown, strict=True)], 10.0)
    off = np.repeat(airflows, counts) - 10.0
    y = np.concatenate([np.array(one) for one in shown])
    left = []
    for degree in (1, 2):
        columns = np.vander(off, degree + 1, increasing=True)
        found, squares, *_ = np.linalg.lstsq(columns, y, rcond=None)
        variance = squares[0] / (len(y) - degree - 1)
        u = np.sqrt(variance * np.diag(np.linalg.inv(columns.T @ columns)))
        left.append((found, u, squares[0], variance))
    (line, line_u, line_squares, _), (parabola, parabola_u, parabola_squares, residual) = left
    assert study.line.slope == pytest.approx(line[1], rel=1e-8)
    assert study.line.slope_standard_uncertainty == pytest.approx(line_u[1], rel=1e-8)
    assert study.curvature.slope_at_set_point == pytest.approx(parabola[1], rel=1e-8)
    assert study.curvature.slope_standard_uncertainty == pytest.approx(parabola_u[1], rel=1e-8)
    assert study.curvature.coefficient == pytest.approx(parabola[2], rel=1e-8)
    assert study.curvature.coefficient_standard_uncertainty == pytest.approx(parabola_u[2], rel=1e-8)
    assert study.curvature.test.ratio == pytest.approx((line_squares - parabola_squares) / residual, rel=1e-6)
    pure = sum(float(np.sum((np.array(one) - np.mean(one)) ** 2)) for one in shown)
    pure_dof = len(y) - 6
    assert study.lack_of_fit is not None
    assert study.lack_of_fit.ratio == pytest.approx((line_squares - pure) / 4 / (pure / pure_dof), rel=1e-6)
    assert study.curvature.lack_of_fit is not None
    assert study.curvature.lack_of_fit.ratio == pytest.approx(
        (parabola_squares - pure) / 3 / (pure / pure_dof), rel=1e-6
    )


AIRFLOWS = (8.0, 9.0, 9.5, 10.5, 11.0, 12.0)


def simulated(slope: float, square: float, setting: float, trials: int = 600) -> tuple[float, dict[str, float]]:
    """(share of studies whose expanded uncertainty holds the slope at the set-point, share of each shape)."""
    rng = np.random.default_rng(11)
    inside = 0
    shapes = {"straight": 0, "curved": 0, "uneven": 0}
    for _ in range(trials):
        points = []
        for flow in AIRFLOWS:
            off = flow - 10.0 + rng.normal(0.0, setting)
            shown = rng.normal(10.5 + slope * off + square * off * off, 0.01, 4)
            points.append(FlowPoint(flow, tuple(map(float, shown))))
        study = flow_study(points, 10.0)
        shapes[study.shape] += 1
        inside += abs(study.sensitivity - slope) <= study.expanded_uncertainty
    return inside / trials, {shape: count / trials for shape, count in shapes.items()}


def test_the_slope_of_a_straight_line_is_held_and_seldom_called_otherwise() -> None:
    """Three tests at 5 % each, of which two overlap: some 12 % are called otherwise; the slope is held all the same."""
    inside, shapes = simulated(0.05, 0.0, 0.0)
    assert inside == pytest.approx(0.95, abs=4.0 * math.sqrt(0.95 * 0.05 / 600))
    assert 0.80 < shapes["straight"] < 0.95


def test_the_slope_of_a_curve_is_held_where_it_counts() -> None:
    inside, shapes = simulated(0.05, 0.02, 0.0)
    assert shapes["straight"] == 0.0
    assert shapes["curved"] > 0.90
    assert inside > 0.93


def test_airflows_that_were_not_set_exactly_widen_the_uncertainty() -> None:
    """Each setting off by 0.3 L/min: 0.03 of a ratio, thrice the scatter of the repeats."""
    inside, shapes = simulated(0.1, 0.0, 0.3)
    assert shapes["uneven"] > 0.80
    assert inside > 0.90


def test_a_study_blind_to_its_settings_would_hold_the_slope_too_seldom() -> None:
    """What the widening is for: the line's own uncertainty from four repeats each holds the slope in six of ten."""
    rng = np.random.default_rng(12)
    inside = 0
    for _ in range(300):
        points = [
            FlowPoint(flow, tuple(map(float, rng.normal(10.5 + 0.1 * (flow - 10.0) + rng.normal(0, 0.03), 0.01, 4))))
            for flow in AIRFLOWS
        ]
        study = flow_study(points, 10.0)
        inside += abs(study.line.slope - 0.1) <= 2.07 * study.line.slope_standard_uncertainty
    assert inside / 300 < 0.85
