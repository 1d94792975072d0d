"""A simulation of a million trials against what NumPy alone takes to draw the same inputs and sort the results.

The floor draws every input with one call of NumPy's own generator and sorts every result whole; nothing is evaluated.
Both floors are told: with NumPy's default generator and full sorts, and the hardest, with the generator that the core
chose. Floor and core take turns, and the medians of their times are compared.
"""

import statistics
import time
from collections.abc import Callable

import numpy as np

from app.metrology.monte_carlo.acoustic import acoustic_model
from app.metrology.monte_carlo.adaptive import run_fixed
from app.metrology.monte_carlo.draws import InputQuantity
from app.metrology.monte_carlo.engine import EngineModel, EngineSimulation, simulate_engine

TRIALS = 1_000_000
DOF = 25.0


def model_of(cylinders: int) -> EngineModel:
    return acoustic_model(
        InputQuantity(101.6, 0.01),
        InputQuantity(88.39, 0.02),
        InputQuantity(299.15, 1.0),
        InputQuantity(0.0, 0.0577, "rectangular"),
        [
            (InputQuantity(10.31 + 0.01 * place, 0.008, "t", DOF), InputQuantity(0.0, 0.0029, "rectangular"))
            for place in range(cylinders)
        ],
        5733.0 / 8,
        297.15,
    )


def draw_and_sort(generator: np.random.Generator, cylinders: int, results: int) -> None:
    """The inputs of the model, by NumPy's own calls, and so many sorts of a million values."""
    kept = [generator.standard_normal(TRIALS) for _ in range(3)]
    kept.append(generator.random(TRIALS))
    for _ in range(cylinders):
        kept = [generator.standard_t(DOF, TRIALS), generator.random(TRIALS)]
    for _ in range(results):
        np.sort(kept[0])


def medians(*works: Callable[[], object]) -> list[float]:
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(5):
        for work, times in zip(works, taken, strict=True):
            begin = time.perf_counter()
            work()
            times.append(time.perf_counter() - begin)
    return [statistics.median(times) for times in taken]


def told(what: str, usual: float, hardest: float, ours: float) -> str:
    return (
        f"\n{what}: {ours / usual:.2f} × NumPy's draws and sorts ({usual * 1e3:.0f} ms), "
        f"{ours / hardest:.2f} × with the core's own generator"
    )


def test_one_cylinder() -> None:
    model = model_of(1)
    times = medians(
        lambda: draw_and_sort(np.random.default_rng(1), 1, 1),
        lambda: draw_and_sort(np.random.Generator(np.random.SFC64(1)), 1, 1),
        lambda: run_fixed(EngineSimulation(model, (0,), 1), TRIALS),
    )
    print(told("simulation, one cylinder, 10⁶ trials", *times))


def test_eight_cylinders_their_mean_and_their_maximum() -> None:
    model = model_of(8)
    times = medians(
        lambda: draw_and_sort(np.random.default_rng(1), 8, 10),
        lambda: draw_and_sort(np.random.Generator(np.random.SFC64(1)), 8, 10),
        lambda: simulate_engine(model, TRIALS, 1),
    )
    print(told("simulation, eight cylinders, mean and maximum, 10⁶ trials", *times))
