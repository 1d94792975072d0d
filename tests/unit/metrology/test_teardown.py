"""The teardown worksheet: figures by hand, refusals, words, and the way into a stored verdict and back."""

import math
from typing import Any

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.frozen import from_data, to_data
from app.metrology.inputs import Engine
from app.metrology.methods.teardown import METHOD, TeardownObservations, chamber_parts, check, corrections, measure
from app.metrology.volumetry.pouring import Fill
from tests.unit.metrology.volumetry_builders import (
    ENGINE,
    a_crevice,
    a_gasket,
    a_pouring,
    a_teardown,
    fills,
    some_parts,
)

AREA = math.pi / 4.0 * 10.2**2 / 10.0  # cm³ per mm of bore
OPENING = math.pi / 4.0 * 10.4**2 / 10.0
SWEPT_CM3 = AREA * 88.0
DISHED = {"crown_fills": fills("90.00", "90.20"), "crown_depth_mm": 10.0}


def refused(**changes: Any) -> tuple[str, str]:
    with pytest.raises(MeasurementError) as caught:
        check(ENGINE, a_teardown(**changes))
    return caught.value.field, caught.value.sentence


def by_name(observations: TeardownObservations, engine: Engine = ENGINE) -> dict[str, tuple[float, float]]:
    """Of the first cylinder: (standard uncertainty, sensitivity) by source."""
    measurement = measure(engine, observations)
    first = measurement.results[0]
    return {
        source.name: (u, sensitivity)
        for source, u, sensitivity in zip(measurement.sources, first.u, first.sensitivity, strict=True)
    }


def test_the_parts_of_a_chamber_by_hand() -> None:
    one = some_parts(deck_clearance_mm=-0.2, reliefs_cm3=3.5, **DISHED)
    observations = a_teardown(plug_cm3=-0.3, cylinders=(one,))
    by_hand = (
        62.05,
        OPENING * 1.0,
        AREA * -0.2,
        90.1 - AREA * 10.0,
        3.5,
        AREA * 6.0 - math.pi / 4.0 * (10.2 - 0.06) ** 2 * 0.6,
        -0.3,
    )
    assert chamber_parts(ENGINE, observations, 1) == pytest.approx(by_hand, rel=1e-12)
    (result,) = measure(ENGINE, observations).results
    assert result.value == pytest.approx(1.0 + SWEPT_CM3 / sum(by_hand), rel=1e-12)
    assert result.cylinder == 1


def test_a_piston_above_the_deck_takes_volume_away() -> None:
    above = a_teardown(cylinders=(some_parts(deck_clearance_mm=-0.2),))
    below = a_teardown(cylinders=(some_parts(deck_clearance_mm=0.2),))
    chambers = [SWEPT_CM3 / (measure(ENGINE, sheet).results[0].value - 1.0) for sheet in (below, above)]
    assert chambers[0] - chambers[1] == pytest.approx(0.4 * AREA)


def test_a_dome_takes_volume_away_and_a_dish_adds_it() -> None:
    at_depth = AREA * 10.0
    dome = some_parts(crown_fills=fills("70.00"), crown_depth_mm=10.0)
    dish = some_parts(**DISHED)
    assert chamber_parts(ENGINE, a_teardown(cylinders=(dome,)), 1)[3] == pytest.approx(70.0 - at_depth)
    assert chamber_parts(ENGINE, a_teardown(cylinders=(dish,)), 1)[3] == pytest.approx(90.1 - at_depth)
    assert 70.0 < at_depth < 90.0


def test_sources_of_a_flat_crown_by_hand() -> None:
    found = by_name(a_teardown())
    chamber_cm3 = sum(chamber_parts(ENGINE, a_teardown(), 1))
    per_cm3 = -SWEPT_CM3 / chamber_cm3**2
    assert found["head_repeatability"] == pytest.approx((0.05, per_cm3))
    assert found["head_reading"] == pytest.approx((0.04 / math.sqrt(3.0), per_cm3))
    assert found["crown_repeatability"] == found["crown_reading"] == (0.0, 0.0)
    assert found["burette_tolerance"] == pytest.approx((0.1 / math.sqrt(6.0), per_cm3))
    assert found["plate"] == pytest.approx((0.02 / math.sqrt(3.0), per_cm3 * OPENING))
    assert found["gasket_bore"] == pytest.approx((0.1, per_cm3 * 2.0 * OPENING / 104.0))
    assert found["gasket_thickness"] == pytest.approx((0.03, per_cm3 * OPENING))
    assert found["deck_clearance"] == pytest.approx((0.02, per_cm3 * AREA))
    assert found["crown_depth"] == (0.02, 0.0)
    assert found["reliefs"] == pytest.approx((0.1, per_cm3))
    assert found["plug"] == pytest.approx((0.05, per_cm3))
    assert found["stroke"] == pytest.approx((0.02, SWEPT_CM3 / chamber_cm3 / 88.0))


