"""Displacement from measured lengths: figures by hand, refusals, words, and the way into a stored verdict and back."""

import math
from dataclasses import replace
from typing import Any

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.frozen import from_data, to_data
from app.metrology.inputs import Engine
from app.metrology.metals import METALS
from app.metrology.methods.dimensional import (
    METHOD,
    DimensionalObservations,
    LengthInstrument,
    check,
    corrections,
    measure,
)
from tests.unit.metrology.volumetry_builders import FOUR, lengths, some_lengths

AREA = math.pi / 4.0 * 8.7**2 / 10.0  # cm³ per mm of stroke
SWEPT_CM3 = AREA * 69.0
WITHOUT_STROKES = (lengths(3, strokes=""), lengths(4, strokes=""))


def four(*ones: Any) -> dict[str, Any]:
    """Four cylinders, the first ones as given."""
    return {"cylinders": (*ones, *(lengths(number) for number in range(len(ones) + 1, 5)))}


def refused(**changes: Any) -> tuple[str, str]:
    with pytest.raises(MeasurementError) as caught:
        check(FOUR, some_lengths(**changes))
    return caught.value.field, caught.value.sentence


def by_name(observations: DimensionalObservations, engine: Engine = FOUR) -> dict[str, tuple[float, float, float]]:
    """(standard uncertainty, sensitivity, degrees of freedom) by source."""
    measurement = measure(engine, observations)
    (result,) = measurement.results
    return {
        source.name: (u, sensitivity, dof)
        for source, u, sensitivity, dof in zip(
            measurement.sources, result.u, result.sensitivity, result.dof, strict=True
        )
    }


def words(observations: DimensionalObservations) -> dict[str, str]:
    measurement = measure(FOUR, observations)
    said = METHOD.source_words(FOUR, observations, measurement.results[0])
    return dict(zip((source.name for source in measurement.sources), said, strict=True))


def test_the_displacement_is_the_sum_of_all_cylinders() -> None:
    observations = some_lengths(**four(lengths(1, "87.00 87.20", "69.00 69.10 69.20"), lengths(2, "86.90 86.90")))
    (result,) = measure(FOUR, observations).results
    by_hand = math.pi / 4000.0 * (87.1**2 * 69.1 + 86.9**2 * 69.0 + 2.0 * 87.0**2 * 69.0)
    assert result.value == pytest.approx(by_hand, rel=1e-12)
    assert result.cylinder == 0
    assert result.mean_indication is None


def test_a_warm_engine_is_larger_than_it_is_at_20_c() -> None:
    """By hand: an aluminium block and a steel crank at 40 °C, steel instruments at 25 °C."""
    warm = some_lengths(metal_temperature_c=40.0, instrument_temperature_c=25.0)
    ratio = measure(FOUR, warm).results[0].value / (4.0 * SWEPT_CM3)
    by_hand = (1.0 + 11.7e-6 * 5.0) ** 3 / ((1.0 + 23.0e-6 * 20.0) ** 2 * (1.0 + 11.7e-6 * 20.0))
    assert ratio == pytest.approx(by_hand, rel=1e-12)
    assert ratio < 1.0


