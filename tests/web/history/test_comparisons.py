"""The record of an engine measured twice says whether the two results agree, by what they share and what not."""

import json
import math
from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import event, select

from app.inspections.comparing import comparisons_of_entry
from app.inspections.models import Inspection, Verdict
from tests import builders
from tests.builders import EVENT, put
from tests.conftest import Logbook, an_id
from tests.web.history.rows import INSIDE, a_result, a_shed, sign
from tests.web.history.test_record import words_of

ENTRY = an_id("entry 41")
OTHER = an_id("instrument 3")


def measured_again(book: Logbook, shown: str, first: UUID, name: str = "again", **changed: Any) -> UUID:
    book.clock.advance(minutes=10)
    again = {"repeats_id": str(first), "repeat_reason": "Second opinion.", "set_displacement": "2866"}
    sheet = builders.a_sheet(book, ENTRY, name, set_cylinders=4, **{**again, **changed})
    builders.readings(book, sheet, [[shown, shown]] * 4)
    sign(book, sheet)
    return sheet


def another_instrument(book: Logbook) -> None:
    official = book.client("official")
    known = official.get(f"/api/instruments/{builders.INSTRUMENT}").json()["instrument"]
    kept = ("method", "resolution", "stated_accuracy", "accuracy_meaning", "settable_cylinders")
    flow = {"airflow_set_point": "4.72", "airflow_tolerance": "0.10", "displacement_min": "1000"}
    named = {"name": "Instrument 3", "serial": "AR-0003", "displacement_max": "9000"}
    put(official, f"/instruments/{OTHER}", {**{name: known[name] for name in kept}, **flow, **named})
    mark = {"serial": "RV-8", "mark_low": "11.20", "mark_high": "11.30", "permitted_deviation": "0.05"}
    held = {"mark_displacement": "5733", "mark_cylinders": 8}
    put(official, f"/instruments/{OTHER}/reference-volumes/{an_id('volume 3')}", {**mark, **held})
    check = {"instrument_id": str(OTHER), "reference_volume_id": str(an_id("volume 3")), "stage": "opening"}
    met = {"indications": ["11.24", "11.25", "11.26"], "airflow": "4.72", "ambient_temperature": "21.0"}
    builders.a_calibration(book, OTHER, " 3")
    asked = {**check, **met, **builders.PROCEDURE}
    put(book.client("inspector"), f"/events/{EVENT}/verifications/{an_id('opening 3')}", asked)


def frozen(book: Logbook, inspection_id: UUID) -> dict[str, Any]:
    with book.database.read() as session:
        text = session.scalars(select(Verdict.result).where(Verdict.inspection_id == inspection_id)).one()
    found: dict[str, Any] = json.loads(text)
    return found


def e_n_of(first: dict[str, Any], second: dict[str, Any], shared: set[str]) -> float:
    """Of cylinder 1, worked out here once more from the frozen budgets."""
    one, other = first["results"][0], second["results"][0]
    parts = [
        {part["name"]: float(part["contribution"]) for part in row["budget"]["components"]} for row in (one, other)
    ]
    own = sum(part[name] ** 2 for part in parts for name in part if name not in shared)
    differing = sum((parts[0][name] - parts[1][name]) ** 2 for name in shared)
    return (float(one["value"]) - float(other["value"])) / (2.0 * math.sqrt(own + differing))


def test_the_record_of_an_engine_measured_once_compares_nothing(logbook: Logbook) -> None:
    a_shed(logbook)
    only = a_result(logbook)
    assert logbook.client("official").get(f"/api/records/{only}").json()["comparisons"] == []
    assert "Do the results agree?" not in logbook.client("official").get(f"/records/{only}").text


