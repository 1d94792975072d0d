"""The pages of a gauge study: what is typed stays, hostile text is only text, and one leads to the next."""

import re

from tests.builders import CLASS, INSTRUMENT
from tests.conftest import Logbook, an_id
from tests.web.studies.gauges import (
    FLOW,
    PARTS,
    STUDY,
    WHO,
    a_complete_study,
    a_flow_study,
    a_study,
    read_all,
    ready,
    shown,
)

HOSTILE = "<script>alert('x')</script>{{ 7*7 }}"
PAGE = f"/gauge-studies/{STUDY}"


def plan_form(**changed: object) -> dict[str, object]:
    given: dict[str, object] = {"instrument_id": str(INSTRUMENT), "title": "Spring study", "parts": "\r\n".join(PARTS)}
    given |= {"inspector_ids": [str(an_id(who)) for who in WHO], "repeats": "2", "class_id": "", "tolerance": ""}
    return {**given, **changed}


def test_a_study_is_planned_on_its_page_as_by_the_operation(logbook: Logbook) -> None:
    ready(logbook)
    official = logbook.client("official")
    page = official.get(f"/instruments/{INSTRUMENT}/gauge-studies/new").text
    assert "Isa Holm" in page
    assert "TR-8, Class TR-8: ±0.1" in page
    answer = official.post(PAGE, data=plan_form(class_id=str(CLASS)))
    assert answer.headers["location"] == f"{PAGE}?done=study-planned"
    view = official.get(f"/api{PAGE}").json()
    assert (view["parts"], view["tolerance"]) == (PARTS, "0.10")
    shown_page = official.get(PAGE).text
    assert all(sentence in shown_page for sentence in view["plan_sentences"])
    assert "Still missing" in shown_page


def test_what_was_typed_stays_where_a_plan_is_refused(logbook: Logbook) -> None:
    ready(logbook)
    answer = logbook.client("official").post(
        PAGE, data=plan_form(parts="Chamber A", inspector_ids=str(an_id("inspector")))
    )
    assert answer.status_code == 422
    assert 'href="#f-parts"' in answer.text
    assert 'value="Spring study"' in answer.text
    assert answer.text.count(" checked") == 1


