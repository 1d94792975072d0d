"""Many sheets at once give what `evaluate` gives each: every figure to 1e-9, every verdict the same word."""

import dataclasses
import math
import random
from collections import Counter
from collections.abc import Sequence
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings

from app.metrology.assessment import AssessmentInputs, Conditions, CylinderReading, Instrument, MeasurementError
from app.metrology.bulk.budgets import SOURCES
from app.metrology.bulk.columns import Sheets, columns_of
from app.metrology.bulk.evaluating import Found, evaluate_columns, evaluate_many, evaluated_blocks
from app.metrology.bulk.suspecting import perhaps_suspected
from app.metrology.conformity import DECISION_RULES
from app.metrology.distributions import t_quantile
from app.metrology.evaluation import Evaluated, evaluate
from app.metrology.inputs import ACCURACY_MEANINGS, CylinderCheck
from app.metrology.methods.acoustic_resonance import sources_of
from tests.unit.metrology.builders import (
    HEALTHY,
    a_rule,
    an_engine,
    an_instrument,
    readings,
    sheets,
    some_inputs,
    with_changes,
)

NEAR = 1e-9


def realistic(seed: int) -> AssessmentInputs:
    """A sheet as a race meeting brings it: most engines sound, near their limit or well inside, some with a leak."""
    draw = random.Random(seed)
    cylinders = draw.choice([1, 2, 3, 4, 6, 8, 8, 12])
    kind = draw.choice(["maximum", "maximum", "minimum"])
    inwards = -1.0 if kind == "maximum" else 1.0
    whole = 10.5 + inwards * draw.choice([0.0, 0.1, 0.2, 0.3])
    repeats, scatter = draw.choice([1, 2, 3, 3, 4]), draw.choice([0.0, 0.008, 0.012, 0.03])
    true = [whole + draw.gauss(0.0, draw.choice([0.005, 0.03])) for _ in range(cylinders)]
    if draw.random() < 0.15:
        true[draw.randrange(cylinders)] += draw.choice([-1.0, 1.0]) * draw.choice([0.12, 0.2, 0.5])
    typed = [[f"{one + draw.gauss(0.0, scatter):.2f}" for _ in range(repeats)] for one in true]
    if draw.random() < 0.1:
        typed[draw.randrange(cylinders)].sort(reverse=draw.random() < 0.5)
    if cylinders > 1 and draw.random() < 0.1:
        typed[draw.randrange(cylinders)] = []
    return some_inputs(
        {
            "kind": kind,
            "decision_rule": draw.choice(sorted(DECISION_RULES)),
            "confidence": draw.choice([0.5, 0.9, 0.95, 0.99]),
        },
        readings=readings(*typed),
        instrument=an_instrument(
            stated_accuracy=draw.choice([0.02, 0.05, 0.1]), accuracy_meaning=draw.choice(sorted(ACCURACY_MEANINGS))
        ),
        conditions=Conditions(draw.uniform(15.0, 30.0), draw.choice([0.0, 1.0, 6.0]), "thermometer_in_chamber"),
        repeatability=draw.choice([None, (0.011, 24.0), (0.011, 3.5), (0.01, math.inf)]),
    )


REALISTIC = [realistic(seed) for seed in range(400)]


def figures(one: Evaluated) -> dict[str, float]:
    combined = one.combined
    return {
        "value": one.measured.value,
        "standard_uncertainty": combined.standard_uncertainty,
        "effective_dof": combined.effective_dof,
        "half_width": combined.spread.half_width,
        "scale": combined.spread.scale,
        "dof": combined.spread.dof,
    }


