"""Control charts, check standards and tolerance intervals as worked in print."""

import math
import statistics

import pytest
from scipy.integrate import quad
from scipy.special import ndtri
from scipy.stats import chi2, ncx2, norm

from app.metrology.charts.check_standard import CheckPoint, check_standard
from app.metrology.charts.constants import chart_constants
from app.metrology.charts.ewma import ewma
from app.metrology.charts.individuals import baseline_limits, moving_ranges
from app.metrology.charts.run_rules import NELSON, WESTERN_ELECTRIC, signals
from app.metrology.charts.subgroups import means_and_deviations, means_and_ranges
from app.metrology.charts.tolerance_interval import (
    one_sided_factor,
    one_sided_factor_approximate,
    two_sided_factor,
    two_sided_factor_approximate,
)
from app.metrology.distributions import variance_ratio_quantile
from app.metrology.risk.intervals import Interval
from app.metrology.risk.processes import Normal
from app.metrology.risk.sampling import capability

# NIST/SEMATECH e-Handbook, 6.3.2.4
EWMA_DATA = [52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
             49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]  # fmt: skip
EWMA_PRINTED = [50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
                50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99]  # fmt: skip
# NIST/SEMATECH e-Handbook, 6.3.2.2: flow rate of ten batches
FLOW_RATE = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
# D1: check standard 137, probe 2362, a public data file of the NIST Dataplot repository: value, short-term s
CHECK_STANDARD_137 = """97.070 0.085 97.049 0.052 97.048 0.038 97.084 0.036 97.106 0.049 97.014 0.036 97.047 0.052
97.078 0.117 97.065 0.085 97.061 0.052 97.060 0.060 97.102 0.048 97.096 0.026 97.035 0.088 97.114 0.031 97.069 0.037
97.095 0.032 97.088 0.056 97.079 0.067 97.016 0.116 97.051 0.046 97.070 0.078 97.065 0.040 97.111 0.038 97.073 0.039"""
# D3: flow width, Montgomery, Introduction to Statistical Quality Control, Example 6.1
FLOW_WIDTH = """1.3235 1.4128 1.6744 1.4573 1.6914 / 1.4314 1.3592 1.6075 1.4666 1.6109 /
1.4284 1.4871 1.4932 1.4324 1.5674 / 1.5028 1.6352 1.3841 1.2831 1.5507 / 1.5604 1.2735 1.5265 1.4363 1.6441 /
1.5955 1.5451 1.3574 1.3281 1.4198 / 1.6274 1.5064 1.8366 1.4177 1.5144 / 1.4190 1.4303 1.6637 1.6067 1.5519 /
1.3884 1.7277 1.5355 1.5176 1.3688 / 1.4039 1.6697 1.5089 1.4627 1.5220 / 1.4158 1.7667 1.4278 1.5928 1.4181 /
1.5821 1.3355 1.5777 1.3908 1.7559 / 1.2856 1.4106 1.4447 1.6398 1.1928 / 1.4951 1.4036 1.5893 1.6458 1.4969 /
1.3589 1.2863 1.5996 1.2497 1.5471 / 1.5747 1.5301 1.5171 1.1839 1.8662 / 1.3680 1.7269 1.3957 1.5014 1.4449 /
1.4163 1.3864 1.3057 1.6210 1.5573 / 1.5796 1.4185 1.6541 1.5116 1.7247 / 1.7106 1.4412 1.2361 1.3820 1.7601 /
1.4371 1.5051 1.3485 1.5670 1.4880 / 1.4738 1.5936 1.6583 1.4973 1.4720 / 1.5917 1.4333 1.5551 1.5295 1.6866 /
1.6399 1.5243 1.5705 1.5563 1.5530 / 1.5797 1.3663 1.6240 1.3732 1.6887"""


def the_check_standard() -> list[CheckPoint]:
    figures = [float(figure) for figure in CHECK_STANDARD_137.split()]
    pairs = zip(figures[::2], figures[1::2], strict=True)
    return [CheckPoint(float(occasion), mean, scatter, 6) for occasion, (mean, scatter) in enumerate(pairs)]


