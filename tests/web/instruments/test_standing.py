"""Whether an instrument may be used: after a miss, a fault, a repair, a reference volume that is damaged."""

import pytest

from app.instruments import ledger
from tests import builders
from tests.builders import EVENT, INSTRUMENT, VOLUME, a_calibration, a_class, an_instrument, put, verify
from tests.conftest import Logbook, an_id
from tests.web.instruments.sheds import hindrance, note, refused, state, withdraw

MISSED = ("11.44", "11.45", "11.44")


@pytest.fixture
def shed(logbook: Logbook) -> Logbook:
    a_class(logbook)
    an_instrument(logbook)
    return logbook


# ---- after a miss ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("missed_at", ["opening", "during", "closing"])
def test_a_miss_at_any_stage_closes_the_instrument_until_it_is_calibrated(shed: Logbook, missed_at: str) -> None:
    if missed_at != "opening":
        verify(shed)
    shed.clock.advance(minutes=1)
    assert not verify(shed, missed_at, *MISSED)["accepted"]
    shed.clock.advance(minutes=1)
    for stage in ("opening", "during", "closing"):
        said = refused(shed, stage, f"{missed_at} {stage}")
        assert said.startswith("Instrument 2 missed its mark on 2 May 2026 at Round one. It stays closed until a ")
        assert "Take another instrument. An official has this one calibrated and records it here." in said
        assert said.endswith("The miss stays in its history.")
    assert (state(shed)["is_open"], state(shed)["stages"]) == (False, [])
    shed.clock.advance(minutes=1)
    a_calibration(shed, name=" again", calibrated_on="2026-05-02")
    assert (state(shed)["state_words"], state(shed)["stages"]) == (
        "Closed: missed its mark, calibrated since",
        ["opening"],
    )
    assert verify(shed, name="again")["accepted"]
    assert state(shed)["is_open"]


def test_the_page_of_a_barred_instrument_says_why_and_offers_no_form(shed: Logbook) -> None:
    verify(shed, "opening", *MISSED)
    inspector = shed.client("inspector")
    for stage in ("opening", "during", "closing"):
        page = inspector.get(f"/events/{EVENT}/verification/{stage}?instrument={INSTRUMENT}").text
        assert "Instrument 2 missed its mark on 2 May 2026 at Round one." in page
        assert "Judge this verification" not in page
        assert "Another instrument" in page
    assert "Take another one." in inspector.get(f"/events/{EVENT}/verification/opening").text
    page = inspector.get("/shed").text
    assert "Closed until it is calibrated: it missed its mark" in page
    assert "An official has this one calibrated and records it here." in page
    assert "?instrument=" not in page


def test_what_was_typed_for_an_instrument_that_turned_out_barred_is_kept(shed: Logbook) -> None:
    """Two inspectors at one bench: the other one's check missed while this form was being filled."""
    verify(shed, "opening", *MISSED)
    typed = {
        "instrument_id": str(INSTRUMENT),
        "reference_volume_id": str(VOLUME),
        **{f"step_{key}": "yes" for key in builders.PROCEDURE["steps_confirmed"]},
        "ambient_temperature": "21.0",
        "gas_temperature_set": "21.0",
        "airflow": "4.72",
        **{f"indication_{number}": f"11.2{number}" for number in range(1, 5)},
    }
    address = f"/events/{EVENT}/verification/opening/{an_id('late')}"
    answer = shed.client("inspector").post(address, data=typed)
    assert answer.status_code == 403
    assert "Instrument 2 missed its mark on 2 May 2026 at Round one." in answer.text.split('role="alert"')[1]
    assert all(f'value="11.2{number}"' in answer.text for number in range(1, 5))


def test_only_a_calibration_of_that_day_or_later_recorded_afterwards_opens_it_again(shed: Logbook) -> None:
    shed.clock.advance(minutes=-5)
    a_calibration(shed, name=" before the miss", calibrated_on="2026-05-02")
    shed.clock.advance(minutes=5)
    verify(shed, "opening", *MISSED)
    assert hindrance(shed) == "missed"  # recorded before it
    shed.clock.advance(minutes=5)
    a_calibration(shed, name=" an old paper", calibrated_on="2026-05-01")
    assert hindrance(shed) == "missed"  # made before it
    a_calibration(shed, name=" today", calibrated_on="2026-05-02")
    assert hindrance(shed) is None


def test_a_withdrawn_certificate_closes_again_what_it_opened(shed: Logbook) -> None:
    verify(shed, "opening", *MISSED)
    shed.clock.advance(minutes=5)
    calibration = a_calibration(shed, name=" today", calibrated_on="2026-05-02")
    assert hindrance(shed) is None
    withdraw(shed, calibration)
    assert hindrance(shed) == "missed"


def test_an_instrument_or_a_volume_that_the_book_does_not_have_is_said_at_its_field(shed: Logbook) -> None:
    typed = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "stage": "opening"}
    met = {"indications": ["11.25"] * 3, "airflow": "4.72", "ambient_temperature": "21", **builders.PROCEDURE}
    for field, sentence in (
        ("instrument_id", "Choose one of the instruments of the book."),
        ("reference_volume_id", "Choose the reference volume that lies on the bench."),
    ):
        body = {**typed, **met, field: str(an_id("nowhere"))}
        answer = shed.client("inspector").put(f"/api/events/{EVENT}/verifications/{an_id('x')}", json=body)
        assert answer.json()["errors"] == {field: sentence}


