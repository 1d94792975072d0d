"""What no engine, gas or air can be never enters a sheet: each with its sentence beside the field, page and API alike.

The checks' own list stands in test_checks.py, that of a flow study in test_crank_and_gas.py.
"""

from uuid import UUID

import pytest

from tests import builders
from tests.conftest import Logbook, an_id

NOT_A_NUMBER, TOO_MANY = "is not a number", "far too many digits"
ODD = {"nan": NOT_A_NUMBER, "NaN": NOT_A_NUMBER, "inf": NOT_A_NUMBER, "-Infinity": NOT_A_NUMBER, "1e9": NOT_A_NUMBER}
CANNOT = [
    ("set_displacement", "-5733", "-5733 cm³ is outside 20 cm³ to 20000 cm³"),
    ("set_displacement", "0", "outside 20 cm³ to 20000 cm³"),
    ("set_cylinders", "-8", "at least 1"),
    ("set_cylinders", "nan", "whole number"),
    ("set_gas_temperature", "297.15", "Was it typed in kelvin? 297.15 K are 24 °C (75.2 °F)."),
    ("gas_temperature", "297", "The gas cannot be at 297 °C (566.6 °F). Was it typed in kelvin?"),
    ("gas_temperature", "-274", "outside -20 °C to 120 °C"),
    ("ambient_temperature", "293.15", "The air cannot be at 293.2 °C (559.7 °F). Was it typed in kelvin?"),
    ("ambient_temperature", "61", "outside -20 °C to 60 °C"),
    ("airflow", "-4.72", "outside 0.01 L/min to 200 L/min"),
    ("pressure", "1013", "outside 50 kPa to 110 kPa"),
    ("pressure", "-99", "outside 50 kPa to 110 kPa"),
    ("humidity", "-1", "outside 0 to 100"),
    ("crank_step", "-1", "A crank step, in degrees, of -1 is outside 0 to 20."),
    ("crank_step", "20.1", "outside 0 to 20"),
    ("rod_ratio", "0.9", "A rod ratio, rod length over stroke, of 0.9 is outside 1 to 3."),
    ("rod_ratio", "152", "outside 1 to 3"),
]
QUANTITIES = (
    "set_displacement", "set_gas_temperature", "gas_temperature", "ambient_temperature", "airflow", "pressure",
    "humidity", "crank_step", "rod_ratio",
)  # fmt: skip
CANNOT += [(name, typed, words) for name in QUANTITIES for typed, words in ODD.items()]
CANNOT += [(name, "9" * 5_000, TOO_MANY) for name in QUANTITIES]
READINGS = {
    "1": "lies above 1", "1.00": "lies above 1", "0.5": "lies above 1", "-10.5": "cannot be read",
    "100": "below 100", "1050": "cannot be read", "nan": "cannot be read", "inf": "cannot be read",
    "1e1": "cannot be read", "9" * 41: "at most 40", "10.50.1": "cannot be read", "٣": "cannot be read",
}  # fmt: skip


@pytest.fixture
def sheet(logbook: Logbook) -> UUID:
    return builders.a_whole_season(logbook)


def test_conditions_that_cannot_be_are_refused_by_the_api_each_with_its_sentence(logbook: Logbook, sheet: UUID) -> None:
    inspector = logbook.client("inspector")
    address = f"/api/inspections/{sheet}/conditions/{an_id('odd')}"
    standing = inspector.get(f"/api/inspections/{sheet}").json()["conditions"]["id"]
    for name, typed, words in CANNOT:
        body = {**builders.conditions(), "replaces_id": standing, "reason": "Odd", name: typed}
        answer = inspector.put(address, json=body)
        assert answer.status_code == 422, (name, typed[:20])
        assert list(answer.json()["errors"]) == [name], (name, typed[:20])
        assert words in answer.json()["errors"][name], (name, typed[:20], answer.json()["errors"][name])
    assert inspector.get(f"/api/inspections/{sheet}").json()["conditions"]["id"] == standing


