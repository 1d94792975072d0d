"""The whole chamber by liquid: figures by hand, refusals, words, and the way into a stored verdict and back."""

import math
from dataclasses import replace
from typing import Any

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.frozen import from_data, to_data
from app.metrology.inputs import Engine
from app.metrology.methods.liquid_volume import METHOD, LiquidVolumeObservations, check, corrections, measure
from app.metrology.volumetry.pouring import Fill
from tests.unit.metrology.volumetry_builders import (
    ENGINE,
    a_burette,
    a_pouring,
    fills,
    poured_cylinders,
    some_liquid,
)

SWEPT_CM3 = math.pi / 4.0 * 10.2**2 * 8.8


def refused(**changes: Any) -> tuple[str, str]:
    with pytest.raises(MeasurementError) as caught:
        check(ENGINE, some_liquid(**changes))
    return caught.value.field, caught.value.sentence


def contributions(observations: LiquidVolumeObservations, engine: Engine = ENGINE) -> dict[str, tuple[float, float]]:
    """Of the first cylinder: (standard uncertainty, sensitivity) by source."""
    measurement = measure(engine, observations)
    first = measurement.results[0]
    return {
        source.name: (u, sensitivity)
        for source, u, sensitivity in zip(measurement.sources, first.u, first.sensitivity, strict=True)
    }


def test_a_chamber_of_74_cm3_by_hand() -> None:
    """102 mm by 88 mm and 74.00 cm³ give 10.71720, the figure of the check of ratios."""
    (result,) = measure(ENGINE, some_liquid(cylinders=poured_cylinders(fills("74.00", "74.00")))).results
    assert result.cylinder == 1
    assert result.value == pytest.approx(10.71720, abs=5e-6)
    assert result.mean_indication is None


def test_everything_that_is_no_chamber_is_taken_off_and_air_added() -> None:
    observations = some_liquid(
        pouring=a_pouring(loss_cm3=0.3, trapped_air_at_most_cm3=0.4),
        plug_hole_cm3=0.9,
        crank_within_deg=3.0,
        rod_length_mm=150.0,
        cylinders=poured_cylinders(fills("75.20", "75.40")),
    )
    below_mm = 22.0 * (1.0 + 88.0 / 300.0) * math.radians(3.0) ** 2 / 3.0
    chamber_cm3 = 75.3 - 0.3 + 0.2 - 0.9 - math.pi / 4.0 * 10.2**2 * below_mm / 10.0
    (result,) = measure(ENGINE, observations).results
    assert result.value == pytest.approx(1.0 + SWEPT_CM3 / chamber_cm3, rel=1e-12)


def test_standard_uncertainties_of_one_cylinder_by_hand() -> None:
    observations = some_liquid(
        pouring=a_pouring(loss_standard_uncertainty_cm3=0.03),
        plug_hole_standard_uncertainty_cm3=0.05,
        cylinders=poured_cylinders(fills("74.00", "74.20")),
    )
    found = contributions(observations)
    per_cm3 = -SWEPT_CM3 / 74.1**2
    assert found["repeatability"] == pytest.approx((0.1, per_cm3))
    assert found["reading"] == pytest.approx((0.04 / math.sqrt(3.0), per_cm3))
    assert found["burette_tolerance"] == pytest.approx((0.1 / math.sqrt(6.0), per_cm3))
    assert found["loss"] == pytest.approx((0.03, -per_cm3))
    assert found["plug_hole"] == pytest.approx((0.05, -per_cm3))
    assert found["crank_position"] == pytest.approx((0.0, -per_cm3 * math.pi / 4.0 * 10.404))
    assert found["bore"] == pytest.approx((0.01, 2.0 * SWEPT_CM3 / 74.1 / 102.0))
    assert found["stroke"] == pytest.approx((0.02, SWEPT_CM3 / 74.1 / 88.0))


def test_own_and_shared_sources() -> None:
    sources = measure(ENGINE, some_liquid()).sources
    assert [source.name for source in sources if not source.shared] == ["repeatability", "reading", "crank_position"]
    assert len(sources) == 15


