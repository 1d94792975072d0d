"""Competitors, engines and entries under their ids: replay, conflict, reuse, plausibility."""

from typing import Any

import pytest
from httpx import Response

from tests.builders import put
from tests.conftest import Logbook, an_id
from tests.web.entries.season import CLASS, EVENT


def an_engine(**changed: Any) -> dict[str, Any]:
    # 4 · π/4 · 86² · 86 mm³ = 1998.23 cm³
    engine = {"serial": "K-12", "cylinders": 4, "bore": "86", "stroke": "86", "declared_displacement": "1998"}
    return {**engine, "seals": ["4411", "4412"], **changed}


def an_entry(car: str = "41", **changed: Any) -> dict[str, Any]:
    competitor = {"licence": "FEN-7", "name": "Fenn Racing"}
    return {"car_number": car, "class_id": str(CLASS), "competitor": competitor, "engine": an_engine(), **changed}


def enter(logbook: Logbook, name: str, body: dict[str, Any], who: str = "official") -> Response:
    return logbook.client(who).put(f"/api/events/{EVENT}/entries/{an_id(name)}", json=body)


def test_an_entry_keeps_its_competitor_and_engine(season: Logbook) -> None:
    kept = enter(season, "first", an_entry()).json()
    assert kept["car_number"] == "41"
    assert kept["class_code"] == "S4"
    assert kept["competitor"]["name"] == "Fenn Racing"
    assert kept["engine"]["computed_displacement_cm3"] == "1998.23"
    assert kept["engine"]["doubt"] == ""
    assert season.client("inspector").get(f"/api/entries/{kept['id']}").json() == kept
    assert season.client("inspector").get(f"/api/events/{EVENT}/entries").json() == [kept]


def test_a_replay_answers_the_same_and_another_body_conflicts(season: Logbook) -> None:
    first = enter(season, "first", an_entry())
    assert enter(season, "first", an_entry()).json() == first.json()
    assert enter(season, "first", an_entry(engine=an_engine(bore="87"))).status_code == 409
    assert enter(season, "first", an_entry("42")).status_code == 409


def test_a_second_entry_meets_the_same_competitor_and_engine(season: Logbook) -> None:
    first = enter(season, "first", an_entry()).json()
    inches = an_engine(serial="k-12", bore="3.3858 in", stroke="3.3858in", declared_displacement="121.93 cu in")
    second = enter(season, "second", an_entry("42", engine=inches)).json()
    assert second["competitor"] == first["competitor"]
    assert second["engine"] == first["engine"]


def test_a_changed_engine_is_a_new_record_that_says_what_changed(season: Logbook) -> None:
    first = enter(season, "first", an_entry()).json()
    rebored = an_engine(bore="86.5", declared_displacement="2021.5", seals=[])
    second = enter(season, "second", an_entry("42", engine=rebored)).json()
    assert second["engine"]["id"] != first["engine"]["id"]
    assert second["engine"]["replaces_id"] == first["engine"]["id"]
    assert "bore 86 mm (3.3858 in), now 86.5 mm (3.4055 in)" in second["engine"]["changed"]
    assert second["engine"]["seals"] == ["4411", "4412"]
    third = enter(season, "third", an_entry("43", engine=rebored)).json()
    assert third["engine"]["id"] == second["engine"]["id"]
    assert season.client("official").get(f"/api/entries/{first['id']}").json() == first


def test_renewed_seals_are_a_new_record_too(season: Logbook) -> None:
    enter(season, "first", an_entry())
    second = enter(season, "second", an_entry("42", engine=an_engine(seals="4411 4500"))).json()
    assert "seals 4411 4412, now 4411 4500" in second["engine"]["changed"]


@pytest.mark.parametrize(
    ("changed", "name", "words"),
    [
        ({"declared_displacement": "2300"}, "engine.declared_displacement", "1998.2 cm³ (121.94 in³), but 2300 cm³"),
        (
            {"bore": "3.386"},
            "engine.bore",
            "A bore of 3.386 mm is outside 20 mm to 250 mm.",
        ),
        ({"bore": "86x"}, "engine.bore", "“x” is not a unit of length known here. Write mm or in."),
        ({"cylinders": 0}, "engine.cylinders", "Cylinders must be at least 1."),
        ({"seals": "4411 4411"}, "engine.seals", "Seal 4411 is named twice."),
        ({"serial": ""}, "engine.serial", "Serial is needed."),
    ],
)
def test_what_cannot_be_of_an_engine_gets_a_sentence(
    season: Logbook, changed: dict[str, Any], name: str, words: str
) -> None:
    answer = enter(season, "first", an_entry(engine=an_engine(**changed)))
    assert answer.status_code == 422
    assert words in answer.json()["errors"][name]
    assert season.client("official").get(f"/api/events/{EVENT}/entries").json() == []


