"""What happens to a bench sheet that is not there, or that today's core takes no more."""

import json

from sqlalchemy import text, update

from app.bench_sheets.models import BenchObservation
from app.bench_sheets.recomputing import recompute_bench_sheets
from tests.conftest import PIN, Logbook, an_id
from tests.web.bench_sheets import benches


def test_a_sheet_that_is_not_there_is_said_not_to_be(logbook: Logbook) -> None:
    inspector = logbook.client("inspector")
    nowhere = f"/bench-sheets/{an_id('nowhere')}"
    signing = {"observation_id": str(an_id("o")), "pin": PIN}
    answers = [
        inspector.get(nowhere),
        inspector.post(f"{nowhere}/observations/{an_id('o')}", data={"units": "metric"}),
        inspector.post(f"{nowhere}/sign-off/{an_id('v')}", data=signing),
    ]
    assert [answer.status_code for answer in answers] == [404, 404, 404]
    assert all("no such bench sheet" in answer.text for answer in answers)


def test_a_form_that_names_no_entry_is_refused_in_words(logbook: Logbook) -> None:
    answer = logbook.client("inspector").post(f"/bench-sheets/{an_id('s')}", data={"method": "teardown"})
    assert answer.status_code == 422
    assert "needed" in answer.text


def test_observations_that_the_core_takes_no_more_are_shown_with_its_sentence_and_not_signed(
    logbook: Logbook,
) -> None:
    sheet = benches.a_bench_sheet(logbook, benches.an_engine(logbook))
    seen = benches.filled(logbook, sheet, benches.poured())["observation"]
    earlier_core = json.dumps({**seen["observations"], "crank_within_deg": "45.0"})
    with logbook.database.write() as session:
        session.execute(update(BenchObservation).values(observations=earlier_core))
    inspector = logbook.client("inspector")
    view = inspector.get(f"/api/bench-sheets/{sheet}").json()
    assert view["assessment"] is None
    assert "degrees either way" in view["assessment_problem"]
    shown = inspector.get(f"/bench-sheets/{sheet}").text
    assert "degrees either way" in shown
    assert f'href="/bench-sheets/{sheet}/observations"' in shown
    address = f"/api/bench-sheets/{sheet}/sign-off/{an_id('v')}"
    refused = inspector.put(address, json={"observation_id": seen["id"], "pin": PIN})
    assert refused.status_code == 403
    assert "degrees either way" in refused.json()["detail"]


def test_a_logbook_from_before_there_were_bench_sheets_has_none_to_work_out(logbook: Logbook) -> None:
    with logbook.database.write() as session:
        session.execute(text("DROP TABLE bench_verdict"))
    assert list(recompute_bench_sheets(logbook.database)) == []
