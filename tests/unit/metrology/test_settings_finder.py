"""What to dial on an instrument that cannot be set to the engine as it is."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.assessment import MeasurementError
from app.metrology.settings import explain_no_settings, find_settings

IN3 = 16.387064
COUNTS = st.lists(st.sampled_from([1, 2, 3, 4, 5, 6, 8, 10, 12]), max_size=6)


def test_the_true_cylinder_count_comes_first_then_the_nearest() -> None:
    choices = find_settings(6, 3000.0, (1, 2, 4, 6, 8), 200.0, 8000.0)
    assert [choice.cylinders for choice in choices] == [6, 8, 4, 2, 1]
    assert [choice.displacement_cm3 for choice in choices] == pytest.approx([3000.0, 4000.0, 2000.0, 1000.0, 500.0])
    assert choices[0].sentence == "Set 183.07 in³ (3000.0 cm³) and 6 cylinders: the engine as it is."
    assert "Set 244.09 in³ (4000.0 cm³) and 8 cylinders: the same 30.51 in³ (500.0 cm³)" in choices[1].sentence
    assert "and 1 cylinder: the same" in choices[-1].sentence


@given(st.integers(1, 16), st.floats(50.0, 12000.0), COUNTS, st.floats(0.0, 3000.0), st.floats(0.0, 10000.0))
def test_every_choice_keeps_the_swept_volume_and_fits_the_instrument(
    cylinders: int, displacement: float, settable: list[int], low: float, width: float
) -> None:
    choices = find_settings(cylinders, displacement, settable, low, low + width)
    for choice in choices:
        assert choice.displacement_cm3 / choice.cylinders == pytest.approx(displacement / cylinders, rel=1e-12)
        assert low * (1 - 1e-6) <= choice.displacement_cm3 <= (low + width) * (1 + 1e-6)
        assert choice.cylinders in settable
    distances = [abs(choice.cylinders - cylinders) for choice in choices]
    assert distances == sorted(distances)
    assert len({choice.cylinders for choice in choices}) == len(choices)
    explained = explain_no_settings(cylinders, displacement, settable, low, low + width)
    assert bool(explained) == (not choices)


def test_the_ends_of_the_range_fit() -> None:
    assert len(find_settings(12, 400 * IN3, (6,), 100 * IN3, 200 * IN3)) == 1
    assert len(find_settings(2, 100 * IN3, (4,), 200 * IN3, 600 * IN3)) == 1


def test_where_nothing_fits_the_sentence_says_what_would_be_needed() -> None:
    said = explain_no_settings(1, 50.0, (2, 1), 80.0, 90.0)
    assert "4.88 in³ (80.0 cm³) to 5.49 in³ (90.0 cm³)" in said
    assert "need 3.05 in³ (50.0 cm³) on 1, or 6.10 in³ (100.0 cm³) on 2" in said


def test_an_instrument_without_any_settable_count_fits_nothing() -> None:
    assert find_settings(4, 2000.0, (), 0.0, 9000.0) == ()
    assert "a cylinder count that can be set" in explain_no_settings(4, 2000.0, (), 0.0, 9000.0)


@pytest.mark.parametrize(
    ("given_", "field"),
    [
        ((0, 2000.0, (4,), 0.0, 9000.0), "cylinders"),
        ((4, 0.0, (4,), 0.0, 9000.0), "displacement_cm3"),
        ((4, math.nan, (4,), 0.0, 9000.0), "displacement_cm3"),
        ((4, math.inf, (4,), 0.0, 9000.0), "displacement_cm3"),
        ((4, 2000.0, (4, 0), 0.0, 9000.0), "settable_cylinders"),
        ((4, 2000.0, (4,), -1.0, 9000.0), "displacement_max_cm3"),
        ((4, 2000.0, (4,), 9000.0, 100.0), "displacement_max_cm3"),
        ((4, 2000.0, (4,), 0.0, math.inf), "displacement_max_cm3"),
        ((4, 2000.0, (4,), math.nan, 100.0), "displacement_max_cm3"),
    ],
)
def test_what_cannot_be_is_named(given_: tuple[int, float, tuple[int, ...], float, float], field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        find_settings(*given_)
    assert refused.value.field == field