def test_one_off_its_airflow_bars_nothing_and_is_made_again(shed: Logbook) -> None:
    verify(shed)
    shed.clock.advance(minutes=1)
    verify(shed, "during", *MISSED, airflow="4.90")
    found = state(shed)
    assert (hindrance(shed), found["may_be_used"], found["is_open"]) == (None, True, False)
    assert found["stages"] == ["during", "closing"]
    shed.clock.advance(minutes=1)
    verify(shed, "closing", airflow="4.90", name="off")
    assert state(shed)["stages"] == ["closing"]
    shed.clock.advance(minutes=1)
    assert verify(shed, "closing")["accepted"]
    shed.clock.advance(minutes=1)
    verify(shed, "opening", airflow="4.90", name="next off")
    assert state(shed)["stages"] == ["opening", "closing"]


def test_a_miss_at_one_event_closes_the_instrument_at_every_other(shed: Logbook) -> None:
    body = {"series_id": str(builders.SERIES), "name": "Round two", "venue": "Hill Ring"}
    event = an_id("round two")
    put(shed.client("official"), f"/events/{event}", {**body, "starts_on": "2026-05-02", "ends_on": "2026-05-02"})
    verify(shed, "opening", *MISSED)
    other = shed.client("inspector").get(f"/api/events/{event}/instruments").json()["instruments"][0]
    assert other["latest"] is None
    assert (other["may_be_used"], other["stages"]) == (False, [])
    assert other["state_words"] == "Closed until it is calibrated: it missed its mark"


# ---- faults and repairs ------------------------------------------------------------------------------------------


def test_a_fault_that_affects_what_it_shows_takes_it_out_of_use_but_lets_it_be_closed(shed: Logbook) -> None:
    verify(shed)
    shed.clock.advance(hours=1)
    note(shed, "fault", "2026-05-02T09:30:00Z")
    assert hindrance(shed) == "fault"
    found = state(shed)
    assert (found["is_open"], found["stages"]) == (False, ["closing"])
    assert (
        "A fault of Instrument 2 that affects what it shows was noted on 2 May 2026: The hose fitting is loose."
        in (found["warning"])
    )
    assert "It is out of use until a calibration made on that day or later is recorded." in refused(shed, "during")
    with shed.database.read() as session:
        assert ledger.open_instruments(session, EVENT) == []
    shed.clock.advance(minutes=1)
    assert verify(shed, "closing")["accepted"]
    shed.clock.advance(minutes=1)
    assert refused(shed, "opening").startswith("A fault of Instrument 2")
    a_calibration(shed, name=" after the fault", calibrated_on="2026-05-02")
    assert hindrance(shed) is None


def test_a_fault_that_leaves_the_indication_alone_and_a_move_bar_nothing(shed: Logbook) -> None:
    note(shed, "fault", "2026-05-01T09:00:00Z", affects=False)
    note(shed, "repair", "2026-05-01T09:00:00Z", affects=False)
    assert hindrance(shed) is None
    assert verify(shed)["accepted"]


def test_a_calibration_from_before_a_fault_was_noted_does_not_lift_it(shed: Logbook) -> None:
    a_calibration(shed, name=" early", calibrated_on="2026-05-02")
    shed.clock.advance(minutes=5)
    note(shed, "fault", "2026-05-02T08:00:00Z")
    assert hindrance(shed) == "fault"


def test_a_repair_is_followed_by_a_calibration_of_a_later_day_however_late_it_is_written_down(shed: Logbook) -> None:
    a_calibration(shed, name=" of April", calibrated_on="2026-04-20")
    shed.clock.advance(minutes=5)
    note(shed, "repair", "2026-04-19T12:00:00Z", name="in April")
    assert hindrance(shed) is None
    note(shed, "repair", "2026-04-20T12:00:00Z", name="the same day")  # before the calibration or after it?
    assert hindrance(shed) == "repair"
    assert "Instrument 2 was repaired on 20 April 2026 so that what it shows may have changed" in refused(shed)
    shed.clock.advance(minutes=5)
    a_calibration(shed, name=" told late", calibrated_on="2026-04-20")
    assert hindrance(shed) is None


# ---- its reference volume --------------------------------------------------------------------------------------------


def test_a_condemned_reference_volume_verifies_nothing(shed: Logbook) -> None:
    body = {"reason": "Dropped; its seat is bent."}
    address = f"/instruments/{INSTRUMENT}/reference-volumes/{VOLUME}/condemnation/{an_id('condemned')}"
    put(shed.client("official"), address, body)
    typed = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "stage": "opening"}
    met = {"indications": ["11.25"] * 3, "airflow": "4.72", "ambient_temperature": "21", **builders.PROCEDURE}
    answer = shed.client("inspector").put(f"/api/events/{EVENT}/verifications/{an_id('x')}", json={**typed, **met})
    assert answer.json()["errors"] == {
        "reference_volume_id": "Reference volume RV-7 was found damaged and verifies nothing any more. "
        "It has no other one; an official adds one."
    }
    form = shed.client("inspector").get(f"/events/{EVENT}/verification/opening?instrument={INSTRUMENT}").text
    assert "Instrument 2 has no sound reference volume of its own." in form
