"""Slips of every core that signed any are read, printed and verified by today's program, with studies or without."""

import copy
import subprocess
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from functools import lru_cache
from pathlib import Path
from typing import Any

import pytest
import rfc8785

from app.metrology import CORE_VERSION
from app.metrology.assessment import assess, assessment_to_data, inputs_from_data, inputs_to_data
from app.slips.document import DENSITIES, page_html, render_slip
from app.slips.opinion import opinion_on
from app.slips.recomputation import recomputed_verdict
from app.slips.signing import sign_slip
from app.slips.verification import verify_slip
from tests.unit.slips.page_words import expected, squeezed
from tests.unit.slips.records import a_record, identity

NEW_IN_FORM_2 = {
    "instrument": ("airflow_tolerance_l_min", "airflow_sensitivity"),
    "conditions": ("crank_step_degrees", "rod_ratio"),
    "rule": ("quantity", "lower_limit", "designated_cylinder", "tolerance_covers_uncertainty"),
}


def of_core_2_0() -> dict[str, Any]:
    """Signed before flow and gauge studies fed into a budget: form 2, without their entries."""
    record = copy.deepcopy(a_record(8))
    del record["rule"]["overdue_days_allowed"], record["instrument"]["calibration"]["overdue_days"]
    observed = record["inputs"]["observations"]
    del observed["reproducibility"]
    del observed["instrument"]["airflow_sensitivity_standard_uncertainty"]
    record["inputs"]["form"] = "2"
    record["slip"]["core_version"] = record["result"]["core_version"] = "2.0"
    record["second_opinion"] = opinion_on(rfc8785.dumps(record["inputs"]).decode())
    return record


def of_core_1_0() -> dict[str, Any]:
    """Signed when acoustic resonance was all there was: form 1, every cylinder judged alone, no simulation."""
    record = of_core_2_0()
    inputs, result = record["inputs"], record["result"]
    observed = inputs.pop("observations")
    del inputs["method"], observed["checks"], record["second_opinion"]
    inputs |= {**observed, "form": "1"}
    for part, names in NEW_IN_FORM_2.items():
        for name in names:
            del inputs[part][name]
    for name in NEW_IN_FORM_2["rule"][1:]:
        del record["rule"][name]
    for name in ("side", "rejection_factor", "acceptance_factor", "judged", "engine_conformance_probability"):
        del result[name]
    for one in (*result["results"], result["decided"]):
        del one["budget"]["half_width"]
    record["slip"]["core_version"] = result["core_version"] = "1.0"
    return record


def with_studies() -> dict[str, Any]:
    """Of today's core: a flow study with the uncertainty of its slope, and a gauge study of few inspectors."""
    record = copy.deepcopy(a_record(8))
    inputs = inputs_from_data(record["inputs"])
    observed = inputs.observations
    instrument = replace(
        observed.instrument,
        airflow_tolerance_l_min=0.2,
        airflow_sensitivity=-0.06,
        airflow_sensitivity_standard_uncertainty=0.02,
    )
    inputs = replace(inputs, observations=replace(observed, instrument=instrument, reproducibility=(0.03, 2.4)))
    record["inputs"], record["result"] = inputs_to_data(inputs), assessment_to_data(assess(inputs))
    record["second_opinion"] = opinion_on(rfc8785.dumps(record["inputs"]).decode())
    return record


RECORDS: dict[str, Callable[[], dict[str, Any]]] = {"1.0": of_core_1_0, "2.0": of_core_2_0, CORE_VERSION: with_studies}


@lru_cache(maxsize=len(RECORDS))
def rendered(version: str) -> tuple[dict[str, Any], bytes]:
    record = RECORDS[version]()
    return record, render_slip(record)


@pytest.mark.parametrize("version", RECORDS)
def test_a_slip_of_every_core_verifies_and_says_which_core_comes_to_the_same_verdict(version: str) -> None:
    record, pdf = rendered(version)
    keys = identity()
    signed = sign_slip(
        pdf, keys["private_key"], keys["certificate"], keys["authority"],
        name=record["inspector"]["name"], reason="Slip", signed_at=datetime(2026, 5, 2, 13, 52, 30, tzinfo=UTC),
    )  # fmt: skip
    found = verify_slip(signed, keys["authority"])
    assert found.genuine, found.broken
    today = "Yes: worked out again from the readings, every figure and the verdict are the same."
    earlier = f"Yes: version {CORE_VERSION} of the method comes to the same verdict as version {version} did then."
    assert recomputed_verdict(record).sentence == (today if version == CORE_VERSION else earlier)


@pytest.mark.parametrize("version", ["2.0", CORE_VERSION])
def test_a_slip_of_every_core_that_draws_prints_each_field_of_its_record(version: str, tmp_path: Path) -> None:
    record, pdf = rendered(version)
    (tmp_path / "slip.pdf").write_bytes(pdf)
    done = subprocess.run(["pdftotext", "-raw", tmp_path / "slip.pdf", "-"], check=True, capture_output=True, text=True)
    assert [words for words in expected(record) if squeezed(words) not in squeezed(done.stdout)] == []
    lines = [part["label"] for part in record["result"]["decided"]["budget"]["components"]]
    studied = ["reproducibility (between inspectors)", "sensitivity to the airflow"]
    assert [line for line in studied if line in lines] == (studied if version == CORE_VERSION else [])


def test_a_slip_of_core_2_0_prints_as_today_s_but_for_the_version() -> None:
    then, now = of_core_2_0(), copy.deepcopy(a_record(8))
    now["second_opinion"] = then["second_opinion"]  # the seed follows from the frozen inputs, which have another form
    pages = [page_html(record, DENSITIES[0]) for record in (then, now)]
    assert f"method version {CORE_VERSION}" in pages[1]
    assert pages[0] == pages[1].replace(f"method version {CORE_VERSION}", "method version 2.0")


def test_a_slip_whose_study_was_changed_after_the_verdict_is_reported() -> None:
    record = with_studies()
    record["inputs"]["observations"]["reproducibility"] = ["0.01", "2.4"]
    assert recomputed_verdict(record).holds is False
