import math

import numpy as np
import pytest
from scipy import integrate as scipy_integrate

from app.metrology.risk.quadrature import MOST_PANELS, NODES, Array, integrate
from app.metrology.risk.searching import crossing


@pytest.mark.parametrize("degree", range(23))
def test_the_fifteen_points_integrate_every_polynomial_up_to_degree_22_exactly(degree: int) -> None:
    exact = 0.0 if degree % 2 else 2.0 / (degree + 1)
    assert math.fsum(weight * node**degree for node, weight, _ in NODES) == pytest.approx(exact, abs=3e-16)


@pytest.mark.parametrize("degree", range(14))
def test_the_seven_points_integrate_every_polynomial_up_to_degree_13_exactly(degree: int) -> None:
    exact = 0.0 if degree % 2 else 2.0 / (degree + 1)
    assert math.fsum(weight * node**degree for node, _, weight in NODES) == pytest.approx(exact, abs=3e-16)


def test_the_two_rules_part_at_the_next_degrees() -> None:
    assert abs(math.fsum(weight * node**24 for node, weight, _ in NODES) - 2.0 / 25.0) > 1e-9
    assert abs(math.fsum(weight * node**14 for node, _, weight in NODES) - 2.0 / 15.0) > 1e-5


def test_several_functions_are_integrated_at_once_within_the_bound() -> None:
    found = integrate(lambda x: np.stack([np.exp(-x * x), np.cos(40.0 * x), abs(x - 1 / 3)]), [0.0, 2.0])
    expected = [math.sqrt(math.pi) / 2.0 * math.erf(2.0), math.sin(80.0) / 40.0, (1 / 9 + 25 / 9) / 2.0]
    assert found.error_bound <= 1e-10
    for value, exact in zip(found.values, expected, strict=True):
        assert abs(value - exact) <= found.error_bound
    quad, _ = scipy_integrate.quad(lambda x: math.exp(-x * x), 0.0, 2.0)
    assert found.values[0] == pytest.approx(quad, abs=1e-14)


def test_breaks_may_come_in_any_order_and_twice() -> None:
    found = integrate(lambda x: np.where(x < 0.3, 1.0, 3.0)[None], [1.0, 0.3, 0.0, 0.3])
    assert found.values == (pytest.approx(0.3 + 2.1, abs=1e-15),)
    assert found.error_bound < 1e-14


def test_a_smooth_function_is_looked_at_fifteen_times_and_a_step_until_the_tolerance_holds() -> None:
    seen: list[float] = []

    def looked_at(x: Array) -> Array:
        seen.extend(x.tolist())
        return (x**3)[None]

    assert integrate(looked_at, [0.0, 2.0]).values == (pytest.approx(4.0, abs=1e-14),)
    assert len(seen) == 15
    assert all(0.0 < x < 2.0 for x in seen)

    step = integrate(lambda x: np.where(x < 0.3, 0.0, 1.0)[None], [0.0, 1.0], 1e-6)
    assert 0.0 < step.error_bound <= 1e-6
    assert abs(step.values[0] - 0.7) <= step.error_bound


def test_only_what_is_not_known_well_enough_is_looked_at_again() -> None:
    seen: list[Array] = []

    def looked_at(x: Array) -> Array:
        seen.append(x)
        return np.where(x < 0.3, 0.0, 1.0)[None]

    integrate(looked_at, [0.0, 0.25, 0.5, 1.0], 1e-3)
    assert len(seen[0]) == 45
    assert all(len(again) == 30 for again in seen[1:])  # the halves of the one panel that holds the step
    assert all(again.min() > 0.25 and again.max() < 0.5 for again in seen[1:])


def test_what_cannot_be_had_at_the_tolerance_is_given_with_the_bound_it_has() -> None:
    calls = 0

    def wild(x: Array) -> Array:
        nonlocal calls
        calls += x.size
        return np.sin(1e6 * x)[None]

    found = integrate(wild, [0.0, 1.0])
    assert found.error_bound > 1e-3
    assert 15 * MOST_PANELS < calls < 15 * 4 * MOST_PANELS


@pytest.mark.parametrize("start", [-40.0, -1.0, 0.5, 0.7, 3.0, 250.0])
def test_a_crossing_is_found_from_either_side(start: float) -> None:
    found = crossing(lambda x: math.tanh(x - 0.7), start, 1.0)
    assert found == pytest.approx(0.7, abs=1.1e-12)


def test_a_crossing_is_as_precise_as_asked_for_and_takes_few_looks() -> None:
    looks = 0

    def rising(x: float) -> float:
        nonlocal looks
        looks += 1
        return math.erf(x - 2.1) + 0.9

    exact = 2.1 - 1.1630871536766743
    assert crossing(rising, 0.0, 0.5, 1e-6) - exact == pytest.approx(0.0, abs=5e-7)
    assert looks <= 17


def test_a_crossing_says_where_a_step_is() -> None:
    assert crossing(lambda x: -1.0 if x < 3.25 else 1.0, 0.0, 1.0) == pytest.approx(3.25, abs=1.1e-12)
    assert crossing(lambda x: -1.0 if x < -3.25 else 0.0, 0.0, 1.0) == pytest.approx(-3.25, abs=1.1e-12)


def test_a_crossing_does_not_look_below_its_floor() -> None:
    def rising(x: float) -> float:
        assert x >= -2.5
        return x + 2.0

    assert crossing(rising, 0.0, 1.0, floor=-2.5) == pytest.approx(-2.0, abs=1.1e-12)
    assert crossing(lambda x: x + 9.0, 0.0, 1.0, floor=-2.5) == -2.5
    assert crossing(lambda x: x + 9.0, -2.5, 1.0, floor=-2.5) == -2.5
