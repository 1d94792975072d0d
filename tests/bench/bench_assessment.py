"""The core against the same budget written as bare floats, and against two libraries that propagate by themselves.

One inspection of eight cylinders with three indications each. All three come to the same eight budgets, effective
degrees of freedom, factors and probabilities and to the engine's rejection limit: the bare floats and the libraries by
the closed forms written out here, the libraries differentiating the measurement function. Every ratio is to a figure
measured in this run.
"""

import math
import statistics
import time
from collections.abc import Callable
from typing import Any

import GTC
from scipy.special import ndtri, roots_legendre, stdtr
from uncertainties import ufloat

from app.metrology.assessment import (
    AcousticObservations,
    AssessmentInputs,
    Conditions,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
    assess,
)
from app.metrology.evaluation import evaluate

SHOWN = [(10.31 + 0.01 * cylinder, 10.32 + 0.01 * cylinder, 10.30 + 0.01 * cylinder) for cylinder in range(8)]
INPUTS = AssessmentInputs(
    method="acoustic_resonance",
    engine=Engine(101.6, 88.39, 8),
    observations=AcousticObservations(
        instrument=Instrument("acoustic_resonance", 0.01, 0.10, "limits"),
        settings=Settings(5733.0, 8, 24.0),
        conditions=Conditions(26.0, 1.0, "thermometer_in_chamber"),
        readings=tuple(
            CylinderReading(number, tuple(f"{value:.2f}" for value in shown)) for number, shown in enumerate(SHOWN, 1)
        ),
        repeatability=(0.011, 24.0),
    ),
    rule=Rule("maximum", 10.50, 0.10, "every_cylinder", "three_zones", 0.95, "measure_again"),
)
NODES, WEIGHTS = (list(map(float, part)) for part in roots_legendre(16))
ROOT_TWO, ROOT_TWO_PI = math.sqrt(2.0), math.sqrt(2.0 * math.pi)


def bell(z: float, dof: float, height: float) -> tuple[float, float]:
    """P(T ≤ z), and its integral."""
    below = float(stdtr(dof, z))
    density = height * (1.0 + z * z / dof) ** (-0.5 * (dof + 1.0))
    return below, z * below + (dof + z * z) / (dof - 1.0) * density


def convolved(x: float, half: float, scale: float, dof: float, height: float) -> tuple[float, float]:
    """P and density of a rectangle and a bell together."""
    above, integral_above = bell((x + half) / scale, dof, height)
    below, integral_below = bell((x - half) / scale, dof, height)
    return scale / (2.0 * half) * (integral_above - integral_below), (above - below) / (2.0 * half)


def quantile(probability: float, half: float, scale: float, dof: float, height: float, start: float) -> float:
    x = start
    while True:
        reached, density = convolved(x, half, scale, dof, height)
        step = (probability - reached) / density
        x += step
        if abs(step) < 1e-9:
            return x


def normal(x: float, half: float, scale: float) -> tuple[float, float]:
    up, low = (x + half) / scale, (x - half) / scale
    above, below = 0.5 * math.erfc(-up / ROOT_TWO), 0.5 * math.erfc(-low / ROOT_TWO)
    integral = up * above + math.exp(-0.5 * up * up) / ROOT_TWO_PI
    integral -= low * below + math.exp(-0.5 * low * low) / ROOT_TWO_PI
    return scale / (2.0 * half) * integral, (above - below) / (2.0 * half)


def verdict_of(budgets: list[tuple[float, float, float, float, float]]) -> list[float]:
    """From (value, half-width, shared bell, own bell, own dof) of each cylinder: factors, probability, limits."""
    found, start = [], 0.11
    for value, half, shared, own, dof in budgets:
        scale = math.sqrt(shared * shared + own * own)
        effective = float(int(scale**4 / (own**4 / dof) + 0.01))
        height = math.exp(math.lgamma(0.5 * (effective + 1.0)) - math.lgamma(0.5 * effective))
        height /= math.sqrt(effective * math.pi)
        expanded = start = quantile(0.975, half, scale, effective, height, start)
        guard = quantile(0.95, half, scale, effective, height, 0.9 * start)
        probability = convolved(10.60 - value, half, scale, effective, height)[0]
        found += [value, expanded, 10.60 - guard, probability, float(value <= 10.60 - guard)]
    _, half, shared, own, dof = max(budgets, key=lambda one: one[3])
    own_dof = float(int(dof))
    greatest = [
        own * float(ndtri((1.0 - (0.5 - 0.5 * node) ** 4) ** (1.0 / 8.0))) * (1.0 + 1.0 / (4.0 * own_dof))
        for node in NODES
    ]
    weights = [2.0 * (0.5 - 0.5 * node) ** 3 * weight for node, weight in zip(NODES, WEIGHTS, strict=True)]
    x = found[2]
    x = 0.1
    while True:
        reached = density = 0.0
        for one, weight in zip(greatest, weights, strict=True):
            probability, its_density = normal(x - one, half, shared)
            reached += weight * probability
            density += weight * its_density
        step = (0.95 - reached) / density
        x += step
        if abs(step) < 1e-6:
            return [*found, 10.60 + x]


