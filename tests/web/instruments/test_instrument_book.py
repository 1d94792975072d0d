"""Registering instruments, their reference volumes and calibrations."""

from typing import Any

from tests.builders import INSTRUMENT, VOLUME, a_class, an_instrument, put, verify
from tests.conftest import Logbook, an_id

TYPED = {
    "name": "Instrument 5",
    "serial": "AR-0005",
    "method": "acoustic_resonance",
    "resolution": "0,01",
    "stated_accuracy": "0.10",
    "accuracy_meaning": "limits",
    "airflow_set_point": "5",
    "airflow_tolerance": "0.1",
    "settable_cylinders": "8, 4 and 6",
    "displacement_min": "60",
    "displacement_max": "500",
}
CALIBRATION = {
    "laboratory": "Northmoor Calibration",
    "certificate": "NC-2026-201",
    "calibrated_on": "2026-04-01",
    "due_on": "2026-06-12",
    "deviation": "-0.02",
    "expanded_uncertainty": "0.04",
    "coverage_factor": "2",
}


def read(logbook: Logbook, instrument_id: object = INSTRUMENT, who: str = "official") -> dict[str, Any]:
    found: dict[str, Any] = logbook.client(who).get(f"/api/instruments/{instrument_id}").json()
    return found


def test_an_instrument_typed_in_inch_units_is_kept_exactly_in_metric(logbook: Logbook) -> None:
    official = logbook.client("official")
    put(official, "/me/preferences", {"units": "inch", "pad_side": "right"})
    answer = official.post(f"/instruments/{an_id('five')}", data=TYPED)
    assert answer.status_code == 303
    kept = read(logbook, an_id("five"))["instrument"]
    assert kept["resolution"] == "0.01"
    assert kept["settable_cylinders"] == [4, 6, 8]
    # NIST SP 811, Appendix B: one cubic inch is 16.387064 cm³, one cubic foot 28.316846592 L (per hour: / 60)
    assert (kept["displacement_min_cm3"], kept["displacement_max_cm3"]) == ("983.22384", "8193.532")
    assert kept["airflow_set_point_l_min"] == "2.359737216"
    shown = official.get(answer.headers["location"]).text
    assert "60 to 500 in³" in shown
    assert "5 SCFH" in shown


WRONG = [
    ("name", "", "Name is needed. Fill it in."),
    ("resolution", "fine", "“fine” is not a number."),
    ("resolution", "10", "The resolution 10 is outside 0.0001 to 1."),
    ("airflow_set_point", "5 gallons", "“gallons” is not a unit of flow known here. Write L/min or SCFH."),
    ("airflow_tolerance", "6", "The tolerance is as large as the set-point itself."),
    ("settable_cylinders", "4, six", "“six” is not a cylinder count."),
    ("settable_cylinders", "4, 6.5", "“6.5” is not a cylinder count."),
    ("displacement_max", "50", "The largest displacement must lie above the smallest"),
    ("method", "by_ear", "This method is not known here. Choose one of the list."),
    ("method", "liquid_volume", "This method is not known here. Choose one of the list."),
    ("serial", "AR-0002", "“AR-0002” is in the instrument book already."),
]


def test_what_cannot_be_taken_is_said_beside_its_field_and_all_that_was_typed_stays(logbook: Logbook) -> None:
    for field, typed, sentence in WRONG:
        an_instrument(logbook)
        answer = logbook.client("official").post(f"/instruments/{an_id('five')}", data={**TYPED, field: typed})
        assert answer.status_code == 422
        assert f'href="#f-{field}"' in answer.text
        beside = answer.text.split(f'id="f-{field}-error"')[1].split("</p>")[0]
        assert sentence in beside
        kept = [value for name, value in TYPED.items() if name not in (field, "method", "accuracy_meaning")]
        assert all(f'value="{value}"' in answer.text for value in kept)
        assert f"/instruments/{an_id('five')}" in answer.text
        assert logbook.client("official").get(f"/api/instruments/{an_id('five')}").status_code == 404


def test_the_same_instrument_sent_twice_is_one_and_another_under_its_id_is_a_conflict(logbook: Logbook) -> None:
    official, body = logbook.client("official"), {**TYPED, "settable_cylinders": [4, 6, 8]}
    first = official.put(f"/api/instruments/{an_id('five')}", json=body)
    again = official.put(f"/api/instruments/{an_id('five')}", json=body)
    assert (first.status_code, again.status_code) == (200, 200)
    assert again.json() == first.json()
    other = official.put(f"/api/instruments/{an_id('five')}", json={**body, "resolution": "0.02"})
    assert other.status_code == 409
    assert read(logbook, an_id("five"))["instrument"]["resolution"] == "0.01"
    assert len(official.get("/api/instruments").json()) == 1