def test_a_displacement_a_little_off_is_kept_with_a_doubt_that_says_both_figures(season: Logbook) -> None:
    kept = enter(season, "first", an_entry(engine=an_engine(declared_displacement="2100"))).json()
    assert (
        "displace 1998.2 cm³ (121.94 in³), but 2100 cm³ (128.15 in³) is declared: 5.1 % apart"
        in kept["engine"]["doubt"]
    )


def test_a_taken_car_number_and_anothers_licence_are_refused(season: Logbook) -> None:
    enter(season, "first", an_entry())
    answer = enter(season, "second", an_entry())
    assert "Car 41 is entered already, by Fenn Racing, class S4." in answer.json()["errors"]["car_number"]
    other = {"licence": "fen-7", "name": "Ashby Motors"}
    answer = enter(season, "second", an_entry("42", competitor=other))
    assert "Licence FEN-7 belongs to Fenn Racing, not to Ashby Motors." in answer.json()["errors"]["competitor.name"]


def test_only_officials_enter_and_strangers_see_nothing(season: Logbook) -> None:
    assert enter(season, "first", an_entry(), "inspector").status_code == 403
    assert enter(season, "first", an_entry(), "competitor").status_code == 404
    assert enter(season, "first", an_entry(), "").status_code == 401
    assert season.client("competitor").get(f"/api/events/{EVENT}/entries").status_code == 404


def test_competitors_and_engines_can_be_put_on_their_own(season: Logbook) -> None:
    official = season.client("official")
    address, body = f"/competitors/{an_id('fenn')}", {"licence": "FEN-7", "name": "Fenn Racing"}
    first = put(official, address, body)
    assert put(official, address, body) == first
    assert official.put(f"/api{address}", json={**body, "name": "Other"}).status_code == 409
    answer = official.put(f"/api/competitors/{an_id('other')}", json=body)
    assert answer.json()["errors"] == {"licence": "Licence FEN-7 belongs to Fenn Racing already. Check the number."}
    engine = put(official, f"/engines/{an_id('engine')}", an_engine())
    assert put(official, f"/engines/{an_id('engine')}", an_engine()) == engine
    answer = official.put(f"/api/engines/{an_id('again')}", json=an_engine())
    assert "kept already" in answer.json()["errors"]["serial"]
    kept = enter(season, "first", an_entry()).json()
    assert (kept["competitor"]["id"], kept["engine"]["id"]) == (first["id"], engine["id"])


def test_an_official_links_a_competitors_account(season: Logbook) -> None:
    enter(season, "first", an_entry())
    enter(
        season,
        "second",
        an_entry("42", competitor={"licence": "ASH-1", "name": "Ashby Motors"}, engine=an_engine(serial="Z")),
    )
    official = season.client("official")
    ashby, fenn = official.get("/api/competitors").json()
    cleo = {"person_id": str(an_id("competitor"))}
    assert put(official, f"/competitors/{fenn['id']}/account", cleo)["person_name"] == "Cleo Fenn"
    assert put(official, f"/competitors/{fenn['id']}/account", cleo)["person_name"] == "Cleo Fenn"
    answer = official.put(f"/api/competitors/{ashby['id']}/account", json=cleo)
    assert "Cleo Fenn is linked with Fenn Racing (FEN-7) already." in answer.json()["errors"]["person_id"]
    answer = official.put(f"/api/competitors/{ashby['id']}/account", json={"person_id": str(an_id("inspector"))})
    assert "does not sign in as a competitor" in answer.json()["errors"]["person_id"]
    assert put(official, f"/competitors/{fenn['id']}/account", {"person_id": None})["person_id"] is None
    assert season.client("inspector").put(f"/api/competitors/{fenn['id']}/account", json=cleo).status_code == 403