def test_two_sheets_by_one_instrument_share_its_accuracy_and_the_declared_geometry(logbook: Logbook) -> None:
    a_shed(logbook)
    first = a_result(logbook, shown=INSIDE)
    second = measured_again(logbook, "10.34", first)
    (found,) = logbook.client("official").get(f"/api/records/{first}").json()["comparisons"]
    assert (found["first"]["label"], found["second"]["label"]) == ("First sheet", "Second sheet")
    assert found["second"]["address"] == f"/records/{second}"
    assert found["first"]["measured_with"] == "Instrument 2, serial AR-0002"
    expected = e_n_of(frozen(logbook, first), frozen(logbook, second), {"stated_accuracy", "bore", "stroke"})
    assert [line["label"] for line in found["figures"]] == [f"Cylinder {number}" for number in (1, 2, 3, 4)]
    assert float(found["figures"][0]["e_n"]) == pytest.approx(abs(expected), abs=0.005)
    assert found["agree"] == (abs(expected) <= 1)


def test_two_instruments_share_the_declared_geometry_only(logbook: Logbook) -> None:
    a_shed(logbook)
    another_instrument(logbook)
    first = a_result(logbook, shown=INSIDE)
    second = measured_again(logbook, "10.34", first, instrument_id=str(OTHER))
    (found,) = logbook.client("official").get(f"/api/records/{second}").json()["comparisons"]
    assert found["second"]["measured_with"] == "Instrument 3, serial AR-0003"
    expected = e_n_of(frozen(logbook, first), frozen(logbook, second), {"bore", "stroke"})
    assert float(found["figures"][0]["e_n"]) == pytest.approx(abs(expected), abs=0.005)
    assert found["agree"]


def test_the_page_says_in_words_whether_they_agree_and_what_to_do(logbook: Logbook) -> None:
    a_shed(logbook)
    first = a_result(logbook, shown=INSIDE)
    second = measured_again(logbook, "10.90", first)
    page = words_of(logbook.client("official").get(f"/records/{second}").text)
    (found,) = logbook.client("official").get(f"/api/records/{second}").json()["comparisons"]
    assert "Do the results agree?" in page
    assert found["sentence"] in page
    assert found["sentence"].startswith("4 of 4 figures do not agree: cylinder 1, cylinder 2, cylinder 3, cylinder 4.")
    assert "look for what differed between them" in page
    assert "the same instrument again" in page


def test_a_competitor_is_not_shown_comparisons(logbook: Logbook) -> None:
    a_shed(logbook)
    first = a_result(logbook)
    measured_again(logbook, "10.34", first)
    assert "comparisons" not in logbook.client("competitor").get(f"/api/my-record/{first}").json()


def test_a_mean_is_compared_beside_the_cylinders(logbook: Logbook) -> None:
    builders.a_class(logbook, applies_to="mean_of_cylinders")
    builders.an_instrument(logbook)
    builders.verify(logbook)
    first = a_result(logbook)
    measured_again(logbook, "10.34", first)
    (found,) = logbook.client("official").get(f"/api/records/{first}").json()["comparisons"]
    assert [line["label"] for line in found["figures"]][-1] == "Mean of the cylinders"


def test_many_sheets_of_one_entry_take_two_statements(logbook: Logbook) -> None:
    a_shed(logbook)
    first = a_result(logbook)
    for number in range(6):
        measured_again(logbook, f"10.3{number}", first, f"again {number}")
    sent: list[str] = []
    with logbook.database.read() as session:
        event.listen(
            logbook.database.engine,
            "before_cursor_execute",
            lambda _connection, _cursor, said, *_more: sent.append(said),
        )
        found = comparisons_of_entry(session, ENTRY)
    assert len([said for said in sent if said.startswith("SELECT")]) == 2  # the sheets, and who read them
    assert len(found) == 21
    assert {view.second.label for view in found} == {
        "Second sheet", "Third sheet", "Fourth sheet", "Fifth sheet", "Sixth sheet", "Sheet 7",
    }  # fmt: skip


def test_only_signed_sheets_of_this_entry_are_compared(logbook: Logbook) -> None:
    a_shed(logbook)
    first = a_result(logbook)
    a_result(logbook, "12", "rival")
    builders.a_sheet(logbook, ENTRY, "open", set_displacement="2866", set_cylinders=4)
    with logbook.database.read() as session:
        assert len(session.scalars(select(Inspection)).all()) == 3
        assert comparisons_of_entry(session, ENTRY) == []
    assert logbook.client("official").get(f"/api/records/{first}").status_code == 200