def test_one_burette_errs_alike_in_head_and_crown() -> None:
    found = by_name(a_teardown(cylinders=(some_parts(**DISHED),)))
    per_cm3 = found["plug"][1]
    assert found["burette_tolerance"][1] == pytest.approx(2.0 * per_cm3)
    assert found["plate"][1] == pytest.approx(per_cm3 * (OPENING + AREA))
    assert found["crown_depth"][1] == pytest.approx(-per_cm3 * AREA)
    assert found["crown_repeatability"] == pytest.approx((0.1, per_cm3))
    assert found["crown_reading"] == pytest.approx((0.04 / math.sqrt(3.0), per_cm3))


def test_own_and_shared_sources() -> None:
    sources = measure(ENGINE, a_teardown()).sources
    assert [source.name for source in sources if not source.shared] == [
        "head_repeatability",
        "head_reading",
        "crown_repeatability",
        "crown_reading",
        "deck_clearance",
        "crown_depth",
        "reliefs",
    ]
    assert len(sources) == 24


def test_heads_and_crowns_each_share_one_scatter() -> None:
    observations = a_teardown(
        cylinders=(
            some_parts(cylinder=2, head_fills=fills("62.00", "62.20"), crown_fills=fills("90.0"), crown_depth_mm=10.0),
            some_parts(cylinder=5, head_fills=fills("62.00"), **DISHED),
            some_parts(cylinder=7),
        )
    )
    measurement = measure(ENGINE, observations)
    second, fifth, seventh = measurement.results
    assert [result.cylinder for result in measurement.results] == [2, 5, 7]
    head_s = math.sqrt((0.02 + 0.005) / 2.0)
    assert second.u[0] == pytest.approx(head_s / math.sqrt(2.0))
    assert fifth.u[0] == pytest.approx(head_s)
    assert [result.dof[0] for result in measurement.results] == [2.0, 2.0, 2.0]
    assert second.u[2] == pytest.approx(math.sqrt(0.02))
    assert (second.dof[2], second.dof_in_common[2]) == (1.0, 1.0)
    assert (seventh.u[2], seventh.dof[2], seventh.dof_in_common[2]) == (0.0, math.inf, 0.0)
    assert [source.distribution for source in measurement.sources[:4]] == ["t", "rectangular", "t", "rectangular"]
    assert len(second.dof) == len(second.dof_in_common) == len(measurement.sources)
    assert set(second.dof[3:]) == {math.inf}
    assert set(second.dof_in_common[3:]) == {0.0}


def test_single_fills_are_taken_as_good_to_a_bound() -> None:
    one = some_parts(head_fills=fills("62.00"), crown_fills=fills("90.00"), crown_depth_mm=10.0)
    measurement = measure(ENGINE, a_teardown(cylinders=(one,)))
    assert [source.distribution for source in measurement.sources[:3:2]] == ["normal", "normal"]
    assert (measurement.results[0].u[0], measurement.results[0].u[2]) == (0.2, 0.2)


