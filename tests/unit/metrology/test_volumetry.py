"""Burettes, liquids, fills and their scatter: figures by hand, boundaries, refusals."""

import math
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.metals import METALS, length_ratio
from app.metrology.repeatability import scatter
from app.metrology.volumetry import gravimetry, water
from app.metrology.volumetry.checking import check_fills, check_pouring, check_together
from app.metrology.volumetry.delivered import drawings, drawn, poured, pouring_uncertainties, reduction
from app.metrology.volumetry.glassware import reading_standard_uncertainty_cm3
from app.metrology.volumetry.liquids import LIQUIDS, expansion_per_k, volume_ratio
from app.metrology.volumetry.pouring import Fill
from app.metrology.volumetry.repeats import fill_scatters
from app.metrology.volumetry.top_dead_centre import drop_from_top
from app.metrology.volumetry.wording import (
    fills_in_words,
    pouring_corrections,
    pouring_words,
    reading_words,
    scatter_words,
)
from tests.unit.metrology.volumetry_builders import a_burette, a_pouring, fills


def refused(act: Callable[[], Any]) -> tuple[str, str]:
    with pytest.raises(MeasurementError) as caught:
        act()
    return caught.value.field, caught.value.sentence


def test_water_is_densest_near_four_degrees() -> None:
    assert water.cubic_expansion_per_k(3.983035) == pytest.approx(0.0, abs=1e-15)
    assert water.density_kg_m3(3.983035) == 999.97495
    assert water.cubic_expansion_per_k(0.0) < 0.0


@pytest.mark.parametrize("temperature_c", [0.01, 3.0, 20.0, 39.99])
def test_expansion_of_water_is_the_slope_of_its_density(temperature_c: float) -> None:
    step = 0.01
    slope = (water.density_kg_m3(temperature_c + step) - water.density_kg_m3(temperature_c - step)) / (2.0 * step)
    assert water.cubic_expansion_per_k(temperature_c) == pytest.approx(
        -slope / water.density_kg_m3(temperature_c), abs=1e-9
    )


@pytest.mark.parametrize("temperature_c", [-0.01, 40.01, math.nan, math.inf])
@pytest.mark.parametrize("of", [water.density_kg_m3, water.cubic_expansion_per_k])
def test_water_is_known_from_freezing_to_forty_degrees(of: Callable[[float], float], temperature_c: float) -> None:
    field, sentence = refused(lambda: of(temperature_c))
    assert field == "temperature_c"
    assert "between 0 °C and 40 °C" in sentence
    assert of(0.0)
    assert of(40.0)


def test_water_at_room_temperature_in_kelvin_is_recognised() -> None:
    _, sentence = refused(lambda: water.density_kg_m3(293.15))
    assert sentence.endswith("Was it typed in kelvin? 293.15 K are 20.0 °C.")


def test_a_heavier_air_makes_a_gram_on_the_balance_stand_for_more() -> None:
    assert gravimetry.z_factor_cm3_g(20.0, 1.3) - gravimetry.z_factor_cm3_g(20.0, 1.2) == pytest.approx(
        8.8e-5, rel=0.01
    )
    assert gravimetry.z_factor_cm3_g(20.0, 1.2, 7000.0) < gravimetry.z_factor_cm3_g(20.0, 1.2, 8000.0)


@pytest.mark.parametrize(
    ("act", "field"),
    [
        (lambda: gravimetry.z_factor_cm3_g(20.0, 0.4), "air_kg_m3"),
        (lambda: gravimetry.z_factor_cm3_g(20.0, 1.2, 8.0), "weights_kg_m3"),
        (lambda: gravimetry.volume_at_20_cm3(-1.0, 20.0, 1e-5), "mass_g"),
        (lambda: gravimetry.volume_at_20_cm3(99.7, 20.0, 0.1), "expansion_per_k"),
        (lambda: gravimetry.volume_at_20_cm3(99.7, 41.0, 1e-5), "temperature_c"),
    ],
)
def test_weighing_refuses_what_cannot_be(act: Callable[[], float], field: str) -> None:
    assert refused(act)[0] == field


