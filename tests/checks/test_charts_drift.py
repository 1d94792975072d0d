"""The line through an instrument's checks and its forecast: in print, by root finding, and by counting coverage."""

import math
import os

import numpy as np
import pytest
from scipy.optimize import brentq

from app.metrology.charts.drift import STEADY, WILL_REACH, drift_of, forecast
from app.metrology.distributions import coverage_factor
from app.metrology.line_fit import fit_line

TRIALS = 40_000 if "SHEDBOOK_SOAK" in os.environ else 2_000

# JCGM 100:2008, Table H.6: temperature in °C, correction of a thermometer in °C
TEMPERATURES = [21.521, 22.012, 22.512, 23.003, 23.507, 23.999, 24.513, 25.002, 25.503, 26.010, 26.511]
CORRECTIONS = [-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160]
# NIST Statistical Reference Datasets, Norris: ozone monitors, x then y
NORRIS_X = """0.2 337.4 118.2 884.6 10.1 226.5 666.3 996.3 448.6 777.0 558.2 0.4 0.6 775.5 666.9 338.0 447.5 11.6 556.0
228.1 995.8 887.6 120.2 0.3 0.3 556.8 339.1 887.2 999.0 779.0 11.1 118.3 229.2 669.1 448.9 0.5"""
NORRIS_Y = """0.1 338.8 118.1 888.0 9.2 228.1 668.5 998.5 449.1 778.9 559.2 0.3 0.1 778.1 668.8 339.3 448.9 10.8 557.7
228.3 998.0 888.8 119.6 0.3 0.6 557.6 339.3 888.0 998.5 778.9 10.2 117.6 228.9 668.4 449.2 0.2"""


def test_the_slope_of_a_thermometers_corrections() -> None:
    """JCGM 100:2008, H.3.3: y2 = 0.00218, s(y2) = 0.00067, ν = 9. Found (documentation and tests of GTC)."""
    found = drift_of(TEMPERATURES, CORRECTIONS)
    assert found.slope == pytest.approx(0.00218, abs=5e-6)
    assert found.slope_standard_uncertainty == pytest.approx(0.00067, abs=5e-6)
    assert found.degrees_of_freedom == 9.0
    assert found.at(20.0) == pytest.approx(-0.1712, abs=1e-4)
    assert found.standard_uncertainty_at(20.0) == pytest.approx(0.0029, abs=1e-4)
    assert found.at(30.0) == pytest.approx(-0.1494, abs=1e-4)
    assert found.standard_uncertainty_at(30.0) == pytest.approx(0.0041, abs=1e-4)


def test_the_certified_line_of_the_reference_data() -> None:
    """NIST StRD, Norris: slope 1.00211681802045, s 0.429796848199937E-03; intercept −0.262323073774029, s
    0.232818234301152; ν 34. Found (public test suites quoting the certified file)."""
    found = drift_of([float(x) for x in NORRIS_X.split()], [float(y) for y in NORRIS_Y.split()])
    assert found.slope == pytest.approx(1.00211681802045, rel=1e-13)
    assert found.slope_standard_uncertainty == pytest.approx(0.429796848199937e-3, rel=1e-12)
    assert found.at(0.0) == pytest.approx(-0.262323073774029, rel=1e-11)
    assert found.standard_uncertainty_at(0.0) == pytest.approx(0.232818234301152, rel=1e-12)
    assert found.degrees_of_freedom == 34.0
    assert found.factor == pytest.approx(2.0322, abs=5e-5)  # t(0.975; 34), standard tables, from memory


