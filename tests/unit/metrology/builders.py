"""Inputs for the core, plain functions with defaults: an eight-cylinder engine measured well inside its limit."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import fields
from typing import Any

from hypothesis import strategies as st

from app.metrology.assessment import (
    AcousticObservations,
    Assessment,
    AssessmentInputs,
    Calibration,
    Conditions,
    CylinderReading,
    Engine,
    Instrument,
    Rule,
    Settings,
    assess,
)
from app.metrology.conformity import DECISION_RULES
from app.metrology.geometry import displacement_cm3
from app.metrology.inputs import ACCURACY_MEANINGS, TEMPERATURE_SOURCES
from app.metrology.measurement import Measured, Source
from app.metrology.rules import INCONCLUSIVE_ACTIONS

BORE_MM, STROKE_MM = 101.6, 88.392

# every severity of a verdict, the better the greater
ORDER = {"nonconforming": 0, "inconclusive": 1, "conforming": 2}


def an_engine(**changes: Any) -> Engine:
    return Engine(**{"bore_mm": BORE_MM, "stroke_mm": STROKE_MM, "cylinders": 8, **changes})


def an_instrument(**changes: Any) -> Instrument:
    given = {
        "method": "acoustic_resonance",
        "resolution": 0.01,
        "stated_accuracy": 0.10,
        "accuracy_meaning": "limits",
    }
    return Instrument(**{**given, **changes})


def true_settings(engine: Engine, gas_temperature_c: float = 20.0) -> Settings:
    """As the engine is, so that an indication needs no correction for the settings."""
    whole_cm3 = displacement_cm3(engine.bore_mm, engine.stroke_mm, engine.cylinders)
    return Settings(whole_cm3, engine.cylinders, gas_temperature_c)


def a_rule(**changes: Any) -> Rule:
    given = {
        "kind": "maximum",
        "limit": 10.5,
        "tolerance": 0.1,
        "applies_to": "every_cylinder",
        "decision_rule": "three_zones",
        "confidence": 0.95,
        "inconclusive_action": "measure_again",
    }
    return Rule(**{**given, **changes})


def readings(*cylinders: Sequence[str]) -> tuple[CylinderReading, ...]:
    """One reading per cylinder in order, from the digits typed; an empty one was not measured."""
    return tuple(
        CylinderReading(number, tuple(indications), "" if indications else "plug seized")
        for number, indications in enumerate(cylinders, start=1)
    )


# eight healthy cylinders: no scatter that any test would remark on
HEALTHY = readings(
    ("10.21", "10.22"),
    ("10.24", "10.23"),
    ("10.19", "10.20"),
    ("10.22", "10.22"),
    ("10.18", "10.19"),
    ("10.23", "10.24"),
    ("10.20", "10.20"),
    ("10.21", "10.19"),
)


def some_inputs(rule: Mapping[str, Any] | None = None, **changes: Any) -> AssessmentInputs:
    """A sheet as `assess` takes it; `rule` changes single entries of the rule."""
    engine = changes.pop("engine", None) or an_engine(cylinders=len(changes.get("readings", HEALTHY)))
    given: dict[str, Any] = {
        "method": "acoustic_resonance",
        "engine": engine,
        "rule": a_rule(**(rule or {})),
        "coverage_probability": 0.95,
        "instrument": an_instrument(),
        "settings": true_settings(engine),
        "conditions": Conditions(20.0, 1.0, "thermometer_in_chamber"),
        "readings": HEALTHY,
        "repeatability": None,
        "checks": (),
    }
    return sheet_of({**given, **changes})


def sheet_of(given: Mapping[str, Any]) -> AssessmentInputs:
    """Inputs from a flat set of entries: those that acoustic resonance observes go where they belong."""
    whole = ("method", "engine", "rule", "coverage_probability")
    observed = {name: entry for name, entry in given.items() if name not in whole}
    return AssessmentInputs(
        observations=AcousticObservations(**observed), **{name: given[name] for name in whole if name in given}
    )


def flat(inputs: AssessmentInputs) -> dict[str, Any]:
    """The same entries side by side, for tests that change one."""
    observed = inputs.observations
    return {
        "method": inputs.method,
        "engine": inputs.engine,
        "rule": inputs.rule,
        "coverage_probability": inputs.coverage_probability,
        **{item.name: getattr(observed, item.name) for item in fields(observed)},
    }


def parts_of(*parts: tuple[float, ...], distribution: str = "normal") -> tuple[list[Source], Measured]:
    """Sources and a result from tuples (standard uncertainty, sensitivity, dof, shared, dof in common)."""
    filled = [(*part, *(1.0, math.inf, 0.0, 0.0)[len(part) - 1 :]) for part in parts]
    sources = [Source(f"part_{place}", "part", "1", distribution, bool(part[3])) for place, part in enumerate(filled)]
    u, sensitivity, dof, _, in_common = zip(*filled, strict=True)
    return sources, Measured(1, 10.0, u, sensitivity, dof, in_common)


def with_changes(inputs: AssessmentInputs, **changes: Any) -> AssessmentInputs:
    """The same sheet with single entries changed, wherever they stand."""
    return sheet_of({**flat(inputs), **changes})


def assessed(rule: Mapping[str, Any] | None = None, **changes: Any) -> Assessment:
    return assess(some_inputs(rule, **changes))


def _typed_ratios(lowest: str = "6.00", highest: str = "16.00") -> st.SearchStrategy[str]:
    low, high = round(float(lowest) * 100), round(float(highest) * 100)
    return st.integers(low, high).map(lambda hundredths: f"{hundredths // 100}.{hundredths % 100:02d}")


@st.composite
def sheets(draw: st.DrawFn, /, **fixed: Any) -> AssessmentInputs:
    """Any sheet that can be: engine, settings off by any factor allowed, conditions, one to four repeats, any rule."""
    cylinders = draw(st.integers(1, 12))
    engine = Engine(
        bore_mm=draw(st.floats(40.0, 150.0)),
        stroke_mm=draw(st.floats(40.0, 150.0)),
        cylinders=cylinders,
        bore_standard_uncertainty_mm=draw(st.floats(0.0, 0.1)),
        stroke_standard_uncertainty_mm=draw(st.floats(0.0, 0.1)),
    )
    factor = draw(st.sampled_from([1.0, 0.5, 2.0, 1.1]))
    limit = draw(st.floats(7.0, 15.0).map(lambda value: round(value, 2)))
    given: dict[str, Any] = {
        "engine": engine,
        "instrument": Instrument(
            "acoustic_resonance",
            draw(st.sampled_from([0.01, 0.05, 0.1])),
            draw(st.floats(0.02, 0.3)),
            draw(st.sampled_from(sorted(ACCURACY_MEANINGS))),
            draw(
                st.none()
                | st.builds(
                    Calibration, st.just("HM-1"), st.floats(-0.3, 0.3), st.floats(0.0, 0.1), st.floats(1.0, 3.0)
                )
            ),
        ),
        "settings": Settings(
            factor * displacement_cm3(engine.bore_mm, engine.stroke_mm, cylinders),
            cylinders,
            draw(st.floats(0.0, 60.0)),
        ),
        "conditions": Conditions(
            draw(st.floats(0.0, 110.0)), draw(st.floats(0.0, 8.0)), draw(st.sampled_from(sorted(TEMPERATURE_SOURCES)))
        ),
        "readings": readings(
            *(draw(st.lists(_typed_ratios(), min_size=1, max_size=4)) for _ in range(cylinders)),
        ),
        "rule": Rule(
            kind=draw(st.sampled_from(["maximum", "minimum"])),
            limit=limit,
            tolerance=draw(st.sampled_from([0.0, 0.05, 0.1])),
            applies_to=draw(st.sampled_from(["every_cylinder", "mean_of_cylinders"])),
            decision_rule=draw(st.sampled_from(sorted(DECISION_RULES))),
            confidence=draw(st.sampled_from([0.5, 0.9, 0.95, 0.99])),
            inconclusive_action=draw(st.sampled_from(sorted(INCONCLUSIVE_ACTIONS))),
        ),
        "repeatability": draw(st.none() | st.tuples(st.floats(0.005, 0.1), st.floats(1.0, 100.0))),
    }
    return sheet_of({"method": "acoustic_resonance", **given, **fixed})
