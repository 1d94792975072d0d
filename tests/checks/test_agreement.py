"""Agreement of two results against print and an independent library.

| check | source | how it is known |
| --- | --- | --- |
| E_n, its factor 2 and its edge at 1 | ISO 13528:2022, 9.7; ISO/IEC 17043, Annex B | from memory |
| covariance of a shared source | JCGM 100:2008, 5.2.2 and F.1.2.3 | from memory |
| both at random | the package uncertainties, which propagates correlation by itself | independent library |
"""

import math

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from uncertainties import ufloat

from app.metrology.agreement import StatedResult, compare, covariance_of


@pytest.mark.parametrize(
    ("first", "second", "e_n"),
    [
        # right-angled triangles, so that every figure ends: √(0.12² + 0.09²) = 0.15
        ((10.62, 0.12, 2.0), (10.50, 0.09, 2.0), 0.8),
        ((10.50, 0.12, 2.0), (10.62, 0.09, 2.0), -0.8),
        ((10.71, 0.12, 2.0), (10.50, 0.09, 2.0), 1.4),
        ((100.5, 0.3, 2.0), (100.0, 0.4, 2.0), 1.0),
        ((350.0, 5.0, 2.0), (337.0, 12.0, 2.0), 1.0),
    ],
)
def test_e_n_is_the_difference_over_the_expanded_uncertainty_of_both(
    first: tuple[float, float, float], second: tuple[float, float, float], e_n: float
) -> None:
    """ISO 13528:2022, 9.7, from memory: E_n = (x − X)/√(U² + U_ref²), both with k = 2."""
    found = compare(StatedResult(*first), StatedResult(*second))
    assert found.e_n == pytest.approx(e_n, rel=1e-12)
    assert found.agree is (abs(e_n) <= 1.0)


def test_factors_are_made_alike_before_uncertainties_are_put_together() -> None:
    """ISO 13528:2022, 9.7, from memory: the expanded uncertainties need one and the same coverage factor."""
    as_k_three = compare(StatedResult(10.62, 0.18, 3.0), StatedResult(10.50, 0.045, 1.0))
    assert as_k_three.allowed == pytest.approx(0.15, rel=1e-12)
    assert as_k_three.e_n == pytest.approx(0.8, rel=1e-12)


def test_a_source_that_both_share_in_full_drops_out() -> None:
    """JCGM 100:2008, 5.2.2, from memory: u²(x₁ − x₂) = u₁² + u₂² − 2u₁₂; 0.13 holds 0.12 shared and 0.05 own."""
    found = compare(StatedResult(10.40, 0.26, 2.0), StatedResult(10.40 - 0.10, 0.26, 2.0), covariance=0.12**2)
    assert found.allowed == pytest.approx(2.0 * math.sqrt(2.0) * 0.05, rel=1e-12)
    assert found.e_n == pytest.approx(0.10 / (2.0 * math.sqrt(2.0) * 0.05), rel=1e-12)


contributions = st.floats(-0.2, 0.2)


@settings(max_examples=300, deadline=None)
@given(
    values=st.tuples(st.floats(5.0, 15.0), st.floats(5.0, 15.0)),
    own=st.tuples(st.floats(0.01, 0.2), st.floats(0.01, 0.2)),
    shared=st.tuples(contributions, contributions),
    also=st.tuples(contributions, contributions),
    factors=st.tuples(st.floats(1.0, 4.0), st.floats(1.0, 4.0)),
)
def test_the_package_uncertainties_finds_the_same_difference_and_uncertainty(
    values: tuple[float, float],
    own: tuple[float, float],
    shared: tuple[float, float],
    also: tuple[float, float],
    factors: tuple[float, float],
) -> None:
    bore, instrument = ufloat(0.0, 1.0), ufloat(0.0, 1.0)
    theirs = [
        value + ufloat(0.0, apart) + one * bore + other * instrument
        for value, apart, one, other in zip(values, own, shared, also, strict=True)
    ]
    assume(abs(values[0] - values[1]) > 1e-6)
    named = [{"bore": one, "instrument": other} for one, other in zip(shared, also, strict=True)]
    stated = [StatedResult(value, k * u.std_dev, k) for value, u, k in zip(values, theirs, factors, strict=True)]
    found = compare(stated[0], stated[1], covariance_of(named[0], named[1]))
    difference = theirs[0] - theirs[1]
    assert found.allowed == pytest.approx(2.0 * difference.std_dev, rel=1e-9)
    assert found.e_n == pytest.approx(difference.nominal_value / (2.0 * difference.std_dev), rel=1e-9)
