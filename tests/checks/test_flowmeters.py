"""The variable-area flowmeter against print, and its conversions against pint."""

import math

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.metrology import units
from app.metrology.physics.airflow import gas_factor, liquid_factor

RANDOM_CASES = 200
REGISTRY = pint.UnitRegistry()
PSI_KPA = units.pressure_to_kpa(1.0, "psi")


def test_a_lighter_liquid() -> None:
    """VA-L. Tokyo Keiso, On Flow Measurement F-0007: 1.134, 11.34 m³/h. Found; float density 8.0 reproduces it."""
    factor = liquid_factor(1.0, 0.8, 8.0)
    assert factor == pytest.approx(1.134, abs=1e-3)
    assert factor == pytest.approx(1.1339, abs=5e-5)
    assert 10.0 * factor == pytest.approx(11.34, abs=1e-2)
    assert 10.0 * factor == pytest.approx(11.339, abs=5e-4)


def test_the_root_of_the_densities_alone_is_the_common_slip() -> None:
    """VA-L, remark: √(ρ1/ρ2) = 1.118 leaves out the float's buoyancy."""
    assert math.sqrt(1.0 / 0.8) == pytest.approx(1.118, abs=5e-4)
    assert liquid_factor(1.0, 0.8, 8.0) / math.sqrt(1.0 / 0.8) == pytest.approx(math.sqrt(7.2 / 7.0))


@pytest.mark.parametrize(
    ("specific_gravity", "printed", "recomputed"),
    [(1.105, 0.95, 0.9513), (1.52, 0.81, 0.8111), (0.07, 3.78, 3.7796)],
    ids=["oxygen", "carbon dioxide", "hydrogen"],
)
def test_another_gas(specific_gravity: float, printed: float, recomputed: float) -> None:
    """VA-P. Brooks Instrument, gas correction table for variable-area meters. Found."""
    assert gas_factor(specific_gravity) == pytest.approx(printed, abs=0.005)
    assert gas_factor(specific_gravity) == pytest.approx(recomputed, abs=5e-5)


def test_another_pressure() -> None:
    """VA-P. 20 psig against a scale made at 0 psig, 14.696 psia: found without its result; 1.5365 computed."""
    factor = gas_factor(pressure_kpa=34.696 * PSI_KPA, calibrated_pressure_kpa=14.696 * PSI_KPA)
    assert factor == pytest.approx(1.5365, abs=5e-5)


@pytest.mark.parametrize(("label_f", "normal_litres"), [(70.0, 0.43809), (60.0, 0.44652)])
def test_a_standard_cubic_foot_an_hour(label_f: float, normal_litres: float) -> None:
    """VA-S. Definitions (SP 811 factors; DIN 1343 normal conditions): in NL/min at 0 °C, 101.325 kPa. Computed."""
    found = units.flow_at_other_conditions(
        units.flow_to_l_min(1.0, "ft3_h"), units.temperature_to_c(label_f, "f"), 0.0, 14.696 * PSI_KPA, 101.325
    )
    assert found == pytest.approx(normal_litres, abs=1e-4)
    assert found == pytest.approx(normal_litres, rel=2e-5)


def test_a_flow_without_its_label_is_eight_per_cent_apart() -> None:
    """VA-S: 0.472 L/min without correction, printed everywhere. The three figures differ by 8 %: a label is a must."""
    flow = units.flow_to_l_min(1.0, "ft3_h")
    assert flow == pytest.approx(0.472, abs=1e-4)
    assert flow == pytest.approx(0.47195, abs=5e-6)
    assert flow / 0.43809 - 1.0 == pytest.approx(0.08, abs=0.005)


@given(st.floats(0.01, 1000.0), st.floats(-40.0, 150.0), st.floats(-20.0, 80.0), st.floats(5.0, 40.0),
       st.floats(50.0, 300.0))  # fmt: skip
@settings(max_examples=RANDOM_CASES, deadline=None)
def test_pint_carries_a_flow_to_other_conditions_alike(
    flow: float, from_f: float, to_c: float, from_psi: float, to_kpa: float
) -> None:
    """p·V/T kept the same, in pint's own units from end to end; its atmosphere and pound force are its own too."""
    quantity = REGISTRY.Quantity
    here = quantity(flow, "foot**3/hour")
    there = (
        here
        * (quantity(from_psi, "psi") / quantity(to_kpa, "kilopascal"))
        * (quantity(to_c, "degC").to("kelvin") / quantity(from_f, "degF").to("kelvin"))
    )
    ours = units.flow_at_other_conditions(
        units.flow_to_l_min(flow, "ft3_h"),
        units.temperature_to_c(from_f, "f"),
        to_c,
        units.pressure_to_kpa(from_psi, "psi"),
        to_kpa,
    )
    assert ours == pytest.approx(there.to("liter/minute").magnitude, rel=1e-9)


@given(
    st.floats(0.05, 3.0), st.floats(0.0, 60.0), st.floats(-40.0, 150.0), st.floats(0.0, 60.0), st.floats(-20.0, 80.0)
)
@settings(max_examples=RANDOM_CASES, deadline=None)
def test_pint_finds_the_same_gas_factor_from_the_densities(
    specific_gravity: float, gauge_psi: float, from_f: float, scale_psi: float, scale_c: float
) -> None:
    """Written from the drag on the float: mass flow ∝ √ρ in the tube, divided by the weight of a standard volume."""
    quantity = REGISTRY.Quantity
    air, gas = quantity(28.96546, "g/mol"), quantity(28.96546 * specific_gravity, "g/mol")
    atmosphere = quantity(1.0, "atm")
    density = (quantity(gauge_psi, "psi") + atmosphere) * gas / (REGISTRY.R * quantity(from_f, "degF").to("kelvin"))
    of_scale = (quantity(scale_psi, "psi") + atmosphere) * air / (REGISTRY.R * quantity(scale_c, "degC").to("kelvin"))
    theirs = ((density / of_scale) ** 0.5 / (gas / air)).to("dimensionless").magnitude
    ours = gas_factor(
        specific_gravity,
        units.pressure_to_kpa(gauge_psi, "psi") + 101.325,
        units.pressure_to_kpa(scale_psi, "psi") + 101.325,
        units.temperature_to_c(from_f, "f"),
        scale_c,
    )
    assert ours == pytest.approx(theirs, rel=1e-9)
