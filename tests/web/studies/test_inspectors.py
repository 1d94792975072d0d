"""Inspectors in an instrument's history: what they differ by, with its uncertainty, by name and never by rank."""

import pytest

from app.metrology.studies.inspectors import compare_inspectors
from tests.builders import EVENT, INSTRUMENT, PROCEDURE, VOLUME, a_calibration, put, verify
from tests.conftest import Logbook, an_id
from tests.web.studies.gauges import ready

PLACE, PAGE = f"/api/instruments/{INSTRUMENT}/inspectors", f"/instruments/{INSTRUMENT}/inspectors"
RUNS = {
    "third_inspector": ["11.21", "11.22", "11.21"],
    "inspector": ["11.24", "11.25", "11.23"],
    "second_inspector": ["11.26", "11.27", "11.28"],
}


def verified(book: Logbook, who: str, number: int, *shown: str, airflow: str = "4.72") -> None:
    body = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "stage": "opening"}
    met = {"indications": list(shown), "airflow": airflow, "ambient_temperature": "21.0"}
    book.clock.advance(minutes=10)
    put(book.client(who), f"/events/{EVENT}/verifications/{an_id(f'{who} {number}')}", {**body, **met, **PROCEDURE})


def a_history(book: Logbook) -> None:
    """Each run shows one figure three times, so that its mean is that figure."""
    for number in range(3):
        for who, runs in RUNS.items():
            verified(book, who, number, *[runs[number]] * 3)


@pytest.fixture
def history(logbook: Logbook) -> Logbook:
    ready(logbook)
    a_history(logbook)
    return logbook


def test_each_difference_has_its_interval_and_stands_by_name(history: Logbook) -> None:
    verified(history, "inspector", 9, "11.90", "11.90", "11.90", airflow="5.50")  # off the set-point: says nothing
    (volume,) = history.client("official").get(PLACE).json()["volumes"]
    told = volume["inspectors"]
    assert [(one["letter"], one["name"], one["runs"]) for one in told] == [
        ("A", "Ines Tarn", 3),
        ("B", "Isa Holm", 3),
        ("C", "Ivo Reed", 3),
    ]
    by_letter = zip("ABC", ("inspector", "third_inspector", "second_inspector"), strict=True)
    found = compare_inspectors({letter: [float(one) for one in RUNS[who]] for letter, who in by_letter})
    assert [one["difference"] for one in told] == pytest.approx([one.difference for one in found.inspectors])
    assert [(one["low"], one["high"]) for one in told] == [pytest.approx(one.interval) for one in found.inspectors]
    assert volume["between"] == pytest.approx(found.between)
    assert (volume["between_low"], volume["between_high"]) == pytest.approx(tuple(found.between_interval))
    assert (volume["runs"], volume["within"]) == (9, pytest.approx(found.within))


def test_the_page_shows_a_picture_with_letters_a_key_and_no_ranking(history: Logbook) -> None:
    shown = history.client("official").get(PAGE).text
    assert "It is no ranking" in shown
    assert shown.index("Ines Tarn") < shown.index("Isa Holm") < shown.index("Ivo Reed")
    pictures = shown[shown.index('<svg class="plot plot--wide') : shown.index("Key, and the same in figures")]
    assert all(f">{letter}</text>" in pictures for letter in "ABC")
    assert "Ines" not in pictures
    assert history.client("inspector").get(PAGE).status_code == 403


def test_one_inspector_alone_is_told_as_nothing_to_compare(logbook: Logbook) -> None:
    ready(logbook)
    assert "No verification yet." in logbook.client("official").get(PAGE).text
    verify(logbook)
    (volume,) = logbook.client("official").get(PLACE).json()["volumes"]
    assert "Two inspectors are the least to compare" in volume["problem"]
    assert volume["inspectors"] == []
    assert volume["between"] is None
    assert "Two inspectors are the least to compare" in logbook.client("official").get(PAGE).text


def test_what_missed_its_mark_is_left_out_and_said(history: Logbook) -> None:
    before = history.client("official").get(PLACE).json()
    assert (before["missed"], before["earlier"], before["began_words"]) == (0, 0, "")
    assert "left out" not in history.client("official").get(PAGE).text
    verified(history, "inspector", 9, "11.60", "11.60", "11.60")
    found = history.client("official").get(PLACE).json()
    assert found["volumes"] == before["volumes"]
    assert (found["missed"], found["earlier"]) == (1, 0)
    assert "1 verification that missed its mark is left out." in history.client("official").get(PAGE).text


def test_only_what_was_measured_since_the_instrument_last_changed_is_compared(history: Logbook) -> None:
    verified(history, "inspector", 9, "11.60", "11.60", "11.60")
    history.clock.advance(minutes=10)
    a_calibration(history, name="B", calibrated_on="2026-05-02")
    found = history.client("official").get(PLACE).json()
    assert (found["volumes"], found["missed"], found["earlier"]) == ([], 0, 10)
    page = history.client("official").get(PAGE).text
    assert "since it was calibrated after a miss, certificate NC-2026-118B. 10 earlier verifications are left" in page
    assert "No verification to compare." in page
    for number in (10, 11):
        for who in ("inspector", "second_inspector"):
            verified(history, who, number, *[f"11.2{number - 7}"] * 3)
    (volume,) = history.client("official").get(PLACE).json()["volumes"]
    assert (volume["runs"], [one["runs"] for one in volume["inspectors"]]) == (4, [2, 2])
