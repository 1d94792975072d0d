"""Adopted studies in a budget by acoustic resonance: against two independent libraries, print, and plain draws.

The libraries propagate to first order, so of the slope's uncertainty they get what the second order makes of it; that
this is right is held against print and against draws of the product itself.
"""

import math
from dataclasses import replace
from typing import Any

import GTC  # type: ignore[import-untyped]
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from app.metrology.inputs import AssessmentInputs
from app.metrology.measurement import Measured
from app.metrology.methods.acoustic_resonance import check, measure
from app.metrology.uncertainty import combine, mean_of
from tests.checks.budgets import Inputs, PhysicsOf, by_gtc, by_uncertainties
from tests.unit.metrology.builders import an_instrument, sheets, some_inputs

SHEETS = 200


@st.composite
def studied_sheets(draw: st.DrawFn) -> AssessmentInputs:
    """Any sheet with a flow study, a gauge study, or both."""
    inputs = draw(sheets())
    observed = inputs.observations
    slope = draw(st.none() | st.floats(-0.3, 0.3))
    instrument = replace(
        observed.instrument,
        airflow_tolerance_l_min=draw(st.floats(0.0, 1.0)),
        airflow_sensitivity=slope,
        airflow_sensitivity_standard_uncertainty=0.0 if slope is None else draw(st.floats(0.0, 0.1)),
    )
    between = draw(st.tuples(st.floats(0.0, 0.2), st.floats(1.0, 50.0)))
    gauge = between if slope is None else draw(st.none() | st.just(between))
    return replace(inputs, observations=replace(observed, instrument=instrument, reproducibility=gauge))


def physics(inputs: AssessmentInputs) -> PhysicsOf:
    """The measurement function, written again from the physics: chamber volume first, then the ratio."""
    engine, observed = inputs.engine, inputs.observations
    set_cm3 = observed.settings.displacement_cm3 / observed.settings.cylinders
    set_kelvin = observed.settings.gas_temperature_c + 273.15
    instrument = observed.instrument
    of_second_order = instrument.airflow_tolerance_l_min / math.sqrt(3.0)

    def ratio(result: Measured, errors: Inputs) -> Any:
        shown = result.mean_indication + errors["repeatability"] + errors["resolution"] + errors["stated_accuracy"]
        shown = shown + errors.get("reproducibility", 0.0)
        shown = shown + (instrument.airflow_sensitivity or 0.0) * errors.get("airflow", 0.0)
        shown = shown + of_second_order * errors.get("airflow_sensitivity", 0.0)
        gas_kelvin = observed.conditions.gas_temperature_c + 273.15 + errors["gas_temperature"]
        volume = set_cm3 / (shown - 1.0) * gas_kelvin / set_kelvin
        bore, stroke = engine.bore_mm + errors["bore"], engine.stroke_mm + errors["stroke"]
        return 1.0 + math.pi * bore * bore * stroke / 4000.0 / volume

    return ratio


@given(studied_sheets())
@settings(max_examples=SHEETS, deadline=None)
def test_uncertainties_propagates_every_cylinder_and_the_mean_to_the_same_figures(inputs: AssessmentInputs) -> None:
    check(inputs.engine, inputs.observations)
    by_uncertainties(measure(inputs.engine, inputs.observations), physics(inputs))


@given(studied_sheets())
@settings(max_examples=SHEETS, deadline=None)
def test_gtc_finds_the_same_uncertainties_and_degrees_of_freedom(inputs: AssessmentInputs) -> None:
    by_gtc(measure(inputs.engine, inputs.observations), physics(inputs))


