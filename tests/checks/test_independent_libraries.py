"""Budgets, their degrees of freedom and the correlation between cylinders, against two independent libraries.

`uncertainties` and `GTC` differentiate the measurement function themselves; nothing of the core's algebra goes in but
the input uncertainties. Every sheet gives up to twelve cylinders and their mean.
"""

import math
from dataclasses import replace
from typing import Any

import GTC  # type: ignore[import-untyped]
import pytest
from hypothesis import given, settings
from uncertainties import ufloat  # type: ignore[import-untyped]

from app.metrology.assessment import AssessmentInputs, assess
from app.metrology.methods.acoustic_resonance import measure
from app.metrology.results import CylinderResult
from tests.unit.metrology.builders import sheets

SHEETS = 200


def ratio(inputs: AssessmentInputs, shown: Any, errors: Any, bore: Any, stroke: Any, gas_c: Any) -> Any:
    """The measurement function, written again from the physics: chamber volume first, then the ratio."""
    set_cm3 = inputs.observations.settings.displacement_cm3 / inputs.observations.settings.cylinders
    shown_volume = set_cm3 / (shown + errors - 1.0)
    volume = shown_volume * (gas_c + 273.15) / (inputs.observations.settings.gas_temperature_c + 273.15)
    return 1.0 + math.pi * bore * bore * stroke / 4000.0 / volume


def a_variable(value: float, u: float) -> Any:
    """`uncertainties` warns of a variable without uncertainty; a plain number says the same."""
    return ufloat(value, u) if u > 0.0 else value


def own_uncertainties(result: CylinderResult) -> list[tuple[float, float]]:
    parts = [part for part in result.budget.components if not part.shared]
    return [(part.standard_uncertainty, part.degrees_of_freedom) for part in parts]


def accuracy(result: CylinderResult) -> float:
    return next(part.standard_uncertainty for part in result.budget.components if part.name == "stated_accuracy")


@given(sheets())
@settings(max_examples=SHEETS, deadline=None)
def test_uncertainties_propagates_every_cylinder_and_the_mean_to_the_same_figures(inputs: AssessmentInputs) -> None:
    inputs = replace(inputs, rule=replace(inputs.rule, applies_to="mean_of_cylinders"))
    found, engine, conditions = assess(inputs), inputs.engine, inputs.observations.conditions
    bore = a_variable(engine.bore_mm, engine.bore_standard_uncertainty_mm)
    stroke = a_variable(engine.stroke_mm, engine.stroke_standard_uncertainty_mm)
    gas_c = a_variable(conditions.gas_temperature_c, conditions.gas_temperature_standard_uncertainty_k)
    of_instrument = ufloat(0.0, accuracy(found.results[0]))
    theirs = []
    for result in found.results:
        own = sum((a_variable(0.0, u) for u, _ in own_uncertainties(result)), of_instrument)
        theirs.append(ratio(inputs, result.mean_indication, own, bore, stroke, gas_c))
        assert result.value == pytest.approx(theirs[-1].nominal_value, rel=1e-12)
        assert result.standard_uncertainty == pytest.approx(theirs[-1].std_dev, rel=1e-9)
    mean = sum(theirs) / len(theirs)
    assert found.decided.value == pytest.approx(mean.nominal_value, rel=1e-12)
    assert found.decided.standard_uncertainty == pytest.approx(mean.std_dev, rel=1e-9)


@given(sheets())
@settings(max_examples=SHEETS, deadline=None)
def test_gtc_finds_the_same_uncertainties_and_degrees_of_freedom(inputs: AssessmentInputs) -> None:
    inputs = replace(inputs, rule=replace(inputs.rule, applies_to="mean_of_cylinders"))
    found, engine, conditions = assess(inputs), inputs.engine, inputs.observations.conditions
    bore = GTC.ureal(engine.bore_mm, engine.bore_standard_uncertainty_mm)
    stroke = GTC.ureal(engine.stroke_mm, engine.stroke_standard_uncertainty_mm)
    gas_c = GTC.ureal(conditions.gas_temperature_c, conditions.gas_temperature_standard_uncertainty_k)
    of_instrument = GTC.ureal(0.0, accuracy(found.results[0]))
    theirs = []
    for result in found.results:
        own = sum((GTC.ureal(0.0, u, dof) for u, dof in own_uncertainties(result)), of_instrument)
        theirs.append(ratio(inputs, result.mean_indication, own, bore, stroke, gas_c))
        agrees(result, theirs[-1])
    measured = measure(inputs.engine, inputs.observations).results
    one_estimate = any(dof for one in measured for dof in one.dof_in_common)
    agrees(found.decided, sum(theirs) / len(theirs), independent_estimates=not one_estimate)


def agrees(ours: CylinderResult, theirs: Any, independent_estimates: bool = True) -> None:
    """GTC counts the degrees of freedom of independent estimates; those of one history are not that in a mean."""
    assert ours.value == pytest.approx(GTC.value(theirs), rel=1e-12)
    assert ours.standard_uncertainty == pytest.approx(GTC.uncertainty(theirs), rel=1e-9)
    if not independent_estimates:
        assert ours.effective_degrees_of_freedom <= GTC.dof(theirs) * (1.0 + 1e-6) or GTC.dof(theirs) > 0.99e6
    elif ours.effective_degrees_of_freedom < 1e6:
        assert ours.effective_degrees_of_freedom == pytest.approx(GTC.dof(theirs), rel=1e-6)
    else:
        assert GTC.dof(theirs) > 0.99e6
