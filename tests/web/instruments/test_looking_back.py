"""When a verification misses its mark: what is in doubt, and since when."""

from datetime import timedelta

from app.instruments.causes import causes_of
from app.instruments.models import DoubtCause
from tests.builders import EVENT, INSTRUMENT, SERIES, a_calibration, a_class, an_instrument, put, verify
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


def causes(logbook: Logbook) -> list[DoubtCause]:
    with logbook.database.read() as session:
        return causes_of(session, INSTRUMENT)


def in_doubt_at_the_event(logbook: Logbook) -> object:
    (state,) = logbook.client("inspector").get(f"/api/events/{EVENT}/instruments").json()["instruments"]
    return state["in_doubt_since"]


def test_a_missed_closing_puts_in_doubt_everything_since_the_last_good_verification(logbook: Logbook) -> None:
    a_day(logbook)
    found = verify(logbook, "closing", *MISSED)
    assert found["in_doubt_since"] == "2026-05-02T12:00:00Z"
    (cause,) = causes(logbook)
    assert (cause.id, cause.kind) == (an_id("verification closing "), "missed_mark")
    assert (cause.since, cause.until) == (START + timedelta(hours=3), START + timedelta(hours=7))
    assert cause.reason == (
        "Instrument 2 missed its mark at its closing verification, Round one, 2 May 2026, 16:00 UTC. Reference volume "
        "RV-7 read 11.443; it must be between 11.15 and 11.35. The last good verification before that was made on "
        "2 May 2026, 12:00 UTC."
    )
    page = logbook.client("inspector").get(f"/events/{EVENT}/verifications/{an_id('verification closing ')}").text
    assert "Instrument 2 missed its mark at closing" in page
    assert "Results in doubt" in page
    assert "2 May 2026, 12:00" in page
    link = page.split('">Show the results')[0].rsplit('href="', 1)[1].replace("&amp;", "&")
    assert link == f"/records?instrument_id={INSTRUMENT}"
    assert logbook.client("inspector").get(link).status_code == 200
    assert "Decide on these results" not in page
    verification = f"/events/{EVENT}/verifications/{cause.id}"
    logbook.clients.clear()  # whose hours are over
    decide = logbook.client("official").get(verification).text.split('">Decide on these')[0].rsplit('href="', 1)[1]
    assert logbook.client("official").get(decide).status_code == 200
    assert in_doubt_at_the_event(logbook) == "2026-05-02T12:00:00Z"
    shed = logbook.client("inspector").get("/shed").text
    assert "Results measured with Instrument 2 from <time" in shed
    assert "on were put in doubt." in shed


def test_a_good_verification_afterwards_does_not_lift_the_doubt_but_starts_no_new_one(logbook: Logbook) -> None:
    a_day(logbook)
    verify(logbook, "closing", *MISSED)
    logbook.clock.advance(hours=1)
    logbook.clients.clear()  # whose hours are over
    a_calibration(logbook, name=" after the miss", calibrated_on="2026-05-02")
    verify(logbook, "opening", name="again")
    logbook.clock.advance(hours=1)
    assert verify(logbook, "closing", name="again")["in_doubt_since"] is None
    (cause,) = causes(logbook)
    assert (cause.since, cause.until) == (START + timedelta(hours=3), START + timedelta(hours=7))
    assert in_doubt_at_the_event(logbook) == "2026-05-02T12:00:00Z"


def test_a_miss_at_the_next_event_doubts_what_came_after_the_last_good_verification_at_the_one_before(
    logbook: Logbook,
) -> None:
    a_day(logbook)
    verify(logbook, "closing")
    logbook.clock.advance(days=30)
    logbook.clients.clear()
    second = {"series_id": str(SERIES), "name": "Round two", "venue": "Fellgate Ring"}
    days = {"starts_on": "2026-06-01", "ends_on": "2026-06-02"}
    put(logbook.client("official"), f"/events/{an_id('round two')}", {**second, **days})
    verify(logbook, "opening", *MISSED, name="of round two", event_id=an_id("round two"))
    (cause,) = causes(logbook)
    assert (cause.since, cause.until) == (START + timedelta(hours=7), START + timedelta(days=30, hours=7))
    assert in_doubt_at_the_event(logbook) is None  # it stood closed in order by then


def test_a_miss_half_way_doubts_what_came_before_it_and_the_first_miss_ever_has_no_beginning(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)
    assert verify(logbook, "opening", *MISSED, name="first")["in_doubt_since"] is None
    (cause,) = causes(logbook)
    assert (cause.since, cause.until) == (None, START)
    assert cause.reason.endswith("No good verification was made before that.")
    page = logbook.client("inspector").get(f"/events/{EVENT}/verifications/{cause.id}").text
    assert "No good verification was made before this one." in page
    logbook.clock.advance(minutes=10)
    a_calibration(logbook, name=" after the miss", calibrated_on="2026-05-02")
    verify(logbook)
    logbook.clock.advance(minutes=10)
    assert verify(logbook, "during", *MISSED)["in_doubt_since"] == "2026-05-02T09:10:00Z"
    assert "at its verification during the day, Round one" in causes(logbook)[0].reason


def test_a_good_closing_puts_nothing_in_doubt(logbook: Logbook) -> None:
    a_day(logbook)
    verify(logbook, "closing")
    assert causes(logbook) == []
    assert in_doubt_at_the_event(logbook) is None


def test_a_closing_off_the_airflow_set_point_says_nothing_about_the_instrument(logbook: Logbook) -> None:
    a_day(logbook)
    found = verify(logbook, "closing", *MISSED, airflow="5.10")
    assert found["off_airflow"]
    assert found["in_doubt_since"] is None
    assert causes(logbook) == []
    assert in_doubt_at_the_event(logbook) is None
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
