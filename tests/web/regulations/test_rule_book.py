"""Series, events, classes and editions: inserted once, quoted in words, never changed."""

import re
from datetime import date
from typing import Any

import pytest

from app.regulations import service
from tests.conftest import Logbook, an_id

SERIES, CLASS, FIRST, SECOND = an_id("series"), an_id("class"), an_id("first"), an_id("second")
RULE = {
    "clause": "5.4",
    "text": "No cylinder shall exceed the limit of its class.",
    "kind": "maximum",
    "limit": "10.50",
    "tolerance": "0.10",
    "applies_to": "every_cylinder",
    "decision_rule": "three_zones",
    "confidence": "95",
    "inconclusive_action": "measure_again",
}


def an_edition(in_force_from: str = "2026-01-01", **rule: str) -> dict[str, Any]:
    return {"in_force_from": in_force_from, "protest_minutes": 30, "note": "", "rule": {**RULE, **rule}}


def put(logbook: Logbook, address: str, body: dict[str, Any], who: str = "official") -> Any:
    return logbook.client(who).put(address, json=body)


def publish(logbook: Logbook, edition_id: Any, body: dict[str, Any], who: str = "official") -> Any:
    return put(logbook, f"/api/classes/{CLASS}/editions/{edition_id}", body, who)


@pytest.fixture
def book(logbook: Logbook) -> Logbook:
    assert put(logbook, f"/api/series/{SERIES}", {"name": "Northern Sprint Cup"}).status_code == 200
    body = {"series_id": str(SERIES), "code": "S4", "name": "Sprint Four"}
    assert put(logbook, f"/api/classes/{CLASS}", body).status_code == 200
    return logbook


def test_an_edition_is_quoted_in_words(book: Logbook) -> None:
    rule = publish(book, FIRST, an_edition()).json()["rule"]
    assert rule["sentence"] == (
        "Static compression ratio at most 10.50, tolerance 0.10, so the tolerance limit is 10.60; every cylinder; "
        "three zones at 95 % confidence; when inconclusive: measure again; "
        "protests up to 30 minutes after the decision."
    )
    assert (rule["limit"], rule["tolerance"], rule["tolerance_limit"]) == ("10.50", "0.10", "10.60")
    assert rule["confidence"] == "0.95"
    assert "Nobody bears the doubt yet" in rule["who_bears_the_doubt"]
    assert rule["sentence"] in book.client("inspector").get(f"/rule-book/{CLASS}").text
    assert "at most 10.50" in book.client("inspector").get("/rule-book").text


def test_a_minimum_takes_its_tolerance_off(book: Logbook) -> None:
    rule = publish(book, FIRST, an_edition(kind="minimum", decision_rule="simple_acceptance", tolerance="0")).json()[
        "rule"
    ]
    assert rule["sentence"].startswith(
        "Static compression ratio at least 10.50, no tolerance, so the limit itself decides; every cylinder; "
        "simple acceptance; protests"
    )
    other = publish(book, SECOND, an_edition(kind="minimum")).json()["rule"]
    assert other["tolerance_limit"] == "10.40"


def test_a_replay_answers_the_same_and_another_body_conflicts(book: Logbook) -> None:
    first = publish(book, FIRST, an_edition())
    assert publish(book, FIRST, an_edition()).json() == first.json()
    assert publish(book, FIRST, an_edition(limit="10.60")).status_code == 409
    assert publish(book, FIRST, an_edition("2026-02-01")).status_code == 409
    series = {"name": "Northern Sprint Cup"}
    assert put(book, f"/api/series/{SERIES}", series).status_code == 200
    assert put(book, f"/api/series/{SERIES}", {"name": "Other"}).status_code == 409
    assert put(book, f"/api/classes/{CLASS}", {"series_id": str(SERIES), "code": "S5", "name": "x"}).status_code == 409


