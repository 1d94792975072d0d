"""The errors of a measurement nobody has made yet, by the core's own method, and the limits its rule would draw."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace

from app.metrology.conformity import GUARDED_ACCEPTANCE, GUARDED_REJECTION
from app.metrology.distributions import INFINITE
from app.metrology.geometry import swept_volume_cm3
from app.metrology.inputs import (
    AcousticObservations,
    Conditions,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
)
from app.metrology.measurement import Measured, Source
from app.metrology.methods import METHODS
from app.metrology.rejection import rejection_factor
from app.metrology.risk.intervals import DecisionLimits, Interval, decision_limits
from app.metrology.risk.planning import ErrorPart, LimitsFor, changed
from app.metrology.rules import EVERY_CYLINDER, MEAN_OF_CYLINDERS, tolerance_limits
from app.metrology.temperature import STANDARD_UNCERTAINTY_K
from app.metrology.uncertainty import combine

METHOD = "acoustic_resonance"
ACCURACY, TEMPERATURE, REPEATABILITY = "stated_accuracy", "gas_temperature", "repeatability"
_USUAL_TEMPERATURE_C = 20.0

Parts = tuple[ErrorPart, ...]


def planned_parts(
    engine: Engine,
    instrument: Instrument,
    temperature_source: str,
    repeats: int,
    history: tuple[float, float] | None,
    ratio: float,
    reproducibility: tuple[float, float] | None = None,
) -> tuple[Parts, Mapping[str, float]]:
    """The sources of error of one cylinder at this ratio, in units of ratio, and the dof behind those estimated.

    `history` is the instrument's, as `assess` takes it: standard deviation of one indication and its dof; and so is
    `reproducibility`, between inspectors. One indication is put to the core; more of them divide its repeatability by
    √n and add their own degrees of freedom.
    """
    observations = AcousticObservations(
        instrument=instrument,
        settings=Settings(
            swept_volume_cm3(engine.bore_mm, engine.stroke_mm) * engine.cylinders,
            engine.cylinders,
            _USUAL_TEMPERATURE_C,
        ),
        conditions=Conditions(_USUAL_TEMPERATURE_C, STANDARD_UNCERTAINTY_K[temperature_source], temperature_source),
        readings=(CylinderReading(1, (f"{ratio:.6f}",)),),
        repeatability=history,
        reproducibility=reproducibility,
    )
    measurement = METHODS[METHOD].measure(engine, observations)
    (found,) = measurement.results
    parts = []
    for source, u, sensitivity in zip(measurement.sources, found.u, found.sensitivity, strict=True):
        divisor = math.sqrt(repeats) if source.name == REPEATABILITY else 1.0
        parts.append(
            ErrorPart(
                source.name,
                source.label,
                abs(sensitivity) * u / divisor,
                source.shared,
                source.distribution == "rectangular",
            )
        )
    degrees = {source.name: dof for source, dof in zip(measurement.sources, found.dof, strict=True)}
    degrees[REPEATABILITY] += repeats - 1
    return tuple(parts), degrees


def with_repeats(parts: Parts, before: int, after: int) -> Parts:
    """The same measurement with another number of indications a cylinder."""
    return changed(parts, REPEATABILITY, _of(parts, REPEATABILITY) * math.sqrt(before / after))


def with_temperature(parts: Parts, before: str, after: str) -> Parts:
    """The same measurement with the gas temperature known in another way; keys of STANDARD_UNCERTAINTY_K."""
    better = STANDARD_UNCERTAINTY_K[after] / STANDARD_UNCERTAINTY_K[before]
    return changed(parts, TEMPERATURE, _of(parts, TEMPERATURE) * better)


def with_accuracy(parts: Parts, standard_uncertainty: float, *, rectangular: bool) -> Parts:
    """The same measurement by an instrument of another accuracy, in units of ratio."""
    better = changed(parts, ACCURACY, standard_uncertainty)
    return tuple(replace(part, rectangular=rectangular) if part.name == ACCURACY else part for part in better)


def accuracy_of(parts: Parts) -> tuple[float, bool]:
    """Standard uncertainty in units of ratio, and whether it stands for limits."""
    return next((part.standard_uncertainty, part.rectangular) for part in parts if part.name == ACCURACY)


def _of(parts: Parts, name: str) -> float:
    return next(part.standard_uncertainty for part in parts if part.name == name)


def is_averaged(rule: Rule) -> bool:
    return rule.applies_to == MEAN_OF_CYLINDERS


def judged_count(rule: Rule, cylinders: int) -> int:
    """How many results the rule judges of an engine."""
    return cylinders if rule.applies_to == EVERY_CYLINDER else 1


def tolerance_of(rule: Rule) -> Interval:
    limits = {side.sign: limit for side, limit in tolerance_limits(rule)}
    return Interval(limits.get(-1, -math.inf), limits.get(1, math.inf))


def limits_by(rule: Rule, degrees_of_freedom: Mapping[str, float]) -> LimitsFor:
    """Where this rule accepts and rejects, as the core would decide; degrees of freedom by the source's name."""
    tolerance = tolerance_of(rule)

    def limits_for(parts: Sequence[ErrorPart], cylinders: int) -> DecisionLimits:
        averaged = math.sqrt(cylinders) if is_averaged(rule) else 1.0
        sources = [
            Source(part.name, part.label, "1", "rectangular" if part.rectangular else "normal", part.shared)
            for part in parts
        ]
        u = tuple(part.standard_uncertainty / (1.0 if part.shared else averaged) for part in parts)
        degrees = tuple(degrees_of_freedom.get(part.name, INFINITE) for part in parts)
        one = combine(sources, Measured(1, 0.0, u, (1.0,) * len(u), degrees, (0.0,) * len(u)))
        accept, reject = 0.0, 0.0
        if rule.decision_rule in GUARDED_ACCEPTANCE:
            accept = one.spread.quantile(rule.confidence, start=1.6 * one.standard_uncertainty)
        if rule.decision_rule in GUARDED_REJECTION:
            judged = judged_count(rule, cylinders)
            reject = rejection_factor(one.parts, one.spread, judged, rule.confidence) * one.standard_uncertainty
        return decision_limits(rule.decision_rule, tolerance, accept, reject)

    return limits_for