def the_flow_widths() -> list[list[float]]:
    return [[float(figure) for figure in group.split()] for group in FLOW_WIDTH.split("/")]


def test_the_weighted_average_of_twenty_values() -> None:
    """EWMA-N; NIST/SEMATECH e-Handbook, 6.3.2.4: λ 0.3, start 50, s 2.0539; all twenty printed values. Found."""
    chart = ewma(EWMA_DATA, 50.0, 2.0539, weight=0.3, factor=3.0)
    assert [round(value, 2) for value in chart.values] == EWMA_PRINTED
    assert chart.values[0] == pytest.approx(50.6, abs=1e-12)
    assert chart.values[9] == pytest.approx(50.3303, abs=5e-5)
    assert chart.values[19] == pytest.approx(51.9882, abs=5e-5)
    assert not any(chart.sides)


def test_the_steady_limits_of_the_weighted_average() -> None:
    """EWMA-N: printed UCL 52.5884, LCL 47.4115 (truncated: 47.4116). Found."""
    steady = ewma(EWMA_DATA, 50.0, 2.0539, weight=0.3, factor=3.0).steady
    assert steady.upper == pytest.approx(52.5884, abs=5e-5)
    assert steady.lower == pytest.approx(47.4115, abs=1.01e-4)
    assert steady.lower == pytest.approx(47.4116, abs=5e-5)


def test_individuals_and_moving_ranges_of_ten_batches() -> None:
    """NIST/SEMATECH e-Handbook, 6.3.2.2: mean 50.81, moving range 1.8778, UCL 55.8041, LCL 45.8159. Found.

    The page divides by 1.128; by d₂ = 1.12838 the limits stand 0.0017 nearer to the mean.
    """
    chart = baseline_limits(FLOW_RATE)
    ranges = moving_ranges(FLOW_RATE)
    assert chart.individuals.centre == pytest.approx(50.81, abs=1e-9)
    assert math.fsum(ranges) / 9 == pytest.approx(1.8778, abs=5e-5)
    assert chart.moving_range.centre == pytest.approx(1.8778, abs=5e-5)
    assert chart.individuals.upper == pytest.approx(55.8041, abs=1.8e-3)
    assert chart.individuals.lower == pytest.approx(45.8159, abs=1.8e-3)
    rounded = chart.individuals.sigma * chart_constants(2).d2 / 1.128
    assert 50.81 + 3.0 * rounded == pytest.approx(55.8041, abs=5e-5)
    assert 50.81 - 3.0 * rounded == pytest.approx(45.8159, abs=5e-5)
    assert chart.moving_range.upper == pytest.approx(6.134, abs=5e-4)
    assert chart.provisional
    assert (chart.beyond, chart.ranges_beyond) == ((), ())
    assert signals(FLOW_RATE, 50.81, chart.individuals.sigma, WESTERN_ELECTRIC) == []


def test_the_baseline_of_a_check_standard() -> None:
    """CHK-137; NIST/SEMATECH e-Handbook, 2.6.2: mean 97.070, s2 0.02680, ν 24, s1 0.06139, ν 125. Data found, summary
    from memory; recomputed 97.06984, 0.026798, 0.061388."""
    found = check_standard(the_check_standard())
    assert found.occasions == 25
    assert round(found.mean, 3) == 97.070
    assert found.mean == pytest.approx(97.06984, abs=5e-6)
    assert found.long_term == pytest.approx(0.02680, abs=5e-6)
    assert found.long_term == pytest.approx(0.026798, abs=5e-7)
    assert found.long_term_dof == 24.0
    assert found.short_term == pytest.approx(0.06139, abs=5e-6)
    assert found.short_term == pytest.approx(0.061388, abs=5e-7)
    assert found.short_term_dof == 125.0