def test_sources_by_hand() -> None:
    found = by_name(some_lengths(**four(lengths(1, "87.00 87.04"), lengths(2, "87.00 87.00", "69.02 69.00"))))
    per_bore = 2.0 * SWEPT_CM3 / 87.0
    bore = found["bore_repeatability"]
    assert bore[0] == pytest.approx(math.sqrt(0.0008 / 4.0))
    assert bore[1] == pytest.approx(per_bore * 2.0 / math.sqrt(2.0), rel=1e-3)
    assert bore[2] == 4.0
    assert found["bore_resolution"][:2] == pytest.approx((0.01 / math.sqrt(12.0), 2.0 * per_bore), rel=1e-3)
    assert found["bore_instrument"][:2] == pytest.approx((0.006 / math.sqrt(3.0), 4.0 * per_bore), rel=1e-3)
    stroke = found["stroke_repeatability"]
    assert stroke[0] == pytest.approx(math.sqrt(0.0002 / 4.0))
    assert stroke[1] == pytest.approx(AREA * 2.0 / math.sqrt(2.0), rel=1e-3)
    assert stroke[2] == 4.0
    assert found["stroke_resolution"][:2] == pytest.approx((0.01 / math.sqrt(12.0), 2.0 * AREA), rel=1e-3)
    assert found["stroke_instrument"][:2] == pytest.approx((0.02 / math.sqrt(3.0), 4.0 * AREA), rel=1e-3)
    assert found["throws"] == (0.0, 0.0, math.inf)
    whole = 4.0 * SWEPT_CM3
    assert found["metal_temperature"][:2] == pytest.approx((1.0, -whole * (2.0 * 23.0e-6 + 11.7e-6)), rel=1e-3)
    assert found["instrument_temperature"][:2] == pytest.approx((0.5, whole * 3.0 * 11.7e-6), rel=1e-3)
    assert found["block_expansion"][:2] == (METALS["aluminium"].expansion_standard_uncertainty_per_k, 0.0)
    assert found["crank_expansion"][1] == found["instrument_expansion"][1] == 0.0
    assert {dof for name, (_, _, dof) in found.items() if not name.endswith("repeatability")} == {math.inf}


def test_every_source_has_its_entry() -> None:
    measurement = measure(FOUR, some_lengths())
    (result,) = measurement.results
    assert len(measurement.sources) == len(result.u) == len(result.sensitivity) == len(result.dof) == 12
    assert result.dof_in_common == (0.0,) * 12
    assert [source.name for source in measurement.sources if not source.shared] == [
        "bore_repeatability",
        "bore_resolution",
        "stroke_repeatability",
        "stroke_resolution",
        "throws",
    ]


def test_strokes_read_once_are_taken_as_good_to_two_steps() -> None:
    observations = some_lengths(cylinders=tuple(lengths(number, strokes="69.0") for number in range(1, 5)))
    found = by_name(observations)
    assert found["stroke_repeatability"] == pytest.approx((0.2, 2.0 * AREA, math.inf))
    assert measure(FOUR, observations).sources[3].distribution == "normal"
    assert measure(FOUR, some_lengths()).sources[3].distribution == "t"
    assert words(observations)["stroke_repeatability"].startswith("no stroke was measured twice")
    assert words(some_lengths())["stroke_repeatability"].endswith("pooled over 4 cylinders")


def test_the_coarsest_reading_sets_the_resolution() -> None:
    found = by_name(some_lengths(**four(lengths(1, "87.0 87.000"))))
    assert found["bore_resolution"][0] == pytest.approx(0.1 / math.sqrt(12.0))
    assert found["stroke_resolution"][0] == pytest.approx(0.01 / math.sqrt(12.0))


def test_one_measured_stroke_stands_for_all_throws_with_what_throws_differ() -> None:
    observations = some_lengths(**four(lengths(1), *(lengths(number, strokes="") for number in (2, 3, 4))))
    check(FOUR, observations)
    found = by_name(observations)
    assert measure(FOUR, observations).results[0].value == pytest.approx(4.0 * SWEPT_CM3, rel=1e-12)
    assert found["throws"] == pytest.approx((0.02, AREA * math.sqrt(3.0 + 9.0), math.inf))
    assert found["stroke_repeatability"][1] == pytest.approx(4.0 * AREA / math.sqrt(2.0))
    assert found["stroke_instrument"][1] == pytest.approx(4.0 * AREA)
    assert words(observations)["throws"] == (
        "3 of 4 strokes not measured; throws differ by 0.02 mm, the sheet's, larger than the measured ones show"
    )
    (sentence,) = corrections(FOUR, observations, measure(FOUR, observations).results[0])
    assert sentence.startswith("The stroke was not measured in cylinder 2, 3, 4: the mean")


