"""Slider-crank kinematics and the one-sided peak, against numeric integration and simulation."""

import math

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from app.metrology.errors import MeasurementError
from app.metrology.physics.crank import peak_bias, piston_below_tdc_mm, volume_above_tdc_cm3


def below_tdc(stroke: float, rod_ratio: float, radians: float) -> float:
    """The triangle of crank, rod and cylinder axis by the law of cosines, solved for the pin: another way round."""
    crank, rod = stroke / 2.0, rod_ratio * stroke
    height = crank * math.cos(radians) + math.sqrt(rod**2 - (crank * math.sin(radians)) ** 2)
    return crank + rod - height


def quadrature(rod_ratio: float, step_degrees: float, ratio: float) -> tuple[float, float]:
    """Mean and standard deviation of what is missing from the reading, θ even over the whole step of ±δ/2.

    Sixty points in extended precision, in which the triangle's difference of near-equal numbers does no harm.
    """
    nodes, weights = (np.asarray(one, dtype=np.longdouble) for one in np.polynomial.legendre.leggauss(60))
    radians = nodes * np.longdouble(step_degrees) * np.longdouble(np.pi) / 360
    rod, as_read = np.longdouble(rod_ratio), np.longdouble(ratio) - 1
    shares = np.longdouble(0.5) + rod - np.cos(radians) / 2 - np.sqrt(rod**2 - (np.sin(radians) / 2) ** 2)
    missing = as_read / (1 - as_read * shares) - as_read
    mean = (weights * missing).sum() / 2
    return float(mean), math.sqrt(float((weights * (missing - mean) ** 2).sum() / 2))


@pytest.mark.parametrize(
    ("degrees", "below_mm"), [(0.0, 0.0), (180.0, 88.0), (360.0, 0.0), (90.0, 51.051579), (-90.0, 51.051579)]
)
def test_the_piston_goes_from_top_to_bottom_and_back(degrees: float, below_mm: float) -> None:
    assert piston_below_tdc_mm(88.0, 1.6, degrees) == pytest.approx(below_mm, abs=1e-6)


@given(st.floats(10.0, 300.0), st.floats(1.0, 3.0), st.floats(-720.0, 720.0))
@settings(max_examples=300)
def test_the_exact_form_is_that_of_the_triangle(stroke: float, rod_ratio: float, degrees: float) -> None:
    expected = below_tdc(stroke, rod_ratio, math.radians(degrees))
    assert piston_below_tdc_mm(stroke, rod_ratio, degrees) == pytest.approx(expected, abs=1e-11 * stroke)


def test_near_top_dead_centre_no_digit_is_lost() -> None:
    """x → S/4·θ²·(1 + 1/(2n)) as θ → 0; differences of near-equal numbers would have nothing left of it."""
    radians = math.radians(1e-4)
    leading = 88.0 / 4.0 * radians**2 * (1.0 + 1.0 / (2.0 * 1.6))
    assert piston_below_tdc_mm(88.0, 1.6, 1e-4) == pytest.approx(leading, rel=1e-9)


def test_five_degrees_off_top_dead_centre_in_volume() -> None:
    expected = math.pi / 4.0 * 100.0**2 * below_tdc(88.0, 1.6, math.radians(5.0)) / 1000.0
    assert volume_above_tdc_cm3(100.0, 88.0, 1.6, 5.0) == pytest.approx(expected, rel=1e-10)
    assert volume_above_tdc_cm3(100.0, 88.0, 1.6, -5.0) == pytest.approx(1.725255, abs=1e-6)


@pytest.mark.parametrize(
    ("step", "bias", "u"),
    [
        (1.0, 0.00075182916, 0.00067249569),
        (5.0, 0.018857406, 0.016891274),
        (10.0, 0.076213182, 0.068570809),
        (20.0, 0.31821048, 0.29167290),
    ],
)
def test_bias_and_uncertainty_of_a_usual_engine(step: float, bias: float, u: float) -> None:
    found = peak_bias(100.0, 88.0, 1.6, step, 10.5)
    assert found.bias == pytest.approx(bias, rel=1e-7)
    assert found.standard_uncertainty == pytest.approx(u, rel=1e-7)
    assert tuple(found) == (found.bias, found.standard_uncertainty)


