"""Unit factors, engine geometry, the speed of sound, and what the trade does, against print."""

import math
from decimal import Decimal

import pytest

from app.metrology import units
from app.metrology.geometry import (
    clearance_volume_cm3,
    compression_ratio,
    displacement_cm3,
    swept_volume_cm3,
)
from app.metrology.inputs import AcousticObservations, Conditions, CylinderReading, Engine, Instrument, Settings
from app.metrology.methods.acoustic_resonance import corrected_ratio, measure
from app.metrology.settings import find_settings
from app.metrology.uncertainty import combine
from tests.unit.metrology.builders import an_engine, assessed, readings, true_settings


@pytest.mark.parametrize(
    ("computed", "printed"),
    [
        (units.volume_to_cm3(1.0, "in3"), 16.387064),
        (units.volume_to_cm3(1.0, "us_fl_oz"), 29.57353),
        (units.pressure_to_kpa(1.0, "psi"), 6.894757),
        (units.volume_to_cm3(1.0, "us_gal") / 1000.0, 3.785412),
        (units.flow_to_l_min(1.0, "ft3_h") / 60.0 * 1000.0, 7.865791),
        (units.pressure_to_kpa(1.0, "inhg"), 3.386389),
        (units.flow_to_l_min(1.0, "ft3_min") / 60.0, 0.4719474),
        (units.pressure_from_kpa(101.325, "psi"), 14.69595),
        (units.length_to_mm(1.0, "in"), 25.4),
    ],
    ids=["in³ in cm³", "fl oz in mL", "psi in kPa", "gal in L", "ft³/h in 1e-6 m³/s", "inHg in kPa", "ft³/min in L/s",
         "atm in psi", "in in mm"],
)  # fmt: skip
def test_nist_sp_811_factors_to_the_printed_digits(computed: float, printed: float) -> None:
    """NIST SP 811, Appendix B. From memory; recomputation consistent."""
    digits = -Decimal(repr(printed)).as_tuple().exponent  # type: ignore[operator]
    assert round(computed, digits) == printed


def test_seventy_fahrenheit() -> None:
    """NIST SP 811, Appendix B: (70 − 32)/1.8 = 21.1111 °C. Computed, no printed figure claimed."""
    assert units.temperature_to_c(70.0, "f") == pytest.approx(21.1111, abs=5e-5)
    assert units.temperature_from_c_exact(Decimal("-40"), "f") == Decimal("-40")


@pytest.mark.parametrize(("reference_f", "normal_litres"), [(70.0, 0.43809), (60.0, 0.44652)])
def test_a_standard_cubic_foot_an_hour_in_normal_litres(reference_f: float, normal_litres: float) -> None:
    """Definitions: SP 811 factors, normal conditions of DIN 1343 (0 °C, 101.325 kPa); 14.696 psia is 101.325 kPa."""
    reference_c = units.temperature_to_c(reference_f, "f")
    flow = units.flow_at_other_conditions(units.flow_to_l_min(1.0, "ft3_h"), reference_c, 0.0)
    assert flow == pytest.approx(normal_litres, abs=5e-6)


def test_a_standard_cubic_foot_an_hour_without_regard_to_conditions() -> None:
    """Definitions: 0.472 L/min, printed everywhere; 8 % above the same flow at normal conditions."""
    assert units.flow_to_l_min(1.0, "ft3_h") == pytest.approx(0.472, abs=5e-4)


def test_square_engine_of_three_litres() -> None:
    """Pulkrabek, Engineering Fundamentals of the ICE, Example 2-1: bore 8.60 cm, Vc 59 cm³. From memory; 58.824."""
    swept_cm3 = 3000.0 / 6.0
    bore_mm = 10.0 * (4.0 * swept_cm3 / math.pi) ** (1.0 / 3.0)
    assert bore_mm / 10.0 == pytest.approx(8.60, abs=0.005)
    assert displacement_cm3(bore_mm, bore_mm, 6) == pytest.approx(3000.0)
    assert clearance_volume_cm3(swept_cm3, 9.5) == pytest.approx(58.824, abs=5e-4)
    assert round(clearance_volume_cm3(swept_cm3, 9.5)) == 59
    assert compression_ratio(swept_cm3, 58.8235294) == pytest.approx(9.5)


def test_eight_cylinders_of_350_cubic_inches() -> None:
    """Bore 4.000 in, stroke 3.480 in: nominally 350 in³. From memory (nominal); computed 349.8478 in³, 5732.978 cm³."""
    whole_cm3 = displacement_cm3(units.length_to_mm(4.0, "in"), units.length_to_mm(3.48, "in"), 8)
    assert units.volume_from_cm3(whole_cm3, "in3") == pytest.approx(349.8478, abs=5e-5)
    assert whole_cm3 == pytest.approx(5732.978, abs=5e-4)
    assert round(units.volume_from_cm3(whole_cm3, "in3")) == 350


def test_four_cylinder_chart_with_deck_and_head() -> None:
    """Formula chart of an air-cooled-engine parts shop (public page): 1641 cm³, deck 9.06 cm³, CR 7.95. Found."""
    swept_cm3 = swept_volume_cm3(87.0, 69.0)
    deck_cm3 = swept_volume_cm3(87.0, units.length_to_mm(0.06, "in"))
    assert round(displacement_cm3(87.0, 69.0, 4)) == 1641
    assert deck_cm3 == pytest.approx(9.06, abs=0.005)
    assert compression_ratio(swept_cm3, 50.0 + deck_cm3) == pytest.approx(7.95, abs=0.005)
    assert compression_ratio(swept_cm3, 50.0 + deck_cm3) == pytest.approx(7.9452, abs=5e-5)