def test_throws_that_differ_more_than_declared_count_as_they_scatter() -> None:
    observations = some_lengths(
        **four(
            lengths(1, strokes="68.90 68.90"),
            lengths(2, strokes="69.10 69.10"),
            *(lengths(n, strokes="") for n in (3, 4)),
        )
    )
    found = by_name(observations)
    assert found["throws"] == pytest.approx((math.sqrt(0.02), AREA * math.sqrt(2.0 + 4.0 / 2.0), 1.0))
    assert measure(FOUR, observations).sources[6].distribution == "t"
    assert words(observations)["throws"].endswith("throws differ by 0.14 mm, as the measured ones scatter")


def test_throws_that_differ_less_than_declared_count_as_declared() -> None:
    observations = some_lengths(
        **four(
            lengths(1, strokes="69.00 69.00"),
            lengths(2, strokes="69.01 69.01"),
            *(lengths(n, strokes="") for n in (3, 4)),
        )
    )
    found = by_name(observations)
    assert found["throws"] == pytest.approx((0.02, AREA * 2.0, math.inf), rel=1e-4)
    assert measure(FOUR, observations).sources[6].distribution == "normal"


@pytest.mark.parametrize(
    ("changes", "field", "says"),
    [
        ({"bore_instrument": LengthInstrument(" ", 0.01)}, "bore_instrument.name", "Say what it was measured with"),
        ({"bore_instrument": LengthInstrument("bore gauge", 0.0)}, "bore_instrument.error_limit_mm", "±0 mm. No"),
        ({"stroke_instrument": LengthInstrument("rule", 0.51)}, "stroke_instrument.error_limit_mm", "of the rule are"),
        ({"stroke_instrument": LengthInstrument("", 0.01)}, "stroke_instrument.name", "bore gauge"),
        ({"metal_temperature_c": -10.1}, "metal_temperature_c", "temperature of the metal is given as -10.1"),
        ({"metal_temperature_c": 293.0}, "metal_temperature_c", "typed in kelvin"),
        ({"instrument_temperature_c": 60.1}, "instrument_temperature_c", "Fahrenheit? 60.1 °F are 15.6 °C"),
        ({"metal_temperature_standard_uncertainty_k": -1.0}, "metal_temperature_standard_uncertainty_k", "metal's"),
        (
            {"instrument_temperature_standard_uncertainty_k": 20.1},
            "instrument_temperature_standard_uncertainty_k",
            "instrument's temperature",
        ),
        ({"block_metal": "aluminium_on_iron"}, "block_metal", "metal of a block"),
        ({"crank_metal": "tin"}, "crank_metal", "metal of a crank"),
        (four(lengths(9)), "cylinders.9", "run from 1 to 4"),
        (four(lengths(2)), "cylinders.2", "appears twice"),
        ({"cylinders": ()}, "cylinders", "cylinder 1, cylinder 2, cylinder 3, cylinder 4. A displacement limit"),
        ({"cylinders": (lengths(4), lengths(1))}, "cylinders", "Not measured: the bore of cylinder 2, cylinder 3."),
        (
            {"cylinders": tuple(lengths(number, strokes="") for number in range(1, 5))},
            "cylinders",
            "No stroke was measured",
        ),
        (four(lengths(1), lengths(2, "87.00")), "cylinders.2.diameters", "has 1 diameters"),
        (four(lengths(1, "")), "cylinders.1.diameters", "at least 2, along and across"),
        (four(lengths(1, "87.00 8x")), "cylinders.1.diameters.2", "“8x” cannot be read as a diameter"),
        (four(lengths(1, "87.00 3.425")), "cylinders.1.diameters.2", "in inches? 3.425 in are 86.995 mm."),
        (
            four(lengths(1, "95.71 87.00")),
            "cylinders.1.diameters.1",
            "sheet's bore of 87 mm. Look at the reading",
        ),
        (four(lengths(1, "87.00 78.29")), "cylinders.1.diameters.2", "A diameter of 78.29 mm lies more than a tenth"),
        (four(lengths(1, strokes="2.717")), "cylinders.1.strokes.1", "in inches? 2.717 in are 69.0118 mm."),
        (four(lengths(1, "86.00 87.01")), "cylinders.1.diameters", "from 86 mm to 87.01 mm, more than 1 mm apart"),
        (four(lengths(1, strokes="69.00 70.01")), "cylinders.1.strokes", "The strokes of this cylinder"),
        (four(lengths(1, "87.00 " * 100)), "cylinders.1.diameters", "There are 100 diameters here"),
        (four(lengths(1, strokes="69.00 " * 100)), "cylinders.1.strokes", "There are 100 strokes here"),
    ],
)
def test_what_cannot_be_is_refused(changes: dict[str, Any], field: str, says: str) -> None:
    found, sentence = refused(**changes)
    assert found == f"observations.{field}"
    assert says in sentence


