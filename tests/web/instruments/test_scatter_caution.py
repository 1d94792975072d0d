"""A verification that scatters more than its instrument usually does: said on its page, and no more than that."""

from typing import Any

import pytest

from tests.builders import EVENT, a_calibration, a_class, an_instrument, verify
from tests.conftest import Logbook, an_id
from tests.web.instruments.sheds import note

CAUTION = "seat the reference volume again and look at the hose"


@pytest.fixture(autouse=True)
def bench(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)


def later(book: Logbook, *indications: str, name: str, stage: str = "during", **more: str) -> dict[str, Any]:
    book.clock.advance(minutes=5)
    return verify(book, stage, *indications, name=name, **more)


def page(book: Logbook, name: str, stage: str = "during") -> str:
    return book.client("inspector").get(f"/events/{EVENT}/verifications/{an_id(f'verification {stage} {name}')}").text


def some_history(book: Logbook) -> None:
    verify(book)
    later(book, name="second")
    later(book, name="third")


def test_a_wide_scatter_is_cautioned_and_accepted_all_the_same(logbook: Logbook) -> None:
    some_history(logbook)
    made = later(logbook, "11.18", "11.25", "11.32", name="wide")
    assert made["accepted"]
    assert made["scatter_caution"].startswith("The indications scatter more than this instrument usually does: ")
    assert CAUTION in made["scatter_caution"]
    assert page(logbook, "wide").count(made["scatter_caution"]) == 1
    shed = logbook.client("inspector").get(f"/api/events/{EVENT}/instruments").json()["instruments"][0]
    assert shed["is_open"]
    assert shed["latest"]["scatter_caution"] == ""  # lists do not ask


def test_like_scatter_and_the_very_first_are_not_cautioned(logbook: Logbook) -> None:
    some_history(logbook)
    assert later(logbook, "11.23", "11.25", "11.27", name="like")["scatter_caution"] == ""  # F = 4 of 10.9 allowed
    assert CAUTION not in page(logbook, "like")
    assert CAUTION not in page(logbook, "", "opening")


def test_what_is_said_stays_as_later_ones_come(logbook: Logbook) -> None:
    some_history(logbook)
    later(logbook, "11.18", "11.25", "11.32", name="wide")
    for number in range(3):
        later(logbook, "11.17", "11.25", "11.33", name=f"wide {number}")
    assert CAUTION in page(logbook, "wide")
    assert CAUTION not in page(logbook, "third")


def test_off_its_airflow_nothing_is_said_of_the_scatter(logbook: Logbook) -> None:
    some_history(logbook)
    assert later(logbook, "11.18", "11.25", "11.32", name="off", airflow="4.99")["scatter_caution"] == ""


def test_what_was_made_before_a_repair_is_not_compared_with(logbook: Logbook) -> None:
    some_history(logbook)
    later(logbook, "11.18", "11.25", "11.32", name="before")
    logbook.clock.advance(minutes=5)
    note(logbook, "repair", logbook.clock().isoformat())
    logbook.clock.advance(days=1)
    logbook.clients.clear()
    assert CAUTION in page(logbook, "before")
    a_calibration(logbook, name="after it", calibrated_on="2026-05-03", due_on="2027-05-03")
    assert later(logbook, "11.18", "11.25", "11.32", name="after", stage="opening")["scatter_caution"] == ""


def test_a_miss_at_opening_says_what_is_in_doubt_and_from_which_day_it_is_closed(logbook: Logbook) -> None:
    verify(logbook)
    missed = later(logbook, "11.43", "11.44", "11.45", name="missed", stage="opening")
    said = (
        "What was measured with it since its last good verification is in doubt until an official decides. Take "
        "another instrument, and leave this one as it is, its airflow too. From 2 May 2026 on it is closed until an "
        "official has it calibrated, on that day or later, and records that here. The miss stays in its history."
    )
    assert missed["what_to_do"] == said
    logbook.clock.advance(days=30)
    logbook.clients.clear()
    assert said in page(logbook, "missed", "opening")