def one_with(**changes: Any) -> dict[str, Any]:
    return {"cylinders": (some_parts(**changes),)}


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"pouring": a_pouring(metal="tin")}, "pouring.metal", "tin"),
        ({"plate_flatness_mm": 0.51}, "plate_flatness_mm", "bow or stand off"),
        ({"gasket": a_gasket(bore_mm=96.8)}, "gasket.bore_mm", "96.9 mm to 127.5 mm."),
        ({"gasket": a_gasket(bore_mm=127.6)}, "gasket.bore_mm", "does not go with a bore of 102 mm"),
        ({"gasket": a_gasket(bore_mm=4.1)}, "gasket.bore_mm", "typed in inches? 4.1 in are 104.14 mm"),
        ({"gasket": a_gasket(bore_mm=math.nan)}, "gasket.bore_mm", "enter its diameter"),
        ({"gasket": a_gasket(thickness_mm=0.039)}, "gasket.thickness_mm", "typed in inches? 0.039 in are 0.9906 mm"),
        ({"gasket": a_gasket(thickness_mm=-1.0)}, "gasket.thickness_mm", "0 where there is none."),
        ({"gasket": a_gasket(thickness_mm=10.1)}, "gasket.thickness_mm", "0.2 mm to 10 mm"),
        ({"gasket": a_gasket(bore_standard_uncertainty_mm=-0.1)}, "gasket.bore_standard_uncertainty_mm", "opening"),
        (
            {"gasket": a_gasket(thickness_standard_uncertainty_mm=1.1)},
            "gasket.thickness_standard_uncertainty_mm",
            "thickness",
        ),
        ({"crevice": a_crevice(diametral_clearance_mm=3.1)}, "crevice.diametral_clearance_mm", "Bore less top land"),
        ({"crevice": a_crevice(height_mm=-0.1)}, "crevice.height_mm", "The height from crown to top ring"),
        (
            {"crevice": a_crevice(diametral_clearance_standard_uncertainty_mm=math.inf)},
            "crevice.diametral_clearance_standard_uncertainty_mm",
            "bore less top land",
        ),
        ({"crevice": a_crevice(height_standard_uncertainty_mm=-1.0)}, "crevice.height_standard_uncertainty_mm", "ring"),
        ({"deck_clearance_standard_uncertainty_mm": 1.1}, "deck_clearance_standard_uncertainty_mm", "deck clearance"),
        ({"crown_depth_standard_uncertainty_mm": -0.1}, "crown_depth_standard_uncertainty_mm", "crown's depth"),
        ({"plug_cm3": 5.1}, "plug_cm3", "fitted plug adds"),
        ({"reliefs_standard_uncertainty_cm3": 5.1}, "reliefs_standard_uncertainty_cm3", "valve reliefs"),
        ({"plug_standard_uncertainty_cm3": -0.1}, "plug_standard_uncertainty_cm3", "the plug adds"),
        ({"repeatability": (0.1, 0.0)}, "repeatability", "two repeats"),
        ({"cylinders": ()}, "cylinders", "at least one"),
        (one_with(cylinder=9), "cylinders.9", "run from 1 to 8"),
        ({"cylinders": (some_parts(), some_parts())}, "cylinders.1", "appears twice"),
        (one_with(cylinder=3, head_fills=()), "cylinders.3.head_fills", "head of cylinder 3 was not filled"),
        (one_with(head_fills=(Fill("0.0", "101"),)), "cylinders.1.head_fills.1.end", "ends at 100 cm³"),
        (one_with(head_fills=fills("62.0", "72.0")), "cylinders.1.head_fills", "does not differ so"),
        (
            one_with(crown_fills=(Fill("0.0", "x"),), crown_depth_mm=10.0),
            "cylinders.1.crown_fills.1.end",
            "cannot be read",
        ),
        (one_with(crown_fills=fills("80.0", "90.0"), crown_depth_mm=10.0), "cylinders.1.crown_fills", "differ so"),
        (one_with(deck_clearance_mm=-10.1), "cylinders.1.deck_clearance_mm", "deck clearance in mm"),
        (one_with(crown_fills=fills("90.0")), "cylinders.1.crown_depth_mm", "rim 0 mm below the deck"),
        (one_with(crown_fills=fills("90.0"), crown_depth_mm=88.1), "cylinders.1.crown_depth_mm", "the stroke of 88 mm"),
        (one_with(crown_depth_mm=10.0), "cylinders.1.crown_depth_mm", "a depth of 0 for a flat crown"),
        (one_with(reliefs_cm3=-0.1), "cylinders.1.reliefs_cm3", "valve reliefs, in cm³,"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, Any], field: str, says: str) -> None:
    found, sentence = refused(**changes)
    assert found == f"observations.{field}"
    assert says in sentence


@pytest.mark.parametrize(
    "changes",
    [
        {"plate_flatness_mm": 0.5, "gasket": a_gasket(bore_mm=0.95 * 102.0, thickness_mm=0.0)},
        {"gasket": a_gasket(bore_mm=127.5, thickness_mm=10.0, bore_standard_uncertainty_mm=1.0)},
        {"gasket": a_gasket(thickness_mm=0.2), "crevice": a_crevice(diametral_clearance_mm=0.0, height_mm=0.0)},
        {"crevice": a_crevice(diametral_clearance_mm=3.0, height_mm=30.0)},
        {"plug_cm3": -5.0, "plug_standard_uncertainty_cm3": 5.0, "deck_clearance_standard_uncertainty_mm": 1.0},
        one_with(deck_clearance_mm=20.0, reliefs_cm3=30.0),
        one_with(crown_fills=(Fill("0.0", "100.0", "0.0", "100.0"),), crown_depth_mm=20.0),
    ],
)
def test_the_very_edges_are_taken(changes: dict[str, Any]) -> None:
    check(ENGINE, a_teardown(**changes))


