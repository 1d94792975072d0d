"""The pages around entries: what is shown is what the API says, what was typed is kept, who may not is refused."""

import re
from typing import Any

import pytest

from tests.conftest import Logbook, an_id
from tests.web.entries.season import CLASS, EVENT

TYPED = {
    "car_number": "41",
    "class_id": str(CLASS),
    "competitor.licence": "FEN-7",
    "competitor.name": "Fenn <Racing>",
    "engine.serial": "K-1204",
    "engine.cylinders": "4",
    "engine.bore": "86,0",
    "engine.stroke": "86",
    "engine.declared_displacement": "1998",
    "engine.seals": "4411 4412",
}
ENTRY = an_id("entry")
LIST = (
    "car;class;competitor;licence;engine;cylinders;bore_mm;stroke_mm;displacement_cm3\r\n"
    "7;V8;Ashby & Daughter;ASH-21;V-3001;8;101,6;88,39;5733\r\n"
)


def post(logbook: Logbook, address: str, data: dict[str, Any], who: str = "official", **more: Any) -> Any:
    return logbook.client(who).post(address, data=data, **more)


def add(logbook: Logbook, **changed: str) -> Any:
    return post(logbook, f"/events/{EVENT}/entries/{ENTRY}", {**TYPED, **changed})


def test_an_entry_added_on_the_page_is_what_the_api_shows(season: Logbook) -> None:
    answer = add(season)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/entries/{ENTRY}?done=entry-added")
    shown = season.client("inspector").get(f"/entries/{ENTRY}").text
    kept = season.client("inspector").get(f"/api/entries/{ENTRY}").json()
    assert kept["engine"]["bore_mm"] == "86"
    for words in ("Fenn &lt;Racing&gt;", "FEN-7", "86 mm (3.3858 in)", "1998 cm³ (121.93 in³)", "4411 · 4412"):
        assert words in shown
    assert "Car 41 entered" in shown
    assert "Fenn &lt;Racing&gt;" in season.client("official").get(f"/events/{EVENT}").text


def test_a_figure_without_a_unit_is_read_in_the_persons_units(season: Logbook) -> None:
    season.client("official").put("/api/me/preferences", json={"units": "inch", "pad_side": "right"})
    form = season.client("official").get(f"/events/{EVENT}/entries/new").text
    assert '<span class="field-unit">in</span>' in form
    assert '<span class="field-unit">in³</span>' in form
    changed = {"engine.bore": "4", "engine.stroke": "88.392 mm", "engine.declared_displacement": "350"}
    assert add(season, **{**changed, "engine.cylinders": "8"}).status_code == 303
    kept = season.client("official").get(f"/api/entries/{ENTRY}").json()["engine"]
    assert [float(kept[name]) for name in ("bore_mm", "stroke_mm", "declared_displacement_cm3")] == [
        101.6,
        88.392,
        5735.4724,
    ]
    assert "4 × 3.48 in" in season.client("official").get(f"/events/{EVENT}").text


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"engine.bore": "8l.0"}, "is not a unit of length known here"),
        ({"engine.bore": ""}, "Bore is needed. Fill it in."),
        ({"competitor.licence": ""}, "Licence is needed. Fill it in."),
        ({"class_id": ""}, "Class is needed. Fill it in."),
        ({"engine.declared_displacement": "2500"}, "1998.2 cm³ (121.94 in³), but 2500 cm³ (152.56 in³) is declared"),
        ({"car_number": "4#1"}, "“4#1” is no car number."),
    ],
)
def test_wrong_input_gets_its_sentence_beside_the_field_and_keeps_what_was_typed(
    season: Logbook, changed: dict[str, str], words: str
) -> None:
    answer = add(season, **changed)
    assert answer.status_code == 422
    (name,) = changed
    beside = re.search(rf'id="f-{re.escape(name)}-error">(.*?)</p>', answer.text, re.DOTALL)
    assert beside is not None
    assert words in beside[1]
    assert f'<a href="#f-{name}">' in answer.text
    for typed_name, typed in {**TYPED, **changed}.items():
        if typed_name != "class_id":
            kept = re.search(rf'name="{re.escape(typed_name)}" value="([^"]*)"', answer.text)
            assert kept is not None
            assert kept[1] == typed.replace("<", "&lt;").replace(">", "&gt;")
    if "class_id" not in changed:
        assert f'<option value="{CLASS}" selected>' in answer.text


