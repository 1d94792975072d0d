"""The gas in the chamber: mixtures, saturation, and by how much another gas than air lies."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.metrology.errors import MeasurementError
from app.metrology.physics.air import water_vapour_fraction
from app.metrology.physics.gas import (
    fuel_saturation_fraction,
    fuel_saturation_pressure_kpa,
    humidity_effect,
    mixture,
    refuse_other_gas,
    unpurged_effect,
)
from app.metrology.physics.sound import GAS_CONSTANT
from app.metrology.physics.substances import FUELS, OTHER_GASES, SUBSTANCES

SEA_LEVEL_KPA = 101.325


def test_a_mixture_weighs_by_moles() -> None:
    gas = mixture({"air": 0.75, "methanol": 0.25}, 45.0)
    mass = 0.75 * 28.96546 + 0.25 * 32.0419
    heat = 0.75 * (29.10 + 0.0019 * 20.0) + 0.25 * (44.06 + 0.070 * 20.0)
    gamma = heat / (heat - GAS_CONSTANT)
    assert gas.molar_mass_g_mol == pytest.approx(mass, rel=1e-12)
    assert gas.heat_capacity_ratio == pytest.approx(gamma, rel=1e-12)
    assert gas.speed_m_s == pytest.approx(math.sqrt(gamma * GAS_CONSTANT * 318.15 / mass * 1000.0), rel=1e-12)


def test_dry_air_is_the_air_of_the_texts() -> None:
    gas = mixture({"air": 1.0}, 20.0)
    assert gas.heat_capacity_ratio == pytest.approx(1.400, abs=5e-4)
    assert gas.speed_m_s == pytest.approx(343.2544, abs=1e-4)


@pytest.mark.parametrize(
    ("fractions", "words"),
    [
        ({"air": 0.9}, "add up to 1"),
        ({"air": 1.0, "water": 0.01}, "add up to 1"),
        ({}, "add up to 1"),
        ({"air": 1.1, "water": -0.1}, "between 0 and 1"),
        ({"air": 0.5, "water": math.nan}, "between 0 and 1"),
        ({"air": 0.5, "phlogiston": 0.5}, "“phlogiston” is not known"),
    ],
)
def test_a_mixture_that_cannot_be_is_refused(fractions: dict[str, float], words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        mixture(fractions, 20.0)
    assert refused.value.field == "mole_fractions"


@pytest.mark.parametrize("temperature_c", [-20.1, 120.1, 293.15, math.nan])
def test_gas_of_an_impossible_temperature_is_refused(temperature_c: float) -> None:
    for refusing in (
        lambda: mixture({"air": 1.0}, temperature_c),
        lambda: fuel_saturation_pressure_kpa("petrol", temperature_c),
        lambda: humidity_effect(10.5, temperature_c, SEA_LEVEL_KPA, 0.5, 20.0),
        lambda: unpurged_effect(10.5, temperature_c, SEA_LEVEL_KPA, 0.5, "petrol"),
        lambda: refuse_other_gas("helium", 10.5, temperature_c),
    ):
        with pytest.raises(MeasurementError, match="given in kelvin") as refused:
            refusing()
        assert refused.value.field == "temperature_c"


@pytest.mark.parametrize(
    ("fuel", "pressure_kpa"),
    [("petrol", 5.149814), ("petrol_fresh", 32.571375), ("methanol", 12.996032), ("ethanol", 5.850889)],
)
def test_vapour_pressures_at_twenty_degrees(fuel: str, pressure_kpa: float) -> None:
    assert fuel_saturation_pressure_kpa(fuel, 20.0) == pytest.approx(pressure_kpa, rel=1e-6)
    assert fuel_saturation_fraction(fuel, 20.0, 80.0) == pytest.approx(pressure_kpa / 80.0, rel=1e-6)


@pytest.mark.parametrize(("fuel", "boils_c"), [("methanol", 64.5), ("ethanol", 78.3), ("petrol", 99.24)])
def test_from_the_boiling_point_on_vapour_may_fill_the_chamber(fuel: str, boils_c: float) -> None:
    assert 0.97 < fuel_saturation_fraction(fuel, boils_c - 0.5, SEA_LEVEL_KPA) < 1.0
    assert fuel_saturation_fraction(fuel, boils_c + 0.5, SEA_LEVEL_KPA) == 1.0


def test_an_unknown_fuel_is_refused() -> None:
    for refusing in (
        lambda: fuel_saturation_pressure_kpa("paraffin", 20.0),
        lambda: fuel_saturation_fraction("paraffin", 20.0, SEA_LEVEL_KPA),
        lambda: unpurged_effect(10.5, 20.0, SEA_LEVEL_KPA, 0.5, "paraffin"),
    ):
        with pytest.raises(MeasurementError, match="“paraffin” is not known here") as refused:
            refusing()
        assert refused.value.field == "fuel"


@pytest.mark.parametrize(
    ("fuel", "ratio_change", "speed_squared_change"),
    [
        ("petrol", -1.889053, -0.198848),
        ("petrol_fresh", -4.146137, -0.436435),
        ("methanol", -0.353444, -0.037205),
        ("ethanol", -0.550206, -0.057916),
    ],
)
def test_a_chamber_wet_with_fuel_reads_low_by_this_much(
    fuel: str, ratio_change: float, speed_squared_change: float
) -> None:
    found = unpurged_effect(10.5, 20.0, SEA_LEVEL_KPA, 0.5, fuel)
    assert found.ratio_change == pytest.approx(ratio_change, abs=1e-5)
    assert found.speed_squared_change == pytest.approx(speed_squared_change, abs=1e-6)
    assert found.apparent_ratio == pytest.approx(10.5 + ratio_change, abs=1e-5)
    assert found.mole_fraction == fuel_saturation_fraction(fuel, 20.0, SEA_LEVEL_KPA)
    assert found.assumed_speed_m_s == pytest.approx(343.8864, abs=1e-4)
    assert (found.speed_m_s / found.assumed_speed_m_s) ** 2 - 1.0 == pytest.approx(found.speed_squared_change)


def test_one_per_cent_of_petrol_vapour_is_nearly_half_a_ratio() -> None:
    found = unpurged_effect(10.5, 20.0, SEA_LEVEL_KPA, 0.0, "petrol", 0.01)
    by_hand = mixture({"air": 0.99, "iso_octane": 0.01}, 20.0).speed_m_s / mixture({"air": 1.0}, 20.0).speed_m_s
    assert found.ratio_change == pytest.approx(9.5 * (by_hand**2 - 1.0), rel=1e-12)
    assert found.ratio_change == pytest.approx(-0.454774, abs=1e-6)
    assert found.mole_fraction == 0.01


def test_the_vapour_takes_its_room_from_moist_air() -> None:
    water = water_vapour_fraction(20.0, SEA_LEVEL_KPA * 1000.0, 0.6)
    found = unpurged_effect(10.5, 35.0, SEA_LEVEL_KPA, 0.6, "ethanol", 0.05, 20.0)
    gas = mixture({"air": 0.95 * (1.0 - water), "water": 0.95 * water, "ethanol": 0.05}, 35.0)
    assert found.speed_m_s == pytest.approx(gas.speed_m_s, rel=1e-12)
    assert found.assumed_speed_m_s == pytest.approx(mixture({"air": 1.0 - water, "water": water}, 35.0).speed_m_s)


def test_a_purged_chamber_has_nothing_to_say() -> None:
    found = unpurged_effect(10.5, 20.0, SEA_LEVEL_KPA, 0.5, "petrol", 0.0)
    assert (found.ratio_change, found.speed_squared_change, found.apparent_ratio) == (0.0, 0.0, 10.5)


def test_more_vapour_than_saturation_is_refused_with_the_most_there_can_be() -> None:
    most = fuel_saturation_fraction("methanol", 20.0, SEA_LEVEL_KPA)
    assert unpurged_effect(10.5, 20.0, SEA_LEVEL_KPA, 0.5, "methanol", most).mole_fraction == most
    for fraction in (most + 1e-9, -1e-9, math.nan):
        with pytest.raises(MeasurementError, match=r"at most 12.8 % of methanol vapour .*more of it") as refused:
            unpurged_effect(10.5, 20.0, SEA_LEVEL_KPA, 0.5, "methanol", fraction)
        assert refused.value.field == "fuel_mole_fraction"


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ((1.0, 20.0, SEA_LEVEL_KPA, 0.5), "ratio"),
        ((math.nan, 20.0, SEA_LEVEL_KPA, 0.5), "ratio"),
        ((10.5, 20.0, 49.9, 0.5), "pressure_kpa"),
        ((10.5, 20.0, 110.1, 0.5), "pressure_kpa"),
        ((10.5, 20.0, SEA_LEVEL_KPA, 50.0), "relative_humidity"),
    ],
)
def test_what_the_effects_are_asked_for_must_be_possible(
    arguments: tuple[float, float, float, float], field: str
) -> None:
    for refusing in (lambda: humidity_effect(*arguments), lambda: unpurged_effect(*arguments, "petrol")):
        with pytest.raises(MeasurementError) as refused:
            refusing()
        assert refused.value.field == field


def test_the_lowest_and_highest_air_pressures_are_taken() -> None:
    assert humidity_effect(10.5, 20.0, 50.0, 0.5).ratio_change > humidity_effect(10.5, 20.0, 110.0, 0.5).ratio_change


def test_damp_air_reads_high() -> None:
    found = humidity_effect(10.5, 20.0, SEA_LEVEL_KPA, 0.5)
    assert found.ratio_change == pytest.approx(0.035020, abs=1e-6)
    assert found.apparent_ratio == pytest.approx(10.535020, abs=1e-6)
    assert found.speed_squared_change == pytest.approx(0.003686, abs=1e-6)
    assert found.mole_fraction == water_vapour_fraction(20.0, 101325.0, 0.5)
    assert humidity_effect(10.5, 20.0, SEA_LEVEL_KPA, 0.0).ratio_change == 0.0


def test_humidity_belongs_to_the_air_outside_not_to_the_warm_chamber() -> None:
    warm = humidity_effect(10.5, 80.0, SEA_LEVEL_KPA, 0.5, 20.0)
    assert warm.mole_fraction == water_vapour_fraction(20.0, 101325.0, 0.5)
    assert warm.assumed_speed_m_s == mixture({"air": 1.0}, 80.0).speed_m_s


def test_a_chamber_colder_than_the_air_holds_no_more_water_than_saturation() -> None:
    most = water_vapour_fraction(5.0, 101325.0, 1.0)
    assert humidity_effect(10.5, 5.0, SEA_LEVEL_KPA, 0.9, 30.0).mole_fraction == most
    dry_enough = water_vapour_fraction(30.0, 101325.0, 0.1)
    assert dry_enough < most
    assert humidity_effect(10.5, 5.0, SEA_LEVEL_KPA, 0.1, 30.0).mole_fraction == dry_enough


def test_air_may_be_measured_on() -> None:
    refuse_other_gas("air", 10.5, 20.0)


@pytest.mark.parametrize(
    ("gas", "says"),
    [
        ("helium", "1007 m/s in helium, at 343 m/s in air: an engine of 10.50 would read 82.83, 72.33 too high"),
        (
            "carbon_dioxide",
            "267 m/s in carbon dioxide, at 343 m/s in air: an engine of 10.50 would read 6.76, 3.74 too low",
        ),
        ("nitrogen", "349 m/s in nitrogen, at 343 m/s in air: an engine of 10.50 would read 10.82, 0.32 too high"),
        ("hydrogen", "1304 m/s in hydrogen"),
    ],
)
def test_another_gas_is_refused_with_how_far_it_would_lie(gas: str, says: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        refuse_other_gas(gas, 10.5, 20.0)
    assert refused.value.field == "gas"
    assert says in refused.value.sentence
    assert refused.value.sentence.startswith("Only air can be measured on.")
    assert refused.value.sentence.endswith("Purge the cylinder with air and measure again.")


@pytest.mark.parametrize("gas", OTHER_GASES)
def test_every_other_gas_is_refused(gas: str) -> None:
    with pytest.raises(MeasurementError, match=r"too (high|low)\."):
        refuse_other_gas(gas, 10.5, 20.0)


@pytest.mark.parametrize("gas", ["phlogiston", "water", "methanol", ""])
def test_a_gas_that_is_not_known_is_refused_too(gas: str) -> None:
    with pytest.raises(MeasurementError, match=f"“{gas}” is not known here, and only air") as refused:
        refuse_other_gas(gas, 10.5, 20.0)
    assert refused.value.field == "gas"


def test_a_refusal_of_a_gas_needs_a_ratio_to_speak_of() -> None:
    with pytest.raises(MeasurementError) as refused:
        refuse_other_gas("air", 0.9, 20.0)
    assert refused.value.field == "ratio"


def test_all_fuels_stand_on_a_substance() -> None:
    assert {vapour.substance for vapour in FUELS.values()} <= set(SUBSTANCES)


@given(
    st.floats(1.5, 25.0),
    st.floats(-20.0, 120.0),
    st.floats(50.0, 110.0),
    st.floats(0.0, 1.0),
    st.sampled_from(sorted(FUELS)),
    st.floats(0.0, 1.0),
)
@settings(max_examples=300)
def test_more_fuel_vapour_never_reads_higher(
    ratio: float, temperature_c: float, pressure_kpa: float, humidity: float, fuel: str, share: float
) -> None:
    outside_c = min(temperature_c, 40.0)
    most = fuel_saturation_fraction(fuel, temperature_c, pressure_kpa)
    some = unpurged_effect(ratio, temperature_c, pressure_kpa, humidity, fuel, share * most, outside_c)
    full = unpurged_effect(ratio, temperature_c, pressure_kpa, humidity, fuel, None, outside_c)
    assert full.ratio_change <= some.ratio_change <= 1e-12
    assert 1.0 < full.apparent_ratio <= ratio


def test_the_sign_is_that_of_the_method_itself() -> None:
    """A tone heard in gas of speed c, told by the method as air: the chamber it names, and the ratio from that."""
    swept_cm3 = 691.0
    chamber_cm3 = swept_cm3 / 9.5
    found = unpurged_effect(10.5, 20.0, SEA_LEVEL_KPA, 0.4, "petrol", 0.02)
    tone = found.speed_m_s / math.sqrt(chamber_cm3)  # f ∝ c/√V; every other factor is the instrument's own
    named_cm3 = (found.assumed_speed_m_s / tone) ** 2
    assert named_cm3 > chamber_cm3
    assert 1.0 + swept_cm3 / named_cm3 == pytest.approx(found.apparent_ratio, rel=1e-12)
