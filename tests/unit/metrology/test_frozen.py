"""Frozen inputs and results: what is kept for years reads back as it was."""

import copy
import json
import math
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.assessment import (
    AssessmentInputs,
    MeasurementError,
    assess,
    assessment_to_data,
    inputs_from_data,
    inputs_to_data,
)
from app.metrology.frozen import to_data
from tests.unit.metrology.builders import sheets as any_sheet
from tests.unit.metrology.builders import some_inputs, with_changes


def leaves(data: Any) -> Iterator[object]:
    if isinstance(data, dict):
        for entry in data.values():
            yield from leaves(entry)
    elif isinstance(data, list):
        for entry in data:
            yield from leaves(entry)
    else:
        yield data


@given(any_sheet(), st.sampled_from([None, (0.1 + 0.2, math.inf), (1e-5, 3.0)]))
def test_inputs_come_back_exactly_through_json(inputs: AssessmentInputs, prior: tuple[float, float] | None) -> None:
    inputs = with_changes(inputs, repeatability=prior)
    kept = json.dumps(inputs_to_data(inputs))
    assert inputs_from_data(json.loads(kept)) == inputs
    assert json.dumps(inputs_to_data(inputs_from_data(json.loads(kept)))) == kept


@given(any_sheet())
def test_the_same_inputs_give_the_same_result_to_the_last_digit(inputs: AssessmentInputs) -> None:
    again = inputs_from_data(json.loads(json.dumps(inputs_to_data(inputs))))
    assert assessment_to_data(assess(again)) == assessment_to_data(assess(inputs))


def test_no_number_is_kept_as_a_json_number() -> None:
    inputs = some_inputs()
    for data in (inputs_to_data(inputs), assessment_to_data(assess(inputs))):
        assert {type(leaf) for leaf in leaves(data)} <= {str, bool, type(None)}


def test_an_integer_given_for_a_quantity_is_kept_as_the_quantity() -> None:
    data = inputs_to_data(some_inputs({"limit": 11}))
    assert data["rule"]["limit"] == "11.0"
    assert data["engine"]["cylinders"] == "8"


def test_a_result_shows_each_contribution() -> None:
    inputs = some_inputs({"applies_to": "mean_of_cylinders"})
    found, data = assess(inputs), assessment_to_data(assess(inputs))
    for result, plain in ((found.decided, data["decided"]), (found.results[3], data["results"][3])):
        kept = [float(entry["contribution"]) for entry in plain["budget"]["components"]]
        assert kept == [part.contribution for part in result.budget.components]
    assert data["decided"]["cylinder"] == "0"
    assert data["results"][0]["acceptance_limit"] is None
    assert float(data["decided"]["budget"]["components"][1]["degrees_of_freedom"]) == math.inf


def broken(*place: str | int, entry: object) -> Any:
    data = copy.deepcopy(inputs_to_data(some_inputs({"limit": 11.0}, repeatability=(0.02, 8.0))))
    spot: Any = data
    for step in place[:-1]:
        spot = spot[step]
    spot[place[-1]] = entry
    return data


@pytest.mark.parametrize(
    ("data", "field"),
    [
        (None, "inputs.form"),
        ([], "inputs.form"),
        ({}, "inputs.form"),
        (broken("form", entry="99"), "inputs.form"),
        (broken("form", entry=1), "inputs.form"),
        (broken("extra", entry="1"), "inputs"),
        (broken("method", entry="guesswork"), "inputs.method"),
        (broken("rule", "tolerance_covers_uncertainty", entry="no"), "inputs.rule.tolerance_covers_uncertainty"),
        (broken("rule", "extra", entry="1"), "inputs.rule"),
        (broken("rule", entry="maximum"), "inputs.rule"),
        (broken("rule", "limit", entry=10.5), "inputs.rule.limit"),
        (broken("rule", "limit", entry="ten"), "inputs.rule.limit"),
        (broken("rule", "limit", entry=" 10.5"), "inputs.rule.limit"),
        (broken("rule", "limit", entry="1_0.5"), "inputs.rule.limit"),
        (broken("rule", "limit", entry="9" * 10_000), "inputs.rule.limit"),
        (broken("rule", "limit", entry="١٠"), "inputs.rule.limit"),
        (broken("rule", "limit", entry=None), "inputs.rule.limit"),
        (broken("rule", "kind", entry=None), "inputs.rule.kind"),
        (broken("engine", "cylinders", entry="8.0"), "inputs.engine.cylinders"),
        (broken("engine", "cylinders", entry=8), "inputs.engine.cylinders"),
        (broken("engine", "cylinders", entry="9" * 10_000), "inputs.engine.cylinders"),
        (broken("observations", "readings", entry={}), "inputs.observations.readings"),
        (broken("observations", "readings", 2, entry=[]), "inputs.observations.readings.2"),
        (
            broken("observations", "readings", 2, "indications", entry="10.50"),
            "inputs.observations.readings.2.indications",
        ),
        (
            broken("observations", "readings", 2, "indications", 0, entry=10.5),
            "inputs.observations.readings.2.indications.0",
        ),
        (broken("observations", "repeatability", entry=["0.02"]), "inputs.observations.repeatability"),
        (broken("observations", "repeatability", entry=["0.02", "8.0", "1.0"]), "inputs.observations.repeatability"),
    ],
)
def test_anything_missing_unknown_or_misshapen_is_named(data: object, field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        inputs_from_data(data)
    assert refused.value.field == field
    assert len(refused.value.sentence) < 300


def test_a_missing_entry_is_named() -> None:
    data = inputs_to_data(some_inputs())
    del data["observations"]["settings"]["cylinders"]
    with pytest.raises(MeasurementError, match="at odds: cylinders"):
        inputs_from_data(data)


def test_what_reads_as_no_number_is_still_refused_by_the_assessment() -> None:
    for odd in ("nan", "inf", "-inf", "1e300"):
        with pytest.raises(MeasurementError, match="no compression ratio"):
            assess(inputs_from_data(broken("rule", "limit", entry=odd)))


def test_what_has_no_plain_form_is_not_kept_by_accident() -> None:
    with pytest.raises(TypeError, match="complex"):
        to_data(1j)
