"""Which settings for which engine: the facts are common practice, no source."""

from decimal import Decimal
from typing import Any

from tests.builders import INSTRUMENT, an_instrument, put
from tests.conftest import Logbook, an_id


def an_instrument_for(logbook: Logbook, counts: list[int], name: str = "six") -> str:
    body = {
        "name": f"Settable, {name}",
        "serial": f"AR-{name}",
        "method": "acoustic_resonance",
        "resolution": "0.01",
        "stated_accuracy": "0.10",
        "accuracy_meaning": "limits",
        "airflow_set_point": "5 SCFH",
        "airflow_tolerance": "0.1",
        "settable_cylinders": counts,
        "displacement_min": "50 in3",
        "displacement_max": "600 in3",
    }
    put(logbook.client("official"), f"/instruments/{an_id(name)}", body)
    return str(an_id(name))


def ask(logbook: Logbook, instrument: object, cylinders: str, displacement: str) -> dict[str, Any]:
    asked = {"cylinders": cylinders, "displacement": displacement}
    answer = logbook.client("inspector").get(f"/api/instruments/{instrument}/settings", params=asked)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


SUBSTITUTES = (
    ("six", [6], "12", "400 in3", 6, Decimal(200)),  # common practice, no source
    ("four", [4], "2", "100 cu in", 4, Decimal(200)),  # common practice, no source
    ("most", [4, 6, 8], "8", "350 in³", 8, Decimal(350)),  # the engine as it is
)


def test_any_engine_is_set_with_its_own_displacement_per_cylinder(logbook: Logbook) -> None:
    for name, counts, cylinders, displacement, set_cylinders, set_in3 in SUBSTITUTES:
        best = ask(logbook, an_instrument_for(logbook, counts, name), cylinders, displacement)["choices"][0]
        assert best["cylinders"] == set_cylinders
        # NIST SP 811, Appendix B: one cubic inch is 16.387064 cm³
        assert Decimal(best["displacement_cm3"]) == set_in3 * Decimal("16.387064")
        assert f"{set_in3}.00 in³" in best["sentence"]


def test_the_page_shows_the_choices_of_the_api_in_their_order(logbook: Logbook) -> None:
    an_instrument(logbook)
    found = ask(logbook, INSTRUMENT, "12", "6000 cc")
    assert [choice["cylinders"] for choice in found["choices"]] == [8, 6, 4]
    asked = {"cylinders": "12", "displacement": "6000 cc"}
    page = logbook.client("inspector").get(f"/instruments/{INSTRUMENT}", params=asked).text
    places = [page.index(choice["sentence"].replace("'", "&#39;")) for choice in found["choices"]]
    assert places == sorted(places)
    assert 'value="6000 cc"' in page


def test_a_bare_displacement_is_taken_in_the_persons_own_units(logbook: Logbook) -> None:
    instrument = an_instrument_for(logbook, [6])
    put(logbook.client("inspector"), "/me/preferences", {"units": "inch", "pad_side": "left"})
    assert ask(logbook, instrument, "12", "400")["displacement_cm3"] == "6554.8256"


def test_where_no_setting_fits_the_reason_is_given(logbook: Logbook) -> None:
    an_instrument(logbook)
    found = ask(logbook, INSTRUMENT, "1", "49 cm3")
    assert found["choices"] == []
    assert "This instrument takes" in found["reason"]
    asked = {"cylinders": "1", "displacement": "49 cm3"}
    page = logbook.client("inspector").get(f"/instruments/{INSTRUMENT}", params=asked).text
    assert "None that Instrument 2 can take" in page
    assert "Use an instrument with another range." in page


UNREADABLE = (
    ("cylinders", "", "Number of cylinders is needed. Fill it in."),
    ("cylinders", "0", "Number of cylinders must be at least 1."),
    ("cylinders", "six", "Number of cylinders must be a whole number, such as 8."),
    ("displacement", "400 pints", "“pints” is not a unit of volume known here. Write cm³ or in³."),
    ("displacement", "3", "A displacement of 3 cm³ is outside 10 cm³ to 100000 cm³."),
)


def test_a_question_that_cannot_be_read_is_answered_at_its_field(logbook: Logbook) -> None:
    an_instrument(logbook)
    for field, typed, sentence in UNREADABLE:
        asked = {"cylinders": "12", "displacement": "400 in3", field: typed}
        answer = logbook.client("inspector").get(f"/api/instruments/{INSTRUMENT}/settings", params=asked)
        assert answer.status_code == 422
        assert answer.json()["errors"][field].startswith(sentence)
        page = logbook.client("inspector").get(f"/instruments/{INSTRUMENT}", params=asked)
        assert page.status_code == 422
        assert sentence in page.text.split(f'id="f-{field}-error"')[1].split("</p>")[0]
        assert f'value="{typed}"' in page.text
        assert "Reference volumes" in page.text
