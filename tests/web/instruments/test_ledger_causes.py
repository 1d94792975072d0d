"""A certificate withdrawn, a reference volume damaged, a fault: what each puts in doubt, since when, and no more."""

from datetime import timedelta
from typing import Any

import pytest

from app.instruments import ledger
from app.instruments.causes import causes_of
from app.instruments.models import DoubtCause
from tests.builders import EVENT, INSTRUMENT, VOLUME, a_calibration, a_class, an_instrument, put, verify
from tests.conftest import START, Logbook, an_id

BOOK = f"/instruments/{INSTRUMENT}"
SPARE = an_id("spare volume")
FOUND = {"reason": "A dent beside the weld"}
CERTIFICATE = f"{BOOK}/calibrations/{an_id('calibration')}"


def ready(logbook: Logbook) -> None:
    """Opened at 09:00 on RV-7, at hand RV-8, and the clock at 10:00."""
    a_class(logbook)
    an_instrument(logbook)
    mark = {"mark_low": "9.50", "permitted_deviation": "0.05", "mark_displacement": "5733", "mark_cylinders": 8}
    put(logbook.client("official"), f"{BOOK}/reference-volumes/{SPARE}", {"serial": "RV-8", **mark})
    verify(logbook)
    logbook.clock.advance(hours=1)


def on_the_spare(logbook: Logbook, stage: str = "during") -> None:
    verify(logbook, stage, "9.50", "9.51", "9.50", name="spare", reference_volume_id=str(SPARE))


def condemn(logbook: Logbook, volume: object = VOLUME, **more: str) -> dict[str, Any]:
    address = f"{BOOK}/reference-volumes/{volume}/condemnation/{an_id(f'damage {volume}')}"
    return put(logbook.client("inspector"), address, {**FOUND, **more})


def note(logbook: Logbook, kind: str, **more: Any) -> dict[str, Any]:
    body = {"kind": kind, "happened_at": "2026-05-02T09:30:00Z", "text": "Fell off the bench", **more}
    return put(logbook.client("inspector"), f"{BOOK}/notes/{an_id(f'{kind} {sorted(more)}')}", body)


def causes(logbook: Logbook) -> list[DoubtCause]:
    with logbook.database.read() as session:
        return causes_of(session, INSTRUMENT)


def state_at_the_event(logbook: Logbook) -> dict[str, Any]:
    (state,) = logbook.client("inspector").get(f"/api/events/{EVENT}/instruments").json()["instruments"]
    found: dict[str, Any] = state
    return found


def test_a_withdrawn_certificate_doubts_what_rests_on_it_and_is_in_force_no_more(logbook: Logbook) -> None:
    ready(logbook)
    a_calibration(logbook, name="B", calibrated_on="2026-03-10", due_on="2027-03-10")
    later = f"{BOOK}/calibrations/{an_id('calibrationB')}"
    view = put(logbook.client("official"), f"{later}/withdrawal/{an_id('w')}", {"reason": "Wrong serial number"})
    assert view["calibration"]["certificate"] == "NC-2026-118"
    (cause,) = causes(logbook)
    assert (cause.id, cause.kind, cause.calibration_id) == (
        an_id("w"),
        "certificate_withdrawn",
        an_id("calibrationB"),
    )
    assert (cause.since, cause.until) == (None, START + timedelta(hours=1))
    assert cause.reason == (
        "Certificate NC-2026-118B of Northmoor Calibration for Instrument 2 was withdrawn on 2 May 2026, 10:00 UTC. "
        "Wrong serial number."
    )
    page = logbook.client("inspector").get(BOOK).text
    assert "Its certificate was withdrawn" in page.split("What it put in doubt")[1]
    assert f'href="/doubts/{cause.id}"' not in page
    assert f'href="/doubts/{cause.id}"' in logbook.client("official").get(BOOK).text
    printed = logbook.client("official").get(f"{BOOK}/history").text
    assert "withdrawn: Wrong serial number" in printed
    assert "Its certificate was withdrawn" in printed
    assert "Certificate NC-2026-118B withdrawn: Wrong serial number" in page
    assert state_at_the_event(logbook)["in_doubt_since"] is None  # a certificate's results have no common beginning
    put(logbook.client("official"), f"{CERTIFICATE}/withdrawal/{an_id('w2')}", {"reason": "Recalled!"})
    assert logbook.client("official").get(f"/api{BOOK}").json()["instrument"]["calibration"] is None
    assert causes(logbook)[0].reason.endswith("Recalled!")
    assert state_at_the_event(logbook)["may_be_used"] is False