def test_a_reference_volume_belongs_to_one_instrument_and_must_fit_its_settings(logbook: Logbook) -> None:
    an_instrument(logbook)
    official = logbook.client("official")
    put(official, f"/instruments/{an_id('five')}", {**TYPED, "displacement_max": "9000"})
    typed = {
        "serial": "RV-7",
        "mark_low": "11.20",
        "permitted_deviation": "0.05",
        "mark_displacement": "400 in3",
        "mark_cylinders": "12",
    }
    answer = official.post(f"/instruments/{an_id('five')}/reference-volumes/{an_id('v')}", data=typed)
    assert answer.status_code == 422
    assert "Reference volume RV-7 belongs to Instrument 2 already, and to that one only." in answer.text
    assert "Instrument 5 cannot be set to 12 cylinders, only to 4, 6, 8." in answer.text
    assert 'value="400 in3"' in answer.text
    mended = {**typed, "serial": "RV-9", "mark_cylinders": "8", "mark_high": "11.10"}
    refused = official.post(f"/instruments/{an_id('five')}/reference-volumes/{an_id('v')}", data=mended)
    assert "The upper end of the mark must lie above the lower end" in refused.text
    mended["mark_high"] = ""
    assert official.post(f"/instruments/{an_id('five')}/reference-volumes/{an_id('v')}", data=mended).status_code == 303
    volume = read(logbook, an_id("five"))["instrument"]["reference_volumes"][0]
    assert (volume["mark_text"], volume["lowest_accepted"], volume["highest_accepted"]) == ("11.20", "11.15", "11.25")
    assert volume["mark_displacement_cm3"] == "6554.8256"


def test_the_book_says_when_the_calibration_falls_due(logbook: Logbook) -> None:
    official = logbook.client("official")
    put(official, f"/instruments/{an_id('five')}", TYPED)
    assert "none recorded" in official.get("/instruments").text
    address = f"/instruments/{an_id('five')}/calibrations/{an_id('c')}"
    assert official.post(address, data=CALIBRATION).status_code == 303
    for days, words, state in (
        (0, "due in 41 days", "in_time"),
        (30, "due in 11 days", "soon"),
        (10, "due tomorrow", "soon"),
        (1, "due today", "soon"),
        (1, "overdue since 12 June 2026", "overdue"),
    ):
        logbook.clock.advance(days=days)
        logbook.clients.clear()  # nobody stays signed in that long
        page, found = logbook.client("official").get("/instruments").text, read(logbook, an_id("five"))["instrument"]
        assert words in page
        assert (found["due_words"], found["due_state"]) == (words, state)


def test_a_calibration_is_checked_against_the_calendar(logbook: Logbook) -> None:
    an_instrument(logbook)
    address = f"/instruments/{INSTRUMENT}/calibrations/{an_id('c')}"
    wrong = {**CALIBRATION, "calibrated_on": "2026-06-01", "due_on": "2026-05-31"}
    answer = logbook.client("official").post(address, data=wrong)
    assert answer.status_code == 422
    assert "The calibration date lies in the future; today is 2 May 2026. Check the year." in answer.text
    assert "The due date lies before the calibration date." in answer.text
    assert 'value="Northmoor Calibration"' in answer.text
    assert 'value="2026-05-31"' in answer.text


def test_the_page_of_an_instrument_shows_the_figures_of_the_api_and_who_entered_them(logbook: Logbook) -> None:
    a_class(logbook)
    an_instrument(logbook)
    verify(logbook, "opening", "11.24", "11.27", "11.24")
    view = read(logbook)
    page = logbook.client("official").get(f"/instruments/{INSTRUMENT}").text
    # s of 11.24, 11.27, 11.24 is sqrt(0.0006 / 2) = 0.01732..., worked by hand
    assert view["repeatability"] == "0.017321"
    assert view["repeatability_degrees_of_freedom"] == 2
    assert view["verifications"][0]["mean"] == "11.250000000"
    for shown in ("11.250", "0.0173", "11.20 to 11.30", "11.15 to 11.35", "NC-2026-118", "0.04 (k = 2)", "± 0.10"):
        assert shown in page
    assert [row["what"] for row in view["happened"]] == [
        "Instrument registered: Instrument 2, AR-0002",
        "Reference volume added: RV-7",
        "Calibration recorded: NC-2026-118",
        "Verification accepted: opening, Round one",
    ]
    assert all(row["what"] in page for row in view["happened"])
    assert [row["who"] for row in view["happened"]] == ["Oswin Marl"] * 3 + ["Ines Tarn"]


def test_an_empty_book_says_what_to_do(logbook: Logbook) -> None:
    page = logbook.client("official").get("/instruments").text
    assert "No instrument yet." in page
    assert 'href="/instruments/new"' in page
    assert 'href="/instruments/new"' not in logbook.client("inspector").get("/instruments").text


WHO_WRITES = [("", 401), ("competitor", 404), ("administrator", 403), ("inspector", 403), ("official", 200)]


def test_only_an_official_writes_in_the_instrument_book(logbook: Logbook) -> None:
    for who, status in WHO_WRITES:
        an_instrument(logbook)
        client = logbook.client(who)
        assert client.put(f"/api/instruments/{an_id('five')}", json=TYPED).status_code == status
        calibration = client.put(f"/api/instruments/{INSTRUMENT}/calibrations/{an_id('c')}", json=CALIBRATION)
        assert calibration.status_code == status
        body = {
            "serial": "RV-8",
            "mark_low": "9.50",
            "permitted_deviation": "0.05",
            "mark_displacement": "5733",
            "mark_cylinders": 8,
        }
        volume = client.put(f"/api/instruments/{INSTRUMENT}/reference-volumes/{an_id('v')}", json=body)
        assert volume.status_code == status


WHO_READS = [("", 303), ("competitor", 404), ("inspector", 200), ("official", 200)]


def test_the_instrument_book_is_the_staffs(logbook: Logbook) -> None:
    for who, status in WHO_READS:
        an_instrument(logbook)
        for address in ("/instruments", f"/instruments/{INSTRUMENT}"):
            assert logbook.client(who).get(address).status_code == status
        assert str(VOLUME) not in logbook.client("competitor").get(f"/api/instruments/{INSTRUMENT}").text
