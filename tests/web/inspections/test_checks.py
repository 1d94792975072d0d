"""What is done about a suspicion: noted beside it, it settles it or confirms it, and never leaves the record."""

from typing import Any
from uuid import UUID

import httpx
import pytest
from sqlalchemy import select

from app.audit import LogEntry
from app.metrology.assessment import inputs_from_data
from app.metrology.inputs import AcousticObservations, CylinderCheck
from tests import builders
from tests.conftest import Logbook, an_id

LEAKING = [["10.31"], ["10.28"], ["10.30"], ["8.90"], ["10.29"], ["10.30"], ["10.32"], ["10.31"]]
OBSTRUCTED = [["10.31"], ["10.28"], ["11.90"], ["10.30"], ["10.29"], ["10.30"], ["10.32"], ["10.31"]]
LEAK_DOWN = {"cylinder": 4, "check": "leak_down", "leak_percent": "6", "pressure": "7 bar", "note": "Hiss at the rings"}
REFITTED = {"cylinder": 3, "check": "refitted"}


@pytest.fixture
def sheet(logbook: Logbook) -> UUID:
    return builders.a_whole_season(logbook)


@pytest.fixture
def leaking(logbook: Logbook, sheet: UUID) -> UUID:
    builders.readings(logbook, sheet, LEAKING)
    return sheet


def noted(book: Logbook, sheet: UUID, body: dict[str, Any], name: str = "check") -> dict[str, Any]:
    return builders.put(book.client("inspector"), f"/inspections/{sheet}/checks/{an_id(name)}", body)


def refused(book: Logbook, sheet: UUID, body: dict[str, Any]) -> httpx.Response:
    answer = book.client("inspector").put(f"/api/inspections/{sheet}/checks/{an_id('refused')}", json=body)
    assert answer.status_code == 422
    return answer


def measured_again(book: Logbook, sheet: UUID, cylinder: int, replaces: str, shown: str, name: str) -> None:
    body = {"cylinder": cylinder, "indications": [shown], "replaces_id": replaces, "reason": "Adapter refitted"}
    builders.put(book.client("inspector"), f"/inspections/{sheet}/readings/{an_id(name)}", body)


def test_a_sound_leak_down_test_settles_the_suspicion_and_the_figure_stands(logbook: Logbook, leaking: UUID) -> None:
    before = logbook.client("inspector").get(f"/api/inspections/{leaking}").json()
    assert (before["assessment"]["verdict"], before["suspicions"][0]["settled_by"]) == ("inconclusive", "")
    assert before["suspicions"][0]["needs"] == "leak_down"
    after = noted(logbook, leaking, LEAK_DOWN)
    assert after["assessment"]["verdict"] == "conforming"
    (suspicion,) = after["suspicions"]
    assert "A leak-down test showed 6 %" in suspicion["settled_by"]
    assert suspicion["check"] == after["checks"][0]
    assert suspicion["check"]["made_by"] == "Ines Tarn"
    assert suspicion["check"]["made_at"] == "2026-05-02T09:00:00Z"
    assert suspicion["check"]["pressure_kpa"] == "700"
    assert suspicion["check"]["counts"] is True


def test_a_leak_down_test_that_shows_a_leak_keeps_the_engine_from_conforming(logbook: Logbook, leaking: UUID) -> None:
    after = noted(logbook, leaking, {**LEAK_DOWN, "leak_percent": "35"})
    assert after["assessment"]["verdict"] == "inconclusive"
    assert "35 %: this cylinder leaks" in after["suspicions"][0]["seen"]
    assert after["suspicions"][0]["settled_by"] == ""
    assert after["suspicions"][0]["check"]["leak_percent"] == "35"


