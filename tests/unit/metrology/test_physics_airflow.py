"""The flowmeter's factors and what the airflow contributes; what is refused."""

import math

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.physics.airflow import airflow_component, gas_factor, liquid_factor


def test_the_liquid_the_scale_was_made_for_needs_no_factor() -> None:
    assert liquid_factor(0.74, 0.74, 2.7) == 1.0


def test_a_lighter_liquid_flows_faster_at_the_same_reading() -> None:
    assert liquid_factor(1.0, 0.75, 4.0) == pytest.approx(math.sqrt(3.25 / (3.0 * 0.75)), rel=1e-12)


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ((0.0, 0.8, 8.0), "calibrated_density"),
        ((1.0, -0.8, 8.0), "density"),
        ((1.0, 0.8, 1.0), "float_density"),
        ((0.8, 1.0, 1.0), "float_density"),
        ((1.0, 0.8, math.inf), "float_density"),
        ((1.0, 0.8, math.nan), "float_density"),
    ],
)
def test_an_impossible_float_or_liquid_is_refused(arguments: tuple[float, float, float], field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        liquid_factor(*arguments)
    assert refused.value.field == field


def test_the_gas_the_scale_was_made_for_needs_no_factor() -> None:
    assert gas_factor() == 1.0


def test_a_gas_factor_goes_with_the_root_of_each_cause() -> None:
    assert gas_factor(specific_gravity=4.0) == pytest.approx(0.5)
    assert gas_factor(pressure_kpa=202.65) == pytest.approx(math.sqrt(2.0))
    assert gas_factor(calibrated_pressure_kpa=202.65) == pytest.approx(math.sqrt(0.5))
    assert gas_factor(temperature_c=40.0) == pytest.approx(math.sqrt(293.15 / 313.15))
    assert gas_factor(calibrated_temperature_c=40.0) == pytest.approx(math.sqrt(313.15 / 293.15))


@pytest.mark.parametrize(
    ("given", "value"),
    [
        ("specific_gravity", 0.0),
        ("pressure_kpa", 0.0),
        ("calibrated_pressure_kpa", -1.0),
        ("temperature_c", -273.15),
        ("temperature_c", math.inf),
        ("calibrated_temperature_c", math.nan),
    ],
)
def test_an_impossible_gas_is_refused(given: str, value: float) -> None:
    with pytest.raises(MeasurementError) as refused:
        gas_factor(**{given: value})
    assert refused.value.field == given


def test_the_airflow_counts_as_anywhere_within_its_tolerance() -> None:
    assert airflow_component(0.02, 0.3) == pytest.approx(0.006 / math.sqrt(3.0), rel=1e-12)
    assert airflow_component(-0.02, 0.3) == airflow_component(0.02, 0.3)
    assert airflow_component(0.02, 0.0) == 0.0
    assert airflow_component(0.0, 1000.0) == 0.0


@pytest.mark.parametrize(
    ("sensitivity", "tolerance", "field"),
    [
        (math.inf, 0.1, "sensitivity_per_l_min"),
        (math.nan, 0.1, "sensitivity_per_l_min"),
        (0.02, -0.1, "tolerance_l_min"),
        (0.02, 1000.1, "tolerance_l_min"),
        (0.02, math.nan, "tolerance_l_min"),
    ],
)
def test_an_impossible_airflow_is_refused(sensitivity: float, tolerance: float, field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        airflow_component(sensitivity, tolerance)
    assert refused.value.field == field