def test_the_limits_of_a_check_standard() -> None:
    """CHK-lim; NIST/SEMATECH e-Handbook, 2.2.3.1 and 2.6.2: UCL 97.1234, F 2.29, from memory; LCL 97.0162, limit of s
    0.09283 and, by t, 97.1251 recomputed."""
    found = check_standard(the_check_standard())
    assert found.limits().upper == pytest.approx(97.1234, abs=5e-5)
    assert found.limits().lower == pytest.approx(97.0162, abs=5e-5)
    assert found.limits().centre == found.mean
    assert found.limits_covering().upper == pytest.approx(97.1251, abs=5.1e-5)
    assert variance_ratio_quantile(0.95, 5, 125) == pytest.approx(2.29, abs=5e-3)
    limit = found.scatter_limit(6)
    assert limit == pytest.approx(0.09283, abs=5e-6)
    wide = [point.scatter for point in the_check_standard() if point.scatter > (limit or 0.0)]
    assert wide == [0.117, 0.116]


def test_means_and_ranges_of_twenty_five_subgroups() -> None:
    """XBR; Montgomery, Example 6.1: grand mean 1.5056, R̄ 0.32521, limits 1.69325 and 1.31795 (A2 = 0.577), UCL of R
    0.68749 (D4 = 2.114), σ 0.1398 (d2 = 2.326). Data found, results from memory."""
    groups = the_flow_widths()
    chart = means_and_ranges(groups)
    assert (len(groups), chart.size) == (25, 5)
    assert chart.means.centre == pytest.approx(1.5056, abs=5e-5)
    assert chart.means.centre == pytest.approx(1.50561, abs=5e-6)
    assert chart.spreads.centre == pytest.approx(0.32521, abs=5e-6)
    assert chart.means.upper == pytest.approx(1.69325, abs=1e-4)
    assert chart.means.lower == pytest.approx(1.31795, abs=1e-4)
    assert chart.spreads.upper == pytest.approx(0.68749, abs=2e-4)
    assert chart.spreads.lower == 0.0
    assert chart.sigma == pytest.approx(0.1398, abs=5e-5)
    # with the rounded factors of the book, to the digits recomputed with them
    assert chart.means.centre + 0.577 * chart.spreads.centre == pytest.approx(1.69326, abs=5e-6)
    assert chart.means.centre - 0.577 * chart.spreads.centre == pytest.approx(1.31797, abs=5.1e-6)
    assert 2.114 * chart.spreads.centre == pytest.approx(0.68749, abs=5e-6)
    assert chart.means.beyond([sum(group) / 5 for group in groups]) == ()


def test_the_capability_that_follows_from_the_chart() -> None:
    """XBR; the same example, specification 1.50 ± 0.50: Cp 1.192, fraction nonconforming 0.00035. From memory."""
    chart = means_and_ranges(the_flow_widths())
    found = capability(Normal(chart.means.centre, chart.sigma), Interval(1.0, 2.0))
    assert found.cp is not None
    assert found.cp == pytest.approx(1.192, abs=5e-4)
    assert found.nonconforming == pytest.approx(0.00035, abs=5e-6)
    assert found.nonconforming == pytest.approx(0.000353, abs=1e-6)


def test_the_capability_of_the_handbook() -> None:
    """CAP; NIST/SEMATECH e-Handbook, 6.1.6: USL 20, LSL 8, mean 16, s 2: 1.0, 0.6667, 0.3333. From memory."""
    found = capability(Normal(16.0, 2.0), Interval(8.0, 20.0))
    assert found.cp == 1.0
    assert round(found.cpk, 4) == 0.6667
    assert found.k == pytest.approx(0.3333, abs=5e-5)


