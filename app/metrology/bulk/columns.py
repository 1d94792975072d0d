"""Sheets side by side: what the core reads off each of them, as columns that arithmetic can run down.

A sheet is read by the core's own functions, so a column holds nothing that `evaluate` would see otherwise. Only what
is alike from sheet to sheet is held: acoustic resonance under a limit on one side for every cylinder, no flow study,
no gauge study between inspectors, no steps of the crank, nothing settled by a check. All other sheets stay with
`evaluate`.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields
from itertools import pairwise
from typing import TypeAlias

import numpy as np
from numpy.typing import NDArray

from app.metrology.checking import check_inputs
from app.metrology.conformity import GUARDED_ACCEPTANCE
from app.metrology.errors import MeasurementError
from app.metrology.inputs import AcousticObservations, AssessmentInputs
from app.metrology.methods import acoustic_resonance
from app.metrology.methods.accuracy import accuracy_of, half_width
from app.metrology.methods.acoustic_resonance import Repeats, read_repeats
from app.metrology.repeatability import evaluate_repeatability
from app.metrology.rules import EVERY_CYLINDER, RANGE, tolerance_limits

Floats: TypeAlias = NDArray[np.float64]
Flags: TypeAlias = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Sheets:
    """n sheets; what belongs to a cylinder has shape (c, n), c being the most cylinders of any engine, all else (n,).

    NaN stands where a cylinder was not measured or the engine has none. Ratios in units of ratio, the rest as named.
    """

    place: NDArray[np.int64]  # of the sheet among the inputs
    mean_indication: Floats
    repeatability_u: Floats  # standard uncertainty of the mean indication
    repeatability_dof: Floats
    resolution: Floats
    drift: Floats  # how far repeats that only sink, or three and more that only rise, moved in all; else 0
    cylinders: NDArray[np.int64]
    bore_mm: Floats
    bore_u_mm: Floats
    stroke_mm: Floats
    stroke_u_mm: Floats
    set_displacement_cm3: Floats
    set_cylinders: Floats
    set_temperature_c: Floats
    gas_temperature_c: Floats
    gas_temperature_u_k: Floats
    accuracy_u: Floats
    accuracy_is_rectangular: Flags
    accuracy_half_width: Floats  # as stated: what repeats may differ by where there is no history
    history_deviation: Floats  # of one indication; NaN without a history
    history_dof: Floats
    tolerance_limit: Floats
    sign: Floats  # +1 for a maximum, −1 for a minimum
    confidence: Floats
    guards_acceptance: Flags

    def __len__(self) -> int:
        return len(self.place)

    def block(self, start: int, stop: int) -> "Sheets":
        """The sheets from `start` to before `stop`, as views."""
        return Sheets(**{one.name: getattr(self, one.name)[..., start:stop] for one in fields(self)})


def columns_of(inputs: Sequence[AssessmentInputs]) -> Sheets:
    """Every sheet that columns can hold, in the order given; not those that `evaluate` refuses."""
    rows = [(place, row) for place, one in enumerate(inputs) if (row := _row_of(one)) is not None]
    widest = max([len(row.by_cylinder[0]) for _, row in rows], default=1)
    by_cylinder = np.full((len(_BY_CYLINDER), widest, len(rows)), np.nan)
    for line, (_, row) in enumerate(rows):
        by_cylinder[:, : len(row.by_cylinder[0]), line] = row.by_cylinder
    by_sheet = np.array([row.by_sheet for _, row in rows]).reshape(len(rows), len(_BY_SHEET)).T.copy()
    named = {**dict(zip(_BY_CYLINDER, by_cylinder, strict=True)), **dict(zip(_BY_SHEET, by_sheet, strict=True))}
    return Sheets(
        place=np.array([place for place, _ in rows], dtype=np.int64),
        cylinders=np.array([len(row.by_cylinder[0]) for _, row in rows], dtype=np.int64),
        accuracy_is_rectangular=np.array([row.accuracy_is_rectangular for _, row in rows], dtype=np.bool_),
        guards_acceptance=np.array([row.guards_acceptance for _, row in rows], dtype=np.bool_),
        **named,
    )


_BY_CYLINDER = ("mean_indication", "repeatability_u", "repeatability_dof", "resolution", "drift")
_BY_SHEET = (
    "bore_mm",
    "bore_u_mm",
    "stroke_mm",
    "stroke_u_mm",
    "set_displacement_cm3",
    "set_cylinders",
    "set_temperature_c",
    "gas_temperature_c",
    "gas_temperature_u_k",
    "accuracy_u",
    "accuracy_half_width",
    "history_deviation",
    "history_dof",
    "tolerance_limit",
    "sign",
    "confidence",
)


@dataclass(frozen=True, slots=True)
class _Row:
    by_cylinder: list[list[float]]
    by_sheet: tuple[float, ...]
    accuracy_is_rectangular: bool
    guards_acceptance: bool


def _row_of(inputs: AssessmentInputs) -> _Row | None:
    if not _can_be_held(inputs):
        return None
    try:
        check_inputs(inputs)
        repeats = read_repeats(inputs.observations)
    except MeasurementError:
        return None  # `evaluate` says why
    if not repeats:
        return None
    engine, observed, rule = inputs.engine, inputs.observations, inputs.rule
    settings, conditions, prior = observed.settings, observed.conditions, observed.repeatability
    accuracy, accuracy_u = accuracy_of(observed.instrument)
    ((side, limit),) = tolerance_limits(rule)
    return _Row(
        _of_cylinders(engine.cylinders, repeats, prior),
        (
            engine.bore_mm,
            engine.bore_standard_uncertainty_mm,
            engine.stroke_mm,
            engine.stroke_standard_uncertainty_mm,
            settings.displacement_cm3,
            settings.cylinders,
            settings.gas_temperature_c,
            conditions.gas_temperature_c,
            conditions.gas_temperature_standard_uncertainty_k,
            accuracy_u,
            half_width(observed.instrument),
            *(prior or (math.nan, math.nan)),
            limit,
            side.sign,
            rule.confidence,
        ),
        accuracy.distribution == "rectangular",
        rule.decision_rule in GUARDED_ACCEPTANCE,
    )


def _can_be_held(inputs: AssessmentInputs) -> bool:
    observed = inputs.observations
    return (
        inputs.method == acoustic_resonance.METHOD.key
        and isinstance(observed, AcousticObservations)
        and inputs.rule.applies_to == EVERY_CYLINDER
        and inputs.rule.kind != RANGE
        and observed.instrument.airflow_sensitivity is None
        and observed.reproducibility is None
        and not observed.conditions.crank_step_degrees
        and not observed.checks
    )


def _of_cylinders(cylinders: int, repeats: Sequence[Repeats], prior: tuple[float, float] | None) -> list[list[float]]:
    table = [[math.nan] * cylinders for _ in _BY_CYLINDER]
    found = evaluate_repeatability([one.values for one in repeats], [one.resolution for one in repeats], prior)
    for one, repeatability in zip(repeats, found, strict=True):
        figures = (
            math.fsum(one.values) / len(one.values),
            repeatability.standard_uncertainty_of_mean,
            repeatability.dof,
            one.resolution,
            _drift(one.values),
        )
        for line, figure in zip(table, figures, strict=True):
            line[one.cylinder - 1] = figure
    return table


def _drift(values: Sequence[float]) -> float:
    """What `screening` holds against the scatter allowed, by the same comparisons."""
    sinks = all(later <= earlier for earlier, later in pairwise(values))
    rises = len(values) > 2 and all(later >= earlier for earlier, later in pairwise(values))
    return abs(values[-1] - values[0]) if sinks or rises else 0.0