def test_an_inspector_is_led_from_one_reading_to_the_next_and_to_the_result(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    read_all(logbook, WHO[1:])
    client = logbook.client("inspector")
    for number in range(1, 7):
        page = client.get(f"{PAGE}/capture").text
        action = re.findall(r'action="([^"]+/readings/[^"]+)"', page)[0]
        part, repeat = (int(re.findall(rf'name="{name}" value="(\d)"', page)[0]) for name in ("part", "repeat"))
        assert f"Next: part {part}" in page
        assert f"your reading {repeat} of 2" in page
        answer = client.post(
            action, data={"part": part, "repeat": repeat, "indication": shown("inspector", part, repeat)}
        )
        assert answer.status_code == 303
        done = "capture?done=study-reading-kept" if number < 6 else "?done=study-complete"
        assert answer.headers["location"].endswith(done)
    assert client.get(f"{PAGE}/capture").headers["location"] == PAGE
    assert "Readings by part" in client.get(PAGE).text


def test_a_mistyped_figure_stays_in_its_field(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    client = logbook.client("inspector")
    place = f"{PAGE}/readings/{an_id('mistyped')}"
    answer = client.post(place, data={"part": "2", "repeat": "1", "indication": HOSTILE[:20]})
    assert answer.status_code == 422
    assert "<script>alert" not in answer.text
    assert place in answer.text
    wrong = client.post(place, data={"part": "2", "repeat": "1", "indication": "1O.5"})
    assert 'value="1O.5"' in wrong.text
    assert client.post(f"{PAGE}/readings/{an_id('x')}", data={"part": "1"}).status_code == 422


def test_a_correction_has_its_page_without_the_figure_it_replaces(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    client = logbook.client("inspector")
    client.post(f"{PAGE}/readings/{an_id('one')}", data={"part": "1", "repeat": "1", "indication": "98.0"})
    place = f"{PAGE}/readings/{an_id('one')}/correct"
    page = client.get(place).text
    assert "Correct part 1, Chamber A: your reading 1" in page
    assert "98.0" not in page
    assert logbook.client("second_inspector").get(place).status_code == 404
    body = {"part": "1", "repeat": "1", "indication": "9.80", "replaces_id": str(an_id("one"))}
    unsaid = client.post(f"{PAGE}/readings/{an_id('two')}", data=body)
    assert (unsaid.status_code, "Say why" in unsaid.text, 'value="9.80"' in unsaid.text) == (422, True, True)
    done = client.post(f"{PAGE}/readings/{an_id('two')}", data={**body, "reason": "Typing error"})
    assert done.headers["location"].endswith("capture?done=study-reading-corrected")
    assert client.get(place).status_code == 404
    gone = client.post(f"{PAGE}/readings/{an_id('three')}", data={**body, "reason": "Typing error"})
    assert gone.status_code == 409


def test_hostile_text_in_a_study_is_only_text(logbook: Logbook) -> None:
    parts = [HOSTILE, "Chamber B \"'&", "Chamber C"]
    a_complete_study(logbook, title=HOSTILE, parts=parts)
    for address in (PAGE, f"/instruments/{INSTRUMENT}", f"/instruments/{INSTRUMENT}/studies"):
        page = logbook.client("official").get(address).text
        assert "<script>alert" not in page
        assert "&lt;script&gt;" in page
        assert "{{ 7*7 }}" in page
    for drawn in re.findall(r"<svg.*?</svg>", logbook.client("official").get(PAGE).text, re.DOTALL):
        assert "<script" not in drawn


def test_the_instrument_s_page_leads_to_its_studies(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    page = logbook.client("official").get(f"/instruments/{INSTRUMENT}").text
    assert f'href="/gauge-studies/{STUDY}"' in page
    assert "0 of 18 readings" in page
    assert f'href="/instruments/{INSTRUMENT}/inspectors"' in page
    for_inspectors = logbook.client("inspector").get(f"/instruments/{INSTRUMENT}").text
    assert f'href="/instruments/{INSTRUMENT}/inspectors"' not in for_inspectors
    listed = logbook.client("administrator").get(f"/instruments/{INSTRUMENT}/studies").text
    assert "Plan a gauge study</a>" not in listed


def test_an_address_without_its_study_or_instrument_is_not_found(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    official, inspector, nowhere = logbook.client("official"), logbook.client("inspector"), an_id("nowhere")
    assert official.post(PAGE, data={"title": "x"}).status_code == 422  # of no instrument: nothing to show again
    assert official.post(f"/flow-studies/{nowhere}", data={"note": "x"}).status_code == 422
    reading = {"part": "1", "repeat": "1", "indication": "9.8"}
    assert inspector.post(f"/gauge-studies/{nowhere}/readings/{an_id('r')}", data=reading).status_code == 404
    adoption = {"kind": "gauge", "reason": "Because."}
    assert official.post(f"/instruments/{nowhere}/adoptions/{an_id('a')}", data=adoption).status_code == 404
    nothing = official.post(f"/instruments/{INSTRUMENT}/adoptions/{an_id('a')}", data=adoption)
    assert (nothing.status_code, "nothing to end" in nothing.text) == (403, True)


def test_who_is_done_or_was_never_asked_is_told_so(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook, inspector_ids=[str(an_id(who)) for who in WHO[:2]])
    reading = {"part": "1", "repeat": "1", "indication": "9.8"}
    outside = logbook.client("third_inspector").post(f"{PAGE}/readings/{an_id('r')}", data=reading)
    assert (outside.status_code, "not one of the inspectors" in outside.text) == (403, True)
    read_all(logbook, WHO[:1])
    again = logbook.client("inspector").post(f"{PAGE}/readings/{an_id('r')}", data=reading)
    assert (again.status_code, "is read already" in again.text) == (409, True)
    assert "That was your last reading" in logbook.client("inspector").get(f"{PAGE}?done=own-part-done").text


def test_an_adoption_refused_comes_back_on_the_page_of_its_study(logbook: Logbook) -> None:
    ready(logbook)
    a_flow_study(logbook)
    place = f"/instruments/{INSTRUMENT}/adoptions/{an_id('a')}"
    refused = logbook.client("official").post(place, data={"kind": "flow", "study_id": str(FLOW), "reason": ""})
    assert refused.status_code == 422
    assert "Flow study on reference volume RV-7" in refused.text
    assert "Reason is needed" in refused.text
    done = logbook.client("official").post(place, data={"kind": "flow", "study_id": str(FLOW), "reason": "Known."})
    assert done.headers["location"] == f"/flow-studies/{FLOW}?done=study-adopted"