def test_the_latest_of_two_tests_counts_and_both_stay(logbook: Logbook, leaking: UUID) -> None:
    noted(logbook, leaking, {**LEAK_DOWN, "leak_percent": "60"}, "typed wrong")
    after = noted(logbook, leaking, LEAK_DOWN, "typed right")
    assert [(one["leak_percent"], one["counts"]) for one in after["checks"]] == [("60", False), ("6", True)]
    assert after["assessment"]["verdict"] == "conforming"
    shown = logbook.client("inspector").get(f"/inspections/{leaking}").text
    assert "60 % at 7 bar (101.5 psi)" in shown
    assert shown.count("A later check or reading took its place.") == 1


def test_a_check_sent_twice_is_one_check_and_another_body_is_a_conflict(logbook: Logbook, leaking: UUID) -> None:
    inspector, address = logbook.client("inspector"), f"/api/inspections/{leaking}/checks/{an_id('twice')}"
    first, again = (inspector.put(address, json=LEAK_DOWN) for _ in range(2))
    other = inspector.put(address, json={**LEAK_DOWN, "leak_percent": "7"})
    assert (first.status_code, again.status_code, other.status_code) == (200, 200, 409)
    assert first.json() == again.json()
    assert [one["leak_percent"] for one in inspector.get(f"/api/inspections/{leaking}").json()["checks"]] == ["6"]


def test_the_id_of_a_check_on_one_sheet_names_none_on_another(logbook: Logbook, leaking: UUID) -> None:
    noted(logbook, leaking, LEAK_DOWN, "here")
    other = builders.a_sheet(logbook, builders.an_entry(logbook, "42"))
    answer = logbook.client("inspector").put(f"/api/inspections/{other}/checks/{an_id('here')}", json=LEAK_DOWN)
    assert answer.status_code == 409


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"leak_percent": None}, "leak_percent", "Write the percentage"),
        ({"pressure": None}, "pressure", "Write the pressure that the tester was set to"),
        ({"leak_percent": "101"}, "leak_percent", "outside 0 to 100"),
        ({"leak_percent": "-1"}, "leak_percent", "outside 0 to 100"),
        ({"leak_percent": "nan"}, "leak_percent", "“nan” is not a number"),
        ({"leak_percent": "inf"}, "leak_percent", "“inf” is not a number"),
        ({"leak_percent": "9" * 100_000}, "leak_percent", "far too many digits"),
        ({"leak_percent": "1e1"}, "leak_percent", "“1e1” is not a number"),
        ({"pressure": "0"}, "pressure", "outside 0.2 bar to 15 bar"),
        ({"pressure": "700"}, "pressure", "A test pressure of 700 bar is outside"),
        ({"pressure": "100 inHg"}, "pressure", "is not a unit of pressure known here. Write bar or psi."),
        ({"cylinder": 9}, "cylinder", "there is no cylinder 9"),
        ({"cylinder": 0}, "cylinder", "at least 1"),
        ({"check": "listened"}, "check", "must be one of"),
        ({"note": "x" * 401}, "note", "at most 400"),
    ],
)
def test_a_check_that_cannot_be_is_refused_in_words(
    logbook: Logbook, leaking: UUID, changed: dict[str, object], field: str, words: str
) -> None:
    answer = refused(logbook, leaking, {**LEAK_DOWN, **changed})
    assert words in answer.json()["errors"][field]
    assert logbook.client("inspector").get(f"/api/inspections/{leaking}").json()["checks"] == []


def test_pressure_without_a_unit_is_bar_or_psi_as_the_person_has_it(logbook: Logbook, leaking: UUID) -> None:
    assert noted(logbook, leaking, {**LEAK_DOWN, "pressure": "7"})["checks"][0]["pressure_kpa"] == "700"
    psi = noted(logbook, leaking, {**LEAK_DOWN, "pressure": "100 psi"}, "in psi")["checks"][1]["pressure_kpa"]
    assert float(psi) == pytest.approx(689.476, abs=0.001)


