"""The gauge study: planned, read blind by its own inspectors, corrected with a reason, told once it is complete."""

import threading
from typing import Any

import pytest

from app.metrology.studies.crossed import analyse
from app.metrology.studies.design import Cells, Plan
from app.metrology.studies.range_method import analyse_ranges
from tests.builders import CLASS, INSTRUMENT, a_class
from tests.conftest import Logbook, an_id
from tests.web.studies.gauges import (
    PARTS,
    STUDY,
    WHO,
    a_complete_study,
    a_study,
    adopt,
    plan_body,
    read,
    read_all,
    ready,
    shown,
)

PLACE = f"/api/gauge-studies/{STUDY}"


def test_a_plan_has_an_order_by_rounds_in_which_everyone_reads_everything(logbook: Logbook) -> None:
    ready(logbook)
    view = a_study(logbook)
    order = [(step["inspector"], step["part"], step["repeat"]) for step in view["order"]]
    assert len(set(order)) == len(order) == view["planned"] == 18
    assert [repeat for _, _, repeat in order] == [1] * 9 + [2] * 9
    assert [one["name"] for one in view["inspectors"]] == ["Ines Tarn", "Ivo Reed", "Isa Holm"]
    assert (view["taken"], view["result"]) == (0, None)
    assert view["missing_words"].startswith("Ines Tarn: ")
    again = a_study(logbook)
    assert again["order"] == view["order"]
    other = a_study(logbook, an_id("another study"))
    assert [step["part"] for step in other["order"]] != [step["part"] for step in view["order"]]


def test_an_inspector_may_plan_one_too(logbook: Logbook) -> None:
    ready(logbook)
    assert logbook.client("inspector").put(PLACE, json=plan_body()).status_code == 200


REFUSED: list[tuple[dict[str, Any], str, str]] = [
    ({"parts": ["only one"]}, "parts", "2 to 50 parts"),
    ({"parts": ["Chamber A", "chamber a"]}, "parts", "stands there twice"),
    ({"parts": ["x" * 61, "b"]}, "parts", "at most 60 characters"),
    ({"parts": ["", "b"]}, "parts", "Each part is a name"),
    ({"parts": 7}, "parts", "must be a list"),
    ({"repeats": 1}, "repeats", "2 to 10 times"),
    ({"inspector_ids": [str(an_id("inspector"))]}, "inspector_ids", "2 to 20 inspectors"),
    ({"inspector_ids": [str(an_id("inspector"))] * 2}, "inspector_ids", "stands there twice"),
    ({"inspector_ids": [str(an_id("inspector")), str(an_id("rival"))]}, "inspector_ids", "not an inspector"),
    ({"tolerance": "0"}, "tolerance", "outside 0.001 to 10"),
    ({"tolerance": "0.2", "class_id": str(CLASS)}, "tolerance", "not both"),
    ({"class_id": str(an_id("strict"))}, "class_id", "grants no tolerance"),
    ({"title": " "}, "title", "is needed"),
]


def test_a_plan_that_cannot_be_is_refused_with_a_sentence_at_its_field(logbook: Logbook) -> None:
    ready(logbook)
    a_class(logbook, an_id("strict"), "TR-0", tolerance="0")
    for changed, field, words in REFUSED:
        answer = logbook.client("official").put(PLACE, json=plan_body(**changed))
        assert answer.status_code == 422, changed
        assert words in answer.json()["errors"][field]
    assert logbook.client("official").get(PLACE).status_code == 404


def test_it_is_held_against_a_class_or_a_figure_or_nothing(logbook: Logbook) -> None:
    ready(logbook)
    by_class = a_study(logbook, class_id=str(CLASS))
    assert (by_class["tolerance"], by_class["held_against"]) == ("0.10", "class TR-8, rule 5.4, edition 1")
    own = a_study(logbook, an_id("own"), tolerance="0.25")
    assert (own["tolerance"], own["held_against"]) == ("0.25", "a tolerance of its own")
    none = a_study(logbook, an_id("none"))
    assert (none["tolerance"], none["held_against"]) == (None, "")