@pytest.mark.parametrize(
    ("name", "typed", "words"), [one for one in CANNOT if one[1] in ("-5733", "297", "nan", "152", "9" * 5_000)]
)
def test_the_form_says_it_beside_the_field_with_everything_typed_kept(
    logbook: Logbook, sheet: UUID, name: str, typed: str, words: str
) -> None:
    standing = logbook.client("inspector").get(f"/api/inspections/{sheet}").json()["conditions"]["id"]
    body = {**builders.conditions(), "replaces_id": standing, "reason": "Second look", name: typed}
    answer = logbook.client("inspector").post(f"/inspections/{sheet}/conditions/{an_id('odd')}", data=body)
    assert answer.status_code == 422
    said = answer.text.split(f'id="f-{name}-error">')[1].split("</p>")[0]
    assert words in said
    assert f'value="{typed}"' in answer.text
    assert 'value="Second look"' in answer.text


@pytest.mark.parametrize("literal", ["NaN", "Infinity", "-Infinity", "1e400"])
def test_numbers_that_json_does_not_know_are_no_numbers_here_either(
    logbook: Logbook, sheet: UUID, literal: str
) -> None:
    inspector = logbook.client("inspector")
    for address, field in (
        (f"/api/inspections/{sheet}/conditions/{an_id('odd')}", "gas_temperature"),
        (f"/api/inspections/{sheet}/conditions/{an_id('odd')}", "set_cylinders"),
        (f"/api/inspections/{sheet}/checks/{an_id('odd')}", "leak_percent"),
        (f"/api/inspections/{sheet}/readings/{an_id('odd')}", "cylinder"),
    ):
        body = f'{{"{field}": {literal}}}'
        answer = inspector.put(address, content=body, headers={"content-type": "application/json"})
        assert answer.status_code == 422
        assert answer.json()["errors"][field].endswith(".")


def test_a_number_of_very_many_digits_is_answered_in_words(logbook: Logbook, sheet: UUID) -> None:
    digits = "9" * 1_000_000
    for typed in (digits, f'"{digits}"'):
        for field in ("gas_temperature", "set_cylinders"):
            answer = logbook.client("inspector").put(
                f"/api/inspections/{sheet}/conditions/{an_id('odd')}",
                content=f'{{"{field}": {typed}}}',
                headers={"content-type": "application/json"},
            )
            assert answer.status_code in (400, 422), (field, typed[:3])
            assert answer.json()["detail"].endswith(".")
            assert len(answer.content) < 3_000


@pytest.mark.parametrize(("typed", "words"), READINGS.items())
def test_readings_that_cannot_be_are_refused_on_page_and_api(
    logbook: Logbook, sheet: UUID, typed: str, words: str
) -> None:
    inspector = logbook.client("inspector")
    one = inspector.put(
        f"/api/inspections/{sheet}/readings/{an_id('odd')}", json={"cylinder": 1, "indications": [typed]}
    )
    assert one.status_code == 422
    assert words in next(iter(one.json()["errors"].values()))
    page = inspector.post(f"/inspections/{sheet}/readings", data={"c1-id": str(an_id("odd")), "c1-1": typed})
    assert page.status_code == 422
    assert words in page.text.split('id="f-c1-1-error">')[1].split("</p>")[0]
    assert f'value="{typed}"' in page.text
    assert inspector.get(f"/api/inspections/{sheet}").json()["rows"][0]["reading"] is None


def test_a_correction_that_cannot_be_is_refused_beside_its_field(logbook: Logbook, sheet: UUID) -> None:
    view = builders.readings(logbook, sheet, [["10.31"]])
    typed = {"c1-1": "1.00", "replaces_id": view["rows"][0]["reading"]["id"], "reason": "Typing error"}
    address = f"/inspections/{sheet}/cylinders/1/readings/{an_id('odd')}"
    page = logbook.client("inspector").post(address, data=typed)
    assert page.status_code == 422
    assert "lies above 1" in page.text.split('id="f-c1-1-error">')[1].split("</p>")[0]
    assert 'value="Typing error"' in page.text


def test_a_step_so_coarse_that_the_peak_is_lost_is_said_on_the_sheet(logbook: Logbook, sheet: UUID) -> None:
    coarse = builders.a_sheet(logbook, builders.an_entry(logbook, "42"), crank_step="20", rod_ratio="1")
    view = builders.readings(logbook, coarse, [["40.00"]] * 8)
    assert view["assessment"] is None
    assert "Turn the crank in smaller steps." in view["assessment_problem"]
    assert "Turn the crank in smaller steps." in logbook.client("inspector").get(f"/inspections/{coarse}/verdict").text