def test_a_certificate_is_withdrawn_once(logbook: Logbook) -> None:
    ready(logbook)
    official = logbook.client("official")
    address = f"/api{CERTIFICATE}/withdrawal/{an_id('w')}"
    first, again = (official.put(address, json={"reason": "Recalled"}) for _ in range(2))
    assert (first.status_code, again.status_code, again.json()) == (200, 200, first.json())
    assert official.put(address, json={"reason": "Other words"}).status_code == 409
    other = official.put(f"/api{CERTIFICATE}/withdrawal/{an_id('w2')}", json={"reason": "Recalled"})
    assert other.status_code == 409
    assert "is withdrawn already" in other.json()["detail"]
    a_calibration(logbook, name="B")
    elsewhere = official.put(
        f"/api{BOOK}/calibrations/{an_id('calibrationB')}/withdrawal/{an_id('w')}", json={"reason": "Recalled"}
    )
    assert elsewhere.status_code == 409
    assert len(causes(logbook)) == 1


def test_a_damaged_volume_takes_with_it_what_it_verified_since_it_was_sound(logbook: Logbook) -> None:
    ready(logbook)
    verify(logbook, "during")
    logbook.clock.advance(hours=2)
    condemn(logbook, last_sound_at="2026-05-02T09:00:00Z")  # the moment of the first verification is still sound
    (cause,) = causes(logbook)
    assert (cause.kind, cause.since, cause.until) == ("volume_damaged", START, START + timedelta(hours=3))
    assert cause.reason == (
        "Reference volume RV-7 of Instrument 2 was found damaged on 2 May 2026, 12:00 UTC; it was last known to be "
        "sound on 2 May 2026, 09:00 UTC. A dent beside the weld. The last good verification before that was made on "
        "2 May 2026, 09:00 UTC."
    )
    assert state_at_the_event(logbook)["in_doubt_since"] == "2026-05-02T09:00:00Z"


def test_where_nobody_can_say_since_when_it_is_the_last_good_verification_on_another_volume(logbook: Logbook) -> None:
    ready(logbook)
    on_the_spare(logbook)
    logbook.clock.advance(hours=1)
    verify(logbook, "during")
    logbook.clock.advance(hours=1)
    condemn(logbook)
    (cause,) = causes(logbook)
    assert (cause.since, cause.until) == (START + timedelta(hours=1), START + timedelta(hours=3))
    assert "nobody can say since when." in cause.reason


def test_without_another_everything_ever_measured_is_in_doubt(logbook: Logbook) -> None:
    ready(logbook)
    condemn(logbook)
    (cause,) = causes(logbook)
    assert (cause.since, cause.until) == (None, START + timedelta(hours=1))
    assert cause.reason.endswith("No good verification was made before that.")


@pytest.mark.parametrize("used", [False, True], ids=["never used", "used before the other one"])
def test_a_volume_on_which_nothing_rests_any_more_puts_nothing_in_doubt(logbook: Logbook, used: bool) -> None:
    ready(logbook)
    if used:
        on_the_spare(logbook)
        logbook.clock.advance(hours=1)
        verify(logbook, "during")
    condemn(logbook, SPARE)
    assert causes(logbook) == []


def test_a_miss_looks_past_what_was_verified_on_a_damaged_volume(logbook: Logbook) -> None:
    ready(logbook)
    on_the_spare(logbook)
    logbook.clock.advance(hours=1)
    condemn(logbook, SPARE)
    verify(logbook, "closing", "11.44", "11.45", "11.44")
    missed = next(cause for cause in causes(logbook) if cause.kind == "missed_mark")
    assert missed.since == START


def test_an_instrument_opened_on_a_volume_found_damaged_is_closed_until_it_is_verified_on_another(
    logbook: Logbook,
) -> None:
    ready(logbook)
    assert state_at_the_event(logbook)["is_open"] is True
    condemn(logbook, last_sound_at="2026-05-02T08:59:59Z")
    assert "RV-7, mark 11.20 to 11.30, out of use" in logbook.client("official").get(f"{BOOK}/history").text
    state = state_at_the_event(logbook)
    assert (state["is_open"], state["state_words"]) == (False, "Closed: its reference volume was found damaged")
    form = logbook.client("inspector").get(f"/events/{EVENT}/verification/opening?instrument={INSTRUMENT}").text
    assert "RV-8" in form
    assert f'value="{VOLUME}"' not in form
    refused = {"instrument_id": str(INSTRUMENT), "reference_volume_id": str(VOLUME), "stage": "opening"}
    answer = logbook.client("inspector").post(
        f"/events/{EVENT}/verification/opening/{an_id('on the damaged one')}",
        data={**refused, "indication_1": "11.25", "indication_2": "11.25", "indication_3": "11.25"},
    )
    assert answer.status_code == 422
    on_the_spare(logbook, "opening")
    assert state_at_the_event(logbook)["is_open"] is True


