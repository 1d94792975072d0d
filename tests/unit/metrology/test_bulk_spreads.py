"""Probabilities of many errors at once are those that `spread` gives one by one."""

import math

import numpy as np
import pytest
from scipy.special import stdtr

from app.metrology.bulk.spreads import HILL_FROM, NEARLY_NORMAL, Bells, tails
from app.metrology.spread import Spread, bell_height

NEAR = 1e-9

DOFS = (1.0, 2.0, 3.0, 7.0, 30.0, 99.0, 100.0, 101.0, 400.0, 5000.0, 1e6, 1e6 + 1.0, math.inf)
SHAPES = ((0.1, 0.03), (0.005, 0.05), (0.1, 0.0005), (4.9e-6, 0.05), (5.1e-6, 0.05), (0.1, 1e-10), (0.1, 1.1e-10))


@pytest.mark.parametrize("dof", DOFS)
@pytest.mark.parametrize(("half_width", "scale"), SHAPES)
def test_tails_are_those_of_the_core(half_width: float, scale: float, dof: float) -> None:
    spread = Spread(half_width, scale, dof)
    u = spread.standard_uncertainty
    distances = np.array([0.0, *np.linspace(0.01, 12.0, 200), 40.0, 1000.0]) * u
    found = tails(*(np.full_like(distances, one) for one in spread), distances)
    expected = [spread.probability(-distance) for distance in distances]
    assert found == pytest.approx(expected, rel=0.0, abs=NEAR)
    assert np.all(found >= 0.0)


def test_tails_of_mixed_bells_are_each_their_own() -> None:
    dofs = np.array(DOFS)
    found = tails(np.full_like(dofs, 0.1), np.full_like(dofs, 0.05), dofs, np.full_like(dofs, 0.2))
    assert found == pytest.approx([Spread(0.1, 0.05, dof).probability(-0.2) for dof in DOFS], rel=0.0, abs=1e-11)


def test_hills_transformation_is_students_t_from_a_hundred_degrees_of_freedom() -> None:
    z = np.linspace(-15.0, 15.0, 3001)
    for dof in (HILL_FROM, 101.0, 150.0, 1e3, 1e4):
        assert np.max(np.abs(Bells(np.full_like(z, dof)).probabilities(z) - stdtr(dof, z))) < 2e-14
    few = Bells(np.full_like(z, HILL_FROM - 1.0)).probabilities(z)
    assert np.array_equal(few, stdtr(HILL_FROM - 1.0, z))


def test_the_height_of_the_bell_by_its_series_is_that_of_the_core() -> None:
    # the integral up to the middle is ν/(ν − 1) times the height there
    found = Bells(np.array([HILL_FROM])).integrals(np.array([0.0]))
    assert found[0] == pytest.approx(HILL_FROM / (HILL_FROM - 1.0) * bell_height(HILL_FROM), rel=3e-14)


def test_infinitely_many_degrees_of_freedom_are_the_normal_distribution() -> None:
    # JCGM 100:2008, Table G.2 prints 1.960 for 95 % and infinitely many (from memory); here to more digits
    assert Bells(np.array([math.inf, NEARLY_NORMAL])).probabilities(np.array([1.959963984540054] * 2)) == pytest.approx(
        0.975, abs=1e-15
    )
