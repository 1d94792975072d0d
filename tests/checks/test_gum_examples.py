"""JCGM 100:2008 (GUM), the examples that need more than a budget: correlated inputs, a calibration line, groups.

"Found" and "from memory" as in test_gum.py.
"""

import math

import pytest

from app.metrology.analysis_of_variance import Group, OneWay, one_way
from app.metrology.correlation import (
    combined_standard_uncertainty,
    correlations_of,
    covariance_of_results,
    simultaneous_means,
)
from app.metrology.distributions import INFINITE, t_quantile, variance_ratio_quantile
from app.metrology.line_fit import fit_line

# Table H.2: voltage in V, current in A, phase in rad, each row one simultaneous set
SETS = [
    (5.007, 19.663e-3, 1.0456),
    (4.994, 19.639e-3, 1.0438),
    (5.005, 19.640e-3, 1.0468),
    (4.990, 19.685e-3, 1.0428),
    (4.999, 19.678e-3, 1.0433),
]


def impedance(voltage: float, current: float, phase: float) -> tuple[list[float], list[list[float]]]:
    """R = V·cos φ/I, X = V·sin φ/I, Z = V/I in ohms, and what V, I, φ do to each."""
    z = voltage / current
    r, x = z * math.cos(phase), z * math.sin(phase)
    sensitivities = [[value / voltage, -value / current, angular] for value, angular in ((r, -x), (x, r), (z, 0.0))]
    return [r, x, z], sensitivities


def test_gum_h2_resistance_reactance_and_impedance_from_simultaneous_sets() -> None:
    """JCGM 100:2008, H.2, Tables H.2 to H.4. Found (test suite and documentation of GTC).

    Printed R = 127.732, u 0.071; X = 219.847, u 0.295 (the raw data give 0.2956); Z = 254.260, u 0.236 ohms.
    """
    means, covariances = simultaneous_means(SETS)
    deviations = [math.sqrt(covariances[place][place]) for place in range(3)]
    values, sensitivities = impedance(*means)
    found = covariance_of_results(sensitivities, deviations, correlations_of(covariances))
    assert values == pytest.approx([127.732, 219.847, 254.260], abs=1e-3)
    u = [math.sqrt(found[place][place]) for place in range(3)]
    assert u == pytest.approx([0.071, 0.295, 0.236], abs=1e-3)
    assert u == pytest.approx([0.0711, 0.2956, 0.2363], abs=5e-5)


def test_gum_h2_correlations_of_the_results() -> None:
    """JCGM 100:2008, Table H.4: printed r(R, X) = −0.588, r(R, Z) = −0.485, r(X, Z) = 0.993. Found, as above."""
    means, covariances = simultaneous_means(SETS)
    deviations = [math.sqrt(covariances[place][place]) for place in range(3)]
    _, sensitivities = impedance(*means)
    r = correlations_of(covariance_of_results(sensitivities, deviations, correlations_of(covariances)))
    assert (r[0][1], r[0][2], r[1][2]) == pytest.approx((-0.588, -0.485, 0.993), abs=1e-3)
    assert (r[0][1], r[0][2], r[1][2]) == pytest.approx((-0.5884, -0.4853, 0.9925), abs=5e-5)


def test_gum_h2_correlations_of_the_inputs_as_printed() -> None:
    """JCGM 100:2008, Table H.2: printed r(V, I) = −0.36, r(V, φ) = 0.86, r(I, φ) = −0.65. Found, as above."""
    r = correlations_of(simultaneous_means(SETS)[1])
    assert (r[0][1], r[0][2], r[1][2]) == pytest.approx((-0.36, 0.86, -0.65), abs=0.006)


def test_gum_h2_from_the_rounded_correlations_differs_in_the_last_printed_digit() -> None:
    """JCGM 100:2008, H.2, from the printed inputs (V 4.9990 u 0.0032, I 19.6610 mA u 0.0095 mA, φ 1.04446 u 0.00075).

    From memory; the rounded inputs are computed to give u(R) = 0.070 and r(R, X) = −0.591.
    """
    printed = [[1.0, -0.36, 0.86], [-0.36, 1.0, -0.65], [0.86, -0.65, 1.0]]
    u = [0.0032, 0.0095e-3, 0.00075]
    _, sensitivities = impedance(4.9990, 19.6610e-3, 1.04446)
    assert combined_standard_uncertainty(sensitivities[0], u, printed) == pytest.approx(0.070, abs=5e-4)
    r = correlations_of(covariance_of_results(sensitivities, u, printed))
    assert r[0][1] == pytest.approx(-0.591, abs=1e-3)


# Table H.6: temperature in °C, correction of the thermometer in °C
TEMPERATURES = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
CORRECTIONS = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]