@given(st.floats(1.0, 3.0), st.floats(0.05, 20.0), st.floats(1.5, 25.0))
@settings(max_examples=300)
def test_eight_points_agree_with_sixty(rod_ratio: float, step: float, ratio: float) -> None:
    assume((ratio - 1.0) * below_tdc(1.0, rod_ratio, math.radians(step / 2.0)) < 0.25)
    mean, deviation = quadrature(rod_ratio, step, ratio)
    found = peak_bias(86.0, 86.0, rod_ratio, step, ratio)
    noise = 1e-17 * ratio**2  # of the reference, where steps are small
    assert found.bias == pytest.approx(mean, rel=1e-9, abs=noise)
    assert found.standard_uncertainty == pytest.approx(deviation, rel=1e-9, abs=noise)


def test_the_hardest_case_that_is_taken_agrees_too() -> None:
    """The longest step, the shortest rod, and the greatest ratio that is not refused there."""
    greatest = 1.0 + 0.24999 / below_tdc(1.0, 1.0, math.radians(10.0))
    mean, deviation = quadrature(1.0, 20.0, greatest)
    found = peak_bias(86.0, 86.0, 1.0, 20.0, greatest)
    assert found.bias == pytest.approx(mean, rel=1e-9)
    assert found.standard_uncertainty == pytest.approx(deviation, rel=1e-9)


def test_a_simulated_crank_turned_in_steps_bears_it_out() -> None:
    """An engine of 10.5, cranks turned in 8° steps from a chance start, the greatest reading taken: 200 000 times.

    Each of 20 000 readings corrected by the bias of its own, the mean is 10.5 within four of its standard deviations
    and 2q³·var(s) = 0.0004, by which a bias reckoned from the reading differs from one reckoned from the truth.
    """
    random = np.random.default_rng(20261125)
    draws, step, ratio = 200_000, 8.0, 10.5
    start = random.uniform(0.0, step, draws)  # of the first reading before top dead centre
    nearest = np.minimum(start, step - start)
    radians = np.radians(nearest)
    shares = 0.5 * (1.0 - np.cos(radians)) + 1.7 - np.sqrt(1.7**2 - 0.25 * np.sin(radians) ** 2)
    read = 1.0 + (ratio - 1.0) / (1.0 + (ratio - 1.0) * shares)
    corrected = np.array([value + peak_bias(90.0, 80.0, 1.7, step, value).bias for value in read[:20_000]])
    assert abs(corrected.mean() - ratio) < 4.0 * corrected.std() / math.sqrt(20_000) + 4e-4
    assert abs(read.mean() - ratio) > 0.04
    middle = peak_bias(90.0, 80.0, 1.7, step, float(read.mean()))
    assert read.std() == pytest.approx(middle.standard_uncertainty, rel=0.02)
    assert ratio - read.mean() == pytest.approx(middle.bias, rel=0.02)


@given(st.floats(1.0, 3.0), st.floats(0.1, 3.0), st.floats(2.0, 20.0))
@settings(max_examples=200)
def test_small_steps_tend_to_the_squared_rectangular_variable(rod_ratio: float, step: float, ratio: float) -> None:
    """d ≈ q²·θ²/4·(1 + 1/(2n)), θ even within ±δ/2: mean ∝ δ²/12, and u is 2/√5 of it."""
    found = peak_bias(86.0, 86.0, rod_ratio, step, ratio)
    leading = (ratio - 1.0) ** 2 / 4.0 * (1.0 + 0.5 / rod_ratio) * math.radians(step) ** 2 / 12.0
    assert found.bias == pytest.approx(leading, rel=0.02)
    assert found.standard_uncertainty == pytest.approx(2.0 / math.sqrt(5.0) * leading, rel=0.03)


def test_a_crank_turned_steadily_misses_nothing() -> None:
    assert peak_bias(100.0, 88.0, 1.6, 0.0, 10.5) == (0.0, 0.0)


@given(st.floats(1.0, 3.0), st.floats(0.5, 10.0), st.floats(1.5, 20.0))
@settings(max_examples=200)
def test_longer_steps_higher_ratios_and_shorter_rods_cost_more(rod_ratio: float, step: float, ratio: float) -> None:
    assume(rod_ratio < 2.9)
    here = peak_bias(86.0, 86.0, rod_ratio, step, ratio)
    for worse in (
        peak_bias(86.0, 86.0, rod_ratio, step * 1.1, ratio),
        peak_bias(86.0, 86.0, rod_ratio, step, ratio * 1.1),
    ):
        assert worse.bias > here.bias > 0.0
        assert worse.standard_uncertainty > here.standard_uncertainty > 0.0
    longer_rod = peak_bias(86.0, 86.0, rod_ratio + 0.1, step, ratio)
    assert longer_rod.bias < here.bias


