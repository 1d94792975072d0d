"""The plan of a gauge study: who measures which parts how often, in which order, and whether it was all done."""

import hashlib
import json
import math
from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.errors import MeasurementError
from app.metrology.studies.mean_squares import CONFIDENCE, MeanSquare, Term, interval_of_combination

# Below two of each there is nothing to tell apart: one part shows no spread between parts, one inspector none between
# inspectors, and without a repeat no scatter is left to hold either against.
FEWEST = 2
MOST_PARTS, MOST_INSPECTORS, MOST_REPEATS = 50, 20, 10  # a day's work at the most; our own choice
NAMED_AT_MOST = 3  # cells that a refusal names one by one


@dataclass(frozen=True, slots=True)
class Plan:
    """Parts and inspectors by their labels, each in the order given, and how often each measures each."""

    parts: tuple[str, ...]
    inspectors: tuple[str, ...]
    repeats: int

    def __post_init__(self) -> None:
        _check_labels(self.parts, "parts", "part", MOST_PARTS)
        _check_labels(self.inspectors, "inspectors", "inspector", MOST_INSPECTORS)
        if not FEWEST <= self.repeats <= MOST_REPEATS:
            raise MeasurementError(
                "repeats",
                f"Each inspector measures each part {FEWEST} to {MOST_REPEATS} times. Without a repeat nothing shows "
                "how far one and the same measurement scatters.",
            )

    @property
    def readings(self) -> int:
        """How many there are to take."""
        return len(self.parts) * len(self.inspectors) * self.repeats


@dataclass(frozen=True, slots=True)
class Step:
    """One measurement to take; the repeats count from 1."""

    inspector: str
    part: str
    repeat: int


@dataclass(frozen=True, slots=True)
class Reading:
    """One measurement taken, its value in the unit of the study; the repeats count from 1."""

    inspector: str
    part: str
    repeat: int
    value: float


@dataclass(frozen=True, slots=True)
class Reach:
    """How far a study of this size can tell: the most that a standard deviation may be, as a multiple of the estimate.

    At 95 %, the upper end of its interval by chi-square over what was found. For reproducibility it is the best case,
    in which the inspectors' own means are known without error.
    """

    repeatability: float
    reproducibility: float
    parts: float


def _check_labels(labels: Sequence[str], field: str, noun: str, most: int) -> None:
    if not FEWEST <= len(labels) <= most:
        raise MeasurementError(
            field,
            f"A gauge study takes {FEWEST} to {most} {noun}s. With one alone, nothing tells what differs between "
            f"{noun}s.",
        )
    seen: set[str] = set()
    for label in labels:
        told = label.strip().casefold()
        if not told:
            raise MeasurementError(field, f"Each {noun} needs a label: give the one without its name.")
        if told in seen:
            raise MeasurementError(field, f"“{label.strip()}” stands there twice. Give each {noun} a label of its own.")
        seen.add(told)


def reach(plan: Plan) -> Reach:
    """How far the plan can tell, before anyone measures: inspectors − 1 degrees of freedom are few, and it shows."""
    parts, inspectors = len(plan.parts), len(plan.inspectors)
    return Reach(
        repeatability=_most(parts * inspectors * (plan.repeats - 1)),
        reproducibility=_most(inspectors - 1),
        parts=_most(parts - 1),
    )


def _most(degrees_of_freedom: int) -> float:
    one = [Term(1.0, MeanSquare(1.0, float(degrees_of_freedom)))]
    return math.sqrt(interval_of_combination(one, CONFIDENCE).high)


def run_order(plan: Plan, seed: str) -> tuple[Step, ...]:
    """The order in which to measure: drawn by lot from the seed, the same for the same seed and plan.

    In rounds: everybody measures all parts once before anybody repeats. Two repeats straight after each other share
    the setting of the gas temperature, the seat of the hose, the warmth of the part and the memory of the figure, and
    so agree too well; over a round all these come into the repeatability, where they belong. And what drifts in the
    course of the day falls between rounds, not between inspectors. Inside a round the inspectors come one after the
    other, each with the parts in an order of their own, so that nobody can tell from the last round what comes now.
    The order is of use only while nobody sees an earlier figure: whoever shows a step shows none.

    The lot is SHA-256 over seed and step, which is the same everywhere and touches no generator shared with others.
    """
    steps: list[Step] = []
    for repeat in range(1, plan.repeats + 1):
        for inspector in _shuffled(plan.inspectors, seed, [repeat]):
            parts = _shuffled(plan.parts, seed, [repeat, inspector])
            if steps and (steps[-1].inspector, steps[-1].part) == (inspector, parts[0]):
                parts.reverse()  # last of a round and first of the next: the same part straight away would be known
            steps.extend(Step(inspector, part, repeat) for part in parts)
    return tuple(steps)