def test_an_obstruction_is_settled_by_measuring_again_refitted_and_only_then(logbook: Logbook, sheet: UUID) -> None:
    view = builders.readings(logbook, sheet, OBSTRUCTED)
    assert view["suspicions"][0]["needs"] == "refitted"
    early = refused(logbook, sheet, REFITTED)
    assert "Measure cylinder 3 again first" in early.json()["errors"]["check"]
    measured_again(logbook, sheet, 3, view["rows"][2]["reading"]["id"], "11.89", "again")
    with_percent = refused(logbook, sheet, {**REFITTED, "leak_percent": "6", "pressure": "7"})
    assert set(with_percent.json()["errors"]) == {"leak_percent", "pressure"}
    after = noted(logbook, sheet, REFITTED)
    assert "refitted and measured again: the figure stands" in after["suspicions"][0]["settled_by"]
    assert after["assessment"]["verdict"] == "nonconforming"


def test_a_refitted_adapter_does_not_speak_for_a_reading_taken_later(logbook: Logbook, sheet: UUID) -> None:
    view = builders.readings(logbook, sheet, OBSTRUCTED)
    measured_again(logbook, sheet, 3, view["rows"][2]["reading"]["id"], "11.89", "again")
    noted(logbook, sheet, REFITTED)
    measured_again(logbook, sheet, 3, str(an_id("again")), "11.95", "third")
    after = logbook.client("inspector").get(f"/api/inspections/{sheet}").json()
    assert after["suspicions"][0]["settled_by"] == ""
    assert after["suspicions"][0]["check"] is None
    assert after["checks"][0]["counts"] is False


def test_a_cylinder_that_was_not_measured_cannot_have_been_measured_again(logbook: Logbook, sheet: UUID) -> None:
    view = builders.readings(logbook, sheet, OBSTRUCTED)
    gone = {"cylinder": 3, "not_measured_reason": "Plug seized", "reason": "Typing error"}
    body = {**gone, "replaces_id": view["rows"][2]["reading"]["id"]}
    builders.put(logbook.client("inspector"), f"/inspections/{sheet}/readings/{an_id('none')}", body)
    assert "check" in refused(logbook, sheet, REFITTED).json()["errors"]


def test_after_the_signature_nothing_more_is_taken_and_the_checks_are_frozen(logbook: Logbook, leaking: UUID) -> None:
    noted(logbook, leaking, LEAK_DOWN)
    builders.signed(logbook, leaking)
    inspector = logbook.client("inspector")
    late = inspector.put(f"/api/inspections/{leaking}/checks/{an_id('late')}", json=LEAK_DOWN)
    assert late.status_code == 409
    assert "stays as it is" in late.json()["detail"]
    shown = inspector.get(f"/inspections/{leaking}").text
    assert "Keep this check" not in shown
    assert "6 % at 7 bar (101.5 psi)" in shown
    record = inspector.get(f"/api/slips/{an_id(f'slip {leaking}')}/record").json()
    observed = inputs_from_data(record["inputs"]).observations
    assert isinstance(observed, AcousticObservations)
    assert observed.checks == (CylinderCheck(4, "leak_down", 6.0),)
    assert "<b>Settled:</b>" in logbook.client("official").get(f"/records/{leaking}").text


def test_a_check_is_logged_with_who_made_it(logbook: Logbook, leaking: UUID) -> None:
    noted(logbook, leaking, LEAK_DOWN)
    with logbook.database.read() as session:
        entry = session.scalars(select(LogEntry).where(LogEntry.action == "cylinder checked")).one()
        assert (entry.actor, entry.subject) == ("Ines Tarn", leaking)
        for said in ('"leak_percent":"6"', '"pressure":"700"', '"done":"Leak-down test"', '"cylinder":4', "Hiss"):
            assert said in entry.entry


# ---- the pages ---------------------------------------------------------------------------------------------------


def form(**typed: str) -> dict[str, str]:
    named = {f"check-4-leak_down-{name}": text for name, text in typed.items()}
    return {"cylinder": "4", "check": "leak_down", "back": "", **named}