def assert_the_same_figures(inputs: Sequence[AssessmentInputs]) -> int:
    """Of all sheets that columns hold; says how many."""
    held = columns_of(inputs)
    found = evaluate_columns(held)
    for column, place in enumerate(held.place):
        expected = evaluate(inputs[place])
        measured = {one.measured.cylinder: one for one in expected.results}
        for row in range(len(found.value)):
            one = measured.get(row + 1)
            if one is None:
                for field in dataclasses.fields(Found)[:-1]:
                    assert np.all(np.isnan(getattr(found, field.name)[..., row, column])), field.name
                continue
            for name, figure in figures(one).items():
                assert getattr(found, name)[row, column] == pytest.approx(figure, rel=NEAR, abs=1e-12), name
            assert abs(found.conformance_probability[row, column] - one.conformance_probability) < NEAR
            assert found.contributions[:, row, column] == pytest.approx(one.combined.contributions, rel=NEAR)
        if found.conforms[column]:
            assert expected.outcome.verdict == "conforming"
    return len(held)


@settings(max_examples=200)
@given(sheets())
def test_any_sheet_comes_to_the_same_verdict_and_figures(inputs: AssessmentInputs) -> None:
    assert evaluate_many([inputs]) == [evaluate(inputs).outcome.verdict]
    assert_the_same_figures([inputs])


def test_realistic_sheets_come_to_the_same_figures_in_one_go() -> None:
    assert assert_the_same_figures(REALISTIC) == len(REALISTIC)


def test_realistic_sheets_come_to_the_same_verdicts_whatever_the_block() -> None:
    expected = [evaluate(one).outcome.verdict for one in REALISTIC]
    assert min(Counter(expected).values()) > 30  # each of the three words is put to the test
    assert evaluate_many(REALISTIC) == expected
    assert evaluate_many(REALISTIC, block=7) == expected


def test_nearly_every_conforming_engine_is_plain() -> None:
    held = columns_of(REALISTIC)
    plain = evaluate_columns(held).conforms
    conforming = np.array([evaluate(REALISTIC[place]).outcome.verdict == "conforming" for place in held.place])
    assert np.all(conforming[plain])
    assert plain.sum() > 0.9 * conforming.sum()


def test_blocks_add_up_to_the_whole_and_the_last_may_be_short() -> None:
    held = columns_of(REALISTIC[:50])
    whole = evaluate_columns(held)
    blocks = list(evaluated_blocks(held, block=16))
    assert [len(one.conforms) for one in blocks] == [16, 16, 16, 2]
    for field in dataclasses.fields(Found):
        parts = np.concatenate([getattr(one, field.name) for one in blocks], axis=-1)
        assert np.array_equal(parts, getattr(whole, field.name), equal_nan=parts.dtype == float), field.name


def test_no_sheets_are_no_verdicts() -> None:
    assert evaluate_many([]) == []
    assert len(columns_of([])) == 0
    assert evaluate_columns(columns_of([])).value.shape == (1, 0)


def test_the_sources_stand_in_the_order_of_the_core() -> None:
    assert tuple(one.name for one in sources_of(some_inputs().observations)) == SOURCES


def test_columns_hold_what_was_read() -> None:
    inputs = some_inputs(
        {"kind": "minimum", "limit": 10.0, "tolerance": 0.05, "confidence": 0.9, "decision_rule": "simple_acceptance"},
        readings=readings(("10.21", "10.23", "10.25"), (), ("10.3", "10.1"), ("10.21", "10.21", "10.19")),
        instrument=an_instrument(accuracy_meaning="standard", stated_accuracy=0.04),
        repeatability=(0.02, 5.0),
    )
    held = columns_of([some_inputs({"applies_to": "mean_of_cylinders"}), inputs, some_inputs()])
    assert held.place.tolist() == [1, 2]
    assert held.cylinders.tolist() == [4, 8]
    assert held.mean_indication[:5, 0] == pytest.approx([10.23, math.nan, 10.2, 30.61 / 3.0, math.nan], nan_ok=True)
    assert held.resolution[:4, 0] == pytest.approx([0.01, math.nan, 0.1, 0.01], nan_ok=True)
    assert held.drift[:4, 0] == pytest.approx([0.04, math.nan, 0.2, 0.02], nan_ok=True)
    assert (held.tolerance_limit[0], held.sign[0], held.confidence[0]) == (9.95, -1.0, 0.9)
    assert held.guards_acceptance.tolist() == [False, True]
    assert held.accuracy_is_rectangular.tolist() == [False, True]
    assert (held.accuracy_u[0], held.accuracy_half_width[0]) == (0.04, 0.08)
    assert (held.history_deviation[0], held.history_dof[0]) == (0.02, 5.0)
    assert math.isnan(held.history_deviation[1])


