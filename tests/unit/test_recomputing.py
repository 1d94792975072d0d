"""What comes out otherwise when frozen inputs are worked out again, and how it is counted."""

import json
from pathlib import Path
from typing import Any
from uuid import uuid4

import pytest

from app.inspections.recomputing import Difference, Recomputed, Tally, differences
from app.metrology.assessment import assess, assessment_to_data, inputs_to_data
from tests.unit.metrology.builders import some_inputs

FROZEN = Path(__file__).resolve().parents[1] / "checks" / "frozen"


def frozen(rule: dict[str, Any] | None = None) -> tuple[str, dict[str, Any]]:
    inputs = some_inputs(rule)
    return json.dumps(inputs_to_data(inputs)), assessment_to_data(assess(inputs))


def found(result: dict[str, Any], inputs: str) -> dict[str, tuple[str, str]]:
    return {one.what: (one.old, one.new) for one in differences(result["verdict"], inputs, json.dumps(result))}


@pytest.mark.parametrize(
    "rule",
    [
        {},
        {"decision_rule": "simple_acceptance"},
        {"applies_to": "mean_of_cylinders", "kind": "minimum"},
        {"kind": "range", "lower_limit": 9.5},
        {"limit": 10.2, "tolerance": 0.02},  # inconclusive
    ],
)
def test_a_verdict_of_todays_core_comes_out_the_same(rule: dict[str, Any]) -> None:
    inputs, result = frozen(rule)
    assert found(result, inputs) == {}


def test_each_figure_that_differs_is_named_old_and_new() -> None:
    inputs, result = frozen()
    decided = result["decided"]
    changed = {
        **result,
        "acceptance_limit": "10.25",
        "rejection_limit": None,
        "tolerance_limit": "10.7",
        "limit": "10.6",
        "action": "teardown",
        "decided": {**decided, "value": "10.5", "expanded_uncertainty": "0.2", "cylinder": "7"},
    }
    said = found(changed, inputs)
    assert set(said) == {
        "what follows", "deciding cylinder", "value", "expanded uncertainty", "limit", "tolerance limit",
        "acceptance limit", "rejection limit",
    }  # fmt: skip
    assert said["what follows"] == ("teardown", "none")
    assert said["deciding cylinder"] == ("7", decided["cylinder"])
    assert said["value"] == ("10.5", f"{float(decided['value']):.5g}")
    assert said["tolerance limit"] == ("10.7", "10.6")
    assert said["rejection limit"] == ("none", f"{float(result['rejection_limit']):.5g}")


def test_another_verdict_is_told_first() -> None:
    inputs, result = frozen()
    first, *more = differences("nonconforming", inputs, json.dumps(result))
    assert (first, more) == (Difference("verdict", "nonconforming", "conforming"), [])


def test_the_last_digits_of_a_float_are_no_difference_but_more_is() -> None:
    inputs, result = frozen()
    value = float(result["decided"]["value"])
    for factor, differs in ((1.0 + 1e-10, False), (1.0 + 1e-8, True)):
        said = found({**result, "decided": {**result["decided"], "value": repr(value * factor)}}, inputs)
        assert ("value" in said) is differs
    old, new = said["value"]
    assert old != new  # shown with as many digits as tell them apart
    assert float(old) == pytest.approx(value * (1.0 + 1e-8), rel=1e-9)


def test_inputs_that_cannot_be_worked_out_any_more_are_another_verdict() -> None:
    inputs, result = frozen()
    spoilt = {**json.loads(inputs), "form": "99"}
    (only,) = differences(result["verdict"], json.dumps(spoilt), json.dumps(result))
    assert (only.what, only.old) == ("verdict", "conforming")
    assert only.new.startswith("cannot be worked out: These inputs are of no form that is read here.")


@pytest.mark.parametrize("path", sorted(FROZEN.glob("core-*.json")), ids=lambda path: path.stem)
def test_verdicts_of_every_released_core_can_be_worked_out_again(path: Path) -> None:
    for case in json.loads(path.read_text()):
        result = case["result"]
        said = found(result, json.dumps(case["inputs"]))
        assert "cannot" not in said.get("verdict", ("", ""))[1]


def test_verdicts_of_core_2_0_come_out_the_same_in_every_figure() -> None:
    """2.1 added what adopted studies feed in; a sheet without one is worked out as it was."""
    cases = json.loads((FROZEN / "core-2.0.json").read_text())
    assert len(cases) == 23
    assert [found(case["result"], json.dumps(case["inputs"])) for case in cases] == [{}] * 23


def a_recomputed(version: str, *what: str) -> Recomputed:
    return Recomputed(uuid4(), "41", "Round one", version, tuple(Difference(one, "old", "new") for one in what))


def test_verdicts_are_counted_by_the_core_that_made_them() -> None:
    tally = Tally()
    for one in [
        a_recomputed("10.0"),
        a_recomputed("9.0", "value"),
        a_recomputed("9.0", "value", "verdict"),
        a_recomputed("9.0"),
    ]:
        tally.add(one)
    assert tally.lines("10.1") == [
        "Core 9.0: 3 verdicts; 1 the same in every figure, 1 with other figures and the same verdict, "
        "1 with another verdict.",
        "Core 10.0: 1 verdict; 1 the same in every figure, 0 with other figures and the same verdict, "
        "0 with another verdict.",
        "Worked out again by core 10.1, 1 of 4 verdicts is decided otherwise. What was signed stays as it is.",
    ]


def test_an_empty_logbook_and_an_unchanged_one_are_said_plainly() -> None:
    tally = Tally()
    assert tally.lines("2.0") == ["No verdict is stored yet."]
    tally.add(a_recomputed("2.0", "value"))
    assert (
        tally.lines("2.0")[-1] == "Worked out again by core 2.0, no verdict comes out otherwise (1 verdict looked at)."
    )
