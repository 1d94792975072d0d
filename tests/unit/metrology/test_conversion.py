"""Units both ways, and the caution about flow."""

from decimal import Decimal
from typing import Any

import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.metrology import units
from app.metrology.errors import MeasurementError

PAIRS: dict[str, Any] = {
    "length": (units.length_to_mm_exact, units.length_from_mm_exact, units.LENGTHS_MM),
    "volume": (units.volume_to_cm3_exact, units.volume_from_cm3_exact, units.VOLUMES_CM3),
    "flow": (units.flow_to_l_min_exact, units.flow_from_l_min_exact, units.FLOWS_L_MIN),
    "pressure": (units.pressure_to_kpa_exact, units.pressure_from_kpa_exact, units.PRESSURES_KPA),
    "temperature": (units.temperature_to_c_exact, units.temperature_from_c_exact, units.TEMPERATURES),
}
FLOATS = {
    "length": (units.length_to_mm, units.length_from_mm),
    "volume": (units.volume_to_cm3, units.volume_from_cm3),
    "flow": (units.flow_to_l_min, units.flow_from_l_min),
    "pressure": (units.pressure_to_kpa, units.pressure_from_kpa),
    "temperature": (units.temperature_to_c, units.temperature_from_c),
}
EVERY_UNIT = [(quantity, unit) for quantity, (_, _, table) in PAIRS.items() for unit in table]
TYPED = st.decimals("-99999", "99999", places=4)
PINT_UNITS = {
    "mm": "mm", "cm": "cm", "in": "inch", "cm3": "cm**3", "l": "liter", "in3": "inch**3", "ft3": "foot**3",
    "us_gal": "gallon", "us_fl_oz": "fluid_ounce", "l_min": "liter/minute", "ft3_h": "foot**3/hour",
    "ft3_min": "foot**3/minute", "kpa": "kPa", "hpa": "hPa", "atm": "atm", "psi": "psi", "c": "degC", "f": "degF",
    "k": "kelvin",
}  # fmt: skip
CORE_UNITS = {"length": "mm", "volume": "cm3", "flow": "l_min", "pressure": "kpa", "temperature": "c"}


@pytest.mark.parametrize(("quantity", "unit"), EVERY_UNIT)
@given(typed=TYPED)
@settings(max_examples=40)
def test_the_way_there_and_back_returns_what_was_typed(quantity: str, unit: str, typed: Decimal) -> None:
    there, back, _ = PAIRS[quantity]
    assert round(back(there(typed, unit), unit), 15) == typed


@pytest.mark.parametrize(("quantity", "unit"), EVERY_UNIT)
@given(typed=TYPED)
@settings(max_examples=40)
def test_floats_agree_with_the_exact_figure_to_the_last_digit(quantity: str, unit: str, typed: Decimal) -> None:
    for exact, rounded in zip(PAIRS[quantity][:2], FLOATS[quantity], strict=True):
        assert rounded(float(typed), unit) == float(exact(typed, unit))


@pytest.mark.parametrize(("quantity", "unit"), [pair for pair in EVERY_UNIT if pair[1] in PINT_UNITS])
@given(value=st.floats(0.01, 1e5))
@settings(max_examples=25)
def test_an_independent_library_converts_the_same(quantity: str, unit: str, value: float) -> None:
    theirs = _PINT.Quantity(value, PINT_UNITS[unit]).to(PINT_UNITS[CORE_UNITS[quantity]]).magnitude
    assert FLOATS[quantity][0](value, unit) == pytest.approx(theirs, rel=1e-12, abs=1e-10)


_PINT: "pint.UnitRegistry[float]" = pint.UnitRegistry()


@given(st.decimals("0.1", "30", places=3))
def test_a_length_typed_in_inches_is_kept_whole_in_millimetres(inches: Decimal) -> None:
    assert units.length_to_mm_exact(inches, "in") == inches * Decimal("25.4")


@given(st.floats(-100.0, 100.0))
def test_a_difference_of_temperature_knows_no_zero(kelvin: float) -> None:
    fahrenheit = units.temperature_difference_from_k(kelvin, "f")
    assert fahrenheit == pytest.approx(1.8 * kelvin)
    assert units.temperature_difference_to_k(fahrenheit, "f") == pytest.approx(kelvin)
    assert units.temperature_difference_to_k(kelvin, "c") == kelvin


@pytest.mark.parametrize("function", [pair[0] for pair in FLOATS.values()])
def test_an_unknown_unit_is_named_with_those_that_are_known(function: object) -> None:
    assert callable(function)
    with pytest.raises(MeasurementError, match=r"furlong.*Known are"):
        function(1.0, "furlong")


@pytest.mark.parametrize("value", [float("nan"), float("inf"), -float("inf")])
def test_what_is_no_number_is_not_converted(value: float) -> None:
    with pytest.raises(MeasurementError, match="plain number"):
        units.length_to_mm(value, "in")
    with pytest.raises(MeasurementError, match="plain number"):
        units.volume_to_cm3_exact(Decimal(value), "in3")


def test_the_same_flow_counted_cold_and_warm_differs() -> None:
    assert units.flow_at_other_conditions(1.0, 21.1, 0.0) == pytest.approx(273.15 / 294.25)
    assert units.flow_at_other_conditions(1.0, 20.0, 20.0, 101.325, 202.65) == pytest.approx(0.5)
