"""Exactly the verdicts that a cause concerns, not one more or less."""

from app.doubts.sweeping import look_back
from tests import builders
from tests.conftest import Logbook, an_id
from tests.web.doubts.raising import (
    CALIBRATION,
    SECOND,
    a_second_instrument,
    at,
    doubted,
    go,
    measured,
    measured_again,
    minutes,
    raise_cause,
    sheet_of,
    verdict_of,
)
from tests.web.history import rows


def test_those_measured_since_the_last_good_verification_and_no_others(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    measured(logbook, "41", "11:59")
    between = {measured(logbook, "42", "12:01"), measured(logbook, "43", "15:59")}
    measured(logbook, "44", "16:01")
    raise_cause(logbook, at("12:00"), at("16:00"))
    assert doubted(logbook) == between


def test_a_reading_at_either_end_of_the_time_counts(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    ends = {measured(logbook, "41", "12:00"), measured(logbook, "42", "16:00")}
    raise_cause(logbook, at("12:00"), at("16:00"))
    assert doubted(logbook) == ends
    raise_cause(logbook, at("12:00") + minutes(1 / 60), at("16:00") - minutes(1 / 60), name="a second inside")
    assert doubted(logbook, "a second inside") == set()


def test_a_sheet_read_over_the_edge_of_the_time_counts_from_its_first_to_its_last_reading(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    go(logbook, "11:50")
    sheet = rows.an_open_sheet(logbook)
    builders.readings(logbook, sheet, [[rows.INSIDE]] * 3)
    go(logbook, "12:10")
    last = {"cylinder": 4, "indications": [rows.INSIDE]}
    builders.put(logbook.client("inspector"), f"/inspections/{sheet}/readings/{an_id('last')}", last)
    rows.sign(logbook, sheet)
    raise_cause(logbook, at("12:00"), at("16:00"), name="after the first")
    raise_cause(logbook, at("10:00"), at("12:00"), name="before the last")
    raise_cause(logbook, at("12:05"), at("12:06"), name="between the two")
    raise_cause(logbook, at("12:11"), at("16:00"), name="after all")
    raise_cause(logbook, at("10:00"), at("11:49"), name="before all")
    names = ("after the first", "before the last", "between the two", "after all", "before all")
    assert [len(doubted(logbook, name)) for name in names] == [1, 1, 1, 0, 0]


def test_a_corrected_reading_counts_for_when_it_was_taken_anew(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    go(logbook, "11:50")
    sheet = rows.an_open_sheet(logbook)
    builders.readings(logbook, sheet, [[rows.INSIDE]] * 4)
    go(logbook, "12:10")
    for cylinder in range(1, 5):
        again = {
            "cylinder": cylinder,
            "indications": [rows.INSIDE],
            "replaces_id": str(an_id(f"reading {sheet} {cylinder}")),
            "reason": "Adapter was not seated",
        }
        address = f"/inspections/{sheet}/readings/{an_id(f'again {cylinder}')}"
        builders.put(logbook.client("inspector"), address, again)
    rows.sign(logbook, sheet)
    raise_cause(logbook, at("10:00"), at("12:00"), name="of what was set aside")
    raise_cause(logbook, at("12:00"), at("16:00"), name="of what stands")
    assert doubted(logbook, "of what was set aside") == set()
    assert doubted(logbook, "of what stands") == {verdict_of(logbook, "41")}


def test_a_tablet_whose_clock_is_fast_does_not_carry_a_reading_beyond_the_closing(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    go(logbook, "15:58")
    sheet = rows.an_open_sheet(logbook)
    claimed = at("16:02").isoformat()
    readings = [
        {"id": str(an_id(f"fast {n}")), "cylinder": n, "indications": [rows.INSIDE], "taken_at": claimed}
        for n in range(1, 5)
    ]
    builders.put(logbook.client("inspector"), f"/inspections/{sheet}/readings", {"readings": readings})
    rows.sign(logbook, sheet)
    raise_cause(logbook, at("12:00"), at("16:00"))
    assert doubted(logbook) == {verdict_of(logbook, "41")}


def test_without_a_last_good_verification_everything_before_counts(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    before = {measured(logbook, "41", "09:10"), measured(logbook, "42", "13:00")}
    measured(logbook, "43", "16:01")
    raise_cause(logbook, None, at("16:00"))
    assert doubted(logbook) == before


def test_another_instrument_is_left_out(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    a_second_instrument(logbook)
    go(logbook, "13:00")
    entry = builders.an_entry(logbook, "50", 4)
    other = builders.a_sheet(
        logbook, entry, "sheet", set_displacement="2866", set_cylinders=4, instrument_id=str(SECOND)
    )
    builders.readings(logbook, other, [[rows.INSIDE, rows.INSIDE]] * 4)
    rows.sign(logbook, other)
    first = measured(logbook, "41", "13:00")
    raise_cause(logbook, at("12:00"), at("16:00"))
    raise_cause(logbook, at("12:00"), at("16:00"), name="second", instrument_id=SECOND)
    assert doubted(logbook) == {first}
    assert doubted(logbook, "second") == {verdict_of(logbook, "50")}


def test_a_certificate_concerns_what_rests_on_it_whenever_it_was_measured(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    resting = {measured(logbook, "41", "09:10"), measured(logbook, "42", "15:00")}
    go(logbook, "15:10")
    builders.a_calibration(logbook, name=" newer", calibrated_on="2026-05-02", due_on="2027-05-02")
    other = measured(logbook, "43", "15:20")
    raise_cause(logbook, kind="certificate_withdrawn", calibration_id=CALIBRATION)
    raise_cause(logbook, kind="certificate_withdrawn", calibration_id=an_id("calibration newer"), name="the newer one")
    assert doubted(logbook) == resting
    assert doubted(logbook, "the newer one") == {other}


def test_a_sheet_measured_again_has_its_own_verdict_and_its_own_time(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    first = measured(logbook, "41", "13:00")
    raise_cause(logbook, at("12:00"), at("14:00"))
    go(logbook, "15:00")
    measured_again(logbook, "41")
    raise_cause(logbook, at("14:30"), at("16:00"), name="later")
    assert doubted(logbook) == {first}
    assert len(doubted(logbook, "later")) == 1
    assert first not in doubted(logbook, "later")


def test_an_open_sheet_is_told_beforehand_and_in_doubt_from_the_moment_it_is_signed(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    go(logbook, "13:00")
    sheet = rows.an_open_sheet(logbook)
    builders.readings(logbook, sheet, [[rows.INSIDE, rows.INSIDE]] * 4)
    inspector = logbook.client("inspector")
    assert inspector.get(f"/api/inspections/{sheet}").json()["doubtful"] == []
    raise_cause(logbook, at("12:00"), at("16:00"))
    assert doubted(logbook) == set()
    told = inspector.get(f"/api/inspections/{sheet}").json()["doubtful"]
    assert told == ["Instrument 2 missed its mark at its closing verification."]
    for page in (f"/inspections/{sheet}", f"/inspections/{sheet}/verdict"):
        assert "will be in doubt as soon as it is signed" in inspector.get(page).text
    go(logbook, "17:00")
    rows.sign(logbook, sheet)
    assert doubted(logbook) == {verdict_of(logbook, "41")}
    assert logbook.client("inspector").get(f"/api/inspections/{sheet}").json()["doubtful"] == []
    found = logbook.client("official").get(f"/api/doubts/{an_id('cause')}").json()
    assert (found["line"]["open"], found["line"]["is_looked_back"]) == (1, True)


def test_an_open_sheet_without_a_reading_is_not_told_of_anything(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    go(logbook, "13:00")
    sheet = rows.an_open_sheet(logbook)
    raise_cause(logbook, at("12:00"), at("16:00"))
    assert logbook.client("inspector").get(f"/api/inspections/{sheet}").json()["doubtful"] == []


def test_several_causes_each_have_the_same_verdict_once(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    verdict = measured(logbook, "41", "13:00")
    raise_cause(logbook, at("12:00"), at("16:00"))
    raise_cause(logbook, kind="certificate_withdrawn", calibration_id=CALIBRATION, name="certificate")
    raise_cause(logbook, None, at("17:00"), kind="volume_damaged", name="volume")
    for name in ("cause", "certificate", "volume"):
        assert doubted(logbook, name) == {verdict}
    found = logbook.client("official").get(f"/api/records/{sheet_of('41')}").json()["standing"]
    assert found["state"] == "in_doubt"
    assert sorted(cause["kind"] for cause in found["causes"]) == [
        "certificate_withdrawn",
        "missed_mark",
        "volume_damaged",
    ]


def test_every_piece_size_finds_the_same_and_says_once_that_it_is_done(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    found = {measured(logbook, "41", "13:00"), measured(logbook, "42", "13:00"), measured(logbook, "43", "13:05")}
    for calibration in (CALIBRATION, None):
        for piece in (1, 2, 3, 4, 100):
            name = f"{calibration} {piece}"
            raise_cause(logbook, at("12:00"), at("16:00"), calibration_id=calibration, name=name, look=False)
            assert look_back(logbook.database, piece=piece) == 3
            assert look_back(logbook.database, piece=piece) == 0
            assert doubted(logbook, name) == found
    log = logbook.client("official").get("/api/log?check=true").json()
    assert log["chain"]["holds"]
    assert [line["what"] for line in log["lines"]].count("Looked back") == 10
