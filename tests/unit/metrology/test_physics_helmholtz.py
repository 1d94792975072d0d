"""The resonator's relations: exact figures, sensitivities by difference, and what is refused."""

import math

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.physics import helmholtz


def test_end_corrections_are_counted_in_neck_radii() -> None:
    assert helmholtz.effective_length_m(0.05, math.pi * 0.01**2, 1.45) == pytest.approx(0.0645, rel=1e-12)
    assert helmholtz.effective_length_m(0.05, math.pi * 0.01**2) == 0.05
    assert helmholtz.effective_length_m(0.0, math.pi * 0.01**2, 2.0) == pytest.approx(0.02)


@pytest.mark.parametrize("name", helmholtz.Sensitivities._fields)
def test_sensitivities_are_those_of_small_changes(name: str) -> None:
    at = {"frequency": 300.0, "neck_area": 1e-4, "effective_length": 0.04, "speed": 343.0}

    def volume(inputs: dict[str, float]) -> float:
        return helmholtz.volume_m3(
            inputs["frequency"], inputs["neck_area"], inputs["effective_length"], inputs["speed"]
        )

    step = 1e-6
    up, down = volume(at | {name: at[name] * (1.0 + step)}), volume(at | {name: at[name] * (1.0 - step)})
    by_difference = (up - down) / (2.0 * step * volume(at))
    assert getattr(helmholtz.SENSITIVITIES, name) == pytest.approx(by_difference, rel=1e-6)


def test_relative_uncertainties_combine() -> None:
    assert helmholtz.relative_volume_uncertainty(frequency=0.01) == pytest.approx(0.02)
    assert helmholtz.relative_volume_uncertainty(speed=0.01) == pytest.approx(0.02)
    assert helmholtz.relative_volume_uncertainty(neck_area=0.01) == pytest.approx(0.01)
    assert helmholtz.relative_volume_uncertainty(effective_length=0.01) == pytest.approx(0.01)
    assert helmholtz.relative_volume_uncertainty(0.01, 0.01, 0.02, 0.01) == pytest.approx(math.sqrt(13.0) * 0.01)
    assert helmholtz.relative_volume_uncertainty() == 0.0
    assert helmholtz.relative_volume_uncertainty(neck_area=1.0) == 1.0


@pytest.mark.parametrize("value", [-0.01, 1.01, math.nan])
@pytest.mark.parametrize("name", helmholtz.Sensitivities._fields)
def test_an_impossible_relative_uncertainty_is_refused(name: str, value: float) -> None:
    with pytest.raises(MeasurementError, match=r"1 % is 0\.01") as refused:
        helmholtz.relative_volume_uncertainty(**{name: value})
    assert refused.value.field == name


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ((-0.01, 1e-4, 0.6), "length_m"),
        ((math.inf, 1e-4, 0.6), "length_m"),
        ((0.05, 0.0, 0.6), "neck_area_m2"),
        ((0.05, 1e-4, -0.1), "end_corrections"),
        ((0.05, 1e-4, 2.001), "end_corrections"),
    ],
)
def test_an_impossible_neck_is_refused(arguments: tuple[float, float, float], field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        helmholtz.effective_length_m(*arguments)
    assert refused.value.field == field


@pytest.mark.parametrize(
    ("arguments", "field"),
    [
        ((0.0, 1e-4, 0.05, 340.0), None),
        ((1.0, 0.0, 0.05, 340.0), "neck_area_m2"),
        ((1.0, 1e-4, -0.05, 340.0), "effective_length_m"),
        ((1.0, 1e-4, 0.05, math.nan), "speed_m_s"),
    ],
)
def test_an_impossible_resonator_is_refused(arguments: tuple[float, float, float, float], field: str | None) -> None:
    for relation, first in ((helmholtz.frequency_hz, "volume_m3"), (helmholtz.volume_m3, "frequency_hz")):
        with pytest.raises(MeasurementError) as refused:
            relation(*arguments)
        assert refused.value.field == (field or first)


def test_a_temperature_change_needs_kelvin() -> None:
    assert helmholtz.relative_volume_change_per_kelvin(250.0) == 0.004
    with pytest.raises(MeasurementError) as refused:
        helmholtz.relative_volume_change_per_kelvin(0.0)
    assert refused.value.field == "kelvin"
