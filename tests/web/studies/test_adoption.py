"""What an official adopts stands in every budget from then on; signed verdicts stay as they are."""

import json
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import select

from app.inspections.comparing import sheets_of_entry
from app.inspections.models import Verdict
from app.metrology.agreement import StatedResult, compare, covariance_of
from app.studies.service import Adopted, adopted
from tests.builders import CLASS, INSTRUMENT, a_class, a_sheet, an_entry, put, readings, signed, verify
from tests.conftest import Logbook, an_id
from tests.web.studies.gauges import (
    FLOW,
    STUDY,
    a_complete_study,
    a_flow_study,
    a_study,
    adopt,
    ready,
)

PEAKS = ["10.31", "10.28", "10.30", "10.33", "10.29", "10.30", "10.32", "10.31"]


def budget(book: Logbook, sheet: UUID) -> dict[str, dict[str, Any]]:
    view = book.client("inspector").get(f"/api/inspections/{sheet}").json()
    return {one["name"]: one for one in view["assessment"]["decided"]["budget"]["components"]}


def a_measured_sheet(book: Logbook, car: str = "41") -> UUID:
    sheet = a_sheet(book, an_entry(book, car))
    readings(book, sheet, [[shown] for shown in PEAKS])
    return sheet


def frozen(book: Logbook, sheet: UUID) -> dict[str, Any]:
    with book.database.read() as session:
        row = session.scalars(select(Verdict).where(Verdict.inspection_id == sheet)).one()
        found: dict[str, Any] = json.loads(row.inputs)["observations"]
    return found


def test_an_adopted_gauge_study_stands_in_the_budget_of_every_open_sheet(logbook: Logbook) -> None:
    view = a_complete_study(logbook)
    verify(logbook)
    sheet = a_measured_sheet(logbook)
    before = budget(logbook, sheet)
    assert "reproducibility" not in before
    assert "history on its reference volumes" in before["repeatability"]["source"]
    adopt(logbook)
    after, kept = budget(logbook, sheet), view["result"]["for_budget"]
    assert float(after["reproducibility"]["standard_uncertainty"]) == pytest.approx(float(kept["reproducibility"]))
    assert "between inspectors" in after["reproducibility"]["label"]
    assert float(after["repeatability"]["standard_uncertainty"]) == pytest.approx(float(kept["repeatability"]))
    assert "gauge study adopted" in after["repeatability"]["source"]
    assert "history" not in after["repeatability"]["source"]
    shown = logbook.client("inspector").get(f"/inspections/{sheet}/verdict").text
    assert "between inspectors" in shown
    with logbook.database.read() as session:
        assert adopted(session, INSTRUMENT) == Adopted(
            (float(kept["repeatability"]), float(kept["repeatability_dof"])),
            (float(kept["reproducibility"]), float(kept["reproducibility_dof"])),
        )


def test_a_verdict_freezes_what_was_adopted_and_slip_and_record_name_the_source(logbook: Logbook) -> None:
    view = a_complete_study(logbook)
    verify(logbook)
    earlier, later = a_measured_sheet(logbook), a_measured_sheet(logbook, "42")
    signed(logbook, earlier)
    adopt(logbook)
    slip = signed(logbook, later)
    assert frozen(logbook, earlier)["reproducibility"] is None
    figures = view["result"]["for_budget"]
    assert frozen(logbook, later)["reproducibility"] == [figures["reproducibility"], figures["reproducibility_dof"]]
    assert frozen(logbook, later)["repeatability"] == [figures["repeatability"], figures["repeatability_dof"]]
    record = logbook.client("inspector").get(f"/api/slips/{slip['id']}/record").text
    assert "reproducibility (between inspectors)" in record
    assert "the gauge study adopted for this instrument" in record
    assert "between inspectors" in logbook.client("official").get(f"/records/{later}").text
    assert "between inspectors" not in logbook.client("official").get(f"/records/{earlier}").text


def test_an_adopted_flow_study_takes_the_place_of_the_registered_sensitivity(logbook: Logbook) -> None:
    ready(logbook)
    verify(logbook)
    sheet = a_measured_sheet(logbook)
    assert "airflow" not in budget(logbook, sheet)
    view = a_flow_study(logbook)
    adopt(logbook, "flow", FLOW)
    signed(logbook, sheet)
    instrument = frozen(logbook, sheet)["instrument"]
    assert instrument["airflow_sensitivity"] == repr(view["sensitivity"])
    assert instrument["airflow_sensitivity_standard_uncertainty"] == repr(view["standard_uncertainty"])
    assert {"airflow", "airflow_sensitivity"} <= set(budget(logbook, sheet))


