"""Opening the shed, checking again, closing: judged, kept either way, and told in words."""

from typing import Any

import pytest

from app.instruments import service
from tests.builders import EVENT, INSTRUMENT, PROCEDURE, VOLUME, a_calibration, a_class, an_instrument, put, verify
from tests.conftest import Logbook, an_id

TYPED = {
    "instrument_id": str(INSTRUMENT),
    "reference_volume_id": str(VOLUME),
    "step_room_temperature": "yes",
    "step_settings_dialled": "yes",
    "ambient_temperature": "21,5",
    "gas_temperature_set": "21.3",
    "step_hose_straight": "yes",
    "step_airflow_left_alone": "yes",
    "airflow": "4.72",
    "indication_1": "11.24",
    "indication_2": "11.25",
    "indication_3": "11.26",
}
CHECK = an_id("check")


@pytest.fixture(autouse=True)
def bench(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)


def post(logbook: Logbook, stage: str = "opening", who: str = "inspector", **typed: str) -> Any:
    return logbook.client(who).post(f"/events/{EVENT}/verification/{stage}/{CHECK}", data={**TYPED, **typed})


def state(logbook: Logbook) -> dict[str, Any]:
    found: dict[str, Any] = logbook.client("inspector").get(f"/api/events/{EVENT}/instruments").json()["instruments"][0]
    return found


def another_instrument(logbook: Logbook) -> str:
    official = logbook.client("official")
    body = official.get(f"/api/instruments/{INSTRUMENT}").json()["instrument"]
    same = {name: body[name] for name in ("method", "resolution", "stated_accuracy", "accuracy_meaning")}
    asked = {
        "airflow_set_point": body["airflow_set_point_l_min"],
        "airflow_tolerance": body["airflow_tolerance_l_min"],
        "settable_cylinders": body["settable_cylinders"],
        "displacement_min": body["displacement_min_cm3"],
        "displacement_max": body["displacement_max_cm3"],
    }
    given = {"name": "Instrument 9", "serial": "AR-0009", **same, **asked}
    put(official, f"/instruments/{an_id('nine')}", given)
    volume = {"mark_low": "9.50", "permitted_deviation": "0", "mark_displacement": "5733", "mark_cylinders": 8}
    address = f"/instruments/{an_id('nine')}/reference-volumes/{an_id('foreign')}"
    put(official, address, {"serial": "RV-90", **volume})
    return str(an_id("foreign"))


def test_an_instrument_on_its_mark_opens_the_shed(logbook: Logbook) -> None:
    assert state(logbook)["state_words"] == "Not yet verified here"
    answer = post(logbook)
    assert answer.status_code == 303
    page = logbook.client("inspector").get(answer.headers["location"]).text
    found = logbook.client("inspector").get(f"/api/events/{EVENT}/verifications/{CHECK}").json()
    assert found["accepted"]
    assert found["headline"] == "Instrument 2 is open"
    assert found["sentence"] == "Reference volume RV-7 read 11.250; it must be between 11.15 and 11.35."
    assert (found["mean"], found["standard_deviation"]) == ("11.250000000", "0.010000000")
    assert found["ambient_temperature_c"] == "21.5"
    assert found["indications"] == ["11.24", "11.25", "11.26"]
    for shown in (found["headline"], found["sentence"], found["reason"], "11.250", "0.0100", "21.5 °C", "Ines Tarn"):
        assert shown in page
    assert f'href="/events/{EVENT}/waiting"' in page
    assert state(logbook)["is_open"]
    shed = logbook.client("inspector").get("/shed").text
    assert "Round one" in shed
    assert "today, day 1" in shed
    assert f'href="/events/{EVENT}/verification/closing?instrument={INSTRUMENT}"' in shed


def test_an_instrument_off_its_mark_stays_closed_and_the_page_says_by_how_much_and_what_to_do(logbook: Logbook) -> None:
    answer = post(logbook, indication_1="11.43", indication_2="11.44", indication_3="11.45")
    assert answer.status_code == 303
    page = logbook.client("inspector").get(answer.headers["location"]).text
    assert "Instrument 2 stays closed: it missed its mark" in page
    assert "Reference volume RV-7 read 11.440; it must be between 11.15 and 11.35." in page
    assert "Take another instrument, and leave this one as it is, its airflow too." in page
    assert "What was measured with it is in doubt until an official decides." in page  # it was never seen in order
    assert "From 2 May 2026 on it is closed until an official has it calibrated, on that day or later" in page
    assert f'href="/events/{EVENT}/verification/opening"' in page
    assert f'href="/events/{EVENT}/verification/opening?instrument={INSTRUMENT}"' not in page
    found = state(logbook)
    assert (found["is_open"], found["stages"], found["next_stage"]) == (False, [], None)
    assert found["state_words"] == "Closed until it is calibrated: it missed its mark"
    with logbook.database.read() as session:
        assert service.open_instruments(session, EVENT) == []
        kept = service.latest_verification(session, INSTRUMENT, EVENT)
        assert kept is not None
        assert kept.indications == ["11.43", "11.44", "11.45"]