def test_uncertainty_of_a_ratio_from_bore_stroke_and_chamber() -> None:
    """Bore 102.00 mm (u 0.01), stroke 88.00 (0.02), Vc 74.00 cm³ (0.15): r = 10.71720, u = 0.019912.

    No publication: three independent propagations agree (GTC, uncertainties, Monte Carlo 0.019902).
    """
    engine = Engine(102.0, 88.0, 1, 0.01, 0.02)
    swept_cm3 = swept_volume_cm3(102.0, 88.0)
    ratio = compression_ratio(swept_cm3, 74.0)
    shown = round(ratio, 2)  # settings such that what is shown is exactly this ratio
    settings = Settings(swept_cm3 * (shown - 1.0) / (ratio - 1.0), 1, 20.0)
    from_chamber = (shown - 1.0) / 74.0 * 0.15
    found = measure(
        engine,
        AcousticObservations(
            Instrument("acoustic_resonance", 1e-9, from_chamber, "standard"),
            settings,
            Conditions(20.0, 0.0, "thermometer_in_chamber"),
            (CylinderReading(1, (f"{shown:.6f}",)),),
            repeatability=(0.0, math.inf),
        ),
    )
    assert found.results[0].value == pytest.approx(10.71720, abs=5e-6)
    assert clearance_volume_cm3(swept_cm3, found.results[0].value) == pytest.approx(74.0)
    combined = combine(found.sources, found.results[0])
    assert combined.standard_uncertainty == pytest.approx(0.019912, abs=5e-7)
    chamber = [source.name for source in found.sources].index("stated_accuracy")
    assert round(100.0 * combined.contributions[chamber] ** 2 / combined.standard_uncertainty**2) == 98


def test_one_kelvin_changes_the_volume_behind_a_tone_by_a_third_of_a_per_cent() -> None:
    """Algebra of the Helmholtz resonator, c² ∝ T: dV/V = 0.341 % a kelvin at 293.15 K. Derived, cross-checked."""
    engine = an_engine()
    settings = true_settings(engine, 20.0)
    volumes = [
        clearance_volume_cm3(
            swept_volume_cm3(engine.bore_mm, engine.stroke_mm), corrected_ratio(engine, settings, gas_c, 10.5)
        )
        for gas_c in (20.0, 21.0)
    ]
    assert volumes[1] / volumes[0] - 1.0 == pytest.approx(0.00341, abs=5e-6)
    assert volumes[1] / volumes[0] - 1.0 == pytest.approx(0.003411, abs=5e-7)


@pytest.mark.parametrize(("temperature_c", "speed"), [(0.0, 331.3), (20.0, 343.2), (25.0, 346.1)])
def test_volume_goes_with_the_square_of_the_printed_speeds_of_sound(temperature_c: float, speed: float) -> None:
    """Standard acoustics texts: 331.3, 343.2, 346.1 m/s in dry air (from memory); ideal gas, so V ∝ c² ∝ T."""
    engine = an_engine()
    at_20 = corrected_ratio(engine, true_settings(engine, 20.0), 20.0, 10.5) - 1.0
    at_other = corrected_ratio(engine, true_settings(engine, 20.0), temperature_c, 10.5) - 1.0
    assert at_20 / at_other == pytest.approx((speed / 343.2) ** 2, abs=2.0 * 0.1 / 343.2)


def test_a_twelve_cylinder_engine_on_a_six_cylinder_instrument() -> None:
    """Common practice, no source: 400 in³ with twelve cylinders is set as 200 in³ on a six-cylinder instrument."""
    whole_cm3 = units.volume_to_cm3(400.0, "in3")
    (choice,) = find_settings(12, whole_cm3, (6,), units.volume_to_cm3(50.0, "in3"), units.volume_to_cm3(500.0, "in3"))
    assert choice.cylinders == 6
    assert units.volume_from_cm3(choice.displacement_cm3, "in3") == pytest.approx(200.0)
    assert "Set 200.00 in³ (3277.4 cm³) and 6 cylinders" in choice.sentence


def test_a_two_cylinder_engine_on_a_four_cylinder_instrument() -> None:
    """Common practice, no source: 100 in³ with two cylinders is set as 200 in³ on a four-cylinder instrument."""
    whole_cm3 = units.volume_to_cm3(100.0, "in3")
    choice = find_settings(2, whole_cm3, (4, 6, 8), 0.0, units.volume_to_cm3(500.0, "in3"))[0]
    assert choice.cylinders == 4
    assert units.volume_from_cm3(choice.displacement_cm3, "in3") == pytest.approx(200.0)


@pytest.mark.parametrize(("cylinders", "whole_in3", "to_set"), [(12, 400.0, (6, 200.0)), (2, 100.0, (4, 200.0))])
def test_such_settings_show_the_engine_its_own_ratio(
    cylinders: int, whole_in3: float, to_set: tuple[int, float]
) -> None:
    """Common practice, no source: what is set so needs no correction."""
    swept_cm3 = units.volume_to_cm3(whole_in3, "in3") / cylinders
    engine = Engine(bore_mm=100.0, stroke_mm=swept_cm3 * 1000.0 / (math.pi / 4.0 * 100.0**2), cylinders=cylinders)
    settings = Settings(units.volume_to_cm3(to_set[1], "in3"), to_set[0], 20.0)
    assert corrected_ratio(engine, settings, 20.0, 10.5) == pytest.approx(10.5, rel=1e-12)


def test_instruments_of_this_kind_are_good_to_about_a_tenth_of_a_ratio() -> None:
    """Common practice, no source: with ±0.10 stated and a careful sheet, U at 95 % is a good tenth."""
    expanded = assessed(readings=readings(("10.20", "10.21", "10.20"))).decided.expanded_uncertainty
    assert 0.10 < expanded < 0.15
