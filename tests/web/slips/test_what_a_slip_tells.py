"""What a steward reads beside the figures: whatever moved them stays told, and the calibration is weighed."""

import json
from uuid import UUID

import pytest

from tests import builders
from tests.conftest import Logbook, an_id

EIGHT = [["10.31"], ["10.28"], ["10.30"], ["10.33"], ["10.29"], ["10.30"], ["10.32"], ["10.31"]]


@pytest.fixture
def sheet(logbook: Logbook) -> UUID:
    sheet = builders.a_whole_season(logbook)
    builders.readings(logbook, sheet, EIGHT)
    return sheet


def test_conditions_corrected_since_stand_on_the_slip_with_the_reason(logbook: Logbook, sheet: UUID) -> None:
    inspector = logbook.client("inspector")
    first = inspector.get(f"/api/inspections/{sheet}").json()["conditions"]["id"]
    corrected = {**builders.conditions(gas_temperature="28.0"), "replaces_id": first, "reason": "Probe had not settled"}
    builders.put(inspector, f"/inspections/{sheet}/conditions/{an_id('settled')}", corrected)
    slip = builders.signed(logbook, sheet)
    (told,) = inspector.get(f"/api/slips/{slip['id']}/record").json()["conditions"]["set_aside"]
    assert told == {
        "set_displacement_cm3": "5733",
        "set_cylinders": "8",
        "set_gas_temperature_c": "24",
        "gas_temperature_c": "24",
        "temperature_source": "thermometer_in_chamber",
        "airflow_l_min": "4.72",
        "reason": "Probe had not settled",
    }


def test_a_second_measurement_names_the_slip_before_it_and_why(logbook: Logbook, sheet: UUID) -> None:
    inspector = logbook.client("inspector")
    first = builders.signed(logbook, sheet)
    entry = UUID(inspector.get(f"/api/inspections/{sheet}").json()["entry"]["id"])
    again = builders.a_sheet(logbook, entry, "again", repeats_id=str(sheet), repeat_reason="The steward asked for it")
    builders.readings(logbook, again, EIGHT)
    second = builders.signed(logbook, again)
    records = [inspector.get(f"/api/slips/{slip['id']}/record").json() for slip in (first, second)]
    assert records[0]["earlier"] is None
    assert records[1]["earlier"]["slip"] == first["number"]
    assert records[1]["earlier"]["verdict"] == "conforming"
    assert records[1]["earlier"]["decided_at"] == records[0]["decided_at"]
    assert records[1]["earlier"]["reason"] == "The steward asked for it"


def test_the_calibration_in_force_is_frozen_with_the_verdict(logbook: Logbook, sheet: UUID) -> None:
    record = logbook.client("inspector").get(f"/api/slips/{builders.signed(logbook, sheet)['id']}/record").json()
    assert record["inputs"]["observations"]["instrument"]["calibration"] == {
        "certificate": "NC-2026-118",
        "deviation": "0.01",
        "expanded_uncertainty": "0.04",
        "coverage_factor": "2.0",
    }


def test_a_calibration_that_refutes_the_stated_accuracy_widens_every_interval(logbook: Logbook, sheet: UUID) -> None:
    inspector = logbook.client("inspector")
    before = inspector.get(f"/api/inspections/{sheet}").json()["assessment"]["decided"]
    found = {
        "laboratory": "Northmoor Calibration", "certificate": "NC-2026-240", "calibrated_on": "2026-03-01",
        "due_on": "2027-03-01", "deviation": "-0.16", "expanded_uncertainty": "0.06", "coverage_factor": "3",
    }  # fmt: skip
    address = f"/instruments/{builders.INSTRUMENT}/calibrations/{an_id('refuted')}"
    builders.put(logbook.client("official"), address, found)
    after = inspector.get(f"/api/inspections/{sheet}").json()["assessment"]["decided"]
    part = next(part for part in after["budget"]["components"] if part["name"] == "stated_accuracy")
    assert float(part["standard_uncertainty"]) == pytest.approx(0.20 / 3**0.5)
    assert "goes beyond the accuracy stated" in part["source"]
    assert float(after["expanded_uncertainty"]) > 1.5 * float(before["expanded_uncertainty"])


def test_a_slip_whose_calibration_is_not_the_one_judged_with_is_not_believed(logbook: Logbook, sheet: UUID) -> None:
    from app.slips.recomputation import recomputed_verdict

    record = logbook.client("inspector").get(f"/api/slips/{builders.signed(logbook, sheet)['id']}/record").json()
    assert recomputed_verdict(record).holds
    other = json.loads(json.dumps(record))
    other["instrument"]["calibration"]["deviation"] = "0.00"
    assert recomputed_verdict(other).holds is False
    assert "another calibration than the slip shows" in recomputed_verdict(other).sentence
