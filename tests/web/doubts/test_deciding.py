"""Named decisions about results in doubt: upheld, measured again, withdrawn."""

from typing import Any
from uuid import UUID

import pytest
from sqlalchemy import select

from app.doubts import service
from app.doubts.schemas import DecideIn
from app.errors import Conflict, Invalid, LogbookError, NotFound, Refused
from app.inspections.models import Verdict
from app.parsing import parse
from tests import builders
from tests.conftest import Logbook, an_id
from tests.web.doubts.raising import (
    CALIBRATION,
    at,
    decide,
    go,
    measured,
    measured_again,
    raise_cause,
    sheet_of,
    verdict_of,
)
from tests.web.history import rows

REASONS = "The closing was made again and read right."


def standing(book: Logbook, verdict_id: UUID) -> Any:
    with book.database.read() as session:
        return service.standing_of(session, [verdict_id])[verdict_id]


def two_in_doubt(book: Logbook) -> tuple[UUID, UUID]:
    rows.a_shed(book)
    first, second = measured(book, "41", "13:00"), measured(book, "42", "13:10", "rival")
    go(book, "16:00")
    raise_cause(book, at("12:00"), at("16:00"))
    return first, second


def test_one_act_decides_about_several_results_with_one_reason(logbook: Logbook) -> None:
    first, second = two_in_doubt(logbook)
    assert standing(logbook, first).state == "in_doubt"
    assert standing(logbook, first).since == at("16:00")
    decided = decide(logbook, [first, second])
    assert (decided.words, decided.decided_by, decided.decided_at) == ("Upheld", "Oswin Marl", at("16:00"))
    assert set(decided.verdict_ids) == {first, second}
    for verdict in (first, second):
        found = standing(logbook, verdict)
        assert (found.state, found.decision.reasons, found.decision.act_id) == ("upheld", REASONS, an_id("act"))
        assert "upheld by Oswin Marl on 2 May 2026, 16:00 UTC" in found.sentence
    official = logbook.client("official")
    work = official.get("/api/doubts").json()
    assert (work["open"], work["waiting"]) == (0, [])
    assert [(line["open"], line["decided"]) for line in work["settled"]] == [(0, 2)]
    log = official.get("/api/log?check=true").json()
    assert log["chain"]["holds"]
    assert [line["what"] for line in log["lines"][:3]] == ["Doubts decided", "Doubt decided", "Doubt decided"]
    assert {line["subject"] for line in log["lines"][1:3]} == {str(sheet_of("41")), str(sheet_of("42"))}


def test_the_same_act_again_is_the_same_and_another_one_under_its_id_conflicts(logbook: Logbook) -> None:
    first, second = two_in_doubt(logbook)
    once = decide(logbook, [first])
    assert decide(logbook, [first]) == once
    with pytest.raises(Conflict):
        decide(logbook, [second])
    assert standing(logbook, second).state == "in_doubt"


def test_what_is_not_open_is_refused_in_words_and_nothing_else_is_decided(logbook: Logbook) -> None:
    first, second = two_in_doubt(logbook)
    decide(logbook, [first])
    with pytest.raises(Refused, match=r"Nothing is left to decide about car 41 \(Round one\)"):
        decide(logbook, [first, second], act="another")
    assert standing(logbook, second).state == "in_doubt"
    go(logbook, "16:20")
    builders.verify(logbook, "during", name="right again")
    sound = measured(logbook, "43", "16:30")
    with pytest.raises(Refused, match="car 43"):
        decide(logbook, [sound], act="a third")
    with pytest.raises(Invalid, match="not in this logbook"):
        decide(logbook, [second, an_id("nobody's")], act="a fourth")


@pytest.mark.parametrize(
    ("typed", "field"),
    [
        ({"reasons": "ok"}, "reasons"),
        ({"reasons": "Verifiedagain"}, "reasons"),
        ({"reasons": "It is ok"}, "reasons"),
        ({"reasons": "  "}, "reasons"),
        ({"verdict_ids": []}, "verdict_ids"),
        ({"verdict_ids": "seven"}, "verdict_ids.0"),
        ({"decision": "forgotten"}, "decision"),
        ({"decision": ""}, "decision"),
    ],
)
def test_what_is_missing_in_a_decision_gets_its_sentence(typed: dict[str, Any], field: str) -> None:
    form = {"verdict_ids": str(an_id("one")), "decision": "upheld", "reasons": REASONS, **typed}
    with pytest.raises(Invalid) as refused:
        parse(DecideIn, form)
    assert set(refused.value.errors) == {field}