def test_without_a_study_the_registered_sensitivity_stands(logbook: Logbook) -> None:
    ready(logbook)
    other, volume = an_id("registered"), an_id("its volume")
    known = logbook.client("official").get(f"/api/instruments/{INSTRUMENT}").json()["instrument"]
    kept = ("method", "resolution", "stated_accuracy", "accuracy_meaning", "settable_cylinders")
    body = {**{name: known[name] for name in kept}, "name": "Instrument 9", "serial": "AR-9"}
    body |= {"airflow_set_point": "4.72", "airflow_tolerance": "0.10", "airflow_sensitivity": "0.05"}
    put(
        logbook.client("official"), f"/instruments/{other}", {**body, "displacement_min": 1000, "displacement_max": 9e3}
    )
    mark = {"serial": "RV-9", "mark_low": "11.20", "mark_high": "11.30", "permitted_deviation": "0.05"}
    settings = {"mark_displacement": "5733", "mark_cylinders": 8}
    put(logbook.client("official"), f"/instruments/{other}/reference-volumes/{volume}", {**mark, **settings})
    calibration = {"laboratory": "Northmoor Calibration", "certificate": "NC-9", "deviation": "0.01"}
    calibration |= {"calibrated_on": "2026-02-10", "due_on": "2027-02-10"}
    calibration |= {"expanded_uncertainty": "0.04", "coverage_factor": "2"}
    put(logbook.client("official"), f"/instruments/{other}/calibrations/{an_id('nine')}", calibration)
    verify(logbook, name="of the other", instrument_id=str(other), reference_volume_id=str(volume))
    sheet = a_sheet(logbook, an_entry(logbook, "43"), instrument_id=str(other))
    readings(logbook, sheet, [[shown] for shown in PEAKS])
    signed(logbook, sheet)
    assert frozen(logbook, sheet)["instrument"]["airflow_sensitivity"] == "0.05"
    assert frozen(logbook, sheet)["instrument"]["airflow_sensitivity_standard_uncertainty"] == "0.0"


def test_the_latest_of_a_kind_counts_until_it_is_ended(logbook: Logbook) -> None:
    a_complete_study(logbook)
    adopt(logbook)
    first, second = a_flow_study(logbook), a_flow_study(logbook, an_id("later flow"), points=_steeper())
    adopt(logbook, "flow", FLOW, "flow one")
    found = adopt(logbook, "flow", an_id("later flow"), "flow two")
    assert {one["kind"]: one["study_id"] for one in found["adopted"]} == {
        "gauge": str(STUDY),
        "flow": str(an_id("later flow")),
    }
    with logbook.database.read() as session:
        assert adopted(session, INSTRUMENT).airflow_sensitivity == second["sensitivity"] != first["sensitivity"]
    ended = adopt(logbook, "flow", None, "flow ends")
    assert [one["kind"] for one in ended["adopted"]] == ["gauge"]
    assert adopt(logbook, "gauge", None, "gauge ends")["adopted"] == []
    with logbook.database.read() as session:
        assert adopted(session, INSTRUMENT) == Adopted()
    told = [line["what"] for line in logbook.client("official").get(f"/api/gauge-studies/{STUDY}").json()["happened"]]
    assert told[-2:] == [
        "Gauge study adopted: All of us measure at the finals.",
        "Gauge study no longer adopted: All of us measure at the finals.",
    ]


def _steeper() -> list[dict[str, Any]]:
    flows = (("4.42", "11.09 11.11"), ("4.62", "11.20 11.22"), ("4.82", "11.28 11.30"), ("5.02", "11.39 11.41"))
    return [{"airflow": flow, "indications": text} for flow, text in flows]


