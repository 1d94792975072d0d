"""A hundred thousand inspections at once against plain NumPy over the same columns, and against two libraries.

Eight cylinders with three indications each. The floors are written out here and run over the same columns in the same
blocks: the budget alone (values, contributions, uncertainties, degrees of freedom), and the budget with the probability
that each cylinder conforms, Student's t by SciPy's own function, and the verdict that this gives. What is measured
against them does more: it also asks whether any cylinder or any repeat is to be suspected. The libraries propagate the
eight ratios of one inspection after the other, the budget alone. Floors and core take turns; processor time is counted,
since the cores are shared; medians are compared.
"""

import math
import random
import statistics
import time
import tracemalloc
from collections.abc import Callable, Iterator
from dataclasses import fields, replace
from typing import Any

import GTC
import numpy as np
from scipy.special import gammaln, stdtr
from uncertainties import ufloat

from app.metrology.assessment import AcousticObservations, AssessmentInputs, Conditions, CylinderReading
from app.metrology.bulk.budgets import budgets_of
from app.metrology.bulk.columns import Sheets, columns_of
from app.metrology.bulk.evaluating import BLOCK, evaluate_columns, evaluate_many, evaluated_blocks
from app.metrology.evaluation import evaluate
from tests.bench.bench_assessment import INPUTS

INSPECTIONS, CHUNK, SAMPLE = 100_000, 4_000, 2_000
DEVIATION = 0.011
Results = tuple[Any, ...]


def inspections(count: int, seed: int) -> list[AssessmentInputs]:
    """Engines of a season under a maximum of 10.50 + 0.10: their means lie about 10.25, few of them near the limit."""
    draw = random.Random(seed)
    observed: AcousticObservations = INPUTS.observations
    made = []
    for _ in range(count):
        engine, error = draw.gauss(10.25, 0.12), draw.gauss(0.0, 0.05)
        true = [engine + draw.gauss(0.0, 0.03) for _ in range(8)]
        sheet = replace(
            observed,
            conditions=Conditions(draw.uniform(18.0, 32.0), 1.0, "thermometer_in_chamber"),
            readings=tuple(
                CylinderReading(number, tuple(f"{one + error + draw.gauss(0.0, DEVIATION):.2f}" for _ in range(3)))
                for number, one in enumerate(true, 1)
            ),
        )
        made.append(replace(INPUTS, observations=sheet))
    return made


