"""The flow study: a slope with its uncertainty from the reference volume, and never a verification."""

from typing import Any
from uuid import UUID

import pytest

from app.metrology.studies.flow import FlowPoint, flow_study
from app.studies.flow import not_verified_since
from tests.builders import EVENT, INSTRUMENT, VOLUME, a_sheet, an_entry, conditions, put, verify
from tests.conftest import Logbook, an_id
from tests.web.studies.gauges import FLOW, FLOWS, a_flow_study, flow_body, ready

PLACE = f"/api/flow-studies/{FLOW}"
PAGE = f"/flow-studies/{FLOW}"


def in_the_core() -> Any:
    points = [FlowPoint(float(flow), tuple(float(one) for one in text.split())) for flow, text in FLOWS]
    return flow_study(points, 4.72, 0.01)


def test_the_slope_is_the_core_s(logbook: Logbook) -> None:
    ready(logbook)
    view, found = a_flow_study(logbook), in_the_core()
    assert (view["sensitivity"], view["standard_uncertainty"]) == (found.sensitivity, found.standard_uncertainty)
    assert view["expanded_uncertainty"] == found.expanded_uncertainty
    assert (view["shape"], view["curve"]) == ("straight", [])
    assert view["points"][0] == {"airflow_l_min": "4.42", "indications": ["11.19", "11.21"], "mean": 11.2}
    first, last = view["line"][0], view["line"][-1]
    assert (first[0], last[0]) == (4.42, pytest.approx(5.02))
    assert (last[1] - first[1]) / (last[0] - first[0]) == pytest.approx(found.sensitivity)
    assert first[2] > view["line"][20][2]
    assert a_flow_study(logbook) == view
    assert logbook.client("inspector").put(PLACE, json=flow_body(note="other")).status_code == 409


def test_a_curve_is_drawn_through_what_was_read_and_said(logbook: Logbook) -> None:
    ready(logbook)
    points = [
        {
            "airflow": f"{4.72 + off:.2f}",
            "indications": [f"{11.25 + 0.5 * off * off + more:.3f}" for more in (0, 0.001)],
        }
        for off in (-0.4, -0.2, 0.0, 0.2, 0.4)
    ]
    view = a_flow_study(logbook, points=points)
    assert view["shape"] == "curved"
    at = {round(flow, 3): ratio for flow, ratio in view["curve"]}
    assert at[4.72] == pytest.approx(11.2505, abs=2e-4)
    assert at[5.12] == pytest.approx(11.3305, abs=2e-4)
    assert "curved" in logbook.client("official").get(PAGE).text


def test_it_counts_as_no_verification_and_asks_for_one(logbook: Logbook) -> None:
    ready(logbook)
    verify(logbook)
    logbook.clock.advance(minutes=5)
    before = logbook.client("inspector").get(f"/api/events/{EVENT}/instruments").json()
    assert a_flow_study(logbook)["verified_after"] is False
    assert logbook.client("inspector").get(f"/api/events/{EVENT}/instruments").json() == before
    assert "Not verified since." in logbook.client("inspector").get(PAGE).text
    logbook.clock.advance(minutes=5)
    verify(logbook, "during")
    assert logbook.client("inspector").get(PLACE).json()["verified_after"] is True
    assert "Not verified since." not in logbook.client("inspector").get(PAGE).text


MOVED = (
    "The airflow of Instrument 2 was moved for a flow study on 2 May 2026, and it was not verified since. Verify it on "
    "its reference volume before anything is measured with it."
)


def test_no_sheet_is_opened_between_a_flow_study_and_the_next_verification(logbook: Logbook) -> None:
    ready(logbook)
    entry = an_entry(logbook, "41")
    verify(logbook)
    inspector = logbook.client("inspector")
    assert MOVED not in inspector.get("/shed").text
    logbook.clock.advance(minutes=5)
    a_flow_study(logbook)
    assert inspector.get("/shed").text.count(MOVED) == 1
    asked = {
        "entry_id": str(entry),
        "instrument_id": str(INSTRUMENT),
        "conditions_id": str(an_id("its conditions")),
        "cautions_confirmed": True,
        **conditions(),
    }
    refused = inspector.put(f"/api/inspections/{an_id('too early')}", json=asked)
    assert (refused.status_code, refused.json()["errors"]) == (422, {"instrument_id": MOVED})
    logbook.clock.advance(minutes=5)
    verify(logbook, "during", name="good")
    assert MOVED not in inspector.get("/shed").text
    a_sheet(logbook, entry)


def test_only_an_accepted_verification_after_the_latest_study_will_do(logbook: Logbook) -> None:
    ready(logbook)
    assert waiting(logbook) == {}
    a_flow_study(logbook)
    assert waiting(logbook) == {INSTRUMENT: MOVED}  # never verified at all
    logbook.clock.advance(minutes=5)
    verify(logbook, name="off", airflow="4.99")
    assert waiting(logbook) == {INSTRUMENT: MOVED}
    verify(logbook)
    assert waiting(logbook) == {}
    logbook.clock.advance(days=1)
    logbook.clients.clear()
    a_flow_study(logbook, an_id("one more"))
    assert waiting(logbook) == {INSTRUMENT: MOVED.replace("2 May", "3 May")}