def test_a_crown_filled_at_the_depth_of_the_whole_stroke() -> None:
    small = Engine(40.0, 30.0, 1)
    one = some_parts(head_fills=fills("5.00"), crown_fills=fills("38.00"), crown_depth_mm=30.0)
    check(small, a_teardown(gasket=a_gasket(bore_mm=41.0), cylinders=(one,)))


def test_parts_that_leave_no_chamber_are_refused_with_their_sum() -> None:
    field, sentence = refused(**one_with(cylinder=4, deck_clearance_mm=-9.5))
    assert field == "observations.cylinders.4"
    assert sentence.startswith("The parts of cylinder 4 leave -6.5 cm³ of chamber against 43.88 in³ (719.1 cm³) swept")
    assert "head +62.05 cm³, gasket +8.49 cm³, deck -77.63 cm³, crevice to the top ring +0.58 cm³" in sentence
    assert "wrong sign of the deck clearance" in sentence


def test_the_edge_of_a_ratio_of_a_hundred() -> None:
    rest_cm3 = sum(chamber_parts(ENGINE, a_teardown(**one_with(deck_clearance_mm=0.0)), 1))
    deck_mm = (SWEPT_CM3 / 99.0 - rest_cm3) / AREA
    check(ENGINE, a_teardown(**one_with(deck_clearance_mm=deck_mm + 1e-6)))
    assert refused(**one_with(deck_clearance_mm=deck_mm - 1e-6))[0] == "observations.cylinders.1"


def test_every_source_is_given_its_words() -> None:
    observations = a_teardown(cylinders=(some_parts(), some_parts(cylinder=2, reliefs_cm3=3.5, **DISHED)))
    measurement = measure(ENGINE, observations)
    flat, dished = (
        dict(
            zip(
                (source.name for source in measurement.sources),
                METHOD.source_words(ENGINE, observations, result),
                strict=True,
            )
        )
        for result in measurement.results
    )
    assert (
        flat["crown_repeatability"]
        == flat["crown_reading"]
        == flat["crown_depth"]
        == ("a flat crown: nothing was poured")
    )
    assert dished["crown_repeatability"].startswith("the mean of 2 fills; scatter of all repeated fills")
    assert dished["crown_reading"].endswith("the mean of 2 fills")
    assert dished["crown_depth"] == "rim to deck, 10 mm, known to 0.02 mm"
    assert dished["head_repeatability"].endswith("0.071 cm³ for one")
    assert dished["plate"] == "the plate may bow or stand off by ±0.02 mm"
    assert dished["gasket_bore"] == "the gasket's opening, 104 mm, known to 0.1 mm"
    assert dished["gasket_thickness"] == "the gasket pressed, 1 mm, known to 0.03 mm"
    assert dished["deck_clearance"] == "crown to deck, 0.1 mm, known to 0.02 mm"
    assert dished["reliefs"] == "3.5 cm³, known to 0.1 cm³"
    assert dished["crevice_clearance"] == "bore less top land, 0.6 mm, known to 0.05 mm"
    assert dished["crevice_height"] == "crown to top ring, 6 mm, known to 0.1 mm"
    assert dished["plug"] == "0 cm³, known to 0.05 cm³"
    assert dished["bore"].startswith("the bore, 102 mm, known to 0.01 mm; in the swept volume")
    assert dished["stroke"] == "the stroke, 88 mm, known to 0.02 mm"


def test_the_sum_is_said_and_what_was_corrected_in_it() -> None:
    observations = a_teardown(
        pouring=a_pouring(liquid_temperature_c=30.0), cylinders=(some_parts(), some_parts(cylinder=2, **DISHED))
    )
    flat, dished = measure(ENGINE, observations).results
    total, temperature = corrections(ENGINE, observations, flat)
    assert total.startswith("Cylinder 1 at 20 °C: head +61.84 cm³, gasket +8.49 cm³, deck +0.82 cm³, crevice")
    assert total.endswith("; together 4.38 in³ (71.7 cm³).")
    assert "62.05 cm³ by the scale" in temperature
    assert "152.15 cm³ by the scale" in corrections(ENGINE, observations, dished)[1]


def test_what_was_observed_is_kept_and_read_back_whole() -> None:
    observations = a_teardown(cylinders=(some_parts(), some_parts(cylinder=2, **DISHED)), repeatability=(0.1, 8.0))
    assert from_data(METHOD.observations, to_data(observations), "observations") == observations


def test_the_method_says_what_it_measures() -> None:
    assert (METHOD.key, METHOD.label, METHOD.quantity) == ("teardown", "teardown worksheet", "compression_ratio")
