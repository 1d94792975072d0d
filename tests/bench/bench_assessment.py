"""The core against the same budget written as bare floats, and against a library that propagates by itself.

One inspection of eight cylinders with two indications each: every ratio is to a floor measured in this run.
"""

import math
import statistics
import time
from collections.abc import Callable

from scipy.special import stdtr, stdtrit
from uncertainties import ufloat

from app.metrology.assessment import (
    AssessmentInputs,
    Conditions,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
    assess,
)

SHOWN = [(10.31 + 0.01 * cylinder, 10.32 + 0.01 * cylinder) for cylinder in range(8)]
INPUTS = AssessmentInputs(
    engine=Engine(101.6, 88.39, 8),
    instrument=Instrument("acoustic_resonance", 0.01, 0.10, "limits"),
    settings=Settings(5733.0, 8, 24.0),
    conditions=Conditions(26.0, 1.0, "thermometer_in_chamber"),
    readings=tuple(
        CylinderReading(number, tuple(f"{value:.2f}" for value in pair)) for number, pair in enumerate(SHOWN, 1)
    ),
    rule=Rule("maximum", 10.50, 0.10, "every_cylinder", "three_zones", 0.95, "measure_again"),
    repeatability=(0.011, 24.0),
)


def bare_floats() -> list[float]:
    """The same eight budgets, factors and probabilities, with nothing kept and nothing explained."""
    swept = math.pi / 4 * 10.16**2 * 8.839
    ratio = swept * 8 / 5733.0 * (24.0 + 273.15) / (26.0 + 273.15)
    found = []
    for first, second in SHOWN:
        mean = (first + second) / 2
        value = 1 + ratio * (mean - 1)
        scatter, dof = abs(first - second) / math.sqrt(2), 1
        pooled = math.sqrt((scatter**2 * dof + 0.011**2 * 24) / (dof + 24))
        parts = (
            ratio * pooled / math.sqrt(2),
            ratio * 0.005 / math.sqrt(3),
            ratio * 0.10 / math.sqrt(3),
            (value - 1) / 299.15 * 1.0,
            (value - 1) * 2 / 101.6 * 0.01,
            (value - 1) / 88.39 * 0.02,
        )
        u = math.sqrt(sum(part * part for part in parts))
        effective = float(int(u**4 / (parts[0] ** 4 / 25)))
        found.append(value + stdtrit(effective, 0.975) * u + stdtr(effective, (10.60 - value) / u))
        found.append(stdtrit(effective, 0.95) * u)
    return found


def by_library() -> list[float]:
    found = []
    bore, stroke = ufloat(10.16, 0.001), ufloat(8.839, 0.002)
    kelvin, accuracy = ufloat(299.15, 1.0), ufloat(0.0, 0.10 / math.sqrt(3))
    for first, second in SHOWN:
        shown = ufloat((first + second) / 2, 0.008) + ufloat(0.0, 0.0029) + accuracy
        value = 1 + math.pi / 4 * bore**2 * stroke * (shown - 1) * 8 / 5733.0 * 297.15 / kelvin
        found.append(value.nominal_value + value.std_dev)
    return found


def per_call(work: Callable[[], object], times: int) -> float:
    taken = []
    for _ in range(5):
        begin = time.perf_counter()
        for _again in range(times):
            work()
        taken.append((time.perf_counter() - begin) / times)
    return statistics.median(taken)


def test_one_inspection() -> None:
    floor, library, ours = per_call(bare_floats, 200), per_call(by_library, 20), per_call(lambda: assess(INPUTS), 100)
    print(
        f"\none inspection, 8 cylinders: {ours / floor:.1f} × bare floats ({floor * 1e6:.0f} µs), "
        f"{library / ours:.1f} × faster than uncertainties, which does no degrees of freedom, factors or verdict"
    )