def test_the_edition_in_force_is_the_latest_to_have_begun(book: Logbook) -> None:
    publish(book, FIRST, an_edition("2026-01-01"))
    publish(book, SECOND, an_edition("2026-05-02", limit="10.80"))
    publish(book, an_id("third"), an_edition("2026-05-02", limit="10.70"))
    publish(book, an_id("fourth"), an_edition("2026-06-01", limit="11.00"))
    days = ("2025-12-31", "2026-01-01", "2026-05-01", "2026-05-02", "2026-06-01")
    with book.database.read() as session:
        rules = {day: service.rule_in_force(session, CLASS, date.fromisoformat(day)) for day in days}
        in_force = {day: rule.edition.number if rule else None for day, rule in rules.items()}
    assert in_force == {"2025-12-31": None, "2026-01-01": 1, "2026-05-01": 1, "2026-05-02": 3, "2026-06-01": 4}
    (shown,) = book.client("inspector").get("/api/classes").json()
    assert (shown["in_force"]["number"], shown["to_come"]["number"]) == (3, 4)
    states = [edition["state"] for edition in book.client("inspector").get(f"/api/classes/{CLASS}").json()["editions"]]
    assert states == ["to come", "in force", "replaced", "replaced"]


def test_an_edition_cannot_begin_before_the_newest_nor_repeat_it(book: Logbook) -> None:
    publish(book, FIRST, an_edition("2026-03-01"))
    earlier = publish(book, SECOND, an_edition("2026-02-28", limit="11"))
    assert earlier.json()["errors"]["in_force_from"] == (
        "Edition 1 comes into force on 1 March 2026. The next one cannot begin before it; "
        "choose that day or a later one."
    )
    same = publish(book, SECOND, an_edition("2026-04-01", confidence="0.950", limit="10.5"))
    assert same.json()["detail"] == "Nothing differs from edition 1. Change something, or leave that one in force."


@pytest.mark.parametrize(
    ("changed", "name", "words"),
    [
        ({"limit": "105"}, "rule.limit", "A compression ratio of 105 is outside 1.5 to 30."),
        ({"limit": "ten"}, "rule.limit", "“ten” is not a number."),
        ({"tolerance": "-0.1"}, "rule.tolerance", "A tolerance of -0.1 is outside 0 to 5."),
        (
            {"limit": "2", "tolerance": "1.5"},
            "rule.tolerance",
            "A tolerance of 1.50 cannot be granted on a limit of 2",
        ),
        ({"confidence": "50"}, "rule.confidence", "Confidence 50 % is outside 80 to 99.9 %."),
        ({"confidence": "0.9999"}, "rule.confidence", "Confidence 99.99 % is outside 80 to 99.9 %."),
        ({"kind": "spread"}, "rule.kind", "must be one of"),
        ({"clause": ""}, "rule.clause", "Clause is needed. Fill it in."),
        ({"text": ""}, "rule.text", "is needed. Fill it in."),
    ],
)
def test_what_cannot_be_gets_a_sentence(book: Logbook, changed: dict[str, str], name: str, words: str) -> None:
    answer = publish(book, FIRST, an_edition(**changed))
    assert answer.status_code == 422
    assert words in answer.json()["errors"][name]


@pytest.mark.parametrize(("written", "kept"), [("95", "0.95"), ("95 %", "0.95"), ("0.8", "0.8"), ("99,9", "0.999")])
def test_confidence_is_read_as_a_share_or_in_percent(book: Logbook, written: str, kept: str) -> None:
    assert publish(book, FIRST, an_edition(confidence=written)).json()["rule"]["confidence"] == kept


def flat(body: dict[str, Any], **more: str) -> dict[str, str]:
    rule = {f"rule.{name}": value for name, value in body["rule"].items()}
    return {"in_force_from": body["in_force_from"], "protest_minutes": "30", "note": "", **rule, **more}


def test_the_page_publishes_what_the_api_then_shows(book: Logbook) -> None:
    official = book.client("official")
    assert "Write the first edition" in official.get(f"/rule-book/{CLASS}/next").text
    answer = official.post(f"/rule-book/{CLASS}/editions/{FIRST}", data=flat(an_edition(), step="publish"))
    assert (answer.status_code, answer.headers["location"]) == (303, f"/rule-book/{CLASS}?done=edition-published")
    kept = official.get(f"/api/classes/{CLASS}").json()
    assert kept["editions"][0]["rule"]["sentence"] in official.get(f"/rule-book/{CLASS}").text
    form = official.get(f"/rule-book/{CLASS}/next").text
    assert "Publish edition 2" in form
    assert 'name="rule.limit" value="10.50"' in form
    assert "at most 10.50, tolerance 0.10: tolerance limit at most 10.60" in form