def test_two_rising_repeats_drift_nowhere_and_neither_do_wavering_ones() -> None:
    held = columns_of([some_inputs(readings=readings(("10.20", "10.24"), ("10.20", "10.25", "10.22"), ("10.2",)))])
    assert held.drift[:, 0].tolist() == [0.0, 0.0, 0.0]


LEFT: dict[str, dict[str, Any]] = {
    "mean": {"rule": a_rule(applies_to="mean_of_cylinders")},
    "designated cylinder": {"rule": a_rule(applies_to="designated_cylinder", designated_cylinder=3)},
    "range": {"rule": a_rule(kind="range", lower_limit=9.5)},
    "flow study": {"instrument": an_instrument(airflow_tolerance_l_min=0.1, airflow_sensitivity=0.02)},
    "gauge study": {"reproducibility": (0.02, 5.0)},
    "crank steps": {"conditions": Conditions(20.0, 1.0, "thermometer_in_chamber", 2.0)},
    "checks": {"checks": (CylinderCheck(2, "leak_down", 4.0),)},
}


@pytest.mark.parametrize("changes", LEFT.values(), ids=LEFT)
def test_what_columns_cannot_hold_goes_to_the_core(changes: dict[str, Any]) -> None:
    inputs = with_changes(some_inputs(), **changes)
    assert len(columns_of([inputs])) == 0
    assert evaluate_many([some_inputs(), inputs]) == ["conforming", evaluate(inputs).outcome.verdict]


REFUSED: dict[str, dict[str, Any]] = {
    "no reading": {"readings": readings((), ())},
    "no digits": {"readings": (CylinderReading(1, ("about ten",)),)},
    "cannot be": {"engine": an_engine(bore_mm=4.0)},
}


@pytest.mark.parametrize("changes", REFUSED.values(), ids=REFUSED)
def test_what_the_core_refuses_is_refused_with_its_sentence(changes: dict[str, Any]) -> None:
    inputs = with_changes(some_inputs(), **changes)
    assert len(columns_of([inputs])) == 0
    with pytest.raises(MeasurementError) as of_core:
        evaluate(inputs)
    with pytest.raises(MeasurementError) as of_many:
        evaluate_many([some_inputs(), inputs])
    assert (of_many.value.field, of_many.value.sentence) == (of_core.value.field, of_core.value.sentence)


def test_another_method_is_left_to_the_core() -> None:
    assert len(columns_of([dataclasses.replace(some_inputs(), method="liquid_volume")])) == 0
    assert len(columns_of([dataclasses.replace(some_inputs(), observations=None)])) == 0


def plain(rule: dict[str, Any] | None = None, **changes: Any) -> bool:
    return bool(evaluate_columns(columns_of([some_inputs(rule, **changes)])).conforms[0])


def same(*values: str) -> tuple[CylinderReading, ...]:
    return readings(*[(value, value) for value in values])


@pytest.mark.parametrize("rule", ["simple_acceptance", "guarded_rejection"])
def test_at_the_limit_is_inside_where_acceptance_is_not_guarded(rule: str) -> None:
    at_limit = {"decision_rule": rule, "limit": 10.59, "tolerance": 0.0}
    assert plain({**at_limit, "limit": 10.591}, readings=same("10.59", "10.59"))
    assert not plain({**at_limit, "limit": 10.589}, readings=same("10.59", "10.59"))
    assert not plain({**at_limit, "limit": 10.589}, readings=same("10.50", "10.59"))
    beyond = some_inputs({**at_limit, "limit": 10.589}, readings=same("10.59", "10.59"))
    assert evaluate_many([beyond]) == ["conforming" if rule == "guarded_rejection" else "nonconforming"]