def test_fills_of_every_cylinder_share_one_scatter() -> None:
    observations = some_liquid(cylinders=poured_cylinders(fills("74.0", "74.2"), (), fills("73.0")))
    measurement = measure(ENGINE, observations)
    assert [result.cylinder for result in measurement.results] == [1, 3]
    first, third = measurement.results
    assert first.u[0] == pytest.approx(0.1)
    assert third.u[0] == pytest.approx(math.sqrt(0.02))
    assert first.dof[0] == first.dof_in_common[0] == third.dof_in_common[0] == 1.0
    assert set(first.dof[1:]) == {math.inf}
    assert set(first.dof_in_common[1:]) == {0.0}
    assert measurement.sources[0].distribution == "t"


def test_a_single_fill_that_nothing_is_known_of_is_taken_as_good_to_a_fifth_of_a_cm3() -> None:
    measurement = measure(ENGINE, some_liquid(cylinders=poured_cylinders(fills("74.00"))))
    assert measurement.results[0].u[0] == 0.2
    assert measurement.results[0].dof[0] == math.inf
    assert measurement.sources[0].distribution == "normal"


def test_what_is_known_of_the_hand_beforehand_counts() -> None:
    observations = some_liquid(cylinders=poured_cylinders(fills("74.00")), repeatability=(0.08, 12.0))
    (result,) = measure(ENGINE, observations).results
    assert (result.u[0], result.dof[0], result.dof_in_common[0]) == (pytest.approx(0.08), 12.0, 12.0)


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"pouring": a_pouring(liquid="petrol")}, "pouring.liquid", "petrol"),
        ({"plug_hole_cm3": -5.1}, "plug_hole_cm3", "between -5 and 20"),
        ({"plug_hole_cm3": 20.1}, "plug_hole_cm3", "plug hole's volume"),
        ({"plug_hole_standard_uncertainty_cm3": -0.1}, "plug_hole_standard_uncertainty_cm3", "of the plug hole's"),
        ({"crank_within_deg": 10.1}, "crank_within_deg", "degrees either way"),
        ({"crank_within_deg": math.nan}, "crank_within_deg", "given as nan"),
        ({"rod_length_mm": 87.9}, "rod_length_mm", "does not go with a stroke of 88 mm"),
        ({"rod_length_mm": 352.1}, "rod_length_mm", "Leave it empty"),
        ({"repeatability": (-0.1, 5.0)}, "repeatability", "standard deviation known beforehand"),
        ({"repeatability": (0.1, 0.5)}, "repeatability", "two repeats"),
        ({"repeatability": (0.1, math.nan)}, "repeatability", "two repeats"),
        ({"cylinders": ()}, "cylinders", "at least one fill"),
        ({"cylinders": poured_cylinders((), ())}, "cylinders", "No cylinder was filled"),
        ({"cylinders": poured_cylinders(*[fills("74.0")] * 9)}, "cylinders.9", "run from 1 to 8"),
        ({"cylinders": poured_cylinders(fills("74.0")) * 2}, "cylinders.1", "appears twice"),
        ({"cylinders": poured_cylinders((), (Fill("74.0", "0.0"),))}, "cylinders.2.fills.1.end", "swapped"),
        ({"cylinders": poured_cylinders((), fills("74.0", "94.0"))}, "cylinders.2.fills", "does not differ so"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, Any], field: str, says: str) -> None:
    found, sentence = refused(**changes)
    assert found == f"observations.{field}"
    assert says in sentence


def test_a_chamber_typed_in_cubic_inches_is_refused() -> None:
    field, sentence = refused(cylinders=poured_cylinders((), fills("4.52")))
    assert field == "observations.cylinders.2.fills"
    assert sentence.startswith("Cylinder 2 took 0.28 in³ (4.5 cm³), which leaves 4.5 cm³ of chamber")
    assert "cubic inches" in sentence


def test_more_hole_than_was_poured_is_refused() -> None:
    field, sentence = refused(plug_hole_cm3=20.0, cylinders=poured_cylinders(fills("15.0")))
    assert field == "observations.cylinders.1.fills"
    assert "leaves -5.0 cm³" in sentence


def test_the_edge_of_a_ratio_of_a_hundred() -> None:
    edge_cm3 = SWEPT_CM3 / 99.0
    check(ENGINE, some_liquid(cylinders=poured_cylinders(fills(f"{edge_cm3 + 0.005:.2f}"))))
    assert refused(cylinders=poured_cylinders(fills(f"{edge_cm3 - 0.005:.2f}")))[0] == "observations.cylinders.1.fills"