def _shuffled(labels: Sequence[str], seed: str, where: list[int | str]) -> list[str]:
    """Sorted by what the hash draws for each label, so that the order in which they were given has no say."""
    return sorted(labels, key=lambda label: hashlib.sha256(json.dumps([seed, *where, label]).encode()).digest())


@dataclass(frozen=True, slots=True)
class Cells:
    """All readings of a plan: values[inspector][part] are the repeats, in the order of the plan."""

    plan: Plan
    values: tuple[tuple[tuple[float, ...], ...], ...]

    def means(self) -> tuple[tuple[float, ...], ...]:
        """Of the repeats: [inspector][part]."""
        return tuple(tuple(mean_of(cell) for cell in row) for row in self.values)

    def inspector_means(self) -> tuple[float, ...]:
        """Over all parts and repeats, in the order of the plan."""
        return tuple(mean_of(row) for row in self.means())

    def part_means(self) -> tuple[float, ...]:
        """Over all inspectors and repeats, in the order of the plan."""
        return tuple(mean_of(column) for column in zip(*self.means(), strict=True))

    def ranges(self) -> tuple[tuple[float, ...], ...]:
        """Greatest less least of the repeats: [inspector][part]."""
        return tuple(tuple(max(cell) - min(cell) for cell in row) for row in self.values)


def nothing_varies() -> MeasurementError:
    """What either analysis says to readings that are all the same."""
    return MeasurementError(
        "readings",
        "All readings are the same, so the study tells nothing of what varies. Take parts that differ, and read every "
        "digit that the instrument shows.",
    )


def mean_of(values: Sequence[float]) -> float:
    """Arithmetic mean of at least one value."""
    return math.fsum(values) / len(values)


def arranged(plan: Plan, readings: Sequence[Reading]) -> Cells:
    """The readings in their places. Raises MeasurementError where one is missing, twice there or not of the plan.

    The analysis needs every one: what is missing is named, so that it can be measured.
    """
    found: dict[Step, float] = {}
    planned = _in_order(plan)
    wanted = set(planned)
    for place, reading in enumerate(readings):
        step = Step(reading.inspector, reading.part, reading.repeat)
        if step not in wanted:
            raise MeasurementError(
                f"readings.{place}", f"{_told(step)} is not part of the plan. Take it out, or plan the study anew."
            )
        if step in found:
            raise MeasurementError(
                f"readings.{place}", f"{_told(step)} was entered twice. Keep the one that was measured in its turn."
            )
        if not math.isfinite(reading.value):
            raise MeasurementError(f"readings.{place}", f"{_told(step)} has no figure. Enter what was shown.")
        found[step] = reading.value
    missing = [step for step in planned if step not in found]
    if missing:
        raise MeasurementError("readings", _missing_words(missing))
    return Cells(
        plan,
        tuple(
            tuple(
                tuple(found[Step(inspector, part, repeat)] for repeat in range(1, plan.repeats + 1))
                for part in plan.parts
            )
            for inspector in plan.inspectors
        ),
    )


def _in_order(plan: Plan) -> list[Step]:
    return [
        Step(inspector, part, repeat)
        for inspector in plan.inspectors
        for part in plan.parts
        for repeat in range(1, plan.repeats + 1)
    ]


def _told(step: Step) -> str:
    return f"{step.inspector}, part {step.part}, repeat {step.repeat}"


def _missing_words(missing: Sequence[Step]) -> str:
    named = "; ".join(_told(step) for step in missing[:NAMED_AT_MOST])
    more = len(missing) - NAMED_AT_MOST
    rest = f"; and {more} more" if more > 0 else ""
    return (
        f"Readings are missing: {named}{rest}. The analysis needs every one: measure what is missing, or plan a study "
        "without it."
    )