@pytest.mark.parametrize("rising", [True, False])
def test_fiellers_interval_is_where_the_band_of_the_line_meets_the_edge(rising: bool) -> None:
    """E. C. Fieller (1954). No publication: found again by root finding on the predictions of JCGM 100:2008, H.3.4."""
    side = 1.0 if rising else -1.0
    days = [0.0, 6.0, 15.0, 21.0, 40.0, 43.0, 61.0]
    values = [11.25 + side * off for off in (0.002, 0.001, 0.013, 0.009, 0.031, 0.024, 0.042)]
    edges = (11.15, 11.35)
    drift = drift_of(days, values)
    found = forecast(drift, *edges, as_of=61.0)
    line = fit_line(days, values)
    factor = coverage_factor(0.95, 5.0)
    edge = edges[1] if rising else edges[0]

    def band(day: float, end: float) -> float:
        there = line.predict(day)
        return side * (there.value - edge) + end * factor * there.standard_uncertainty

    crossing = brentq(band, 61.0, 5e3, args=(0.0,), xtol=1e-10)
    assert found.standing == WILL_REACH
    assert found.edge == edge
    assert found.value == pytest.approx(crossing, abs=1e-8)
    assert found.earliest == pytest.approx(brentq(band, 0.0, crossing, args=(1.0,), xtol=1e-10), abs=1e-8)
    assert found.latest == pytest.approx(brentq(band, crossing, 5e4, args=(-1.0,), xtol=1e-10), abs=1e-8)
    assert found.latest is not None
    assert found.earliest is not None
    assert found.latest - crossing > 1.2 * (crossing - found.earliest)  # not symmetric, as a normal one would be


@pytest.mark.parametrize("lean", [0.0003, 0.0, -0.0003])
def test_without_a_drift_the_band_leaves_the_edge_out_until_the_day_that_is_told(lean: float) -> None:
    """No publication: found again by root finding on the predictions of JCGM 100:2008, H.3.4."""
    days = [7.0 * week for week in range(8)]
    offs = (0.0, 0.02, -0.01, 0.01, 0.0, -0.02, 0.01, 0.0)
    values = [11.25 + lean * day + off for day, off in zip(days, offs, strict=True)]
    drift = drift_of(days, values)
    found = forecast(drift, 11.17, 11.35, as_of=49.0)
    line = fit_line(days, values)
    factor = coverage_factor(0.95, 6.0)

    def gap(day: float, edge: float, side: float) -> float:
        there = line.predict(day)
        return side * (edge - there.value) - factor * there.standard_uncertainty

    touched = [
        brentq(gap, 49.0, 5e4, args=end, xtol=1e-10) for end in ((11.35, 1.0), (11.17, -1.0)) if gap(5e4, *end) < 0.0
    ]
    assert found.standing == STEADY
    assert found.not_before == pytest.approx(min(touched), abs=1e-7)
    assert found.latest is None


@pytest.mark.soak
@pytest.mark.parametrize(
    ("slope", "edge", "checks"), [(0.02 / 30.0, 11.35, 13), (-0.02 / 30.0, 11.15, 8), (0.02 / 30.0, 11.27, 20)]
)
def test_the_interval_covers_the_true_day_in_95_percent_of_all_seasons(slope: float, edge: float, checks: int) -> None:
    """Weekly checks with a scatter of 0.01 about 11.25: the third edge is passed before the last of them."""
    random = np.random.default_rng(checks)
    days = [7.0 * week for week in range(checks)]
    true_day = (edge - 11.25) / slope
    covered = 0
    for _ in range(TRIALS):
        values = 11.25 + slope * np.array(days) + random.normal(0.0, 0.01, checks)
        drift = drift_of(days, values.tolist())
        found = forecast(drift, 11.15, edge, 0.0) if slope > 0.0 else forecast(drift, edge, 11.35, 0.0)
        if found.crossing is None:
            # no drift shown: the day is held by what remains open to the right, unless it lies before that
            covered += found.not_before is None or found.not_before <= true_day
        else:
            covered += found.crossing.edge == edge and found.crossing.earliest <= true_day <= found.crossing.latest
    assert abs(covered / TRIALS - 0.95) < 4.0 * math.sqrt(0.95 * 0.05 / TRIALS)


@pytest.mark.soak
def test_a_drift_is_found_in_5_percent_of_the_seasons_that_have_none() -> None:
    random = np.random.default_rng(5)
    days = [7.0 * week for week in range(10)]
    found = [drift_of(days, random.normal(11.25, 0.01, 10).tolist()) for _ in range(TRIALS)]
    most = 4.0 * math.sqrt(0.05 * 0.95 / TRIALS)
    assert abs(sum(drift.differs_from_zero for drift in found) / TRIALS - 0.05) < most
    assert abs(sum(drift.chance < 0.05 for drift in found) / TRIALS - 0.05) < most
    assert abs(sum(drift.chance < 0.5 for drift in found) / TRIALS - 0.5) < 4.0 * math.sqrt(0.25 / TRIALS)