def test_the_preview_keeps_nothing_and_says_what_changes_and_what_it_means(book: Logbook) -> None:
    publish(book, FIRST, an_edition())
    typed = flat(an_edition("2026-07-01", limit="10.80"), step="preview")
    shown = book.client("official").post(f"/rule-book/{CLASS}/editions/{SECOND}", data=typed)
    assert shown.status_code == 200
    assert "Edition 2 would say" in shown.text
    assert re.search(r"at most 10\.80</td>|at most 10\.80 <span", shown.text)
    assert 'name="rule.limit" value="10.80"' in shown.text
    # usual spread ±0.10 (k = 2), so u = 0.05; one-sided 95 % of the normal distribution is 1.645 u = 0.08
    # (JCGM 106:2012, 8.3; quantile: JCGM 106:2012, table in Annex A, from memory). The greatest of eight errors that
    # have nine tenths of their variance in common: 2.04 u, by a simulation of ten million engines (own)
    assert "a value at or below 10.82 conforms" in shown.text
    assert "a value above 11.00 does not conform" in shown.text
    assert "for one cylinder alone it would be 10.98" in shown.text
    assert len(book.client("official").get(f"/api/classes/{CLASS}").json()["editions"]) == 1
    asked = book.client("official").post(
        f"/api/classes/{CLASS}/editions/preview", json=an_edition("2026-07-01", limit="10.80")
    )
    verdicts = [example["verdict"] for example in asked.json()["rules"][0]["meaning"]["examples"]]
    assert verdicts == ["conforming", "inconclusive", "inconclusive", "inconclusive", "nonconforming"]
    assert [line["label"] for line in asked.json()["changes"] if line["differs"]] == [
        "In force from",
        "Limit",
        "Tolerance limit",
    ]


def test_what_an_edition_allows_of_overdue_calibrations_is_asked_shown_and_compared(book: Logbook) -> None:
    official = book.client("official")
    assert 'name="overdue_days_allowed" value="0"' in official.get(f"/rule-book/{CLASS}/next").text
    publish(book, FIRST, an_edition())
    assert "an instrument may not be used after its due date." in official.get(f"/rule-book/{CLASS}").text
    typed = flat(an_edition("2026-07-01"), step="preview", overdue_days_allowed="14")
    shown = official.post(f"/rule-book/{CLASS}/editions/{SECOND}", data=typed).text
    line = shown.split('<th scope="row">Overdue calibration allowed</th>')[1].split("</tr>")[0]
    assert ">not</td>" in line
    assert ">up to 14 days <span" in line
    assert 'name="overdue_days_allowed" value="14"' in shown
    answer = official.post(f"/rule-book/{CLASS}/editions/{SECOND}", data={**typed, "step": "publish"})
    assert answer.status_code == 303
    newest = official.get(f"/api/classes/{CLASS}").json()["editions"][0]
    assert (newest["overdue_days_allowed"], newest["overdue_words"]) == (14, "up to 14 days")
    page = official.get(f"/rule-book/{CLASS}").text
    assert "an instrument may be used up to 14 days after its due date; the slip says so." in page
    form = official.get(f"/rule-book/{CLASS}/next").text
    assert 'name="overdue_days_allowed" value="14"' in form
    assert "overdue calibration: up to 14 days allowed" in form


def test_an_edition_that_changes_only_what_is_allowed_of_overdue_calibrations_says_something_new(book: Logbook) -> None:
    publish(book, FIRST, an_edition())
    same = publish(book, SECOND, an_edition("2026-07-01"))
    assert same.status_code == 422
    assert "Nothing differs from edition 1." in same.text
    changed = {**an_edition("2026-07-01"), "overdue_days_allowed": 1}
    assert publish(book, SECOND, changed).json()["overdue_words"] == "up to 1 day"
    assert publish(book, SECOND, {**changed, "overdue_days_allowed": 2}).status_code == 409
    assert publish(book, SECOND, changed).status_code == 200


DAYS = [("367", "Overdue calibration allowed must be at most 366."), ("-1", "must be at least 0."), ("a week", "whole")]