def test_oil_expands_by_its_coefficient_and_back() -> None:
    oil = LIQUIDS["mineral_oil"]
    assert volume_ratio(oil, 20.0, 30.0) == pytest.approx(math.exp(7.0e-3))
    assert volume_ratio(oil, 20.0, 30.0) * volume_ratio(oil, 30.0, 20.0) == pytest.approx(1.0, rel=1e-15)
    assert expansion_per_k(oil, 55.0) == 7.0e-4
    assert expansion_per_k(LIQUIDS["water_wetting_agent"], 20.0) == water.cubic_expansion_per_k(20.0)


def test_every_liquid_says_what_to_mind() -> None:
    for liquid in LIQUIDS.values():
        assert "bends rods" in liquid.caution
        assert liquid.caution.endswith("The rules of the venue come first.")
    for flammable in ("isopropanol", "white_spirit"):
        assert "Ignition off, no flame" in LIQUIDS[flammable].caution
        assert "Flashes" in LIQUIDS[flammable].caution


def test_a_metal_has_its_length_at_20_c() -> None:
    assert length_ratio(METALS["aluminium"].expansion_per_k, 20.0) == 1.0
    assert length_ratio(METALS["aluminium"].expansion_per_k, 30.0) == pytest.approx(1.00023, rel=1e-12)


def test_a_meniscus_is_read_to_a_fifth_of_a_graduation_or_to_the_digits_typed() -> None:
    burette = a_burette(graduation_cm3=0.2)
    assert reading_standard_uncertainty_cm3(burette, 0.01) == pytest.approx(0.04 / math.sqrt(3.0))
    assert reading_standard_uncertainty_cm3(burette, 0.1) == pytest.approx(0.05 / math.sqrt(3.0))


def test_a_burette_filled_up_in_between_draws_twice() -> None:
    fill = Fill("0,00", "95.00", "1.0", " 15.5 ")
    assert drawings(fill) == (("0,00", "95.00"), ("1.0", " 15.5 "))
    volume = drawn(a_burette(), (fill, Fill("0.00", "109.30")))
    assert volume.values_cm3 == pytest.approx((109.5, 109.3))
    assert volume.mean_cm3 == pytest.approx(109.4)
    assert volume.drawings == 1.5
    assert volume.per_reading == pytest.approx(math.sqrt(6.0) / 2.0)
    assert volume.reading_standard_uncertainty_cm3 == pytest.approx(0.05 / math.sqrt(3.0))


def test_at_20_c_a_volume_is_what_was_drawn_less_the_loss_and_half_the_air_more() -> None:
    pouring = a_pouring(loss_cm3=0.3, trapped_air_at_most_cm3=0.4)
    reduced = reduction(pouring)
    assert reduced.factor == 1.0
    found = poured(pouring, reduced, drawn(pouring.burette, fills("74.00")))
    assert found.volume_cm3 == pytest.approx(74.0 - 0.3 + 0.2)
    assert found.sensitivity[0] == 1.0
    assert found.sensitivity[-2:] == (-1.0, 1.0)


def test_a_warm_liquid_in_a_cold_engine_shrinks_half_the_way() -> None:
    """By hand: oil at 30 °C, iron at 10 °C: it is taken to be at 20 °C; the room is smaller than at 20 °C."""
    pouring = a_pouring(liquid_temperature_c=30.0, metal_temperature_c=10.0)
    by_hand = (1.0 + 9.9e-6 * 10.0) * math.exp(7.0e-4 * -10.0) / (1.0 - 3.0 * 10.5e-6 * 10.0)
    assert reduction(pouring).factor == pytest.approx(by_hand, rel=1e-14)


