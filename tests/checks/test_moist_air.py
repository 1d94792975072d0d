"""The density of moist air against print and against the equation of state of humid air."""

import pytest
from CoolProp import CoolProp  # type: ignore[import-untyped]
from hypothesis import given, settings
from hypothesis import strategies as st

from app.metrology.physics.air import moist_air_density_kg_m3, saturation_pressure_pa

RANDOM_CASES = 200


def test_density_of_air_at_twenty_degrees_and_half_saturation() -> None:
    """AIR-D. CIPM-2007 (Picard et al. 2008): 1.19931 kg/m³. Coefficients found; value computed, no printed figure."""
    density = moist_air_density_kg_m3(20.0, 101325.0, 0.5)
    assert density == pytest.approx(1.19931, abs=5e-6)
    assert density == pytest.approx(1.19936, abs=2e-4)  # humid-air equation of state


def test_the_weighing_convention_is_six_parts_in_ten_thousand_above_it() -> None:
    """AIR-D, remark: “1.2 kg/m³” of the weighing convention is 0.06 % above."""
    assert 1.2 / moist_air_density_kg_m3(20.0, 101325.0, 0.5) - 1.0 == pytest.approx(0.0006, abs=5e-5)


@pytest.mark.parametrize(
    ("temperature_c", "pressure_pa", "humidity", "printed"),
    [(23.0, 101325.0, 0.50, 1.1860848), (20.0, 80000.0, 0.65, 0.9441589)],
)
def test_density_to_every_printed_digit(
    temperature_c: float, pressure_pa: float, humidity: float, printed: float
) -> None:
    """IEC 61094-2:2009, Annex F, Table F.1. Found: a public acoustics library quoting the table."""
    assert round(moist_air_density_kg_m3(temperature_c, pressure_pa, humidity, 0.0004), 7) == printed


@given(st.floats(0.0, 45.0), st.floats(50_000.0, 110_000.0), st.floats(0.0, 1.0))
@settings(max_examples=RANDOM_CASES, deadline=None)
def test_density_agrees_with_the_equation_of_state_of_humid_air(
    temperature_c: float, pressure_pa: float, humidity: float
) -> None:
    """CoolProp's humid air (ASHRAE RP-1485): another formulation altogether, other data, other virial coefficients.

    1 part in 10⁴: the formula's own uncertainty is 2.2 in 10⁵, the rest is the step beyond its recommended range.
    """
    volume_per_kg = CoolProp.HAPropsSI("Vha", "T", temperature_c + 273.15, "P", pressure_pa, "R", humidity)
    assert moist_air_density_kg_m3(temperature_c, pressure_pa, humidity) == pytest.approx(1.0 / volume_per_kg, rel=1e-4)


@given(st.floats(0.01, 100.0))
@settings(max_examples=RANDOM_CASES, deadline=None)
def test_vapour_pressure_of_water_agrees_with_its_equation_of_state(temperature_c: float) -> None:
    """CoolProp's water (IAPWS-95) within 1 in 10³ over the whole range a chamber may have."""
    exact = CoolProp.PropsSI("P", "T", temperature_c + 273.15, "Q", 0, "Water")
    assert saturation_pressure_pa(temperature_c) == pytest.approx(exact, rel=1e-3)