@pytest.mark.parametrize("address", ["", "/verdict"])
def test_each_open_suspicion_has_its_form_and_its_cautions_beside_it(
    logbook: Logbook, leaking: UUID, address: str
) -> None:
    shown = logbook.client("inspector").get(f"/inspections/{leaking}{address}").text
    assert shown.count("Keep this check") == 1
    for caution in ("ignition off", "fuel vapour cleared out", "compressed air turns it", "Local rules come first"):
        assert caution in shown
    official = logbook.client("official").get(f"/inspections/{leaking}{address}").text
    assert "Look for:" in official
    assert "Keep this check" not in official


def test_two_suspicions_that_one_check_settles_ask_for_it_once(logbook: Logbook, sheet: UUID) -> None:
    figures = [["10.31"], ["10.28"], ["10.30"], ["8.95", "8.85", "8.60"], *LEAKING[4:]]
    view = builders.readings(logbook, sheet, figures)
    assert [one["kind"] for one in view["suspicions"]] == ["low_cylinder", "sinking_repeats"]
    assert logbook.client("inspector").get(f"/inspections/{sheet}").text.count("Keep this check") == 1
    assert all(one["settled_by"] for one in noted(logbook, sheet, LEAK_DOWN)["suspicions"])


@pytest.mark.parametrize(("back", "address"), [("", ""), ("verdict", "/verdict"), ("//elsewhere", "")])
def test_a_check_from_a_page_leads_back_to_it(logbook: Logbook, leaking: UUID, back: str, address: str) -> None:
    typed = {**form(leak_percent="6", pressure="100 psi", note="Rings"), "back": back}
    answer = logbook.client("inspector").post(f"/inspections/{leaking}/checks/{an_id('posted')}", data=typed)
    assert answer.status_code == 303
    assert answer.headers["location"] == f"/inspections/{leaking}{address}?done=check-noted"
    shown = logbook.client("inspector").get(answer.headers["location"]).text
    assert "Settled:" in shown
    assert "6 % at 6.89 bar (100 psi). “Rings”" in shown
    assert "The check is noted beside the suspicion." in shown
    assert "Note a leak-down test, once more" in shown


def test_a_refused_check_comes_back_open_with_all_that_was_typed(logbook: Logbook, leaking: UUID) -> None:
    typed = form(leak_percent="6O", pressure="7 baar", note="Rings & valves")
    answer = logbook.client("inspector").post(f"/inspections/{leaking}/checks/{an_id('typed')}", data=typed)
    assert answer.status_code == 422
    assert f'action="/inspections/{leaking}/checks/{an_id("typed")}"' in answer.text
    assert '<details class="check" open>' in answer.text
    for text in ('value="6O"', 'value="7 baar"', 'value="Rings &amp; valves"'):
        assert text in answer.text
    for field in ("leak_percent", "pressure"):
        assert f'href="#f-check-4-leak_down-{field}"' in answer.text
        assert f'id="f-check-4-leak_down-{field}"' in answer.text


def test_refitted_too_early_says_so_in_the_form(logbook: Logbook, sheet: UUID) -> None:
    builders.readings(logbook, sheet, OBSTRUCTED)
    typed = {"cylinder": "3", "check": "refitted", "back": "", "check-3-refitted-note": "Looked clear"}
    answer = logbook.client("inspector").post(f"/inspections/{sheet}/checks/{an_id('early')}", data=typed)
    assert answer.status_code == 422
    assert 'href="#f-check-3-refitted-note"' in answer.text
    assert "Measure cylinder 3 again first" in answer.text


def test_a_check_of_nothing_at_all_is_refused_without_a_stumble(logbook: Logbook, leaking: UUID) -> None:
    answer = logbook.client("inspector").post(f"/inspections/{leaking}/checks/{an_id('nothing')}", data={})
    assert answer.status_code == 422
    assert "Problem:" in answer.text
