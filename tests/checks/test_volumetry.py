"""Water, glassware, weighing and expansion against print and against the equation of state of water."""

import math
from decimal import Decimal

import GTC  # type: ignore[import-untyped]
import pytest
from CoolProp.CoolProp import PropsSI  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat  # type: ignore[import-untyped]

from app.metrology.distributions import standard_uncertainty_rectangular, standard_uncertainty_triangular
from app.metrology.metals import METALS
from app.metrology.volumetry import water
from app.metrology.volumetry.glassware import GLASSES, tolerance_cm3, tolerance_standard_uncertainty
from app.metrology.volumetry.gravimetry import volume_at_20_cm3, z_factor_cm3_g
from app.metrology.volumetry.liquids import LIQUIDS, volume_ratio
from tests.unit.metrology.volumetry_builders import a_burette

ATMOSPHERE_PA = 101325.0


@pytest.mark.parametrize(
    ("temperature_c", "printed"),
    [
        (0.0, 999.8428), (5.0, 999.9668), (10.0, 999.7026), (15.0, 999.1026),
        (20.0, 998.2067), (25.0, 997.0470), (30.0, 995.6488), (40.0, 992.2152),
    ],
)  # fmt: skip
def test_density_of_water_as_tabulated(temperature_c: float, printed: float) -> None:
    """Tanaka et al., Metrologia 38 (2001) 301, table. Formula found, tabulated values from memory.

    At 10 °C the formula gives 999.70270: the figure remembered is one lower in its last digit.
    """
    assert water.density_kg_m3(temperature_c) == pytest.approx(printed, abs=1.5e-4)


def test_density_of_water_at_35_c() -> None:
    """Tanaka et al. 2001, formula; no printed figure claimed: 994.0326."""
    assert water.density_kg_m3(35.0) == pytest.approx(994.0326, abs=5e-5)


@given(st.floats(0.01, 40.0))
@settings(max_examples=200)
def test_density_and_expansion_of_water_agree_with_the_equation_of_state(temperature_c: float) -> None:
    """IAPWS-95 as CoolProp has it, 101 325 Pa, within 0.002 kg/m³ (its figure at 20 °C: 998.2072)."""
    kelvin = temperature_c + 273.15
    assert water.density_kg_m3(temperature_c) == pytest.approx(
        PropsSI("D", "T", kelvin, "P", ATMOSPHERE_PA, "Water"), abs=0.002
    )
    expansion = PropsSI("ISOBARIC_EXPANSION_COEFFICIENT", "T", kelvin, "P", ATMOSPHERE_PA, "Water")
    assert water.cubic_expansion_per_k(temperature_c) == pytest.approx(expansion, abs=1e-6)


def test_equation_of_state_at_20_c() -> None:
    """IAPWS-95, 20 °C, 101 325 Pa: 998.2072 kg/m³. Computed; the table's own is 0.0005 lower."""
    assert PropsSI("D", "T", 293.15, "P", ATMOSPHERE_PA, "Water") == pytest.approx(998.2072, abs=5e-5)
    assert round(water.density_kg_m3(20.0), 4) == 998.2067


def test_expansion_of_water() -> None:
    """EURACHEM/CITAC QUAM:2012, A1 and A2, use 2.1e-4 /°C (found: documentation of GTC); 2.069e-4 near 20 °C.

    At 25 °C it is 2.57e-4, so the constant fails away from 20 °C.
    """
    assert water.cubic_expansion_per_k(20.0) == pytest.approx(2.1e-4, abs=0.05e-4)
    assert water.cubic_expansion_per_k(20.0) == pytest.approx(2.069e-4, abs=5e-8)
    assert water.cubic_expansion_per_k(25.0) == pytest.approx(2.57e-4, abs=5e-7)


def test_z_factor_of_weighing_water() -> None:
    """ISO 8655-6, Table A.1, 20 °C, 101.3 kPa: 1.0029 mL/g (editions print 1.0028 too). From memory; 1.00285."""
    assert z_factor_cm3_g(20.0) == pytest.approx(1.0029, abs=1e-4)
    assert z_factor_cm3_g(20.0) == pytest.approx(1.00285, abs=5e-6)


def test_water_weighed_from_a_glass_burette() -> None:
    """ISO 4787's sum by hand: 99.71 g at 25 °C with 997.0470 kg/m³; borosilicate takes 5·9.9e-6 off."""
    by_hand = 99.71 * 1000.0 * (1.0 - 1.2 / 8000.0) / (997.0470 - 1.2) * (1.0 - 5.0 * 9.9e-6)
    assert volume_at_20_cm3(99.71, 25.0, GLASSES["borosilicate"].expansion_per_k) == pytest.approx(by_hand, rel=1e-7)
    assert by_hand == pytest.approx(100.106, abs=5e-4)


@pytest.mark.parametrize(("nominal", "printed"), [(10.0, 0.02), (25.0, 0.03), (50.0, 0.05), (100.0, 0.10)])
def test_class_tolerances_of_burettes(nominal: float, printed: float) -> None:
    """ASTM E287 class A, ISO 385 class AS, from memory. Class B is twice that: E287-02(2019), 1.1.2, found."""
    assert tolerance_cm3(a_burette(nominal_cm3=nominal)) == printed
    assert tolerance_cm3(a_burette(nominal_cm3=nominal, tolerance_class="b")) == 2.0 * printed