def test_standard_uncertainties_of_a_pouring() -> None:
    pouring = a_pouring(loss_standard_uncertainty_cm3=0.03, trapped_air_at_most_cm3=0.6)
    assert pouring_uncertainties(pouring) == pytest.approx(
        (
            0.1 / math.sqrt(6.0), 0.5, 1.0, 0.5 / math.sqrt(3.0), 0.5e-4, 0.5e-6, 1.8e-6, 0.03, 0.3 / math.sqrt(3.0),
        )
    )  # fmt: skip


@pytest.mark.parametrize("within_deg", [0.5, 2.0, 10.0])
@pytest.mark.parametrize("rod_mm", [150.0, None])
def test_the_drop_from_top_dead_centre_is_that_of_the_slider_crank(within_deg: float, rod_mm: float | None) -> None:
    """Against the exact geometry, averaged over every angle within the bounds."""
    stroke, rod = 88.0, rod_mm or 1.75 * 88.0
    angles = [math.radians(within_deg) * (number + 0.5) / 2000.0 for number in range(2000)]
    drops = [
        stroke / 2.0 * (1.0 - math.cos(angle)) + rod - math.sqrt(rod**2 - (stroke / 2.0 * math.sin(angle)) ** 2)
        for angle in angles
    ]
    mean = math.fsum(drops) / len(drops)
    found = drop_from_top(stroke, rod_mm, within_deg)
    assert found.drop_mm == pytest.approx(mean, rel=0.01)
    assert found.standard_uncertainty_mm == pytest.approx(scatter(drops), rel=0.015)


def test_a_crank_at_top_dead_centre_leaves_no_drop() -> None:
    assert drop_from_top(88.0, None, 0.0)[:2] == (0.0, 0.0)


@pytest.mark.parametrize("rod_mm", [150.0, None])
def test_the_drop_grows_with_the_stroke(rod_mm: float | None) -> None:
    longer, shorter, found = (drop_from_top(stroke, rod_mm, 1.0) for stroke in (88.001, 87.999, 88.0))
    assert found.relative_per_mm_stroke == pytest.approx(
        (longer.drop_mm - shorter.drop_mm) / 0.002 / found.drop_mm, rel=1e-6
    )


def test_all_repeated_fills_of_a_sheet_give_one_scatter() -> None:
    """By hand: 74.0, 74.2 (s² = 0.02, one degree) and 73.0, 73.1, 73.2 (s² = 0.01, two): s² = 0.04/3."""
    found = fill_scatters([(74.0, 74.2), (73.0, 73.1, 73.2), (75.0,)], None, 0.01)
    assert {one.origin for one in found} == {"pooled"}
    assert [one.standard_deviation_cm3 for one in found] == pytest.approx([math.sqrt(0.04 / 3.0)] * 3)
    assert [one.dof for one in found] == [one.dof_in_common for one in found] == [3.0] * 3


def test_what_was_known_beforehand_is_pooled_by_its_degrees_of_freedom() -> None:
    (found,) = fill_scatters([(74.0, 74.2)], (0.1, 9.0), 0.01)
    assert found.standard_deviation_cm3 == pytest.approx(math.sqrt((0.02 + 9.0 * 0.01) / 10.0))
    assert found.dof == 10.0
    (fixed,) = fill_scatters([(74.0, 74.2)], (0.1, math.inf), 0.01)
    assert fixed == (0.1, math.inf, "pooled")
    (single,) = fill_scatters([(74.0,)], (0.1, 9.0), 0.01)
    assert single == (pytest.approx(0.1), 9.0, "pooled")


def test_single_fills_of_which_nothing_is_known_take_a_bound() -> None:
    (found,) = fill_scatters([(74.0,)], None, 0.01)
    assert found == (0.2, math.inf, "assumed")
    assert found.dof_in_common == 0.0