def all_columns() -> tuple[Sheets, float]:
    """The columns of all inspections, and the seconds it took to read them off the sheets."""
    chunks, taken = [], 0.0
    for seed in range(INSPECTIONS // CHUNK):
        made = inspections(CHUNK, seed)
        begin = time.process_time()
        chunks.append(columns_of(made))
        taken += time.process_time() - begin
    joined = {one.name: np.concatenate([getattr(c, one.name) for c in chunks], axis=-1) for one in fields(Sheets)}
    return Sheets(**joined), taken


def budget(s: Sheets) -> Results:
    """Every formula as it stands in a book, whole arrays at a time."""
    swept = math.pi / 4.0 * s.bore_mm**2 * s.stroke_mm / 1000.0
    kelvin = s.gas_temperature_c + 273.15
    gain = swept / (s.set_displacement_cm3 / s.set_cylinders) * (s.set_temperature_c + 273.15) / kelvin
    above_one = gain * (s.mean_indication - 1.0)
    repeats, resolution = gain * s.repeatability_u, gain * s.resolution / math.sqrt(12.0)
    accuracy = gain * s.accuracy_u
    temperature = above_one / kelvin * s.gas_temperature_u_k
    bore, stroke = 2.0 * above_one / s.bore_mm * s.bore_u_mm, above_one / s.stroke_mm * s.stroke_u_mm
    bell = repeats**2 + resolution**2 + temperature**2 + bore**2 + stroke**2
    total = bell + accuracy**2
    estimated = repeats**4 / s.repeatability_dof
    return (
        1.0 + above_one,
        np.sqrt(total),
        total**2 / estimated,
        np.sqrt(bell),
        np.floor(bell**2 / estimated + 0.01),
        math.sqrt(3.0) * accuracy,
        (repeats, resolution, temperature, bore, stroke),
    )


def integral(z: Any, dof: Any, height: Any) -> Any:
    density = height * (1.0 + z * z / dof) ** (-0.5 * (dof + 1.0))
    return z * stdtr(dof, z) + (dof + z * z) / (dof - 1.0) * density


def budget_and_verdict(s: Sheets) -> Results:
    value, u, effective, scale, dof, half, parts = budget(s)
    height = np.exp(gammaln(0.5 * (dof + 1.0)) - gammaln(0.5 * dof)) / np.sqrt(dof * math.pi)
    margin = s.tolerance_limit - value
    away = half - np.abs(margin)
    tail = 0.5 * scale / half * (integral(away / scale, dof, height) - integral((away - 2 * half) / scale, dof, height))
    probability = np.where(margin > 0.0, 1.0 - tail, tail)
    return value, u, effective, scale, dof, half, parts, probability, np.all(probability >= s.confidence, axis=0)


def in_blocks(work: Callable[[Sheets], Results], sheets: Sheets) -> Iterator[Results]:
    for start in range(0, len(sheets), BLOCK):
        yield work(sheets.block(start, start + BLOCK))


def by_library(make: Callable[[float, float, float], Any], parts: Callable[[Any], tuple[float, float]]) -> list[Any]:
    """Value and uncertainty of each of eight ratios of one inspection, shared sources correlated."""
    observed = INPUTS.observations
    bore, stroke = make(10.16, 0.001, math.inf), make(8.839, 0.002, math.inf)
    kelvin = make(observed.conditions.gas_temperature_c + 273.15, 1.0, math.inf)
    accuracy = make(0.0, 0.10 / math.sqrt(3.0), math.inf)
    found = []
    for reading in observed.readings:
        shown = [float(text) for text in reading.indications]
        mean = sum(shown) / 3.0
        pooled = math.sqrt((sum((one - mean) ** 2 for one in shown) + DEVIATION**2 * 24.0) / 26.0)
        repeats = make(0.0, pooled / math.sqrt(3.0), 26.0)
        resolution = make(0.0, 0.005 / math.sqrt(3.0), math.inf)
        indication = mean + repeats + resolution + accuracy
        value = 1 + math.pi / 4 * bore * bore * stroke * (indication - 1) * 8 / 5733.0 * (297.15 / kelvin)
        found.append(parts(value))
    return found


def by_uncertainties() -> list[Any]:
    return by_library(lambda value, u, _: ufloat(value, u), lambda one: (one.nominal_value, one.std_dev))


def by_gtc() -> list[Any]:
    return by_library(GTC.ureal, lambda one: (GTC.value(one), GTC.uncertainty(one), GTC.dof(one))[:2])


def per_turn(times: int, *works: Callable[[], object]) -> list[float]:
    """Medians of the processor time of each, taking turns."""
    taken: list[list[float]] = [[] for _ in works]
    for _ in range(times):
        for work, seconds in zip(works, taken, strict=True):
            begin = time.process_time()
            work()
            seconds.append(time.process_time() - begin)
    return [statistics.median(seconds) for seconds in taken]


def exhaust(steps: Iterator[object]) -> None:
    for _ in steps:
        pass


def peak_of(work: Callable[[], object]) -> int:
    tracemalloc.start()
    try:
        kept = work()
        peak = tracemalloc.get_traced_memory()[1]
        del kept
    finally:
        tracemalloc.stop()
    return peak


def bytes_of(columns: object, names: list[str]) -> int:
    return sum(getattr(columns, name).nbytes for name in names)


def test_a_hundred_thousand_inspections() -> None:
    sheets, reading = all_columns()
    assert len(sheets) == INSPECTIONS
    found = evaluate_columns(sheets)
    value, u, effective, scale, dof, half, parts, probability, inside = budget_and_verdict(sheets)
    mine = (found.value, found.standard_uncertainty, found.effective_dof, found.scale, found.dof, found.half_width)
    for ours, theirs in zip(mine, (value, u, effective, scale, dof, half), strict=True):
        np.testing.assert_allclose(ours, np.broadcast_to(theirs, ours.shape), rtol=1e-12)
    for place, part in zip((0, 1, 3, 4, 5), parts, strict=True):
        np.testing.assert_allclose(found.contributions[place], part, rtol=1e-12)
    np.testing.assert_allclose(found.conformance_probability, probability, rtol=0.0, atol=1e-9)
    assert not np.any(found.conforms & ~inside)

    core, budgets, alone, whole = per_turn(
        5,
        lambda: exhaust(evaluated_blocks(sheets)),
        lambda: exhaust(in_blocks(budgets_of, sheets)),
        lambda: exhaust(in_blocks(budget, sheets)),
        lambda: exhaust(in_blocks(budget_and_verdict, sheets)),
    )
    left = int(np.sum(~found.conforms))
    print(
        f"\n{INSPECTIONS} inspections, 8 cylinders × 3, in blocks of {BLOCK}: {core / whole:.2f} × plain NumPy with "
        f"budget, probabilities and verdict; its budget alone {budgets / alone:.2f} × plain NumPy with the budget "
        f"alone, and the whole {core / alone:.2f} × that ({core / INSPECTIONS * 1e6:.2f} µs each; reading them off "
        f"the sheets before took {reading / core:.0f} times as long)"
    )
    print(f"plainly conforming: {INSPECTIONS - left}; left to the single evaluation: {left}")

    single = columns_of([INPUTS])
    first = evaluate_columns(single)
    for library in (by_uncertainties(), by_gtc()):
        for cylinder, (nominal, its_u) in enumerate(library):
            assert abs(first.value[cylinder, 0] - nominal) < 1e-12
            assert abs(first.standard_uncertainty[cylinder, 0] - its_u) < 1e-9
    times = per_turn(200, by_uncertainties, by_gtc)
    one = core / INSPECTIONS
    print(f"{times[0] / one:.0f} × faster than uncertainties, {times[1] / one:.0f} × than GTC, with the budget alone")

    of_columns = bytes_of(sheets, [column.name for column in fields(Sheets)])
    answers = bytes_of(found, [column.name for column in fields(found)])
    del found, value, u, effective, scale, dof, half, parts, probability, mine
    in_passing = peak_of(lambda: exhaust(evaluated_blocks(sheets)))
    kept = peak_of(lambda: evaluate_columns(sheets))
    print(
        f"memory: columns {of_columns / 2**20:.0f} MiB; on top of them {in_passing / of_columns:.3f} of that block by "
        f"block, and with every figure kept {kept / answers:.2f} × the figures"
    )
    assert in_passing < 0.2 * of_columns
    assert kept < 1.2 * answers


def test_from_sheets_to_verdicts() -> None:
    made = inspections(SAMPLE, 1_000)
    expected = [evaluate(one).outcome.verdict for one in made]
    assert evaluate_many(made) == expected
    conforming = expected.count("conforming")
    plain = int(np.sum(evaluate_columns(columns_of(made)).conforms))
    many, each = per_turn(3, lambda: evaluate_many(made), lambda: [evaluate(one) for one in made])
    print(
        f"\n{SAMPLE} sheets to verdicts, none differing: {each / many:.1f} × faster together than one by one; "
        f"{SAMPLE - plain} went through the single evaluation, {conforming - plain} of them conforming"
    )