def test_no_figure_is_told_before_the_last_reading_is_in(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    read_all(logbook, WHO[:2])
    for who in ("inspector", "third_inspector", "official"):
        client = logbook.client(who)
        for address in (PLACE, f"/gauge-studies/{STUDY}", f"/instruments/{INSTRUMENT}/studies", "/log"):
            told = client.get(address).text
            assert not any(figure in told for figure in ("9.80", "9.82", "10.41", "11.02")), address
    assert "9.80" in read_all(logbook, WHO[2:])["result"]["figures"][0][0]


def test_each_reads_in_their_own_order_and_sees_how_far_all_are(logbook: Logbook) -> None:
    ready(logbook)
    view = a_study(logbook)
    own = [step for step in view["order"] if step["inspector"] == "Ines Tarn"]
    for number, step in enumerate(own, 1):
        now = logbook.client("inspector").get(PLACE).json()
        assert now["next"]["step"] == step
        assert (now["next"]["number"], now["next"]["of"]) == (number, 6)
        assert now["next"]["waiting_for"] == ([] if number <= 3 else list(dict.fromkeys(_others(view))))
        read(logbook, "inspector", step["part_number"], step["repeat"])
    done = logbook.client("inspector").get(PLACE).json()
    assert done["next"] is None
    assert [one["taken"] for one in done["inspectors"]] == [6, 0, 0]
    assert "Ines Tarn" not in done["missing_words"]


def _others(view: dict[str, Any]) -> list[str]:
    return [step["inspector"] for step in view["order"] if step["repeat"] == 1 and step["inspector"] != "Ines Tarn"]


def test_everyone_enters_their_own_readings_only(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook, inspector_ids=[str(an_id(who)) for who in WHO[:2]])
    body = {"part": 1, "repeat": 1, "indication": "9.80"}
    outside = logbook.client("third_inspector").put(f"{PLACE}/readings/{an_id('r')}", json=body)
    assert outside.status_code == 403
    assert "not one of the inspectors" in outside.json()["detail"]
    assert logbook.client("official").put(f"{PLACE}/readings/{an_id('r')}", json=body).status_code == 403
    read(logbook, "inspector", 1, 1)
    taken = an_id(f"reading {STUDY} inspector 1 1 ")
    assert logbook.client("second_inspector").put(f"{PLACE}/readings/{taken}", json=body).status_code == 409


def test_the_same_reading_sent_twice_is_one_and_another_under_its_id_a_conflict(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    assert read(logbook, "inspector", 1, 1)["taken"] == 1
    assert read(logbook, "inspector", 1, 1)["taken"] == 1
    place = f"{PLACE}/readings/{an_id(f'reading {STUDY} inspector 1 1 ')}"
    other = logbook.client("inspector").put(place, json={"part": 1, "repeat": 1, "indication": "9.81"})
    assert other.status_code == 409
    second = logbook.client("inspector").put(
        f"{PLACE}/readings/{an_id('second')}", json={"part": 1, "repeat": 1, "indication": "9.81"}
    )
    assert second.status_code == 409
    assert "Part 1, reading 1 is read already" in second.json()["detail"]


def test_a_reading_that_has_no_place_in_the_plan_is_refused(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    for field, wrong in (("part", 4), ("repeat", 3), ("indication", "1o.5"), ("part", 0)):
        body = {"part": 1, "repeat": 1, "indication": "9.80", field: wrong}
        answer = logbook.client("inspector").put(f"{PLACE}/readings/{an_id('odd')}", json=body)
        assert answer.status_code == 422
        assert field in answer.json()["errors"]
        several = {"readings": [{"id": str(an_id("odd")), **body}]}
        answer = logbook.client("inspector").put(f"{PLACE}/readings", json=several)
        assert f"readings.0.{field}" in answer.json()["errors"]
    assert logbook.client("inspector").get(PLACE).json()["taken"] == 0


def test_a_wrong_entry_is_corrected_by_a_further_reading_with_a_reason(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    read(logbook, "inspector", 1, 1, indication="98.0")
    wrong = str(an_id(f"reading {STUDY} inspector 1 1 "))
    client, body = logbook.client("inspector"), {"part": 1, "repeat": 1, "indication": "9.80", "replaces_id": wrong}
    unsaid = client.put(f"{PLACE}/readings/{an_id('better')}", json=body)
    assert "Say why" in unsaid.json()["errors"]["reason"]
    elsewhere = client.put(f"{PLACE}/readings/{an_id('better')}", json={**body, "part": 2, "reason": "Typing error"})
    assert elsewhere.status_code == 409
    view = read(logbook, "inspector", 1, 1, name="better", replaces_id=wrong, reason="Typing error")
    assert view["taken"] == 1
    assert wrong not in [one["id"] for one in view["own_readings"]]
    assert "Reading 1 of Chamber A corrected: Typing error" in [line["what"] for line in view["happened"]]
    for who in WHO:
        for part in (1, 2, 3):
            for repeat in (1, 2):
                if (who, part, repeat) != ("inspector", 1, 1):
                    view = read(logbook, who, part, repeat)
    (aside,) = view["result"]["set_aside"]
    assert (aside["letter"], aside["part"], aside["repeat"]) == ("A", "Chamber A", 1)
    assert (aside["indication"], aside["instead"], aside["reason"]) == ("98.0", "9.80", "Typing error")


def test_two_tablets_at_once_fill_one_place_once(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    tablets = [logbook.another_client(logbook.open_session(an_id("inspector"))) for _ in range(4)]
    answers: list[int] = []

    def send(number: int) -> None:
        body = {"part": 1, "repeat": 1, "indication": f"9.8{number}"}
        answers.append(tablets[number].put(f"{PLACE}/readings/{an_id(f'at once {number}')}", json=body).status_code)

    threads = [threading.Thread(target=send, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answers) == [200, 409, 409, 409]
    assert logbook.client("inspector").get(PLACE).json()["taken"] == 1


def test_what_a_complete_study_tells_is_what_the_core_finds(logbook: Logbook) -> None:
    view = a_complete_study(logbook, class_id=str(CLASS))
    values = tuple(tuple(tuple(float(shown(who, p, r)) for r in (1, 2)) for p in (1, 2, 3)) for who in WHO)
    cells = Cells(Plan(tuple(PARTS), ("a", "b", "c"), 2), values)
    found, ranges = analyse(cells), analyse_ranges(cells)
    told = {one["key"]: one for one in view["result"]["components"]}
    for key in ("repeatability", "reproducibility", "gauge", "part", "total"):
        component = getattr(found, key)
        assert told[key]["standard_deviation"] == component.standard_deviation
        assert (told[key]["low"], told[key]["high"]) == component.interval
        assert told[key]["by_range"] == getattr(ranges, key)
    # 6·s over ±0.10, which is 0.20 wide
    assert told["gauge"]["share_of_tolerance"] == pytest.approx(6 * found.gauge.standard_deviation / 0.2)
    assert told["part"]["share_of_tolerance"] is None
    assert told["interaction"]["standard_deviation"] is None
    assert told["interaction"]["note"] == "does not show; taken as repeatability"
    assert view["result"]["distinct_categories"] == found.distinct_categories
    assert view["missing_words"] == ""
    assert view["result"]["for_budget"]["repeatability"] == repr(found.repeatability.standard_deviation)
    assert [one["letter"] for one in view["result"]["means"]] == ["A", "B", "C"]


def test_a_study_in_which_nothing_varies_says_so(logbook: Logbook) -> None:
    ready(logbook)
    a_study(logbook)
    view: dict[str, Any] = {}
    for who in WHO:
        for part in (1, 2, 3):
            for repeat in (1, 2):
                view = read(logbook, who, part, repeat, indication="10.00")
    assert view["result"] is None
    assert "All readings are the same" in view["problem"]
    assert "nothing to tell" in logbook.client("official").get(f"/gauge-studies/{STUDY}").text
    body = {"kind": "gauge", "study_id": str(STUDY), "reason": "x"}
    refused = logbook.client("official").put(f"/api/instruments/{INSTRUMENT}/adoptions/{an_id('a')}", json=body)
    assert (refused.status_code, "All readings are the same" in refused.json()["detail"]) == (403, True)


def test_letters_have_names_for_officials_and_ones_own_for_an_inspector(logbook: Logbook) -> None:
    a_complete_study(logbook)
    told = {
        who: [one["letter"] for one in logbook.client(who).get(PLACE).json()["inspectors"]]
        for who in ("official", "second_inspector", "administrator")
    }
    assert told == {"official": ["A", "B", "C"], "second_inspector": ["", "B", ""], "administrator": ["", "", ""]}


def test_once_adopted_nothing_is_corrected_any_more(logbook: Logbook) -> None:
    a_complete_study(logbook)
    adopt(logbook)
    assert logbook.client("inspector").get(PLACE).json()["own_readings"] == []
    wrong = str(an_id(f"reading {STUDY} inspector 1 1 "))
    body = {"part": 1, "repeat": 1, "indication": "9.99", "replaces_id": wrong, "reason": "Typing error"}
    late = logbook.client("inspector").put(f"{PLACE}/readings/{an_id('late')}", json=body)
    assert late.status_code == 409
    assert "budgets rest on it" in late.json()["detail"]