def test_a_cylinder_that_scatters_wider_than_all_others_keeps_its_own() -> None:
    calm = [(74.0, 74.1, 74.0), (74.1, 74.0, 74.1), (74.0, 74.1, 74.1)]
    found = fill_scatters([*calm, (74.0, 75.0, 74.5)], None, 0.01)
    assert [one.origin for one in found] == ["pooled", "pooled", "pooled", "alone"]
    assert found[3].standard_deviation_cm3 == pytest.approx(0.5)
    assert (found[3].dof, found[3].dof_in_common) == (2.0, 0.0)
    assert found[0].dof == 6.0


def test_fills_that_agree_to_the_last_digit_do_not_set_one_step_of_difference_apart() -> None:
    runs = [(74.0, 74.0), (74.0, 74.0), (74.0, 74.2)]
    assert [one.origin for one in fill_scatters(runs, None, 0.05)] == ["pooled"] * 3
    assert fill_scatters(runs, None, 1e-6)[2].origin == "alone"


def a_check(**changes: Any) -> Callable[[], None]:
    return lambda: check_pouring(a_pouring(**changes), "observations.pouring")


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"burette": a_burette(tolerance_class="c")}, "burette.tolerance_class", "Known are a, b, stated"),
        ({"burette": a_burette(material="tin")}, "burette.material", "borosilicate"),
        ({"burette": a_burette(nominal_cm3=0.5)}, "burette.nominal_cm3", "between 1 and 1000"),
        ({"burette": a_burette(nominal_cm3=150.0)}, "burette.nominal_cm3", "10, 25, 50, 100 cm³, none of 150 cm³"),
        ({"burette": a_burette(graduation_cm3=0.0)}, "burette.graduation_cm3", "one line to the next"),
        ({"burette": a_burette(graduation_cm3=10.01)}, "burette.graduation_cm3", "not divided into 10.01"),
        ({"burette": a_burette(graduation_cm3=math.nan)}, "burette.graduation_cm3", "not divided into nan"),
        ({"burette": a_burette(stated_tolerance_cm3=0.1)}, "burette.stated_tolerance_cm3", "Take the stated ones away"),
        ({"burette": a_burette(tolerance_class="stated")}, "burette.stated_tolerance_cm3", "± limits"),
        (
            {"burette": a_burette(tolerance_class="stated", stated_tolerance_cm3=0.0)},
            "burette.stated_tolerance_cm3",
            "above 0",
        ),
        (
            {"burette": a_burette(tolerance_class="stated", stated_tolerance_cm3=10.01)},
            "burette.stated_tolerance_cm3",
            "at most a tenth",
        ),
        ({"liquid": "petrol"}, "liquid", "Known are water_wetting_agent"),
        ({"metal": "tin"}, "metal", "cast_iron"),
        ({"liquid_temperature_c": -0.1}, "liquid_temperature_c", "The temperature of the liquid, for a filling with"),
        ({"liquid_temperature_c": 293.15}, "liquid_temperature_c", "typed in kelvin? 293.15 K are 20.0 °C"),
        ({"liquid_temperature_c": 68.0}, "liquid_temperature_c", "typed in Fahrenheit? 68 °F are 20.0 °C"),
        ({"liquid_temperature_c": math.nan}, "liquid_temperature_c", "between 0 °C and 60 °C."),
        ({"metal_temperature_c": 400.0}, "metal_temperature_c", "between 0 °C and 60 °C."),
        (
            {"liquid": "water_wetting_agent", "metal_temperature_c": 41.0},
            "metal_temperature_c",
            "The temperature of the metal, for a filling with water",
        ),
        ({"liquid_temperature_standard_uncertainty_k": -0.1}, "liquid_temperature_standard_uncertainty_k", "liquid's"),
        ({"metal_temperature_standard_uncertainty_k": 20.1}, "metal_temperature_standard_uncertainty_k", "metal's"),
        ({"loss_cm3": -0.1}, "loss_cm3", "lost at each fill"),
        ({"loss_standard_uncertainty_cm3": math.inf}, "loss_standard_uncertainty_cm3", "the liquid lost"),
        ({"trapped_air_at_most_cm3": 5.1}, "trapped_air_at_most_cm3", "between 0 and 5"),
    ],
)
def test_a_pouring_that_cannot_be_is_refused(changes: dict[str, Any], field: str, says: str) -> None:
    found, sentence = refused(a_check(**changes))
    assert found == f"observations.pouring.{field}"
    assert says in sentence


