"""Average run lengths of charts by two ways: exactly, from the equations they obey, and by simulation in NumPy.

A run ends with the first signal; its length is counted in points, the signalling one included. Values are normal with
standard deviation 1, and `shift` is the mean's distance from the centre.
"""

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, roots_legendre

from app.metrology.charts.run_rules import BEYOND, RunRule, signals

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
_ZONES = (0.5, 1.5, 2.5, 3.5)  # one value inside each of the zones that the rules tell apart
_BOUNDS = (0.0, 1.0, 2.0, 3.0, math.inf)


class Counted(NamedTuple):
    """Mean of the simulated run lengths, and its standard error."""

    mean: float
    standard_error: float

    def off(self, published: float) -> float:
        """In standard errors."""
        return abs(self.mean - published) / self.standard_error


# ---- simulated ----


def counted(lengths: NDArray[np.int64]) -> Counted:
    return Counted(float(lengths.mean()), float(lengths.std(ddof=1)) / math.sqrt(lengths.size))


def simulate(series: int, chart: Callable[[Array, int], Flags], shift: float, seed: int, memory: int) -> Counted:
    """Runs so many series until each has signalled.

    `chart` gets the newest `memory` values of every series that still runs, the newest in the last column and NaN where
    none was yet, with the number of the newest; it says which series signal.
    """
    random = np.random.default_rng(seed)
    recent = np.full((series, memory), np.nan)
    lengths = np.empty(series, dtype=np.int64)
    running = np.arange(series)
    turn = 0
    while running.size:
        turn += 1
        recent = np.concatenate([recent[:, 1:], random.normal(shift, 1.0, (running.size, 1))], axis=1)
        ended = chart(recent, turn)
        lengths[running[ended]] = turn
        running, recent = running[~ended], recent[~ended]
    return counted(lengths)


def runs_chart(rules: Sequence[RunRule]) -> Callable[[Array, int], Flags]:
    """The rules of one side, told anew for whole columns of series; centre 0, standard deviation 1."""
    assert all(rule.pattern == BEYOND for rule in rules)

    def signalled(recent: Array, _turn: int) -> Flags:
        found = np.zeros(len(recent), dtype=np.bool_)
        for rule in rules:
            window = recent[:, -rule.window :]
            for side in (1.0, -1.0):
                off = side * window > rule.sigmas
                found |= off[:, -1] & (off.sum(axis=1) >= rule.least)
        return found

    return signalled


def moving_range_chart(most_off: float, widest: float) -> Callable[[Array, int], Flags]:
    """Single values beyond ±most_off, or a step wider than `widest`; needs a memory of two."""

    def signalled(recent: Array, _turn: int) -> Flags:
        return (np.abs(recent[:, 1]) > most_off) | (np.abs(recent[:, 1] - recent[:, 0]) > widest)

    return signalled


def simulate_ewma(series: int, weight: float, factor: float, shift: float, seed: int, *, exact: bool) -> Counted:
    """With the limits of each point where `exact`, else with the steady ones."""
    random = np.random.default_rng(seed)
    average = np.zeros(series)
    lengths: list[NDArray[np.int64]] = []
    steady = factor * math.sqrt(weight / (2.0 - weight))
    turn = 0
    while average.size:
        turn += 1
        average = average + weight * (random.normal(shift, 1.0, average.size) - average)
        limit = steady * math.sqrt(1.0 - (1.0 - weight) ** (2 * turn)) if exact else steady
        ended = np.abs(average) > limit
        lengths.append(np.full(int(ended.sum()), turn, dtype=np.int64))
        average = average[~ended]
    return counted(np.concatenate(lengths))


# ---- exact ----


def exact_with_rules(rules: Sequence[RunRule], shift: float) -> float:
    """By a Markov chain over the zones of the latest points, as C. W. Champ and W. H. Woodall (1987) did.

    Which step signals is asked of the application's own `signals`. For rules of one side, whose windows are no longer
    than five points but for that of a run on one side of up to nine.
    """
    chances = {
        side * zone: float(ndtr(max(side * low, side * high) - shift) - ndtr(min(side * low, side * high) - shift))
        for side in (1, -1)
        for zone, (low, high) in zip(_ZONES, pairwise(_BOUNDS), strict=True)
    }
    memory = max(rule.window for rule in rules) - 1
    states: dict[tuple[float, ...], int] = {(): 0}
    waiting: list[tuple[float, ...]] = [()]
    steps: list[tuple[int, int, float]] = []
    while waiting:
        state = waiting.pop()
        for value, chance in chances.items():
            longer = (*state, value)
            if any(signal.place == len(state) for signal in signals(longer, 0.0, 1.0, rules)):
                continue
            after = _what_still_counts(longer)[len(longer) :] if memory == 0 else _what_still_counts(longer)[-memory:]
            if after not in states:
                states[after] = len(states)
                waiting.append(after)
            steps.append((states[state], states[after], chance))
    matrix = np.eye(len(states))
    for before, then, chance in steps:
        matrix[before, then] -= chance
    return float(np.linalg.solve(matrix, np.ones(len(states)))[0])