def test_gum_h3_calibration_line_of_a_thermometer() -> None:
    """JCGM 100:2008, H.3, Table H.6. Found (documentation and tests of GTC).

    Printed y1 = −0.1712, s(y1) = 0.0029, y2 = 0.00218, s(y2) = 0.00067, r = −0.930, s = 0.0035, origin 20 °C.
    """
    line = fit_line(TEMPERATURES, CORRECTIONS, origin=20.0)
    assert line.intercept == pytest.approx(-0.1712, abs=1e-4)
    assert line.intercept_standard_uncertainty == pytest.approx(0.0029, abs=1e-4)
    assert line.slope == pytest.approx(0.00218, abs=5e-6)
    assert line.slope_standard_uncertainty == pytest.approx(0.00067, abs=5e-6)
    assert line.correlation == pytest.approx(-0.930, abs=5e-4)
    assert line.residual_standard_deviation == pytest.approx(0.0035, abs=1e-4)
    assert line.degrees_of_freedom == 9.0


def test_gum_h3_prediction_outside_the_data() -> None:
    """JCGM 100:2008, H.3.4: printed b(30 °C) = −0.1494, u = 0.0041. Found. Without the covariance u would be 0.0073."""
    line = fit_line(TEMPERATURES, CORRECTIONS, origin=20.0)
    there = line.predict(30.0)
    assert there.value == pytest.approx(-0.1494, abs=1e-4)
    assert there.standard_uncertainty == pytest.approx(0.0041, abs=1e-4)
    assert there.degrees_of_freedom == 9.0
    careless = math.hypot(line.intercept_standard_uncertainty, 10.0 * line.slope_standard_uncertainty)
    assert careless == pytest.approx(0.0073, abs=1e-4)


def zener() -> OneWay:
    """Table H.9: ten days of five readings; day means in volts, day standard deviations in microvolts."""
    means = [172, 116, 13, 144, 106, 31, 60, 125, 163, 41]
    deviations = [60, 77, 111, 101, 67, 93, 80, 73, 88, 86]
    return one_way([Group(5, 10.0 + m * 1e-6, s * 1e-6) for m, s in zip(means, deviations, strict=True)])


def test_gum_h5_components_of_variance_between_and_within_days() -> None:
    """JCGM 100:2008, H.5, Table H.9. Data, mean, components and F found (test suite of suncal), rest from memory.

    Printed: mean 10.000 097 V, s of the means 57, sa 128, sb 85, s_B 43, u 18 µV; 13 µV had the day no effect.
    """
    found = zener()
    assert found.mean == pytest.approx(10.000097, abs=1e-6)
    assert found.between == pytest.approx(128e-6, abs=1e-6)
    assert found.within == pytest.approx(85e-6, abs=1e-6)
    assert found.group_effect == pytest.approx(43e-6, abs=1e-6)
    assert found.standard_uncertainty == pytest.approx(18e-6, abs=1e-6)
    assert found.standard_uncertainty * math.sqrt(10.0) == pytest.approx(57e-6, abs=1e-6)
    assert found.standard_uncertainty_without_effect == pytest.approx(13e-6, abs=1e-6)
    exact = (found.between, found.within, found.group_effect, found.standard_uncertainty)
    assert exact == pytest.approx((127.66e-6, 84.89e-6, 42.64e-6, 18.05e-6), abs=5e-9)
    assert found.standard_uncertainty_without_effect == pytest.approx(13.32e-6, abs=5e-9)


def test_gum_h5_test_of_the_day_effect() -> None:
    """JCGM 100:2008, H.5.2: printed F = 2.25 (the data give 2.262), F.95(9, 40) = 2.12, F.975(9, 40) = 2.45."""
    found = zener()
    assert found.variance_ratio == pytest.approx(2.25, abs=0.02)
    assert found.variance_ratio == pytest.approx(2.262, abs=1e-3)
    assert (found.between_degrees_of_freedom, found.within_degrees_of_freedom) == (9.0, 40.0)
    assert variance_ratio_quantile(0.95, 9.0, 40.0) == pytest.approx(2.12, abs=0.005)
    assert variance_ratio_quantile(0.975, 9.0, 40.0) == pytest.approx(2.45, abs=0.005)
    assert found.differs(0.05)
    assert not found.differs(0.025)


def test_gum_4_3_5_even_odds_interval() -> None:
    """JCGM 100:2008, 4.3.5: odds even that it lies in 10.07 to 10.15 mm, printed u = 0.06. From memory; 0.0593."""
    u = 0.04 / t_quantile(0.75, INFINITE)
    assert u == pytest.approx(0.06, rel=0.02)
    assert u == pytest.approx(0.0593, abs=5e-5)