def test_what_cannot_be_adopted_is_refused_in_words(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    official, place = logbook.client("official"), f"/api/instruments/{INSTRUMENT}/adoptions/{an_id('adoption')}"
    reason = {"reason": "Because."}
    tries = [
        ({"kind": "gauge", "study_id": str(STUDY)}, 422, "Reason is needed"),
        ({"kind": "gauge", "study_id": str(STUDY), **reason}, 403, "not complete"),
        ({"kind": "flow", "study_id": str(STUDY), **reason}, 422, "Choose a flow study of Instrument 2"),
        ({"kind": "gauge", "study_id": str(FLOW), **reason}, 422, "Choose a gauge study of Instrument 2"),
        ({"kind": "gauge", **reason}, 403, "nothing to end"),
        ({"kind": "other", **reason}, 422, "must be one of"),
    ]
    for body, status, words in tries:
        answer = official.put(place, json=body)
        assert (answer.status_code, words in answer.text) == (status, True), body
    assert logbook.client("inspector").put(place, json={"kind": "gauge", **reason}).status_code == 403


def test_the_same_adoption_sent_twice_is_one(logbook: Logbook) -> None:
    a_complete_study(logbook)
    first = adopt(logbook)
    assert adopt(logbook) == first
    official = logbook.client("official")
    other = {"kind": "gauge", "study_id": str(STUDY), "reason": "Another reason."}
    place = f"/api/instruments/{INSTRUMENT}/adoptions"
    assert official.put(f"{place}/{an_id('adoption')}", json=other).status_code == 409
    again = official.put(f"{place}/{an_id('once more')}", json=other)
    assert (again.status_code, "take this study already" in again.text) == (403, True)


def test_a_plan_is_worked_out_with_what_is_adopted(logbook: Logbook) -> None:
    a_complete_study(logbook)
    verify(logbook)
    official, place = logbook.client("official"), f"/api/classes/{CLASS}/planning"
    before = official.get(place).json()["plan"]
    adopt(logbook)
    after = official.get(place).json()["plan"]
    assert "from its verifications" in before["scatter_words"]
    assert "from the gauge study adopted for it" in after["scatter_words"]
    assert after["standard_uncertainty"] > before["standard_uncertainty"]
    assert "reproducibility (between inspectors)" in [one["label"] for one in after["sources"]]
    assert after["rejection_limit"] > before["rejection_limit"]


def test_pages_keep_the_reason_typed_and_say_what_is_missing(logbook: Logbook) -> None:
    a_complete_study(logbook)
    official = logbook.client("official")
    place = f"/instruments/{INSTRUMENT}/adoptions/{an_id('adoption')}"
    empty = official.post(place, data={"kind": "gauge", "study_id": str(STUDY), "reason": " "})
    assert empty.status_code == 422
    assert "Reason is needed" in empty.text
    assert "Adopt this study" in empty.text
    done = official.post(place, data={"kind": "gauge", "study_id": str(STUDY), "reason": "We all do."})
    assert done.headers["location"] == f"/gauge-studies/{STUDY}?done=study-adopted"
    assert "We all do." in official.get(f"/gauge-studies/{STUDY}").text
    assert "Spring study" in official.get(f"/instruments/{INSTRUMENT}").text
    end = f"/instruments/{INSTRUMENT}/adoptions/gauge/end"
    assert "No longer take" in official.get(end).text
    assert official.get(end.replace("gauge", "flow")).status_code == 404
    refused = official.post(f"/instruments/{INSTRUMENT}/adoptions/{an_id('end')}", data={"kind": "gauge", "reason": ""})
    assert (refused.status_code, "No longer take" in refused.text) == (422, True)
    logbook.clock.advance(minutes=1)
    ended = official.post(
        f"/instruments/{INSTRUMENT}/adoptions/{an_id('end')}", data={"kind": "gauge", "reason": "No."}
    )
    assert ended.headers["location"] == f"/instruments/{INSTRUMENT}/studies?done=adoption-ended"
    assert "Nothing is adopted." in official.get(f"/instruments/{INSTRUMENT}/studies").text


def test_another_instrument_s_study_is_not_adopted(logbook: Logbook) -> None:
    a_complete_study(logbook)
    a_class(logbook)
    known = logbook.client("official").get(f"/api/instruments/{INSTRUMENT}").json()["instrument"]
    kept = ("method", "resolution", "stated_accuracy", "accuracy_meaning", "settable_cylinders")
    body = {**{name: known[name] for name in kept}, "name": "Instrument 9", "serial": "AR-9"}
    body |= {"airflow_set_point": "4.72", "airflow_tolerance": "0.10"}
    other = an_id("other instrument")
    put(
        logbook.client("official"), f"/instruments/{other}", {**body, "displacement_min": 1000, "displacement_max": 9e3}
    )
    answer = logbook.client("official").put(
        f"/api/instruments/{other}/adoptions/{an_id('x')}",
        json={"kind": "gauge", "study_id": str(STUDY), "reason": "Because."},
    )
    assert "of Instrument 9" in answer.json()["errors"]["study_id"]
    adopt(logbook)
    body = {"kind": "gauge", "study_id": str(STUDY), "reason": "All of us measure at the finals."}
    same_id = logbook.client("official").put(f"/api/instruments/{other}/adoptions/{an_id('adoption')}", json=body)
    assert same_id.status_code == 409


def test_two_sheets_by_one_inspector_share_what_that_inspector_does_otherwise(logbook: Logbook) -> None:
    a_complete_study(logbook)
    adopt(logbook)
    verify(logbook)
    first = a_measured_sheet(logbook)
    signed(logbook, first)
    again = {"repeats_id": str(first), "repeat_reason": "To see how well it repeats."}
    entry = an_entry(logbook, "41")
    second = a_sheet(logbook, entry, "again", **again)
    readings(logbook, second, [[shown] for shown in PEAKS])
    signed(logbook, second)
    with logbook.database.read() as session:
        sheets = sheets_of_entry(session, entry)
    hands = f"hands of {an_id('inspector')} with instrument {INSTRUMENT}"
    shared = [sheet.figures[0].contributions[hands] for sheet in sheets]
    assert len(shared) == 2
    assert shared[0] == shared[1] > 0.0
    # what both share is taken off: two like sheets by one person are compared more strictly than their U alone allows
    alone = StatedResult(
        *(getattr(sheets[0].figures[0], name) for name in ("value", "expanded_uncertainty", "coverage_factor"))
    )
    known = covariance_of(sheets[0].figures[0].contributions, sheets[1].figures[0].contributions)
    assert compare(alone, alone, known).allowed < compare(alone, alone, known - shared[0] ** 2).allowed