EDGES = [("11.35", True), ("11.36", False), ("11.15", True), ("11.14", False)]


def test_the_permitted_deviation_counts_from_the_edge_of_the_mark(logbook: Logbook) -> None:
    for mean, accepted in EDGES:
        assert verify(logbook, "opening", mean, mean, mean, name=mean)["accepted"] is accepted
        logbook.clock.advance(minutes=1)
        if not accepted:
            a_calibration(logbook, name=mean, calibrated_on="2026-05-02")


def test_off_the_airflow_set_point_nothing_is_judged_and_the_flow_may_not_be_trimmed(logbook: Logbook) -> None:
    answer = post(logbook, airflow="4.83")
    page = logbook.client("inspector").get(answer.headers["location"]).text
    assert "Instrument 2 stays closed: the airflow was off its set-point" in page
    assert "The airflow was 4.83 L/min (10.23 SCFH); the set-point is 4.72 L/min (10 SCFH)" in page
    assert "The airflow may never be trimmed to make the check read right." in page
    found = state(logbook)
    assert (found["is_open"], found["latest"]["off_airflow"], found["latest"]["accepted"]) == (False, True, False)
    with logbook.database.read() as session:
        assert service.repeatability_of(session, INSTRUMENT) is None


def test_an_airflow_within_its_tolerance_is_taken(logbook: Logbook) -> None:
    assert verify(logbook, airflow="4.82")["accepted"]
    assert not verify(logbook, name="next", airflow="4.8201")["accepted"]


def test_a_foreign_reference_volume_is_refused_with_the_reason(logbook: Logbook) -> None:
    foreign = another_instrument(logbook)
    answer = post(logbook, reference_volume_id=foreign)
    assert answer.status_code == 422
    reason = "Reference volume RV-90 belongs to Instrument 9; its mark says nothing about Instrument 2."
    assert reason in answer.text.split('id="f-reference_volume_id-error"')[1].split("</p>")[0]
    assert "Take its own: RV-7." in answer.text
    form = logbook.client("inspector").get(f"/events/{EVENT}/verification/opening?instrument={INSTRUMENT}").text
    assert str(VOLUME) in form
    assert foreign not in form
    assert state(logbook)["latest"] is None


UNREADABLE = [
    ("indication_2", "11.2S", "“11.2S” cannot be read as an indication."),
    ("indication_3", "1125", "“1125” cannot be read as an indication."),
    ("indication_1", "112", "112 cannot be a compression ratio"),
    ("indication_3", "", "Three indications are needed at least."),
    ("airflow", "", "Airflow is needed. Fill it in."),
    ("airflow", "some", "“some” is not a number."),
    ("ambient_temperature", "294", "An ambient temperature of 294 °C is outside -20 °C to 60 °C."),
    ("reference_volume_id", "", "Choose the reference volume that lies on the bench."),
]


def test_what_cannot_be_read_is_said_at_its_field_and_everything_typed_stays(logbook: Logbook) -> None:
    for field, typed, sentence in UNREADABLE:
        answer = post(logbook, **{field: typed})
        assert answer.status_code == 422
        assert sentence in answer.text.split(f'id="f-{field}-error"')[1].split("</p>")[0]
        assert f'href="#f-{field}"' in answer.text
        kept = [value for name, value in TYPED.items() if name != field and not name.endswith("_id")]
        assert all(f'value="{value}"' in answer.text for value in kept)
        assert f"/verification/opening/{CHECK}" in answer.text
        assert logbook.client("inspector").get(f"/api/events/{EVENT}/verifications/{CHECK}").status_code == 404


def test_the_same_verification_sent_twice_is_one_and_other_figures_under_its_id_are_a_conflict(
    logbook: Logbook,
) -> None:
    assert post(logbook).status_code == 303
    logbook.clock.advance(minutes=5)
    assert post(logbook).status_code == 303
    conflict = post(logbook, indication_3="11.27")
    assert conflict.status_code == 409
    assert 'value="11.27"' in conflict.text
    view = logbook.client("inspector").get(f"/api/instruments/{INSTRUMENT}").json()
    assert [check["indications"] for check in view["verifications"]] == [["11.24", "11.25", "11.26"]]
    assert view["verifications"][0]["performed_at"] == "2026-05-02T09:00:00Z"