@pytest.mark.parametrize(
    "changes",
    [
        {"plug_hole_cm3": -5.0},
        {"plug_hole_cm3": 20.0, "plug_hole_standard_uncertainty_cm3": 5.0},
        {"crank_within_deg": 10.0, "rod_length_mm": 88.0},
        {"rod_length_mm": 352.0, "repeatability": (5.0, 1.0)},
        {"repeatability": (0.0, math.inf)},
        {"cylinders": poured_cylinders(*[fills("74.0")] * 8)},
    ],
)
def test_the_very_edges_are_taken(changes: dict[str, Any]) -> None:
    check(ENGINE, some_liquid(**changes))


def test_every_source_is_given_its_words() -> None:
    observations = some_liquid(
        plug_hole_standard_uncertainty_cm3=0.05,
        crank_within_deg=0.5,
        cylinders=poured_cylinders((), fills("74.0", "74.2"), fills("74.1")),
    )
    measurement = measure(ENGINE, observations)
    words = METHOD.source_words(ENGINE, observations, measurement.results[1])
    assert len(words) == len(measurement.sources)
    by_name = dict(zip((source.name for source in measurement.sources), words, strict=True))
    assert by_name["repeatability"].startswith("a single fill; scatter of all repeated fills")
    assert by_name["reading"].endswith("a single fill")
    assert by_name["plug_hole"] == "measured by itself, known to 0.05 cm³"
    assert by_name["crank_position"] == (
        "top dead centre found to within ±0.5° of crank, a rod of the usual length; the piston can only stand below it"
    )
    assert by_name["bore"] == "the bore of 102 mm as the sheet gives it, known to 0.01 mm"
    assert by_name["stroke"] == "the stroke of 88 mm as the sheet gives it, known to 0.02 mm"
    known_rod = replace(observations, rod_length_mm=150.0)
    assert "a rod of 150 mm" in METHOD.source_words(ENGINE, known_rod, measurement.results[1])[12]


def test_nothing_is_said_where_nothing_was_corrected() -> None:
    observations = some_liquid()
    assert corrections(ENGINE, observations, measure(ENGINE, observations).results[0]) == ()


def test_every_correction_worth_saying_is_said() -> None:
    observations = some_liquid(
        pouring=a_pouring(metal_temperature_c=40.0, loss_cm3=0.05, trapped_air_at_most_cm3=0.2),
        plug_hole_cm3=0.9,
        crank_within_deg=3.0,
        cylinders=poured_cylinders((), fills("75.0")),
    )
    temperature, loss, air, hole, crank = corrections(ENGINE, observations, measure(ENGINE, observations).results[0])
    assert "40.0 °C (104.0 °F)" in temperature
    assert "0.05 cm³ lost" in loss
    assert "0.2 cm³ of air" in air
    assert hole.startswith("The plug hole up to the plane filled to, 0.90 cm³, was taken off")
    assert "±3° the piston stands 0.026 mm below it on average; 0.21 cm³ were taken off" in crank


def test_a_crank_closely_set_is_corrected_for_without_a_word() -> None:
    observations = some_liquid(crank_within_deg=0.5)
    assert corrections(ENGINE, observations, measure(ENGINE, observations).results[0]) == ()


def test_what_was_observed_is_kept_and_read_back_whole() -> None:
    observations = some_liquid(
        pouring=a_pouring(burette=a_burette(tolerance_class="stated", stated_tolerance_cm3=0.3)),
        rod_length_mm=150.0,
        repeatability=(0.1, math.inf),
        cylinders=poured_cylinders((Fill("0,10", "95.00", "1.0", "15.5"),), ()),
    )
    assert from_data(METHOD.observations, to_data(observations), "observations") == observations
    assert from_data(METHOD.observations, to_data(some_liquid()), "observations") == some_liquid()


def test_the_method_says_what_it_measures() -> None:
    assert (METHOD.key, METHOD.label, METHOD.quantity) == (
        "liquid_volume",
        "liquid volume, whole chamber",
        "compression_ratio",
    )
