"""When a closing verification misses its mark: what is in doubt, and since when."""

from datetime import timedelta

from app.instruments import service
from tests.builders import EVENT, INSTRUMENT, a_calibration, a_class, an_instrument, verify
from tests.conftest import START, Logbook, an_id

MISSED = ("11.44", "11.45", "11.44")


def a_day(logbook: Logbook) -> None:
    """Opened at 09:00, checked at 12:00."""
    a_class(logbook)
    an_instrument(logbook)
    verify(logbook)
    logbook.clock.advance(hours=3)
    verify(logbook, "during")
    logbook.clock.advance(hours=4)


def test_a_missed_closing_puts_in_doubt_everything_since_the_last_good_verification(logbook: Logbook) -> None:
    a_day(logbook)
    found = verify(logbook, "closing", *MISSED)
    assert found["in_doubt_since"] == "2026-05-02T12:00:00Z"
    with logbook.database.read() as session:
        assert service.in_doubt_since(session, INSTRUMENT, EVENT) == START + timedelta(hours=3)
        assert [check.id for check in service.failed_closings(session)] == [an_id("verification closing ")]
        doubt = service.doubts(session)[0]
    assert (doubt.since, doubt.until) == (START + timedelta(hours=3), START + timedelta(hours=7))
    page = logbook.client("inspector").get(f"/events/{EVENT}/verifications/{an_id('verification closing ')}").text
    assert "Instrument 2 missed its mark at closing" in page
    assert "Results in doubt" in page
    assert "2 May 2026, 12:00" in page
    link = page.split('">Show these results')[0].rsplit('href="', 1)[1].replace("&amp;", "&")
    assert link == f"/records?instrument_id={INSTRUMENT}&event_id={EVENT}"
    assert logbook.client("inspector").get(link).status_code == 200
    assert "are in doubt." in logbook.client("inspector").get("/shed").text


def test_a_good_verification_afterwards_does_not_lift_the_doubt_but_starts_no_new_one(logbook: Logbook) -> None:
    a_day(logbook)
    verify(logbook, "closing", *MISSED)
    logbook.clock.advance(hours=1)
    logbook.clients.clear()  # whose hours are over
    a_calibration(logbook, name=" after the miss", calibrated_on="2026-05-02")
    verify(logbook, "opening", name="again")
    logbook.clock.advance(hours=1)
    assert verify(logbook, "closing", name="again")["in_doubt_since"] is None
    with logbook.database.read() as session:
        assert [(doubt.since, doubt.until) for doubt in service.doubts(session, INSTRUMENT, EVENT)] == [
            (START + timedelta(hours=3), START + timedelta(hours=7))
        ]


def test_a_good_closing_puts_nothing_in_doubt(logbook: Logbook) -> None:
    a_day(logbook)
    verify(logbook, "closing")
    with logbook.database.read() as session:
        assert service.in_doubt_since(session, INSTRUMENT, EVENT) is None
        assert service.failed_closings(session) == []


def test_a_closing_off_the_airflow_set_point_says_nothing_about_the_instrument(logbook: Logbook) -> None:
    a_day(logbook)
    found = verify(logbook, "closing", *MISSED, airflow="5.10")
    assert found["off_airflow"]
    assert found["in_doubt_since"] is None
    with logbook.database.read() as session:
        assert service.in_doubt_since(session, INSTRUMENT, EVENT) is None
    state = logbook.client("inspector").get(f"/api/events/{EVENT}/instruments").json()["instruments"][0]
    assert (state["is_open"], state["next_stage"]) == (False, "closing")


def test_the_checks_of_an_instrument_are_charted_with_its_misses(logbook: Logbook) -> None:
    a_day(logbook)
    verify(logbook, "closing", *MISSED)
    page = logbook.client("inspector").get(f"/instruments/{INSTRUMENT}").text
    drawn = page.split("Reference volume RV-7: control chart")[1].split("</svg>")[0]  # the wide one
    assert "3 checks, mark 11.20 to 11.30, accepted from 11.15 to 11.35" in drawn
    assert drawn.count('width="9" height="9"') == 2
    assert drawn.count("l12 12m0 -12l-12 12") == 1