@pytest.mark.parametrize(
    "changes",
    [
        {"liquid_temperature_c": 0.0, "metal_temperature_c": 60.0},
        {"burette": a_burette(graduation_cm3=10.0)},
        {"burette": a_burette(nominal_cm3=150.0, tolerance_class="stated", stated_tolerance_cm3=15.0)},
        {"liquid_temperature_standard_uncertainty_k": 20.0, "metal_temperature_standard_uncertainty_k": 0.0},
        {"loss_cm3": 5.0, "trapped_air_at_most_cm3": 5.0},
    ],
)
def test_the_very_edges_of_a_pouring_are_taken(changes: dict[str, Any]) -> None:
    a_check(**changes)()


@pytest.mark.parametrize(
    ("fill", "field", "says"),
    [
        (Fill("", "74.0"), "1.start", "Here a reading of the burette is missing"),
        (Fill("0.0", "7e1"), "1.end", "“7e1” cannot be read as a reading of the burette"),
        (Fill("0.0", "-74.0"), "1.end", "for example 23.40"),
        (Fill("0.0", "9" * 30), "1.end", "“99999999999999999999…”"),
        (Fill("0.0", "100.1"), "1.end", "ends at 100 cm³ and cannot read 100.1"),
        (Fill("74.0", "74.0"), "1.end", "nothing was delivered"),
        (Fill("74.0", "0.0"), "1.end", "Were the two swapped?"),
        (Fill("0.0", "74.0", "1.0", ""), "1.refilled_end", "missing"),
        (Fill("0.0", "74.0", "", "5.0"), "1.refilled_start", "missing"),
        (Fill("0.0", "74.0", "5.0", "1.0"), "1.refilled_end", "swapped"),
    ],
)
def test_a_fill_that_cannot_be_is_refused_beside_its_reading(fill: Fill, field: str, says: str) -> None:
    found, sentence = refused(lambda: check_fills((fill,), a_burette(), "observations.cylinders.2.fills"))
    assert found == f"observations.cylinders.2.fills.{field}"
    assert says in sentence


def test_a_burette_may_be_read_to_its_very_end() -> None:
    check_fills((Fill("0.00", "100.00"),), a_burette(), "fills")


def test_more_fills_than_anyone_makes_are_refused() -> None:
    check_fills(fills(*["74.0"] * 99), a_burette(), "fills")
    field, sentence = refused(lambda: check_fills(fills(*["74.0"] * 100), a_burette(), "fills"))
    assert (field, sentence) == ("fills", "There are 100 fills here; at most 99 are taken.")


def test_fills_of_one_volume_lie_together() -> None:
    check_together((74.0, 80.0), "fills")
    check_together((4.0, 5.0), "fills")
    field, sentence = refused(lambda: check_together((74.0, 82.0), "fills"))
    assert field == "fills"
    assert "from 74.00 cm³ to 82.00 cm³" in sentence
    assert refused(lambda: check_together((4.0, 5.01), "fills"))[0] == "fills"


def test_where_the_scatter_of_fills_comes_from_is_said() -> None:
    assert fills_in_words(1) == "a single fill"
    assert fills_in_words(3) == "the mean of 3 fills"
    (assumed,) = fill_scatters([(74.0,)], None, 0.01)
    assert scatter_words(assumed, 1, None).startswith("a single fill and nothing known of its scatter: 0.2 cm³ assumed")
    (pooled,) = fill_scatters([(74.0, 74.1)], None, 0.01)
    assert scatter_words(pooled, 2, None) == (
        "the mean of 2 fills; scatter of all repeated fills of this sheet pooled, 0.071 cm³ for one"
    )
    assert "this sheet and what was known beforehand pooled" in scatter_words(pooled, 2, (0.1, 9.0))
    alone = fill_scatters([(74.0, 74.0), (74.0, 75.0)], None, 1e-6)[1]
    assert "significantly wider than the others'" in scatter_words(alone, 2, None)