def test_ten_letters_and_two_words_are_a_reason_and_one_box_is_a_list() -> None:
    one = str(an_id("one"))
    data = parse(DecideIn, {"verdict_ids": one, "decision": "upheld", "reasons": "Remade: ok"})
    assert (data.verdict_ids, data.reasons) == ([an_id("one")], "Remade: ok")
    assert parse(DecideIn, {"verdict_ids": [one, one], "decision": "upheld", "reasons": REASONS}).verdict_ids == [
        an_id("one")
    ]


def test_a_decision_ends_every_doubt_that_is_open_and_a_later_cause_opens_a_new_one(logbook: Logbook) -> None:
    first, _ = two_in_doubt(logbook)
    raise_cause(logbook, kind="certificate_withdrawn", calibration_id=CALIBRATION, name="certificate")
    decide(logbook, [first])
    assert standing(logbook, first).state == "upheld"
    go(logbook, "17:00")
    raise_cause(logbook, at("12:00"), at("17:00"), kind="volume_damaged", name="volume", reason="RV-7 was damaged.")
    found = standing(logbook, first)
    assert (found.state, found.since, found.decision.words) == ("in_doubt", at("17:00"), "Upheld")
    assert [cause.reason for cause in found.causes if cause.is_open] == ["RV-7 was damaged."]
    decide(logbook, [first], "withdrawn", "second act", reasons="Nobody can say what it showed.")
    assert standing(logbook, first).state == "withdrawn"


def test_withdrawn_is_for_good(logbook: Logbook) -> None:
    first, _ = two_in_doubt(logbook)
    decide(logbook, [first], "withdrawn")
    raise_cause(logbook, kind="certificate_withdrawn", calibration_id=CALIBRATION, name="certificate")
    found = standing(logbook, first)
    assert (found.state, found.decision.act_id) == ("withdrawn", an_id("act"))
    with pytest.raises(Conflict, match=r"Car 41 \(Round one\): withdrawn before"):
        decide(logbook, [first], "upheld", "again")
    go(logbook, "16:30")
    decide(logbook, [first], "withdrawn", "again")
    assert standing(logbook, first).decision.act_id == an_id("act")


def test_measured_again_needs_a_later_signed_sheet_that_stands_itself(logbook: Logbook) -> None:
    first, second = two_in_doubt(logbook)
    with pytest.raises(Invalid, match=r"Car 41 \(Round one\) has no later signed sheet") as refused:
        decide(logbook, [first], "measured_again")
    assert set(refused.value.errors) == {"measured_again_as"}
    later = measured_again(logbook, "41")  # at 16:00, still within the time in doubt
    with pytest.raises(LogbookError, match="has no later signed sheet that stands itself"):
        decide(logbook, [first], "measured_again")
    go(logbook, "16:10")
    sound = measured_again(logbook, "41", "third", later)
    offered = logbook.client("official").get(f"/api/doubts/{an_id('cause')}").json()["rows"]
    mine = next(row for row in offered if row["verdict_id"] == str(first))
    assert [sheet["inspection_id"] for sheet in mine["later_sheets"]] == [str(sound)]
    with pytest.raises(Invalid, match="no later sheet of car 41"):
        decide(logbook, [first], "measured_again", measured_again_as=sheet_of("42"))
    with pytest.raises(Invalid, match="cannot take the place of several"):
        decide(logbook, [first, second], "measured_again", measured_again_as=sound)
    decided = decide(logbook, [first], "measured_again")
    assert decided.measured_again_as == {first: sound}
    assert standing(logbook, first).decision.measured_again_as == sound
    assert standing(logbook, second).state == "in_doubt"


