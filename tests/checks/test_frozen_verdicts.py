"""Verdicts of every released core, kept in tests/checks/frozen: today's core must still read their inputs, and the core
that made them must still find the same figures. When a formula changes, CORE_VERSION rises and a file is added."""

import json
from pathlib import Path
from typing import Any

import pytest

from app.metrology import CORE_VERSION
from app.metrology.assessment import assess, assessment_to_data, inputs_from_data
from app.metrology.conformity import VERDICTS

FROZEN = Path(__file__).parent / "frozen"
KEPT: list[dict[str, Any]] = [
    case for path in sorted(FROZEN.glob("core-*.json")) for case in json.loads(path.read_text())
]
TITLES = [f"{case['result']['core_version']}: {case['title']}" for case in KEPT]


def same(ours: Any, kept: Any, place: str) -> None:
    if isinstance(kept, dict):
        assert ours.keys() == kept.keys(), place
        for name, entry in kept.items():
            same(ours[name], entry, f"{place}.{name}")
    elif isinstance(kept, list):
        assert len(ours) == len(kept), place
        for number, entry in enumerate(kept):
            same(ours[number], entry, f"{place}.{number}")
    elif ours != kept:  # another machine's last binary digit may differ, a word may not
        assert float(ours) == pytest.approx(float(kept), rel=1e-12), place


def test_there_is_a_file_of_this_version() -> None:
    assert (FROZEN / f"core-{CORE_VERSION}.json").is_file()


@pytest.mark.parametrize("case", KEPT, ids=TITLES)
def test_kept_inputs_still_read_and_give_a_verdict(case: dict[str, Any]) -> None:
    assert assess(inputs_from_data(case["inputs"])).verdict in VERDICTS


@pytest.mark.parametrize(
    "case", [case for case in KEPT if case["result"]["core_version"] == CORE_VERSION], ids=lambda case: case["title"]
)
def test_the_same_core_still_finds_the_same_figures(case: dict[str, Any]) -> None:
    same(assessment_to_data(assess(inputs_from_data(case["inputs"]))), case["result"], "result")


@pytest.mark.parametrize(
    "case", [case for case in KEPT if case["result"]["core_version"] == "2.0"], ids=lambda case: case["title"]
)
def test_without_an_adopted_study_core_2_1_finds_every_figure_that_core_2_0_found(case: dict[str, Any]) -> None:
    """2.1 added what flow and gauge studies feed in; where there are none, nothing was to change but the version."""
    assert case["inputs"]["form"] == "2"
    same(
        assessment_to_data(assess(inputs_from_data(case["inputs"]))),
        {**case["result"], "core_version": CORE_VERSION},
        "result",
    )


def test_the_kept_cases_show_every_verdict() -> None:
    assert {case["result"]["verdict"] for case in KEPT} == set(VERDICTS)
