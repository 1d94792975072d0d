"""Outlier tests and pooled scatter in print."""

import math

import pytest

from app.metrology.distributions import variance_ratio_quantile
from app.metrology.outliers import grubbs_critical_value, grubbs_statistic, low_outliers
from app.metrology.repeatability import pooled_history
from app.metrology.screening import allowed_difference
from tests.unit.metrology.builders import an_instrument

# e-Handbook 1.3.5.17.1, turned round because the core looks for low values
MASS_SPECTROMETER = [-x for x in (199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57)]
# Rosner (1983), e-Handbook 1.3.5.17.3, data file ROSNER of the NIST Dataplot repository
ROSNER = """-0.25 0.68 0.94 1.15 1.20 1.26 1.26 1.34 1.38 1.43 1.49 1.49 1.55 1.56 1.58 1.65 1.69 1.70 1.76 1.77
1.81 1.91 1.94 1.96 1.99 2.06 2.09 2.10 2.14 2.15 2.23 2.24 2.26 2.35 2.37 2.40 2.47 2.54 2.62 2.64
2.90 2.92 2.92 2.93 3.21 3.26 3.30 3.59 3.68 4.30 4.64 5.34 5.42 6.01"""
# e-Handbook 2.6.2, check standard 137, short-term standard deviations of 25 occasions of 6 repeats
CHECK_STANDARD_137 = """0.085 0.052 0.038 0.036 0.049 0.036 0.052 0.117 0.085 0.052 0.060 0.048 0.026 0.088 0.031 0.037
0.032 0.056 0.067 0.116 0.046 0.078 0.040 0.038 0.039"""


def test_grubbs_statistic_of_the_eight_point_example() -> None:
    """NIST/SEMATECH e-Handbook 1.3.5.17.1: printed G = 2.4687 (truncated; exact 2.46876). Found."""
    assert grubbs_statistic(MASS_SPECTROMETER) == pytest.approx(2.4687, abs=1e-4)
    assert low_outliers(MASS_SPECTROMETER) == 1


def test_grubbs_critical_values_of_the_eight_point_example() -> None:
    """NIST/SEMATECH e-Handbook 1.3.5.17.1: printed 2.032 one-sided, 2.126 two-sided, both 5 %. Found."""
    assert grubbs_critical_value(8, 0.05) == pytest.approx(2.032, abs=5e-4)
    assert grubbs_critical_value(8, 0.025) == pytest.approx(2.126, abs=1e-3)


@pytest.mark.parametrize(
    ("count", "two_sided"), [(3, 1.1543), (4, 1.4812), (6, 1.8871), (8, 2.1266), (10, 2.2900), (12, 2.4116)]
)
def test_grubbs_critical_values_in_the_tables(count: int, two_sided: float) -> None:
    """Grubbs (1969), Stefansky (1972): 5 % two-sided, which is 2.5 % one-sided. Found (n = 4 computes to 1.4813)."""
    assert grubbs_critical_value(count, 0.025) == pytest.approx(two_sided, abs=2e-4)


def test_grubbs_one_sided_critical_value_in_the_tables() -> None:
    """Grubbs (1969): 5 % one-sided for n = 12, printed 2.2850. Found."""
    assert grubbs_critical_value(12) == pytest.approx(2.2850, abs=2e-4)


def test_rosner_three_outliers_though_the_first_steps_alone_show_none() -> None:
    """Rosner (1983), e-Handbook 1.3.5.17.3: R 3.118, 2.942, 3.179, 2.810; λ 3.158, 3.151, 3.143, 3.136; three outliers.

    Data found, R and λ from memory and recomputed. Two-sided at 5 %; the far values all lie high, so one side at 2.5 %.
    """
    turned = sorted(-float(figure) for figure in ROSNER.split())
    assert len(turned) == 54
    steps = [(grubbs_statistic(turned[n:]), grubbs_critical_value(54 - n, 0.025)) for n in range(4)]
    for (statistic, critical), printed in zip(
        steps, [(3.118, 3.158), (2.942, 3.151), (3.179, 3.143), (2.810, 3.136)], strict=True
    ):
        assert statistic == pytest.approx(printed[0], abs=0.002)
        assert critical == pytest.approx(printed[1], abs=0.002)
    assert low_outliers(turned, 0.025, most=10) == 3
    assert low_outliers(turned, 0.025, most=2) == 0


def test_steps_end_where_too_few_values_are_left() -> None:
    """Grubbs' test needs three values. No publication."""
    assert low_outliers([1.0, 10.0, 10.1, 10.2], most=10) == 1
    assert low_outliers([1.0, 2.0], most=10) == 0


def test_pooled_short_term_standard_deviation_of_a_check_standard() -> None:
    """NIST/SEMATECH e-Handbook 2.6.2: pooled s1 = 0.06139 with 125 dof. Data found, summary from memory."""
    deviations = [float(figure) for figure in CHECK_STANDARD_137.split()]
    runs = [[sign * s * math.sqrt(5.0 / 6.0) for sign in (1, -1, 1, -1, 1, -1)] for s in deviations]
    pooled = pooled_history(runs)
    assert pooled is not None
    assert pooled[0] == pytest.approx(0.06139, abs=5e-6)
    assert pooled[1] == 125.0


@pytest.mark.parametrize(("count", "printed", "over"), [(2, 2.8, 0.0), (3, 3.3, 0.1), (4, 3.6, 0.1), (6, 4.0, 0.2)])
def test_allowed_differences_against_the_critical_range(count: int, printed: float, over: float) -> None:
    """ISO 5725-6:1994, Table 1, f(n) = 2.8, 3.3, 3.6, 4.0 of the 95 % critical range. From memory.

    Sharing 5 % out over all pairs is a bound: exact for two repeats, a little wide for more, never narrow.
    """
    instrument = an_instrument(resolution=1e-9)
    allowed = allowed_difference(count * (count - 1), 1e-9, instrument, (1.0, math.inf))
    assert -0.05 <= allowed - printed <= 0.05 + over


def test_limit_for_the_short_term_scatter_of_a_check_standard() -> None:
    """NIST/SEMATECH e-Handbook 2.2.3.1, 2.6.2: F(0.95; 5, 125) = 2.29, limit for s. F from memory."""
    factor = variance_ratio_quantile(0.95, 5.0, 125.0)
    assert factor == pytest.approx(2.29, abs=0.005)
    assert factor == pytest.approx(2.2868, abs=5e-5)
    assert 0.06139 * math.sqrt(factor) == pytest.approx(0.09283, abs=5e-6)


def test_the_ratio_of_variances_joins_chi_squared_for_a_reference_known_well() -> None:
    """χ²(0.99; 1) = 6.635, standard tables. From memory; 6.6349."""
    assert variance_ratio_quantile(0.99, 1.0, math.inf) == pytest.approx(6.635, abs=5e-4)