def test_a_list_is_previewed_confirmed_and_shown(season: Logbook) -> None:
    address = f"/events/{EVENT}/import"
    files = {"file": ("list.csv", LIST.encode("cp1252"), "text/csv")}
    seen = post(season, address, {"step": "preview", "text": ""}, files=files)
    assert seen.status_code == 200
    assert "1 new entry, ready to be taken in" in seen.text
    assert "Ashby &amp; Daughter" in seen.text
    assert season.client("official").get(f"/api/events/{EVENT}/entries").json() == []
    plan = re.search(r'name="plan" value="([0-9a-f]{64})"', seen.text)
    assert plan is not None
    text = re.search(r'<textarea[^>]*name="text"[^>]*>\n(.*?)</textarea>', seen.text, re.DOTALL)
    assert text is not None
    sent = {"step": "import", "plan": plan[1], "text": text[1].replace("&amp;", "&")}
    done = post(season, address, sent)
    assert (done.status_code, done.headers["location"]) == (303, f"/events/{EVENT}?done=list-taken-in")
    assert "101.6 × 88.39 mm" in season.client("official").get(f"/events/{EVENT}").text
    again = post(season, address, {"step": "preview", "text": sent["text"]})
    assert "Nothing new in this list" in again.text
    assert 'value="import"' not in again.text


def test_a_list_with_problems_names_them_and_keeps_its_text(season: Logbook) -> None:
    wrong = LIST.replace(";V8;", ";<V9>;").replace("101,6", "l01,6")
    for step in ("preview", "import"):
        seen = post(season, f"/events/{EVENT}/import", {"step": step, "text": wrong})
        assert seen.status_code == 422
        assert "<title>Problem: " in seen.text
        assert "1 row needs another look" in seen.text
        assert "The rule book has no class “&lt;V9&gt;”. Its classes are: S4, V8." in seen.text
        assert "“l01,6” is not a number." in seen.text
        assert "7;&lt;V9&gt;;Ashby &amp; Daughter;" in seen.text
    assert season.client("official").get(f"/api/events/{EVENT}/entries").json() == []


def test_a_list_that_cannot_be_read_is_refused_beside_its_field(season: Logbook) -> None:
    seen = post(season, f"/events/{EVENT}/import", {"step": "preview", "text": ""})
    assert seen.status_code == 422
    assert re.search(r'id="f-file-error">.*The list is empty\.', seen.text, re.DOTALL)


def test_a_plan_that_changed_in_between_is_shown_anew(season: Logbook) -> None:
    answer = post(season, f"/events/{EVENT}/import", {"step": "import", "text": LIST, "plan": "0" * 64})
    assert answer.status_code == 409
    assert "The logbook has changed since the list was shown." in answer.text
    assert "1 new entry, ready to be taken in" in answer.text


@pytest.mark.parametrize("units", ["metric", "inch"])
def test_the_example_can_be_taken_in_as_it_is(season: Logbook, units: str) -> None:
    official = season.client("official")
    official.put("/api/me/preferences", json={"units": units, "pad_side": "right"})
    example = official.get(f"/events/{EVENT}/import/example.csv")
    assert example.headers["content-type"] == "text/csv; charset=utf-8"
    assert ("bore_in" if units == "inch" else "bore_mm") in example.text
    answer = official.post(f"/api/events/{EVENT}/entries/import", content=example.content).json()
    assert (answer["new_entries"], answer["problem_count"]) == (3, 0)
    assert [row["said"] for row in answer["rows"]] == ["", "", ""]


def test_a_competitor_is_linked_and_renamed_on_their_page(season: Logbook) -> None:
    add(season)
    (one,) = season.client("official").get("/api/competitors").json()
    place = f"/competitors/{one['id']}"
    assert "Nobody signs in for them yet." in season.client("official").get(place).text
    post(season, f"{place}/account", {"person_id": str(an_id("competitor"))})
    shown = season.client("official").get(place).text
    assert "Cleo Fenn signs in for them." in shown
    post(season, f"{place}/name", {"name": "Fenn & Co"})
    assert "Name changed from Fenn &lt;Racing&gt; to Fenn &amp; Co" in season.client("official").get(place).text
    assert post(season, f"{place}/name", {"name": ""}).status_code == 422
    assert "Cleo Fenn" in season.client("official").get("/competitors?find=fenn").text
    assert 'action="/competitors' not in season.client("inspector").get(place).text


@pytest.mark.parametrize(
    "address",
    [
        "/events/{event}",
        "/events/{event}/import",
        "/events/{event}/entries/new",
        "/events/{event}/import/example.csv",
        "/competitors",
    ],
)
def test_the_pages_are_not_there_for_competitors_and_ask_strangers_to_sign_in(season: Logbook, address: str) -> None:
    place = address.format(event=EVENT)
    assert season.client("official").get(place).status_code == 200
    assert season.client("competitor").get(place).status_code == 404
    assert season.client("").get(place).status_code == 303


def test_inspectors_look_but_do_not_enter(season: Logbook) -> None:
    assert "Add an entry" not in season.client("inspector").get(f"/events/{EVENT}").text
    assert season.client("inspector").get(f"/events/{EVENT}/import").status_code == 403
    assert post(season, f"/events/{EVENT}/entries/{ENTRY}", TYPED, "inspector").status_code == 403


def test_an_unknown_event_entry_or_competitor_is_said_in_words(season: Logbook) -> None:
    for address in (f"/events/{an_id('none')}", f"/entries/{an_id('none')}", f"/competitors/{an_id('none')}"):
        answer = season.client("official").get(address)
        assert answer.status_code == 404
        assert "The logbook has no such" in answer.text