def bare_floats() -> list[float]:
    """The eight budgets with nothing kept and nothing explained."""
    swept = math.pi / 4 * 10.16**2 * 8.839
    ratio = swept * 8 / 5733.0 * (24.0 + 273.15) / (26.0 + 273.15)
    budgets = []
    for shown in SHOWN:
        mean = sum(shown) / 3.0
        value = 1 + ratio * (mean - 1)
        pooled = math.sqrt((sum((one - mean) ** 2 for one in shown) + 0.011**2 * 24) / 26.0)
        repeats, resolution = ratio * pooled / math.sqrt(3.0), ratio * 0.005 / math.sqrt(3)
        shared = math.hypot((value - 1) / 299.15 * 1.0, (value - 1) * 2 / 101.6 * 0.01, (value - 1) / 88.39 * 0.02)
        own = math.hypot(repeats, resolution)
        budgets.append((value, ratio * 0.10, shared, own, own**4 / (repeats**4 / 26.0)))
    return verdict_of(budgets)


def by_library(make: Callable[[float, float, float], Any], parts: Callable[[Any, Any], tuple[float, float]]) -> Any:
    """The libraries give value and uncertainty of the shared and the own part; the verdict is worked out as above."""
    bore, stroke = make(10.16, 0.001, math.inf), make(8.839, 0.002, math.inf)
    kelvin = make(299.15, 1.0, math.inf)
    accuracy = make(0.0, 0.10 / math.sqrt(3), math.inf)
    budgets = []
    for shown in SHOWN:
        mean = sum(shown) / 3.0
        pooled = math.sqrt((sum((one - mean) ** 2 for one in shown) + 0.011**2 * 24) / 26.0)
        repeats = make(0.0, pooled / math.sqrt(3.0), 26.0)
        resolution = make(0.0, 0.005 / math.sqrt(3), math.inf)
        value = 1 + math.pi / 4 * bore * bore * stroke * (mean + repeats + resolution + accuracy - 1) * 8 / 5733.0 * (
            297.15 / kelvin
        )
        nominal, u = parts(value, None)
        _, of_accuracy = parts(value, accuracy)
        _, of_repeats = parts(value, repeats)
        _, of_resolution = parts(value, resolution)
        own = math.hypot(of_repeats, of_resolution)
        shared = math.sqrt(u * u - own * own - of_accuracy * of_accuracy)
        budgets.append((nominal, of_accuracy * math.sqrt(3.0), shared, own, own**4 / (of_repeats**4 / 26.0)))
    return verdict_of(budgets)


def by_uncertainties() -> Any:
    def parts(value: Any, of: Any) -> tuple[float, float]:
        if of is None:
            return value.nominal_value, value.std_dev
        return value.nominal_value, abs(value.derivatives[of]) * of.std_dev

    return by_library(lambda value, u, _: ufloat(value, u), parts)


def by_gtc() -> Any:
    def parts(value: Any, of: Any) -> tuple[float, float]:
        return (GTC.value(value), GTC.uncertainty(value)) if of is None else (0.0, GTC.component(value, of))

    return by_library(GTC.ureal, parts)


def per_call(work: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(7):
        begin = time.perf_counter()
        for _again in range(times):
            work()
        taken.append((time.perf_counter() - begin) / times)
    return statistics.median(taken)


def test_one_inspection() -> None:
    ours, floats = evaluate(INPUTS), bare_floats()
    for place, result in enumerate(ours.results):
        value, expanded, accept, probability, _ = floats[5 * place : 5 * place + 5]
        assert abs(result.measured.value - value) < 1e-12
        assert abs(result.coverage_factor * result.combined.standard_uncertainty - expanded) < 1e-9
        assert result.judged is not None
        assert abs((result.judged.decision.acceptance_limit or 0.0) - accept) < 1e-9
        assert abs(result.conformance_probability - probability) < 1e-9
    for other in (by_uncertainties(), by_gtc()):
        assert max(abs(one - two) for one, two in zip(floats, other, strict=True)) < 1e-6
    floor, quick, whole = per_call(bare_floats, 100), per_call(lambda: evaluate(INPUTS), 100), per_call(_assess, 20)
    libraries = {"uncertainties": per_call(by_uncertainties, 10), "GTC": per_call(by_gtc, 10)}
    compared = ", ".join(f"{taken / quick:.1f} × faster than {name}" for name, taken in libraries.items())
    print(
        f"\none inspection, 8 cylinders × 3: budget and verdict {quick / floor:.2f} × bare floats "
        f"({floor * 1e6:.0f} µs), {compared}; with every word and the engine's probability {whole / floor:.1f} ×"
    )


def _assess() -> object:
    return assess(INPUTS)