def test_a_volume_last_sound_after_its_verification_keeps_the_instrument_open(logbook: Logbook) -> None:
    ready(logbook)
    condemn(logbook, last_sound_at="2026-05-02T09:00:00Z")
    assert state_at_the_event(logbook)["is_open"] is True
    assert causes(logbook) == []  # nothing was verified on it since


def test_a_volume_is_condemned_once_and_not_before_it_is_seen(logbook: Logbook) -> None:
    ready(logbook)
    inspector = logbook.client("inspector")
    address = f"/api{BOOK}/reference-volumes/{VOLUME}/condemnation/{an_id('d')}"
    ahead = inspector.put(address, json={**FOUND, "last_sound_at": "2026-05-02T10:00:01Z"})
    assert ahead.status_code == 422
    assert "lies in the future" in ahead.json()["errors"]["last_sound_at"]
    first, again = (inspector.put(address, json=FOUND) for _ in range(2))
    assert (first.status_code, again.status_code, again.json()) == (200, 200, first.json())
    assert inspector.put(address, json={"reason": "A crack"}).status_code == 409
    other = inspector.put(f"/api{BOOK}/reference-volumes/{VOLUME}/condemnation/{an_id('e')}", json=FOUND)
    assert (other.status_code, "is out of use already" in other.text) == (409, True)
    elsewhere = inspector.put(f"/api{BOOK}/reference-volumes/{SPARE}/condemnation/{an_id('d')}", json=FOUND)
    assert elsewhere.status_code == 409
    assert len(causes(logbook)) == 1


def test_a_fault_doubts_what_was_measured_since_it_was_last_in_order(logbook: Logbook) -> None:
    ready(logbook)
    note(logbook, "fault", affects_indication=True)
    (cause,) = causes(logbook)
    assert (cause.kind, cause.since, cause.until) == (
        "fault",
        START + timedelta(minutes=30),
        START + timedelta(hours=1),
    )
    assert cause.reason == (
        "A fault of Instrument 2 that affects what it shows was noted on 2 May 2026, 10:00 UTC; it was last in order "
        "on 2 May 2026, 09:30 UTC. Fell off the bench."
    )
    assert state_at_the_event(logbook)["may_be_used"] is False


def test_a_good_verification_after_it_was_last_seen_in_order_counts_more(logbook: Logbook) -> None:
    ready(logbook)
    note(logbook, "fault", affects_indication=True, happened_at="2026-05-01T09:00:00Z")
    assert causes(logbook)[0].since == START


def test_what_changes_nothing_shown_and_a_move_doubt_nothing(logbook: Logbook) -> None:
    ready(logbook)
    note(logbook, "fault", affects_indication=False)
    note(logbook, "repair", affects_indication=False)
    note(logbook, "moved", place="Northmoor")
    assert causes(logbook) == []


def test_a_repair_noted_after_the_instrument_was_used_again_doubts_what_lies_between(logbook: Logbook) -> None:
    ready(logbook)
    note(logbook, "repair", affects_indication=True)
    (cause,) = causes(logbook)
    assert (cause.kind, cause.until) == ("repair", logbook.clock.moment)
    assert cause.since is not None
    assert cause.since < cause.until
    assert "was used without a calibration until that was noted" in cause.reason


def test_scatter_from_before_a_repair_that_affects_what_it_shows_is_pooled_no_more(logbook: Logbook) -> None:
    ready(logbook)
    verify(logbook, "during", "11.20", "11.25", "11.30")
    with logbook.database.read() as session:
        pooled = ledger.repeatability_of(session, INSTRUMENT)
    # by hand: variances 0.0001 and 0.0025, two degrees of freedom each
    assert pooled is not None
    assert pooled == pytest.approx((0.0013**0.5, 4.0))
    note(logbook, "repair", affects_indication=False, happened_at="2026-05-02T10:00:00Z")
    with logbook.database.read() as session:
        assert ledger.repeatability_of(session, INSTRUMENT) == pooled
    note(logbook, "repair", affects_indication=True, text="New hose")  # at 09:30, between the two
    with logbook.database.read() as session:
        assert ledger.repeatability_of(session, INSTRUMENT) == pytest.approx((0.05, 2.0))
    note(logbook, "repair", affects_indication=True, text="New fitting", happened_at="2026-05-02T10:00:00Z", place="")
    with logbook.database.read() as session:
        assert ledger.repeatability_of(session, INSTRUMENT) is None