@pytest.mark.parametrize(
    "changes",
    [
        {"bore_instrument": LengthInstrument("rule", 0.5), "metal_temperature_c": -10.0},
        {"instrument_temperature_c": 60.0, "instrument_temperature_standard_uncertainty_k": 20.0},
        four(lengths(1, "95.70 95.70", "62.10 62.10")),
        four(lengths(1, "78.30 78.30", "75.90")),
        four(lengths(1, "86.10 87.10", "68.5 69,5")),
        four(lengths(1, "87.00 " * 99)),
    ],
)
def test_the_very_edges_are_taken(changes: dict[str, Any]) -> None:
    check(FOUR, some_lengths(**changes))


def test_every_source_is_given_its_words() -> None:
    said = words(some_lengths())
    assert said["bore_repeatability"].startswith("scatter of the diameters about their means, pooled over 4 cylinders")
    assert said["bore_resolution"] == "last step typed, 0.01 mm; half a step either way"
    assert said["bore_instrument"] == "bore gauge set in a ring, ±0.006 mm, alike in all bores"
    assert said["stroke_resolution"] == "last step typed, 0.01 mm; half a step either way"
    assert said["stroke_instrument"] == "depth micrometer, ±0.02 mm, alike in all"
    assert said["throws"] == "every stroke was measured"
    assert said["metal_temperature"] == "known to 1 K"
    assert said["instrument_temperature"] == "known to 0.5 K"
    assert said["block_expansion"].startswith("aluminium alloy: engineering handbooks")
    assert said["crank_expansion"].startswith("steel: ")
    assert said["instrument_expansion"].startswith("steel: ")


def test_the_reduction_to_20_c_is_said() -> None:
    at_20 = some_lengths()
    assert corrections(FOUR, at_20, measure(FOUR, at_20).results[0]) == ()
    for warm in (replace(at_20, metal_temperature_c=40.0), replace(at_20, instrument_temperature_c=25.0)):
        result = measure(FOUR, warm).results[0]
        (sentence,) = corrections(FOUR, warm, result)
        assert f"{warm.metal_temperature_c:.1f} °C" in sentence
        assert f"the instruments at {warm.instrument_temperature_c:.1f} °C" in sentence
        assert sentence.endswith(f"displacement {result.value / 16.387064:.2f} in³ ({result.value:.1f} cm³).")


def test_what_was_observed_is_kept_and_read_back_whole() -> None:
    observations = some_lengths(**four(lengths(1, "87,00 87.004"), lengths(2, strokes="")))
    assert from_data(METHOD.observations, to_data(observations), "observations") == observations


def test_the_method_says_what_it_measures() -> None:
    assert (METHOD.key, METHOD.label, METHOD.quantity) == ("dimensional", "bore and stroke measured", "displacement")
