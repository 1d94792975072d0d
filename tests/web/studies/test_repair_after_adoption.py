"""After a repair that affects what it shows, adopted studies speak of another instrument, and are passed over."""

from typing import Any

import pytest

from app.studies.service import Adopted, adopted
from tests.builders import INSTRUMENT, a_calibration, verify
from tests.conftest import Logbook, an_id
from tests.web.instruments.sheds import note
from tests.web.studies.gauges import FLOW, STUDY, a_complete_study, a_flow_study, adopt, shown
from tests.web.studies.test_adoption import a_measured_sheet, budget

GAUGE_WORDS = (
    "It is passed over: on 2 May 2026, after it was made, the instrument was repaired so that what it shows may have "
    "changed. Budgets take the scatter of the verifications since then, and no difference between inspectors, until a "
    "new study is made and adopted."
)
FLOW_WORDS = "Budgets take what the airflow does as without a study, until a new study is made and adopted."


@pytest.fixture
def both(logbook: Logbook) -> Logbook:
    a_complete_study(logbook)
    a_flow_study(logbook)
    adopt(logbook)
    adopt(logbook, "flow", FLOW, "flow adoption")
    return logbook


def repaired(book: Logbook, *, affects: bool = True) -> None:
    book.clock.advance(minutes=10)
    note(book, "repair", book.clock().isoformat(), affects=affects)


def taken(book: Logbook) -> Adopted:
    with book.database.read() as session:
        return adopted(session, INSTRUMENT)


def studies(book: Logbook) -> dict[str, Any]:
    found: dict[str, Any] = book.client("official").get(f"/api/instruments/{INSTRUMENT}/studies").json()
    return found


def test_a_repair_that_affects_what_it_shows_passes_over_both_studies(both: Logbook) -> None:
    before = taken(both)
    assert None not in (before.repeatability, before.reproducibility, before.airflow_sensitivity)
    repaired(both)
    assert taken(both) == Adopted()
    told = {one["kind"]: one["passed_over"] for one in studies(both)["adopted"]}
    assert told["gauge"] == GAUGE_WORDS
    assert told["flow"].endswith(FLOW_WORDS)
    assert [(one["state"], one["is_adopted"]) for one in studies(both)["studies"]] == [("Passed over", False)] * 2


def test_an_open_sheet_is_judged_without_what_is_passed_over(both: Logbook) -> None:
    both.clock.advance(minutes=1)
    verify(both)
    sheet = a_measured_sheet(both)
    assert {"reproducibility", "airflow_sensitivity"} <= set(budget(both, sheet))
    repaired(both)
    found = budget(both, sheet)
    assert not {"reproducibility", "airflow_sensitivity"} & set(found)
    assert "gauge study" not in found["repeatability"]["source"]


def test_the_pages_say_that_it_is_passed_over_and_why(both: Logbook) -> None:
    official = both.client("official")
    pages = (f"/gauge-studies/{STUDY}", f"/instruments/{INSTRUMENT}/studies", f"/instruments/{INSTRUMENT}")
    assert all("passed over" not in official.get(page).text for page in (*pages, f"/flow-studies/{FLOW}"))
    assert "adopted; a line of its own in every budget" in official.get(f"/instruments/{INSTRUMENT}").text
    repaired(both)
    assert all(GAUGE_WORDS in official.get(page).text for page in pages)
    for page in (f"/flow-studies/{FLOW}", *pages[1:]):
        assert FLOW_WORDS in official.get(page).text
    assert "every budget of this instrument takes it" not in official.get(f"/gauge-studies/{STUDY}").text
    assert "adopted; a line of its own in every budget" not in official.get(f"/instruments/{INSTRUMENT}").text


def test_a_repair_that_affects_nothing_shown_or_came_before_the_study_leaves_it_in_budgets(both: Logbook) -> None:
    before = taken(both)
    repaired(both, affects=False)
    note(both, "repair", "2026-05-01T09:00:00Z", name="long ago")
    assert taken(both) == before
    assert [one["passed_over"] for one in studies(both)["adopted"]] == ["", ""]


def test_a_correction_after_the_repair_does_not_make_the_study_any_later(logbook: Logbook) -> None:
    a_complete_study(logbook)
    repaired(logbook)
    logbook.clock.advance(minutes=10)
    first = an_id(f"reading {STUDY} inspector 1 1 ")
    body = {"part": 1, "repeat": 1, "indication": shown("inspector", 1, 2)}
    sent = logbook.client("inspector").put(
        f"/api/gauge-studies/{STUDY}/readings/{an_id('corrected')}",
        json={**body, "replaces_id": str(first), "reason": "Typed the wrong digit."},
    )
    assert sent.status_code == 200, sent.text
    refused = logbook.client("official").put(
        f"/api/instruments/{INSTRUMENT}/adoptions/{an_id('late')}",
        json={"kind": "gauge", "study_id": str(STUDY), "reason": "All of us measure at the finals."},
    )
    assert (refused.status_code, refused.json()["detail"]) == (403, GAUGE_WORDS)


def test_adopted_once_more_after_the_repair_it_is_refused_with_the_reason(both: Logbook) -> None:
    repaired(both)
    again = {"kind": "gauge", "study_id": str(STUDY), "reason": "It was a good study."}
    address = f"/api/instruments/{INSTRUMENT}/adoptions/{an_id('again')}"
    refused = both.client("official").put(address, json=again)
    assert (refused.status_code, refused.json()["detail"]) == (403, GAUGE_WORDS)


def test_a_study_made_after_the_repair_takes_its_place(both: Logbook) -> None:
    repaired(both)
    both.clock.advance(minutes=10)
    a_calibration(both, name="after it", calibrated_on="2026-05-02", due_on="2027-05-02")
    later = a_flow_study(both, an_id("flow after it"))
    adopt(both, "flow", an_id("flow after it"), "adopted after it")
    assert taken(both).airflow_sensitivity == later["sensitivity"]
    assert taken(both).repeatability is None