def test_of_several_later_sheets_one_has_to_be_named(logbook: Logbook) -> None:
    first, _ = two_in_doubt(logbook)
    go(logbook, "16:10")
    earlier, later = measured_again(logbook, "41"), measured_again(logbook, "41", "third")
    with pytest.raises(Invalid, match="measured again 2 times"):
        decide(logbook, [first], "measured_again")
    assert decide(logbook, [first], "measured_again", measured_again_as=later).measured_again_as == {first: later}
    assert earlier != later


def test_an_act_nobody_made_is_not_found(logbook: Logbook) -> None:
    with logbook.database.read() as session, pytest.raises(NotFound):
        service.act(session, an_id("nothing"))


def test_searches_find_results_by_how_they_stand(logbook: Logbook) -> None:
    rows.a_shed(logbook)
    verdicts = {car: measured(logbook, car, "13:00") for car in ("41", "42", "43", "44", "45")}
    go(logbook, "16:00")
    raise_cause(logbook, at("12:00"), at("16:00"))
    go(logbook, "16:10")
    again = measured_again(logbook, "42")
    decide(logbook, [verdicts["41"]], "upheld", "up")
    decide(logbook, [verdicts["42"]], "measured_again", "again")
    decide(logbook, [verdicts["43"], verdicts["44"]], "withdrawn", "gone")
    go(logbook, "16:20")
    raise_cause(logbook, kind="certificate_withdrawn", calibration_id=CALIBRATION, name="certificate")
    decide(logbook, [verdicts["41"], verdict_of_sheet(logbook, again)], "upheld", "up again")
    official = logbook.client("official")
    found = {
        state: sorted(row["car_number"] for row in official.get(f"/api/records?standing={state}").json()["rows"])
        for state in ("in_doubt", "upheld", "measured_again", "withdrawn")
    }
    assert found == {"in_doubt": ["42", "45"], "upheld": ["41", "42"], "measured_again": [], "withdrawn": ["43", "44"]}
    every = official.get("/api/records").json()["rows"]
    assert sorted((row["car_number"], row["standing"]) for row in every) == [
        ("41", "upheld"),
        ("42", "in_doubt"),
        ("42", "upheld"),
        ("43", "withdrawn"),
        ("44", "withdrawn"),
        ("45", "in_doubt"),
    ]
    decide(logbook, [verdicts["42"]], "measured_again", "and again")
    found_again = official.get("/api/records?standing=measured_again").json()["rows"]
    assert [row["inspection_id"] for row in found_again] == [str(sheet_of("42"))]
    csv = official.get("/records.csv?standing=in_doubt").text
    assert '"standing"' in csv.splitlines()[0]
    assert csv.count('"in_doubt"') == 1


def verdict_of_sheet(book: Logbook, sheet: UUID) -> UUID:
    with book.database.read() as session:
        return session.scalars(select(Verdict.id).where(Verdict.inspection_id == sheet)).one()


def test_only_the_last_decision_counts(logbook: Logbook) -> None:
    first, _ = two_in_doubt(logbook)
    decide(logbook, [first])
    go(logbook, "17:00")
    raise_cause(logbook, kind="certificate_withdrawn", calibration_id=CALIBRATION, name="certificate")
    sheet = measured_again_by_another(logbook)
    decide(logbook, [first], "measured_again", "later", measured_again_as=sheet)
    assert standing(logbook, first).state == "measured_again"
    assert verdict_of(logbook, "41") == first


def measured_again_by_another(book: Logbook) -> UUID:
    """On a sheet that rests on another certificate than the one withdrawn."""
    builders.a_calibration(book, name=" newer", calibrated_on="2026-05-02", due_on="2027-05-02")
    return measured_again(book, "41")


def test_nobody_decides_about_what_they_measured_themselves(logbook: Logbook) -> None:
    first, _ = two_in_doubt(logbook)
    data = DecideIn(verdict_ids=[first], decision="upheld", reasons=REASONS)
    with logbook.database.write() as session, pytest.raises(Refused) as refused:
        service.decide(session, logbook.person("inspector"), an_id("own act"), data)
    own = "You measured or signed car 41 (Round one), so another official has to decide about that."
    assert refused.value.message == own
    assert standing(logbook, first).state == "in_doubt"