def waiting(book: Logbook) -> dict[UUID, str]:
    with book.database.read() as session:
        return not_verified_since(session)


def test_an_instrument_not_open_here_has_no_word_about_its_airflow_in_the_shed(logbook: Logbook) -> None:
    ready(logbook)
    a_flow_study(logbook)
    assert "Not yet verified here" in logbook.client("inspector").get("/shed").text
    assert MOVED not in logbook.client("inspector").get("/shed").text


def test_the_page_says_at_which_mark_the_slope_was_found(logbook: Logbook) -> None:
    ready(logbook)
    a_flow_study(logbook)
    mark = logbook.client("official").get(PLACE).json()["reference_volume"]
    said = (
        f"found at one mark only, that of reference volume {mark['serial']}, {mark['mark_text']}: far from that ratio"
    )
    assert said in logbook.client("official").get(PAGE).text


def test_what_cannot_tell_a_slope_is_refused_at_its_place(logbook: Logbook) -> None:
    ready(logbook)
    other = an_id("other volume")
    points = flow_body()["points"]
    tries: list[tuple[dict[str, Any], str, str]] = [
        ({"points": points[:3]}, "points", "4 to 9 airflows"),
        ({"points": points[:3] + points[:1]}, "points", "4 different airflows"),
        ({"points": [{**one, "airflow": f"5.0{n}"} for n, one in enumerate(points)]}, "points", "below the set-point"),
        ({"points": [*points[:3], {"airflow": "5.02", "indications": ["11.3"]}]}, "points.3.indications", "twice or"),
        ({"points": [*points[:3], {"airflow": "x", "indications": ["11.3", "11.3"]}]}, "points.3.airflow", "number"),
        ({"points": [*points[:3], {"airflow": "5", "indications": "11.3 1l.3"}]}, "points.3.indications", "1l.3"),
        ({"set_back": False}, "set_back", "Set the airflow back"),
        ({"reference_volume_id": str(other)}, "reference_volume_id", "belong to Instrument 2"),
    ]
    for changed, field, words in tries:
        answer = logbook.client("inspector").put(PLACE, json=flow_body(**changed))
        assert answer.status_code == 422, changed
        assert words in answer.json()["errors"][field]
    assert logbook.client("inspector").get(PLACE).status_code == 404


def test_a_volume_found_damaged_is_not_studied(logbook: Logbook) -> None:
    ready(logbook)
    place = f"/instruments/{INSTRUMENT}/reference-volumes/{VOLUME}/condemnation/{an_id('condemned')}"
    put(logbook.client("official"), place, {"reason": "Dropped on the floor."})
    refused = logbook.client("inspector").put(PLACE, json=flow_body())
    assert "found damaged" in refused.json()["errors"]["reference_volume_id"]


def form(**changed: str) -> dict[str, str]:
    rows = {f"airflow-{n}": flow for n, (flow, _) in enumerate(FLOWS, 1)}
    rows |= {f"shown-{n}": text for n, (_, text) in enumerate(FLOWS, 1)}
    given = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "set_back": "yes", **rows}
    return {**given, **changed}


def test_page_and_operation_tell_the_same(logbook: Logbook) -> None:
    ready(logbook)
    client = logbook.client("inspector")
    answer = client.post(PAGE, data=form(**{"airflow-6": "", "shown-6": ""}))
    assert answer.headers["location"] == f"{PAGE}?done=flow-study-kept"
    view, found = client.get(PLACE).json(), in_the_core()
    assert view["sensitivity"] == found.sensitivity
    shown = client.get(PAGE).text
    assert f"+{found.sensitivity:.4f} ± {found.expanded_uncertainty:.4f}" in shown
    assert "any budget" not in shown
    assert view["sentences"][0] in shown


def test_a_mistyped_row_keeps_everything_and_has_its_sentence_beside_it(logbook: Logbook) -> None:
    ready(logbook)
    client = logbook.client("inspector")
    answer = client.post(PAGE, data=form(**{"airflow-2": "", "shown-2": "", "shown-5": "11.2", "airflow-5": "4.6"}))
    assert answer.status_code == 422
    assert 'href="#f-shown-5"' in answer.text
    assert 'value="11.26 11.28"' in answer.text
    too_few = client.post(PAGE, data=form(**{"airflow-2": "", "shown-2": ""}))
    assert 'href="#f-airflow-1"' in too_few.text
    assert "4 to 9 airflows" in too_few.text


def test_in_inches_a_number_without_unit_is_in_cubic_feet(logbook: Logbook) -> None:
    ready(logbook)
    client = logbook.client("inspector")
    put(client, "/me/preferences", {"units": "inch", "pad_side": "right"})
    scfh = {f"airflow-{n}": flow for n, flow in enumerate(("9.4", "9.8", "10.2", "10.6"), 1)}
    assert client.post(PAGE, data=form(**scfh)).status_code == 303
    flows = [float(one["airflow_l_min"]) for one in client.get(PLACE).json()["points"]]
    assert flows == pytest.approx([9.4 * 0.471947, 9.8 * 0.471947, 10.2 * 0.471947, 10.6 * 0.471947], rel=1e-4)
    assert "SCFH" in client.get(PAGE).text