@pytest.mark.parametrize(
    ("half_width", "rectangular", "triangular"), [(0.05, "0.0289", "0.0204"), (0.10, "0.0577", "0.0408")]
)
def test_tolerance_to_standard_uncertainty(half_width: float, rectangular: str, triangular: str) -> None:
    """Burettes of 50 mL and 100 mL; computed, no printed figure: 0.0289, 0.0204, 0.0577 mL (0.0408: QUAM A1's 0.04)."""
    assert f"{standard_uncertainty_rectangular(half_width):.4f}" == rectangular
    assert f"{standard_uncertainty_triangular(half_width):.4f}" == triangular
    stated = a_burette(nominal_cm3=120.0, tolerance_class="stated", stated_tolerance_cm3=half_width)
    assert tolerance_standard_uncertainty(stated) == (pytest.approx(half_width / math.sqrt(3.0)), "rectangular")
    likelier_in_the_middle = a_burette(nominal_cm3={0.05: 50.0, 0.10: 100.0}[half_width])
    assert tolerance_standard_uncertainty(likelier_in_the_middle) == (
        pytest.approx(half_width / math.sqrt(6.0)),
        "triangular",
    )


def test_class_b_is_not_taken_to_be_likelier_in_the_middle() -> None:
    """EURACHEM/CITAC QUAM:2012, Appendix E: without more than limits, rectangular. From memory."""
    assert tolerance_standard_uncertainty(a_burette(tolerance_class="b")) == (
        pytest.approx(0.2 / math.sqrt(3.0)),
        "rectangular",
    )


@pytest.mark.parametrize(
    ("expansion_per_k", "change"),
    [
        (GLASSES["borosilicate"].expansion_per_k, "0.0059"),
        (3.0 * METALS["steel"].expansion_per_k, "0.0210"),
        (3.0 * METALS["aluminium"].expansion_per_k, "0.0414"),
    ],
    ids=["borosilicate", "steel", "aluminium"],
)
def test_what_ten_kelvin_do_to_a_chamber_of_60_ml(expansion_per_k: float, change: str) -> None:
    """ISO 4787 (glass), engineering handbooks (3 × linear): coefficients from memory, products computed, mL."""
    assert 60.0 * 10.0 * expansion_per_k == pytest.approx(float(change), abs=1e-4)


def test_what_ten_kelvin_do_to_60_ml_of_water() -> None:
    """With the constant 2.1e-4 of QUAM: 0.1260 mL; computed. By the densities from 15 °C to 25 °C it is 0.1237 mL."""
    assert Decimal("60") * 10 * Decimal("2.1e-4") == Decimal("0.1260")
    grown = 60.0 * (volume_ratio(LIQUIDS["water_wetting_agent"], 15.0, 25.0) - 1.0)
    assert grown == pytest.approx(60.0 * (999.1026 / 997.0470 - 1.0), abs=1e-5)
    assert grown == pytest.approx(0.1237, abs=5e-5)


def test_eurachem_concentration_of_a_standard_solution() -> None:
    """EURACHEM/CITAC QUAM:2012, A1: printed c = 1002.7, u = 0.9, U = 1.8 mg/L.

    Inputs, c and the unrounded u 0.8352 found (documentation of GTC), the printed 0.9 and 1.8 from memory: they carry
    the rounded u(V) = 0.07 mL.
    """
    volume_ml = math.hypot(
        standard_uncertainty_triangular(0.1), 0.02, standard_uncertainty_rectangular(100.0 * 4.0 * 2.1e-4)
    )
    purity = standard_uncertainty_rectangular(0.0001)
    concentration = 1000.0 * ufloat(100.28, 0.05) * ufloat(0.9999, purity) / ufloat(100.0, volume_ml)
    by_gtc = 1000.0 * GTC.ureal(100.28, 0.05) * GTC.ureal(0.9999, purity) / GTC.ureal(100.0, volume_ml)
    assert round(concentration.nominal_value, 1) == 1002.7
    assert concentration.std_dev == pytest.approx(0.8352, abs=5e-5)
    assert GTC.uncertainty(by_gtc) == pytest.approx(0.8352, abs=5e-5)
    rounded_as_printed = 1002.7 * math.hypot(0.05 / 100.28, purity / 0.9999, 0.07 / 100.0)
    assert round(rounded_as_printed, 1) == 0.9
    assert 2.0 * round(rounded_as_printed, 1) == 1.8


def test_eurachem_titration_by_burette() -> None:
    """EURACHEM/CITAC QUAM:2012, A2: printed c = 0.10214, u = 0.00010 mol/L, u(V) = 0.013 mL.

    Inputs, 0.102136 and 1.005e-4 found (documentation of GTC), printed roundings from memory; u(V) unrounded 0.01364,
    printed from the rounded 0.012.
    The ±0.03 mL triangular are class A of 25 mL, the 0.006 mL are the liquid's expansion.
    """
    tolerance, distribution = tolerance_standard_uncertainty(a_burette(nominal_cm3=25.0))
    assert distribution == "triangular"
    volume_ml = math.hypot(tolerance, 0.006)
    assert volume_ml == pytest.approx(0.01364, abs=1e-5)
    assert round(math.hypot(round(tolerance, 3), 0.006), 3) == 0.013
    weighing = math.sqrt(2.0) * standard_uncertainty_rectangular(0.00015)
    concentration = (
        1000.0
        * ufloat(0.3888, weighing)
        * ufloat(1.0, standard_uncertainty_rectangular(0.0005))
        * ufloat(1.0, 0.0005)
        / ufloat(204.2212, 0.0038)
        / ufloat(18.64, volume_ml)
    )
    assert round(concentration.nominal_value, 5) == 0.10214
    assert concentration.nominal_value == pytest.approx(0.102136, abs=1e-6)
    assert concentration.std_dev == pytest.approx(0.0001005, abs=5e-8)
    assert f"{concentration.std_dev:.5f}" == "0.00010"