def _what_still_counts(values: tuple[float, ...]) -> tuple[float, ...]:
    """The latest four zones, and before them the rest of a run on the newest one's side, which side alone counts."""
    latest, earlier = values[-4:], values[:-4]
    side = math.copysign(1.0, latest[-1])
    if any(value * side < 0.0 for value in latest):
        return latest
    run: list[float] = []
    for value in reversed(earlier):
        if value * side < 0.0:
            break
        run.append(0.5 * side)
    return (*run, *latest)


def exact_ewma(weight: float, factor: float, shift: float) -> float:
    """L(z) = 1 + ∫ L(y)·f(y | z) dy within the steady limits. S. V. Crowder, Technometrics 29 (1987)."""
    limit = factor * math.sqrt(weight / (2.0 - weight))
    nodes, weights = _legendre(60, -limit, limit)
    kernel = _ewma_kernel(nodes, nodes, weight, shift) * weights
    lengths = np.linalg.solve(np.eye(nodes.size) - kernel, np.ones(nodes.size))
    return 1.0 + float(_ewma_kernel(np.zeros(1), nodes, weight, shift)[0] * weights @ lengths)


def exact_ewma_with_exact_limits(weight: float, factor: float, shift: float) -> float:
    """The same backwards in time, from where the limits have become the steady ones."""
    steady = factor * math.sqrt(weight / (2.0 - weight))
    turns = math.ceil(math.log(1e-12) / (2.0 * math.log(1.0 - weight)))
    nodes, weights = _legendre(60, -steady, steady)
    kernel = _ewma_kernel(nodes, nodes, weight, shift) * weights
    lengths = np.linalg.solve(np.eye(nodes.size) - kernel, np.ones(nodes.size))
    for turn in range(turns - 1, -1, -1):
        limit = steady * math.sqrt(1.0 - (1.0 - weight) ** (2 * turn))
        earlier, earlier_weights = _legendre(60, -limit, limit) if turn else (np.zeros(1), np.ones(1))
        lengths = 1.0 + _ewma_kernel(earlier, nodes, weight, shift) * weights @ lengths
        nodes, weights = earlier, earlier_weights
    return float(lengths[0])


def _ewma_kernel(before: Array, after: Array, weight: float, shift: float) -> Array:
    off = (after[None, :] - (1.0 - weight) * before[:, None]) / weight - shift
    density: Array = np.exp(-off * off / 2.0) / (math.sqrt(2.0 * math.pi) * weight)
    return density


def exact_moving_range(most_off: float, widest: float, shift: float) -> float:
    """L(x) = 1 + ∫ L(y)·φ(y) dy over |y| ≤ most_off, |y − x| ≤ widest. S. V. Crowder, J. Qual. Technol. 19 (1987).

    Solved between the places where the range of y changes its shape, on each piece by its values at Legendre nodes.
    """
    places = {-most_off, most_off}
    for turn in range(1, math.ceil(2.0 * most_off / widest) + 1):
        places |= {at for at in (most_off - turn * widest, turn * widest - most_off) if abs(at) < most_off}
    breaks = sorted(places)
    ends = [(low, high) for low, high in pairwise(breaks) if high - low > 1e-9]
    pieces = [_legendre(24, low, high)[0] for low, high in ends]
    nodes = np.concatenate(pieces)

    def integral(x: float) -> Array:
        row = np.zeros(nodes.size)
        for number, (low, high) in enumerate(ends):
            begin, end = max(low, x - widest), min(high, x + widest)
            if end <= begin:
                continue
            at, weights = _legendre(24, begin, end)
            density = np.exp(-((at - shift) ** 2) / 2.0) / math.sqrt(2.0 * math.pi)
            row[24 * number : 24 * (number + 1)] += (weights * density) @ _lagrange(pieces[number], at)
        return row

    matrix = np.array([integral(x) for x in nodes])
    lengths = np.linalg.solve(np.eye(nodes.size) - matrix, np.ones(nodes.size))
    first = np.zeros(nodes.size)
    for number, (low, high) in enumerate(ends):
        at, weights = _legendre(24, low, high)
        density = np.exp(-((at - shift) ** 2) / 2.0) / math.sqrt(2.0 * math.pi)
        first[24 * number : 24 * (number + 1)] += weights * density
    return 1.0 + float(first @ lengths)


def _legendre(count: int, low: float, high: float) -> tuple[Array, Array]:
    nodes, weights = roots_legendre(count)
    half = (high - low) / 2.0
    return (low + high) / 2.0 + half * nodes, half * weights


def _lagrange(nodes: Array, at: Array) -> Array:
    """The value of every basis polynomial of the nodes at every place, by the barycentric formula."""
    scaled = (nodes[:, None] - nodes[None, :]) / (nodes[-1] - nodes[0]) * 4.0
    np.fill_diagonal(scaled, 1.0)
    share = 1.0 / scaled.prod(axis=1)
    off = at[:, None] - nodes[None, :]
    hit = np.abs(off) < 1e-14
    weighed = share / np.where(hit, 1.0, off)
    found: Array = np.where(hit.any(axis=1, keepdims=True), hit, weighed / weighed.sum(axis=1, keepdims=True))
    return found