@given(studied_sheets(), st.floats(0.01, 0.2), st.floats(1.0, 50.0))
@settings(max_examples=SHEETS, deadline=None)
def test_gtc_counts_the_degrees_of_freedom_of_one_gauge_study_once_in_a_mean_too(
    inputs: AssessmentInputs, between: float, dof: float
) -> None:
    """The repeatability is taken for known here, so that all estimates are independent, as GTC supposes."""
    observed = replace(inputs.observations, repeatability=(0.02, math.inf), reproducibility=(between, dof))
    inputs = replace(
        inputs,
        observations=replace(observed, readings=tuple(one_indication(reading) for reading in observed.readings)),
    )
    measurement = measure(inputs.engine, inputs.observations)
    first = measurement.results[0]
    shared = {
        source.name: GTC.ureal(0.0, u, dof)
        for source, u, dof in zip(measurement.sources, first.u, first.dof, strict=True)
        if source.shared
    }
    ratio = physics(inputs)
    theirs = []
    for one in measurement.results:
        own = {
            source.name: GTC.ureal(0.0, u)
            for source, u in zip(measurement.sources, one.u, strict=True)
            if not source.shared
        }
        theirs.append(ratio(one, {**shared, **own}))
    mean = sum(theirs) / len(theirs)
    ours = combine(measurement.sources, mean_of(measurement))
    assert ours.standard_uncertainty == pytest.approx(GTC.uncertainty(mean), rel=1e-9)
    if ours.effective_dof < 1e5:
        assert ours.effective_dof == pytest.approx(GTC.dof(mean), rel=1e-6)
    else:
        assert GTC.dof(mean) > 0.99e5


def one_indication(reading: Any) -> Any:
    return replace(reading, indications=reading.indications[:1])


def contributions(slope: float, slope_u: float, tolerance: float) -> dict[str, float]:
    instrument = an_instrument(
        airflow_tolerance_l_min=tolerance,
        airflow_sensitivity=slope,
        airflow_sensitivity_standard_uncertainty=slope_u,
    )
    inputs = some_inputs(instrument=instrument)
    measurement = measure(inputs.engine, inputs.observations)
    found = combine(measurement.sources, measurement.results[0]).contributions
    return {source.name: part for source, part in zip(measurement.sources, found, strict=True)}


def test_the_term_of_the_second_order_is_that_of_the_end_gauge_in_the_gum() -> None:
    """JCGM 100:2008, H.1.7: l_s·u(δα)·u(θ) = 0.05 m · 0.58e-6/°C · 0.41 °C = 11.7 nm, printed; with 1.7 nm of the other
    product it takes u_c from 32 nm to 34 nm. From memory; recomputation consistent (inputs as in Table H.1).

    δα has the estimate 0 ± 1e-6 (rectangular), as a slope of 0 has; the deviation θ stands for the airflow's.
    """
    length_m, theta = 0.05, math.hypot(0.2, 0.5 / math.sqrt(2.0))
    slope_u = length_m * 1e-6 / math.sqrt(3.0) * 1e6  # µm/°C
    product_um = contributions(0.0, slope_u, theta * math.sqrt(3.0))["airflow_sensitivity"]
    assert 1000.0 * product_um == pytest.approx(11.7, abs=0.05)
    other_um = contributions(0.0, length_m * 2e-6 / math.sqrt(3.0) * 1e6, 0.05)["airflow_sensitivity"]
    assert 1000.0 * other_um == pytest.approx(1.7, abs=0.05)
    assert math.hypot(31.66, 1000.0 * product_um, 1000.0 * other_um) == pytest.approx(34.0, abs=0.5)


@pytest.mark.parametrize(("slope", "slope_u"), [(-0.05, 0.02), (0.05, 0.0), (0.0, 0.03), (0.01, 0.04)])
def test_the_two_lines_have_the_variance_of_the_product_drawn_itself(slope: float, slope_u: float) -> None:
    """A million draws, fixed seed: the standard deviation comes out to a fifth of a per cent, thrice over."""
    chance = np.random.default_rng(512)
    drawn = (slope + slope_u * chance.normal(size=1_000_000)) * 0.3 * chance.uniform(-1.0, 1.0, 1_000_000)
    found = contributions(slope, slope_u, 0.3)
    together = math.hypot(found["airflow"], found.get("airflow_sensitivity", 0.0))
    assert together == pytest.approx(float(drawn.std()), rel=0.005)
    assert abs(float(drawn.mean())) < 4.0 * together / 1000.0  # the airflow's mean is 0: nothing to correct for