def test_bore_and_stroke_cancel() -> None:
    assert peak_bias(50.0, 40.0, 1.6, 5.0, 10.5) == peak_bias(120.0, 110.0, 1.6, 5.0, 10.5)


@pytest.mark.parametrize(
    ("arguments", "field", "words"),
    [
        ((0.0, 88.0, 1.6, 5.0, 10.5), "bore_mm", "more than nothing"),
        ((math.inf, 88.0, 1.6, 5.0, 10.5), "bore_mm", "more than nothing"),
        ((100.0, -88.0, 1.6, 5.0, 10.5), "stroke_mm", "more than nothing"),
        ((100.0, math.nan, 1.6, 5.0, 10.5), "stroke_mm", "more than nothing"),
        ((100.0, 88.0, 0.5, 5.0, 10.5), "rod_ratio", "longer than half the stroke"),
        ((100.0, 88.0, -1.0, 5.0, 10.5), "rod_ratio", "longer than half the stroke"),
        ((100.0, 88.0, math.nan, 5.0, 10.5), "rod_ratio", "longer than half the stroke"),
        ((100.0, 88.0, 0.503, 5.0, 10.5), "rod_ratio", "A rod ratio of 0.503 is no engine's"),
        ((100.0, 88.0, 0.99, 5.0, 10.5), "rod_ratio", "A rod ratio of 0.99 is no engine's"),
        ((100.0, 88.0, 3.01, 5.0, 10.5), "rod_ratio", "usually 1.4 to 2.2"),
        ((100.0, 88.0, 140.0, 5.0, 10.5), "rod_ratio", "or not divided"),
        ((100.0, 88.0, 1.6, -0.1, 10.5), "step_degrees", "between 0 .* and 20°"),
        ((100.0, 88.0, 1.6, 20.1, 10.5), "step_degrees", "between 0 .* and 20°"),
        ((100.0, 88.0, 1.6, math.nan, 10.5), "step_degrees", "between 0 .* and 20°"),
        ((100.0, 88.0, 1.6, 5.0, 1.0), "ratio", "more than 1"),
        ((100.0, 88.0, 1.6, 5.0, math.inf), "ratio", "more than 1"),
    ],
)
def test_what_cannot_be_is_refused(arguments: tuple[float, float, float, float, float], field: str, words: str) -> None:
    with pytest.raises(MeasurementError, match=words) as refused:
        peak_bias(*arguments)
    assert refused.value.field == field


def test_a_step_too_coarse_for_so_small_a_chamber_is_refused() -> None:
    edge = 1.0 + 0.25 / below_tdc(1.0, 1.6, math.radians(10.0))
    assert peak_bias(100.0, 88.0, 1.6, 20.0, edge - 1e-6).bias > 0.0
    with pytest.raises(
        MeasurementError, match=r"Half a step of 20° .* by more than a quarter.*smaller steps"
    ) as refused:
        peak_bias(100.0, 88.0, 1.6, 20.0, edge + 1e-6)
    assert refused.value.field == "step_degrees"


@pytest.mark.parametrize("rod_ratio", [1.0, 3.0])
def test_the_shortest_and_longest_rods_are_taken(rod_ratio: float) -> None:
    assert peak_bias(100.0, 88.0, rod_ratio, 5.0, 10.5).bias > 0.0


@pytest.mark.parametrize(
    ("arguments", "field"),
    [((0.0, 1.6, 5.0), "stroke_mm"), ((88.0, 0.4, 5.0), "rod_ratio"), ((88.0, 1.6, math.inf), "crank_degrees")],
)
def test_the_piston_is_asked_for_where_it_can_be(arguments: tuple[float, float, float], field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        piston_below_tdc_mm(*arguments)
    assert refused.value.field == field
    with pytest.raises(MeasurementError) as refused:
        volume_above_tdc_cm3(100.0, *arguments)
    assert refused.value.field == field


def test_a_volume_needs_a_bore() -> None:
    with pytest.raises(MeasurementError) as refused:
        volume_above_tdc_cm3(0.0, 88.0, 1.6, 5.0)
    assert refused.value.field == "bore_mm"
