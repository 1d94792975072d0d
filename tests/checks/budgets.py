"""Two independent libraries propagate a measurement function; the core's sensitivities do not enter."""

import math
from collections.abc import Callable, Mapping
from typing import Any

import GTC  # type: ignore[import-untyped]
import pytest
from uncertainties import ufloat  # type: ignore[import-untyped]

from app.metrology.measurement import Measured, Measurement
from app.metrology.uncertainty import effective_degrees_of_freedom

Inputs = Mapping[str, Any]  # each source's error, by name: nominally zero
PhysicsOf = Callable[[Measured, Inputs], Any]


def by_uncertainties(measurement: Measurement, physics: PhysicsOf) -> None:
    """Every result, and the mean of all with shared errors shared, to nine digits."""
    own_and_shared = _errors(measurement, lambda value, u, _: ufloat(value, u) if u > 0.0 else value)
    theirs = [physics(result, errors) for result, errors in zip(measurement.results, own_and_shared, strict=True)]
    for result, other in zip(measurement.results, theirs, strict=True):
        assert result.value == pytest.approx(_nominal(other), rel=1e-12)
        assert standard_uncertainty(result) == pytest.approx(_deviation(other), rel=1e-8, abs=1e-13)
    mean = sum(theirs) / len(theirs)
    assert mean_standard_uncertainty(measurement) == pytest.approx(_deviation(mean), rel=1e-8, abs=1e-13)


def by_gtc(measurement: Measurement, physics: PhysicsOf) -> None:
    """Every result with its effective degrees of freedom, and the mean of all, to eight digits."""
    own_and_shared = _errors(measurement, lambda value, u, dof: GTC.ureal(value, u, dof) if u > 0.0 else value)
    theirs = [physics(result, errors) for result, errors in zip(measurement.results, own_and_shared, strict=True)]
    for result, other in zip(measurement.results, theirs, strict=True):
        assert result.value == pytest.approx(GTC.value(other), rel=1e-12)
        assert standard_uncertainty(result) == pytest.approx(GTC.uncertainty(other), rel=1e-8, abs=1e-13)
        ours = effective_degrees_of_freedom(list(zip(contributions(result), result.dof, strict=True)))
        found = GTC.dof(other) if GTC.uncertainty(other) > 0.0 else math.inf
        if min(ours, found) < 1e5:
            assert ours == pytest.approx(found, rel=1e-6)
    mean = sum(theirs) / len(theirs)
    assert mean_standard_uncertainty(measurement) == pytest.approx(GTC.uncertainty(mean), rel=1e-8, abs=1e-13)


def _errors(measurement: Measurement, make: Callable[[float, float, float], Any]) -> list[dict[str, Any]]:
    first = measurement.results[0]
    shared = {
        source.name: make(0.0, u, dof)
        for source, u, dof in zip(measurement.sources, first.u, first.dof, strict=True)
        if source.shared
    }
    found = []
    for result in measurement.results:
        own = {
            source.name: make(0.0, u, dof)
            for source, u, dof in zip(measurement.sources, result.u, result.dof, strict=True)
            if not source.shared
        }
        for source, u, of_first in zip(measurement.sources, result.u, first.u, strict=True):
            assert not source.shared or u == of_first, "one error has one size"
        found.append({**shared, **own})
    return found


def contributions(result: Measured) -> list[float]:
    return [abs(sensitivity) * u for sensitivity, u in zip(result.sensitivity, result.u, strict=True)]


def standard_uncertainty(result: Measured) -> float:
    return math.hypot(*contributions(result))


def mean_standard_uncertainty(measurement: Measurement) -> float:
    """Shared sources add linearly, own ones by root sum of squares."""
    parts = []
    for place, source in enumerate(measurement.sources):
        signed = [result.sensitivity[place] * result.u[place] for result in measurement.results]
        parts.append(math.fsum(signed) if source.shared else math.hypot(*signed))
    return math.hypot(*parts) / len(measurement.results)


def _nominal(value: Any) -> float:
    return float(getattr(value, "nominal_value", value))


def _deviation(value: Any) -> float:
    return float(getattr(value, "std_dev", 0.0))