def test_how_the_burette_was_read_is_said() -> None:
    once = drawn(a_burette(), fills("74.00"))
    assert "divided into 0.2 cm³" in reading_words(a_burette(), once)
    assert "filled up in between" not in reading_words(a_burette(), once)
    assert "filled up in between" in reading_words(
        a_burette(), drawn(a_burette(), (Fill("0.0", "90.0", "0.0", "9.0"),))
    )


def test_where_the_figures_of_a_pouring_come_from_is_said_in_order() -> None:
    words = pouring_words(a_pouring())
    assert len(words) == len(pouring_uncertainties(a_pouring()))
    assert words[0] == "100 cm³, class A or AS: ±0.1 cm³ between any two readings, ISO 385 and ASTM E287"
    assert words[1] == "light mineral oil in the burette, known to 0.5 K"
    assert words[2] == "cast iron, known to 1 K"
    stated = a_burette(nominal_cm3=150.0, tolerance_class="stated", stated_tolerance_cm3=0.4)
    assert pouring_words(a_pouring(burette=stated))[0] == (
        "150 cm³, limits stated by its maker or its certificate: ±0.4 cm³ between any two readings"
    )


def test_what_was_corrected_in_a_pouring_is_said() -> None:
    assert pouring_corrections(a_pouring(), 74.0, 0.04) == ()
    warm = a_pouring(liquid_temperature_c=30.0, metal_temperature_c=10.0, loss_cm3=0.05, trapped_air_at_most_cm3=0.2)
    temperature, loss, air = pouring_corrections(warm, 74.0, 0.04)
    assert "30.0 °C (86.0 °F)" in temperature
    assert "10.0 °C (50.0 °F)" in temperature
    assert "50 % of the way. At 20 °C, 74.00 cm³ by the scale stand for 73.51 cm³ filled." in temperature
    assert loss == "0.05 cm³ lost on the way were taken off at each fill."
    assert air == "Up to 0.2 cm³ of air may have stayed in: half of that was added."
    assert pouring_corrections(replace(warm, loss_cm3=0.0), 74.0, 1.0) == (air,)


def test_the_drop_from_top_dead_centre_to_the_last_digit() -> None:
    """By hand: k = 22·(1 + 88/300) mm, θ² within ±1° has the mean a²/3 and the standard deviation 2·a²/(3·√5)."""
    per_square, square = 22.0 * (1.0 + 88.0 / 300.0), math.radians(1.0) ** 2
    found = drop_from_top(88.0, 150.0, 1.0)
    assert found.drop_mm == pytest.approx(per_square * square / 3.0, rel=1e-12)
    assert found.standard_uncertainty_mm == pytest.approx(per_square * square * 2.0 / 3.0 / math.sqrt(5.0), rel=1e-12)
    assert drop_from_top(88.0, None, 1.0).drop_mm == pytest.approx(drop_from_top(88.0, 154.0, 1.0).drop_mm, rel=1e-12)


@pytest.mark.parametrize("liquid", ["mineral_oil", "water_wetting_agent"])
def test_sensitivities_to_both_temperatures_are_the_slopes_of_the_reduction(liquid: str) -> None:
    at = a_pouring(liquid=liquid, liquid_temperature_c=31.0, metal_temperature_c=12.0)
    found, step = reduction(at), 1e-3
    for place, name in enumerate(("liquid_temperature_c", "metal_temperature_c")):
        above, below = (
            reduction(replace(at, **{name: getattr(at, name) + sign * step})).factor for sign in (1.0, -1.0)
        )
        assert found.relative[place] == pytest.approx((above - below) / (2.0 * step) / found.factor, rel=1e-6)
