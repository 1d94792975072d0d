"""Conformity in print: JCGM 106:2012, ILAC-G8:09/2019, ISO 14253-1:2017."""

import pytest

from app.metrology.conformity import conformance_probability, decide, guard_band
from app.metrology.distributions import INFINITE
from app.metrology.rules import MAXIMUM, MINIMUM


def test_jcgm_106_zener_breakdown_voltage() -> None:
    """JCGM 106:2012, clause 7 example: y = −5.47 V, u = 0.05 V, limit −5.40 V, printed p_c = 0.92. From memory."""
    probability = conformance_probability(MAXIMUM, -5.47, 0.05, INFINITE, -5.40)
    assert round(probability, 2) == 0.92
    assert probability == pytest.approx(0.9192, abs=5e-5)


def test_jcgm_106_burst_strength() -> None:
    """JCGM 106:2012, clause 7 example: y = 509.7 kPa, u = 8.6 kPa, limit ≥ 490 kPa, printed p_c = 0.99. From memory."""
    probability = conformance_probability(MINIMUM, 509.7, 8.6, INFINITE, 490.0)
    assert round(probability, 2) == 0.99
    assert probability == pytest.approx(0.9890, abs=5e-5)


@pytest.mark.parametrize(
    ("factor", "bound", "exact"),
    [
        (0.0, 0.50, 0.50),
        (0.83, 0.05, 0.04846),
        (1.0, 0.025, 0.02275),
        (1.5, 0.0016, 0.001350),
        (3.0, 1e-6, 0.00099e-6),
    ],
)
def test_ilac_g8_specific_false_accept_risk_at_the_acceptance_limit(factor: float, bound: float, exact: float) -> None:
    """ILAC-G8:09/2019, Table 1: guard band w = r·U with U = 2u, risk "less than" 50, 5, 2.5, 0.16 %, 1 ppm. Found.

    The printed figures are bounds: 0.16 % stands for an exact 0.135 %.
    """
    u = 0.04
    value = 10.60 - factor * 2.0 * u
    risk = 1.0 - conformance_probability(MAXIMUM, value, u, INFINITE, 10.60)
    assert risk <= bound * (1.0 + 1e-12)
    assert risk == pytest.approx(exact, rel=5e-3)


def test_iso_14253_default_guard_band_factor() -> None:
    """ISO 14253-1:2017 default: 1.65 u at 95 % (from memory); ILAC-G8 Table 1: 0.83 U (found). 1.6449, 0.8224."""
    band = guard_band(1.0, INFINITE, 0.95)
    assert band == pytest.approx(1.65, abs=0.006)
    assert band / 2.0 == pytest.approx(0.83, abs=0.008)
    assert band == pytest.approx(1.6449, abs=5e-5)


def test_guarded_acceptance_reaches_its_confidence_exactly_at_the_acceptance_limit() -> None:
    """JCGM 106:2012, 8.3.2: at the acceptance limit the risk is the one agreed. Definition, any figures."""
    limit = decide(MAXIMUM, "guarded_acceptance", 0.95, 10.60, 10.0, 0.06, 12.0).acceptance_limit
    assert limit is not None
    assert conformance_probability(MAXIMUM, limit, 0.06, 12.0, 10.60) == pytest.approx(0.95, abs=1e-12)


@pytest.mark.parametrize(
    ("mean", "process_capability", "printed"), [(10.0, 0.8333, 0.01242), (10.5, 0.416667, 0.10574)]
)
def test_out_of_limit_probability_of_a_capability_worksheet(
    mean: float, process_capability: float, printed: float
) -> None:
    """Risk worksheet quoted in the suncal test suite: limits 9 and 11, s = 0.4, P(outside) as printed. Found."""
    above = 1.0 - conformance_probability(MAXIMUM, mean, 0.4, INFINITE, 11.0)
    below = 1.0 - conformance_probability(MINIMUM, mean, 0.4, INFINITE, 9.0)
    assert above + below == pytest.approx(printed, abs=5e-6)
    assert min(11.0 - mean, mean - 9.0) / (3.0 * 0.4) == pytest.approx(process_capability, abs=5e-5)