def test_means_and_deviations_of_the_same_subgroups() -> None:
    """Montgomery, section 6.3, formulas x̄ ± A3·s̄ and B4·s̄ (from memory), on the data of Example 6.1; no print."""
    groups = the_flow_widths()
    chart = means_and_deviations(groups)
    assert chart.spreads.centre == pytest.approx(
        statistics.fmean(statistics.stdev(group) for group in groups), rel=1e-12
    )
    assert chart.means.upper - chart.means.centre == pytest.approx(1.4273 * chart.spreads.centre, rel=1e-4)
    assert chart.spreads.upper == pytest.approx(2.0890 * chart.spreads.centre, rel=1e-4)
    assert chart.sigma == pytest.approx(chart.spreads.centre / 0.9400, rel=1e-4)


def test_nothing_of_the_handbooks_series_signals_by_nelsons_rules_but_what_the_eye_sees() -> None:
    """No publication: about 50 with s 2.0539 the last four of the twenty lie more than one s above."""
    found = signals(EWMA_DATA, 50.0, 2.0539, NELSON)
    assert [(signal.place, signal.rule.key, signal.places) for signal in found] == [
        (19, "four_of_five_off_to_one_side", (16, 17, 18, 19))
    ]


# ---- tolerance intervals ----


def test_tolerance_interval_of_a_worked_example() -> None:
    """TOL-43; NIST/SEMATECH e-Handbook, 7.2.6.3: n 43, mean 97.07, s 0.0268, content 0.90, confidence 0.99: k2 2.2173,
    97.010576 to 97.12942; k1 1.8752, 97.120255. Found; exact k1 1.8740 from memory, exact k2 2.2228 recomputed."""
    k2 = two_sided_factor_approximate(43, 0.90, 0.99)
    assert k2 == pytest.approx(2.2173, abs=5e-5)
    assert 97.07 - 0.0268 * k2 == pytest.approx(97.010576, abs=5e-7)
    assert 97.07 + 0.0268 * k2 == pytest.approx(97.12942, abs=5e-6)
    k1 = one_sided_factor_approximate(43, 0.90, 0.99)
    assert k1 == pytest.approx(1.8752, abs=5e-5)
    assert 97.07 + 0.0268 * k1 == pytest.approx(97.120255, abs=5e-7)
    assert one_sided_factor(43, 0.90, 0.99) == pytest.approx(1.8740, abs=1e-4)
    assert one_sided_factor(43, 0.90, 0.99) == pytest.approx(1.87395, abs=5e-6)
    assert two_sided_factor(43, 0.90, 0.99) == pytest.approx(2.2228, abs=5e-5)


@pytest.mark.parametrize(
    ("count", "one_sided", "two_sided"), [(2, 20.581, 31.092), (5, 3.407, 4.291), (10, 2.355, 2.856)]
)
def test_exact_tolerance_factors_in_the_tables(count: int, one_sided: float, two_sided: float) -> None:
    """ISO 16269-6 and R. E. Odeh and D. B. Owen (1980), content 0.90 at confidence 0.95. From memory."""
    assert one_sided_factor(count, 0.90, 0.95) == pytest.approx(one_sided, abs=5.1e-4)
    assert two_sided_factor(count, 0.90, 0.95) == pytest.approx(two_sided, abs=5.1e-4)


@pytest.mark.parametrize(
    ("count", "content", "confidence"), [(3, 0.5, 0.9), (8, 0.99, 0.95), (43, 0.9, 0.99), (300, 0.95, 0.5)]
)
def test_the_two_sided_factor_holds_its_confidence(count: int, content: float, confidence: float) -> None:
    """By adaptive quadrature with an independent library's distributions."""
    factor = two_sided_factor(count, content, confidence)

    def reached(off: float) -> float:
        square = ncx2.ppf(content, 1, off * off) if off else chi2.ppf(content, 1)
        share = chi2.sf((count - 1) * square / factor**2, count - 1)
        return float(share * norm.pdf(off * math.sqrt(count)) * math.sqrt(count))

    found = 2.0 * quad(reached, 0.0, 9.0 / math.sqrt(count), epsabs=1e-10)[0]
    assert found == pytest.approx(confidence, abs=1e-6)
    assert two_sided_factor(100_000, content, 0.5) == pytest.approx(float(ndtri((1.0 + content) / 2.0)), rel=1e-4)