@pytest.mark.parametrize("rule", ["guarded_acceptance", "three_zones"])
def test_where_acceptance_is_guarded_the_guard_decides(rule: str) -> None:
    inputs = some_inputs({"decision_rule": rule}, readings=same("10.30", "10.30"))
    guarded_at = evaluate(inputs).outcome.decided.decision.acceptance_limit
    assert guarded_at is not None
    for nudge, inside in ((1e-6, True), (-1e-6, False)):
        limit = 10.5 + (10.30 - guarded_at) + nudge
        assert plain({"decision_rule": rule, "limit": limit}, readings=same("10.30", "10.30")) is inside


@pytest.mark.parametrize(("off", "even"), [(5e-10, True), (-5e-10, True), (2e-9, False)])
def test_a_difference_that_is_noise_is_none(off: float, even: bool) -> None:
    value = evaluate(some_inputs(readings=same("10.77"))).decided.measured.value
    inputs = some_inputs({"limit": value + off, "tolerance": 0.0}, readings=same("10.77"))
    probability = float(evaluate_columns(columns_of([inputs])).conformance_probability[0, 0])
    assert (probability == 0.5) is even
    assert probability == pytest.approx(evaluate(inputs).decided.conformance_probability, rel=0.0, abs=1e-15)


def test_an_accuracy_too_small_for_its_square_leaves_the_resolution_alone() -> None:
    inputs = some_inputs(
        engine=an_engine(cylinders=1, bore_standard_uncertainty_mm=0.0, stroke_standard_uncertainty_mm=0.0),
        instrument=an_instrument(stated_accuracy=1e-200),
        conditions=Conditions(20.0, 0.0, "thermometer_in_chamber"),
        readings=readings(("10.20",)),
        repeatability=(0.0, 5.0),
    )
    found = evaluate_columns(columns_of([inputs]))
    assert (found.scale[0, 0], found.dof[0, 0], found.conformance_probability[0, 0]) == (0.0, math.inf, 1.0)
    assert assert_the_same_figures([inputs]) == 1


def test_a_cylinder_that_is_missing_leaves_nothing_plain() -> None:
    assert plain({}, readings=same("10.10", "10.10"))
    assert not plain({}, readings=(*same("10.10", "10.10"), CylinderReading(3, (), "plug seized")))


def test_a_shorter_engine_beside_a_longer_one_is_plain() -> None:
    held = columns_of([some_inputs(readings=same("10.10", "10.10")), some_inputs()])
    assert evaluate_columns(held).conforms.tolist() == [True, True]


def test_degrees_of_freedom_on_the_edge_of_truncation_are_left_to_the_core() -> None:
    held = columns_of([some_inputs(repeatability=(0.03, 10.0))])
    found = evaluate_columns(held)
    own_dof = held.repeatability_dof
    of_bell = found.scale**4 / (found.contributions[0] ** 4 / own_dof)
    for off, expected in ((0.0, False), (1e-6, True), (-1e-6, True)):
        edge = (np.ceil(of_bell) - 0.01 + off) / of_bell * own_dof
        at_edge = dataclasses.replace(held, repeatability_dof=edge)
        assert evaluate_columns(at_edge).conforms.tolist() == [expected]


LOW_ONE = same("10.20", "10.21", "10.20", "10.19", "10.20", "10.21", "10.20", "9.95")
HIGH_ONE = same("10.20", "10.21", "10.20", "10.19", "10.20", "10.21", "10.20", "10.45")
TWO_LOW = same("10.20", "10.21", "10.20", "10.19", "10.20", "10.21", "9.90", "9.95")


