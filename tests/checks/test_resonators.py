"""The Helmholtz resonator against print and against independent propagation of uncertainty."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from uncertainties import ufloat, umath  # type: ignore[import-untyped]

from app.metrology.physics import helmholtz

RANDOM_CASES = 200
BOTTLE = {"neck_area_m2": 3e-4, "effective_length_m": 0.05, "speed_m_s": 340.0}


def test_a_litre_bottle() -> None:
    """HLM-1. J. Wolfe, UNSW, Helmholtz resonance notes: 130 Hz. From memory; 132.548, printed rounded."""
    tone = helmholtz.frequency_hz(1e-3, **BOTTLE)
    assert tone == pytest.approx(132.55, abs=0.01)
    assert tone == pytest.approx(132.548, abs=5e-4)
    assert round(tone, -1) == 130


def test_the_same_bottle_with_the_air_that_swings_along_outside_its_neck() -> None:
    """HLM-1, remark: with end corrections 0.6a + 0.85a it gives 117.0 Hz."""
    longer = helmholtz.effective_length_m(0.05, 3e-4, helmholtz.FREE_END + helmholtz.FLANGED_END)
    assert helmholtz.frequency_hz(1e-3, 3e-4, longer, 340.0) == pytest.approx(117.0, abs=0.05)


def test_the_volume_behind_the_tone() -> None:
    """HLM-3. Algebra of HLM-1: 1.000 L. Derived, cross-checked."""
    assert helmholtz.volume_m3(132.548, **BOTTLE) * 1000.0 == pytest.approx(1.00000, abs=1e-4)


def test_a_kelvin_is_a_third_of_a_per_cent_of_volume() -> None:
    """HLM-3. Gas 1 K warmer than assumed at 293.15 K: dV/V = 0.341 %; recomputed 0.3411. c² ∝ T."""
    assert 100.0 * helmholtz.relative_volume_change_per_kelvin(293.15) == pytest.approx(0.341, abs=5e-4)
    assert 100.0 * helmholtz.relative_volume_change_per_kelvin(293.15) == pytest.approx(0.3411, abs=5e-5)
    warmer = BOTTLE | {"speed_m_s": 340.0 * math.sqrt(294.15 / 293.15)}
    by_difference = helmholtz.volume_m3(132.548, **warmer) / helmholtz.volume_m3(132.548, **BOTTLE) - 1.0
    assert helmholtz.relative_volume_change_per_kelvin(293.15) == pytest.approx(by_difference, rel=1e-9)


relative = st.floats(1e-6, 0.05)


@given(st.floats(50.0, 1000.0), st.floats(1e-5, 1e-3), st.floats(0.005, 0.2), st.floats(300.0, 400.0),
       st.tuples(relative, relative, relative, relative))  # fmt: skip
@settings(max_examples=RANDOM_CASES, deadline=None)
def test_uncertainties_propagates_to_the_same_volume(
    frequency: float, area: float, length: float, speed: float, parts: tuple[float, float, float, float]
) -> None:
    """HLM-3, remark: u(V)/V = 2u(f)/f ⊕ 2u(c)/c ⊕ u(S)/S ⊕ u(L′)/L′; the library differentiates the formula itself."""
    f, c, s, n = (
        ufloat(value, value * part) for value, part in zip((frequency, speed, area, length), parts, strict=True)
    )
    theirs = c**2 * s / (umath.pow(2.0 * math.pi * f, 2) * n)
    volume = helmholtz.volume_m3(frequency, area, length, speed)
    assert volume == pytest.approx(theirs.nominal_value, rel=1e-12)
    assert volume * helmholtz.relative_volume_uncertainty(*parts) == pytest.approx(theirs.std_dev, rel=1e-9)
    assert helmholtz.frequency_hz(volume, area, length, speed) == pytest.approx(frequency, rel=1e-12)