def test_what_was_never_opened_cannot_be_closed(logbook: Logbook) -> None:
    for stage in ("during", "closing"):
        answer = post(logbook, stage)
        assert answer.status_code == 403
        assert "Instrument 2 has not been opened at Round one. Make its opening verification first." in answer.text


def test_a_closed_instrument_is_no_longer_open(logbook: Logbook) -> None:
    verify(logbook)
    with logbook.database.read() as session:
        assert [view.name for view in service.open_instruments(session, EVENT)] == ["Instrument 2"]
    logbook.clock.advance(hours=3)
    assert verify(logbook, "during")["headline"] == "Instrument 2 stays open"
    logbook.clock.advance(hours=3)
    assert verify(logbook, "closing")["headline"] == "Instrument 2 is closed in order"
    assert (state(logbook)["is_open"], state(logbook)["state_words"]) == (False, "Closed in order")


def test_repeatability_is_pooled_over_the_verifications_by_their_degrees_of_freedom(logbook: Logbook) -> None:
    verify(logbook, "opening", "11.24", "11.25", "11.26")  # s² = 0.0001, 2 degrees of freedom
    verify(logbook, "during", "11.20", "11.20", "11.20", "11.24")  # s² = 0.0004, 3 degrees of freedom
    with logbook.database.read() as session:
        pooled = service.repeatability_of(session, INSTRUMENT)
    assert pooled is not None
    # JCGM 100:2008, 4.2.4: sqrt((2 × 0.0001 + 3 × 0.0004) / 5), worked by hand
    assert pooled[0] == pytest.approx(0.00028**0.5, rel=1e-9)
    assert pooled[1] == 5


def test_the_form_holds_the_procedure_and_its_cautions(logbook: Logbook) -> None:
    address = f"/events/{EVENT}/verification/opening"
    choosing = logbook.client("inspector").get(address).text
    assert "Open the shed: which instrument?" in choosing
    assert "due in 284 days" in choosing  # 2 May 2026 to 10 February 2027
    form = logbook.client("inspector").get(f"{address}?instrument={INSTRUMENT}").text
    for words in (
        "The reference volume lies on the bench at room temperature, in nobody’s hand",
        "Warmth skews the reading. One kelvin (1.8 °F) warmer, its gas reads about 0.34 % less in volume: the ratio "
        "reads about 0.035 too high.",
        "Mark is an interval, 11.20 to 11.30, at 5733 cm³ and 8 cylinders",
        "Its mark is an interval: anywhere from 11.20 to 11.30 is on the mark.",
        "the mean must lie between 11.15 and 11.35",
        "Set the gas temperature to ambient",
        "Set 5733 cm³, 8 cylinders",
        "Hose straight, adapter fully seated",
        "Airflow exactly at 4.72 L/min",
        "The airflow may never be trimmed to make the check read right.",
        "as closely as the flowmeter can be read: within 0.1 L/min",
        "Airflow set before the first indication, and not touched since",
        "Further indications, up to 12 in all",
        "Away from hot engines.",
        "Eye protection on before the air goes on.",
        "Fuel vapour and compressed air can burn together.",
        "Local rules",
    ):
        assert words in form


WHO_VERIFIES = [("", 401), ("competitor", 404), ("administrator", 403), ("official", 403), ("inspector", 200)]


def test_only_an_inspector_verifies(logbook: Logbook) -> None:
    for who, status in WHO_VERIFIES:
        body = {
            "instrument_id": str(INSTRUMENT),
            "reference_volume_id": str(VOLUME),
            "stage": "opening",
            "indications": ["11.24", "11.25", "11.26"],
            "airflow": "4.72",
            "ambient_temperature": "21",
            **PROCEDURE,
        }
        address = f"/api/events/{EVENT}/verifications/{CHECK}"
        assert logbook.client(who).put(address, json=body).status_code == status
        assert logbook.client(who).get("/shed").status_code == (303 if who == "" else status)


def test_the_shed_shows_past_events_behind_a_link_only(logbook: Logbook) -> None:
    logbook.clock.advance(days=10)
    logbook.clients.clear()
    inspector = logbook.client("inspector")
    assert "No event today, and none to come." in inspector.get("/shed").text
    assert "Round one" not in inspector.get("/shed").text
    everything = inspector.get("/shed?everything=true").text
    assert "Round one" in everything
    assert "9 days ago" in everything


def test_a_verification_is_found_at_its_own_event_only(logbook: Logbook) -> None:
    verify(logbook)
    made = an_id("verification opening ")
    client = logbook.client("official")
    assert client.get(f"/events/{EVENT}/verifications/{made}").status_code == 200
    assert client.get(f"/events/{an_id('elsewhere')}/verifications/{made}").status_code == 404
    assert client.get(f"/events/{EVENT}/verification/sometime").status_code in (403, 404)