@pytest.mark.parametrize(
    ("kind", "cylinders", "expected"),
    [
        ("maximum", LOW_ONE, True),
        ("maximum", TWO_LOW, True),
        ("maximum", HIGH_ONE, False),
        ("maximum", HEALTHY, False),
        ("minimum", HIGH_ONE, True),
        ("minimum", LOW_ONE, False),
        ("maximum", same("9.95", "10.20"), False),  # two cannot say which of them is odd
        ("maximum", same("9.80", "10.20", "10.20"), True),
        ("maximum", same("10.20", "10.09", "10.20", "10.20"), True),
        ("maximum", same("10.20", "10.11", "10.20", "10.20"), False),
    ],
)
def test_what_stands_apart_on_the_wrong_side_is_suspected(
    kind: str, cylinders: tuple[CylinderReading, ...], expected: bool
) -> None:
    assert suspected({"kind": kind}, readings=cylinders) is expected


def suspected(rule: dict[str, Any] | None = None, **changes: Any) -> bool:
    held = columns_of([some_inputs(rule, **changes)])
    found = evaluate_columns(held)
    own_u = np.hypot(found.contributions[0], found.contributions[1])
    return bool(perhaps_suspected(held, found.value, own_u)[0])


def test_a_cylinder_is_suspected_beside_a_longer_engine_too() -> None:
    held = columns_of([some_inputs(readings=same("9.80", "10.20", "10.20")), some_inputs(readings=LOW_ONE)])
    assert evaluate_columns(held).conforms.tolist() == [False, False]


def test_badly_repeating_cylinders_are_held_by_their_own_uncertainty() -> None:
    apart = readings(*[("10.20",)] * 4, ("10.21",), ("10.19",), ("10.20",), ("9.98",))
    assert suspected(readings=apart, repeatability=(0.02, 30.0))
    assert not suspected(readings=apart, repeatability=(0.12, 30.0))
    certain = readings(*[("10.20",)] * 4, ("10.21",), ("10.19",), ("10.20",), ("9.85",))
    assert suspected(readings=certain, repeatability=(0.3, 30.0))  # however badly it repeats


def of_drift(last: str, first: str = "10.30", **changes: Any) -> bool:
    return suspected(changes.pop("rule", None), readings=readings((first, last), *[("10.25",)] * 3), **changes)


def test_repeats_that_sink_beyond_the_scatter_allowed_are_suspected_under_a_maximum() -> None:
    # four cylinders, 24 degrees of freedom: √2·t·s = 1.4142·2.391·0.011 = 0.0372
    assert math.sqrt(2.0) * t_quantile(1.0 - 0.05 / 4.0, 24.0) * 0.011 == pytest.approx(0.0372, abs=5e-5)
    assert of_drift("10.26", repeatability=(0.011, 24.0))
    assert not of_drift("10.27", repeatability=(0.011, 24.0))
    assert not of_drift("10.26", rule={"kind": "minimum"}, repeatability=(0.011, 24.0))
    # known for certain the normal quantile counts: 1.4142·2.2414·0.011 = 0.0349
    assert of_drift("10.260", "10.295", repeatability=(0.011, math.inf))
    assert not of_drift("10.260", "10.294", repeatability=(0.011, math.inf))


def test_without_a_history_the_stated_accuracy_bounds_the_drift() -> None:
    assert of_drift("10.19", instrument=an_instrument(stated_accuracy=0.10))
    assert not of_drift("10.21", instrument=an_instrument(stated_accuracy=0.10))
    assert not of_drift("10.19", instrument=an_instrument(stated_accuracy=0.10, accuracy_meaning="standard"))


def test_two_steps_of_the_resolution_are_no_drift() -> None:
    coarse = Instrument("acoustic_resonance", 0.05, 0.10, "limits")
    assert not of_drift("10.21", instrument=coarse, repeatability=(0.011, 24.0))
    assert of_drift("10.19", instrument=coarse, repeatability=(0.011, 24.0))


def test_columns_are_cut_into_views() -> None:
    held: Sheets = columns_of(REALISTIC[:20])
    part = held.block(5, 12)
    assert len(part) == 7
    assert part.place.tolist() == held.place[5:12].tolist()
    assert np.shares_memory(part.mean_indication, held.mean_indication)