@pytest.mark.parametrize(("typed", "sentence"), DAYS)
def test_days_that_cannot_be_are_said_beside_the_field_and_kept(book: Logbook, typed: str, sentence: str) -> None:
    sent = flat(an_edition(), step="publish", overdue_days_allowed=typed)
    answer = book.client("official").post(f"/rule-book/{CLASS}/editions/{FIRST}", data=sent)
    assert answer.status_code == 422
    assert sentence in answer.text.split('id="f-overdue_days_allowed-error"')[1].split("</p>")[0]
    assert f'name="overdue_days_allowed" value="{typed}"' in answer.text
    assert 'name="rule.limit" value="10.50"' in answer.text


def test_wrong_input_on_the_page_keeps_what_was_typed(book: Logbook) -> None:
    typed = flat(an_edition(limit="1o.5", text="No <b>cylinder</b>", decision_rule="guarded_rejection"), step="publish")
    answer = book.client("official").post(f"/rule-book/{CLASS}/editions/{FIRST}", data=typed)
    assert answer.status_code == 422
    beside = re.search(r'id="f-rule.limit-error">(.*?)</p>', answer.text, re.DOTALL)
    assert beside is not None
    assert "“1o.5” is not a number." in beside[1]
    assert 'name="rule.limit" value="1o.5"' in answer.text
    assert "No &lt;b&gt;cylinder&lt;/b&gt;</textarea>" in answer.text
    assert re.search(r'value="guarded_rejection" checked', answer.text)


def test_classes_and_events_are_added_on_their_pages(book: Logbook) -> None:
    official = book.client("official")
    new_class, event = an_id("new class"), an_id("event")
    answer = official.post(f"/rule-book/{new_class}", data={"series_id": str(SERIES), "code": "V8", "name": "Thunder"})
    assert answer.headers["location"] == f"/rule-book/{new_class}/next?done=class-added"
    taken = official.post(f"/rule-book/{an_id('x')}", data={"series_id": str(SERIES), "code": "s4", "name": "Other"})
    assert taken.status_code == 422
    assert "“S4” is taken by the class Sprint Four." in taken.text
    typed = {"series_id": str(SERIES), "name": "Round one", "venue": "Hill Ring"}
    wrong = official.post(f"/events/{event}", data={**typed, "starts_on": "2026-05-03", "ends_on": "2026-05-02"})
    assert wrong.status_code == 422
    assert "The last day lies before the first, 3 May 2026." in wrong.text
    assert 'value="Hill Ring"' in wrong.text
    right = official.post(f"/events/{event}", data={**typed, "starts_on": "2026-05-02", "ends_on": "2026-05-03"})
    assert right.headers["location"] == f"/events/{event}?done=event-added"
    assert "2–3 May 2026" in official.get(f"/events/{event}").text
    assert "Round one" in book.client("inspector").get("/events").text


def test_an_empty_logbook_says_where_to_begin(logbook: Logbook) -> None:
    official = logbook.client("official")
    assert "First, name the series" in official.get("/events").text
    assert "no series has a name yet" in official.get("/rule-book").text
    answer = official.post(f"/series/{SERIES}", data={"name": "Northern Sprint Cup"})
    assert answer.headers["location"] == "/events?done=series-added"
    assert "No events yet." in official.get("/events").text
    again = official.post(f"/series/{an_id('other')}", data={"name": "Northern Sprint Cup"})
    assert "There is a series “Northern Sprint Cup” already." in again.text


def test_only_officials_write_the_rule_book(book: Logbook) -> None:
    assert publish(book, FIRST, an_edition(), "inspector").status_code == 403
    assert publish(book, FIRST, an_edition(), "administrator").status_code == 403
    assert publish(book, FIRST, an_edition(), "competitor").status_code == 404
    assert publish(book, FIRST, an_edition(), "").status_code == 401
    assert book.client("inspector").get(f"/rule-book/{CLASS}/next").status_code == 403
    assert "Write the first edition" not in book.client("inspector").get("/rule-book").text
    assert book.client("competitor").get("/rule-book").status_code == 404
    assert book.client("competitor").get("/api/classes").status_code == 404


def test_a_character_that_no_database_keeps_is_refused_the_same_on_each(logbook: Logbook) -> None:
    answer = put(logbook, f"/api/series/{SERIES}", {"name": "North\0ern"})
    assert answer.status_code == 422
    assert answer.json()["errors"] == {"name": "This holds a character that cannot be written. Type it again."}
