"""Ranges, designated cylinders, tolerances that cover the uncertainty, and a second rule on the displacement."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import ValidationError

from app.metrology import inputs as core
from app.metrology.checking import check_rule
from app.regulations import service, wording
from app.regulations.edition_form import read_edition
from app.regulations.fitting import problems_of
from app.regulations.meaning import meaning_of
from app.regulations.ruled import core_rule
from app.regulations.schemas import EditionIn, RuleIn
from tests.conftest import Logbook
from tests.web.regulations.test_rule_book import CLASS, FIRST, RULE, SECOND, an_edition, book, flat, publish

__all__ = ["book"]

RANGE: dict[str, Any] = {"kind": "range", "lower_limit": "9.50"}
DISPLACEMENT: dict[str, Any] = {
    "quantity": "displacement",
    "clause": "5.1",
    "text": "The displacement is at most 366 cubic inches.",
    "kind": "maximum",
    "limit": "366 in³",
    "tolerance": "0",
    "decision_rule": "simple_acceptance",
    "confidence": "95",
    "inconclusive_action": "teardown",
}


def with_displacement(in_force_from: str = "2026-01-01", **changed: Any) -> dict[str, Any]:
    return {**an_edition(in_force_from), "further": [{**DISPLACEMENT, **changed}]}


def a_rule(**changed: Any) -> RuleIn:
    return RuleIn.model_validate({**RULE, **changed})


def test_a_range_is_quoted_with_both_limits_and_goes_to_the_core_whole(book: Logbook) -> None:
    rule = publish(book, FIRST, an_edition(**RANGE)).json()["rule"]
    assert rule["sentence"].startswith(
        "Static compression ratio between 9.50 and 10.50, tolerance 0.10, so the tolerance limits are 9.40 and 10.60; "
    )
    assert (rule["lower_limit"], rule["limit"]) == ("9.50", "10.50")
    assert (rule["lower_tolerance_limit"], rule["tolerance_limit"]) == ("9.40", "10.60")
    with book.database.read() as session:
        row = service.rule_in_force(session, CLASS, date(2026, 5, 1))
        assert row is not None
        assert row.parameters == {"lower_limit": "9.50"}
        assert core_rule(row) == core.Rule(
            "range", 10.5, 0.1, "every_cylinder", "three_zones", 0.95, "measure_again", lower_limit=9.5
        )
    assert "between 9.50 and 10.50" in book.client("inspector").get("/rule-book").text
    assert publish(book, FIRST, an_edition(**RANGE, tolerance="0.1")).status_code == 200
    assert publish(book, FIRST, an_edition(**{**RANGE, "lower_limit": "9.51"})).status_code == 409


def test_a_designated_cylinder_is_quoted_and_kept(book: Logbook) -> None:
    body = an_edition(applies_to="designated_cylinder", designated_cylinder="3")
    rule = publish(book, FIRST, body).json()["rule"]
    assert "; cylinder 3 alone; " in rule["sentence"]
    assert rule["designated_cylinder"] == 3
    with book.database.read() as session:
        row = service.rule_in_force(session, CLASS, date(2026, 5, 1))
        assert row is not None
        assert core_rule(row).designated_cylinder == 3


def test_a_tolerance_that_covers_the_uncertainty_is_quoted_and_says_who_bears_the_doubt(book: Logbook) -> None:
    body = an_edition(decision_rule="simple_acceptance")
    body["rule"]["tolerance_covers_uncertainty"] = True
    rule = publish(book, FIRST, body).json()["rule"]
    assert "; simple acceptance, the tolerance covering the uncertainty of measurement; " in rule["sentence"]
    assert rule["who_bears_the_doubt"].startswith("The tolerance bears the doubt")
    body["rule"]["tolerance_covers_uncertainty"] = False
    assert publish(book, FIRST, body).status_code == 409
    with book.database.read() as session:
        row = service.rule_in_force(session, CLASS, date(2026, 5, 1))
        assert row is not None
        assert core_rule(row).tolerance_covers_uncertainty is True


def test_an_edition_may_limit_the_displacement_too_and_each_is_asked_for_by_its_quantity(book: Logbook) -> None:
    """366 in³ are 5997.665424 cm³: 1 in = 25.4 mm exactly (NIST SP 811, Appendix B. Found)."""
    edition = publish(book, FIRST, with_displacement()).json()
    assert [rule["quantity"] for rule in edition["rules"]] == ["compression_ratio", "displacement"]
    assert edition["rule"] == edition["rules"][0]
    assert edition["rules"][1]["limit"] == "5997.665424"
    assert edition["rules"][1]["sentence"] == (
        "Displacement at most 366 in³ (5997.67 cm³), no tolerance, so the limit itself decides; the engine as a whole; "
        "simple acceptance; protests up to 30 minutes after the decision."
    )
    shown = book.client("inspector").get(f"/api/classes/{CLASS}").json()
    assert shown["editions"][0]["rules"] == edition["rules"]  # read again, the ratio is still the first: 5.4 after 5.1
    assert len(shown["meanings"]) == 2
    with book.database.read() as session:
        on = date(2026, 5, 1)
        ratio = service.rule_in_force(session, CLASS, on)
        displacement = service.rule_in_force(session, CLASS, on, quantity="displacement")
        assert ratio is not None
        assert displacement is not None
        assert (ratio.quantity, displacement.quantity) == ("static compression ratio", "displacement")
        assert core_rule(displacement) == core.Rule(
            "maximum",
            5997.665424,
            0.0,
            "whole_engine",
            "simple_acceptance",
            0.95,
            "teardown",
            quantity="displacement",
        )
    assert publish(book, FIRST, with_displacement()).json() == edition
    assert publish(book, FIRST, an_edition()).status_code == 409
    assert publish(book, FIRST, with_displacement(limit="5998 cm3")).status_code == 409


def test_two_rules_of_one_edition_may_stand_in_the_same_clause(book: Logbook) -> None:
    edition = publish(book, FIRST, with_displacement(clause=RULE["clause"])).json()
    assert len({rule["id"] for rule in edition["rules"]}) == 2


def test_an_edition_without_a_displacement_has_no_rule_on_it(book: Logbook) -> None:
    publish(book, FIRST, an_edition())
    with book.database.read() as session:
        assert service.rule_in_force(session, CLASS, date(2026, 5, 1), quantity="displacement") is None


def test_every_rule_of_two_editions_stands_side_by_side(book: Logbook) -> None:
    publish(book, FIRST, an_edition())
    asked = book.client("official").post(f"/api/classes/{CLASS}/editions/preview", json=with_displacement("2026-07-01"))
    changes = {line["label"]: line for line in asked.json()["changes"]}
    assert changes["Displacement: limit"] == {
        "label": "Displacement: limit",
        "old": "–",
        "new": "at most 366 in³ (5997.67 cm³)",
        "differs": True,
    }
    assert changes["Limit"]["differs"] is False
    assert list(changes)[-2:] == ["Time for protests", "Overdue calibration allowed"]
    publish(book, SECOND, with_displacement("2026-07-01"))
    back = book.client("official").post(f"/api/classes/{CLASS}/editions/preview", json=an_edition("2026-08-01")).json()
    taken_away = next(line for line in back["changes"] if line["label"] == "Displacement: clause")
    assert (taken_away["old"], taken_away["new"]) == ("5.1", "–")
    same = publish(book, FIRST.__class__(int=7), with_displacement("2026-08-01"))
    assert same.json()["detail"] == "Nothing differs from edition 2. Change something, or leave that one in force."


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"kind": "range"}, "rule.lower_limit", "A range needs its lower limit too."),
        ({"lower_limit": "9.5"}, "rule.lower_limit", "Only a range has a lower limit."),
        ({**RANGE, "lower_limit": "10.60"}, "rule.lower_limit", "10.60 lies above the upper one, 10.50. Exchange"),
        ({**RANGE, "lower_limit": "105"}, "rule.lower_limit", "A compression ratio of 105 is outside 1.5 to 30."),
        ({**RANGE, "lower_limit": "2", "tolerance": "1"}, "rule.tolerance", "A tolerance of 1.00 cannot be granted"),
        ({"applies_to": "designated_cylinder"}, "rule.designated_cylinder", "Which cylinder is designated?"),
        ({"designated_cylinder": "3"}, "rule.designated_cylinder", "Leave this empty"),
        ({"designated_cylinder": "0"}, "rule.designated_cylinder", "Designated cylinder must be at least 1."),
        ({"applies_to": "whole_engine"}, "rule.applies_to", "A displacement is the engine's as a whole"),
        ({"tolerance_covers_uncertainty": "yes"}, "rule.decision_rule", "Choose simple acceptance"),
        (
            {"tolerance_covers_uncertainty": "yes", "decision_rule": "simple_acceptance", "tolerance": "0"},
            "rule.tolerance_covers_uncertainty",
            "There is no tolerance",
        ),
        (DISPLACEMENT, "rule.quantity", "The first rule of an edition limits the static compression ratio."),
    ],
)
def test_what_does_not_fit_together_gets_a_sentence_at_its_field(
    book: Logbook, changed: dict[str, Any], field: str, words: str
) -> None:
    answer = publish(book, FIRST, an_edition(**changed))
    assert answer.status_code == 422
    assert words in answer.json()["errors"][field]


@pytest.mark.parametrize(
    ("changed", "field", "words"),
    [
        ({"quantity": "compression_ratio", "limit": "10", "applies_to": "every_cylinder"}, "quantity", "already"),
        ({"limit": "9.9 cm³"}, "limit", "A displacement of 9.9 cm³ is outside 10 cm³ to 30000 cm³."),
        ({"limit": "12 mm"}, "limit", "“mm” is not a unit of volume"),
        ({"limit": "50", "tolerance": "49"}, "tolerance", "A tolerance of 49 cm³ (2.99 in³) cannot be granted"),
        ({"applies_to": "every_cylinder"}, "applies_to", "A displacement is the engine's as a whole"),
    ],
)
def test_what_does_not_fit_in_the_second_rule_is_said_there(
    book: Logbook, changed: dict[str, Any], field: str, words: str
) -> None:
    answer = publish(book, FIRST, with_displacement(**changed))
    assert answer.status_code == 422
    assert words in answer.json()["errors"][f"further.0.{field}"]


def the_form(**more: str) -> dict[str, str]:
    second = {f"further.0.{name}": value for name, value in DISPLACEMENT.items() if name != "quantity"}
    return flat(an_edition("2026-02-01"), **{**second, "displacement": "yes", **more})


def test_the_page_keeps_what_was_typed_in_the_second_rule_and_names_its_fields(book: Logbook) -> None:
    typed = the_form(**{"further.0.limit": "366 miles", "further.0.text": "", "step": "publish"})
    answer = book.client("official").post(f"/rule-book/{CLASS}/editions/{FIRST}", data=typed)
    assert answer.status_code == 422
    assert 'name="further.0.limit" value="366 miles"' in answer.text
    assert "“miles” is not a unit of volume known here." in answer.text
    assert "Wording is needed. Fill it in." in answer.text
    assert 'name="displacement" id="f-displacement" value="yes" checked' in answer.text


def test_the_page_copies_a_displacement_exactly_and_leaves_it_out_when_its_box_is_not_ticked(book: Logbook) -> None:
    publish(book, FIRST, with_displacement())
    official = book.client("official")
    form = official.get(f"/rule-book/{CLASS}/next").text
    assert 'name="further.0.limit" value="366 in³"' in form
    assert 'id="f-displacement" value="yes" checked' in form
    same = official.post(f"/rule-book/{CLASS}/editions/{SECOND}", data=the_form(step="publish"))
    assert "Nothing differs from edition 1." in same.text
    without = the_form(step="publish")
    del without["displacement"]
    assert official.post(f"/rule-book/{CLASS}/editions/{SECOND}", data=without).status_code == 303
    newest = official.get(f"/api/classes/{CLASS}").json()["editions"][0]
    assert [rule["quantity"] for rule in newest["rules"]] == ["compression_ratio"]


def test_a_field_put_away_says_nothing_and_a_number_without_unit_is_the_readers() -> None:
    form = the_form(
        **{"rule.lower_limit": "9.50", "rule.designated_cylinder": "3", "further.0.limit": "366", "displacement": "yes"}
    )
    read = read_edition(form, "inch")
    assert (read.rule.lower_limit, read.rule.designated_cylinder) == (None, None)
    assert str(read.further[0].limit) == "5997.665424"
    assert str(read_edition(form, "metric").further[0].limit) == "366"


def test_a_volume_is_quoted_in_the_system_it_was_written_in() -> None:
    of = {written: RuleIn.model_validate({**DISPLACEMENT, "limit": written}).limit for written in ("366 in3", "2500.0")}
    assert [wording.figure("displacement", one) for one in of.values()] == [
        "366 in³ (5997.67 cm³)",
        "2500 cm³ (152.56 in³)",
    ]
    assert [wording.as_typed("displacement", one) for one in of.values()] == ["366 in³", "2500 cm³"]


# ---- what a rule means --------------------------------------------------------------------------------------------


def test_rejection_is_that_of_the_engine_where_several_cylinders_are_judged() -> None:
    """1.6449 u is the one-sided 95 % quantile; 2.0436 u keeps 5 % for eight errors with nine tenths of their variance
    in common (own simulation of ten million engines: 2.0424). u is 0.05, the line 10.60."""
    (side,) = meaning_of(a_rule()).sides
    assert side.acceptance_limit == pytest.approx(10.6 - 1.6449 * 0.05, abs=1e-5)
    assert side.rejection_limit == pytest.approx(10.6 + 2.0436 * 0.05, abs=1e-5)
    assert side.rejection_limit_of_one == pytest.approx(10.6 + 1.6449 * 0.05, abs=1e-5)
    said = " ".join(meaning_of(a_rule()).sentences)
    assert "The stated risk holds for the engine, not for one cylinder" in said
    assert "wrongly rejected at most 5 % of the time" in said
    assert "90 % of the variance as common to all cylinders (common practice, no source)" in said
    for scope in ({"applies_to": "mean_of_cylinders"}, {"applies_to": "designated_cylinder", "designated_cylinder": 1}):
        alone = meaning_of(a_rule(**scope))
        assert alone.sides[0].rejection_limit == alone.sides[0].rejection_limit_of_one
        assert "not for one cylinder" not in " ".join(alone.sentences)


def test_a_range_is_worked_out_on_both_sides() -> None:
    meaning = meaning_of(a_rule(**RANGE))
    assert [(one.label, one.value, one.side, one.verdict) for one in meaning.examples] == [
        ("well below", 9.2, "minimum", "nonconforming"),
        ("just below", 9.35, "minimum", "inconclusive"),
        ("lower line", 9.4, "minimum", "inconclusive"),
        ("in the middle", 10.0, meaning.examples[3].side, "conforming"),
        ("upper line", 10.6, "maximum", "inconclusive"),
        ("just above", 10.65, "maximum", "inconclusive"),
        ("well above", 10.8, "maximum", "nonconforming"),
    ]
    assert "a value from 9.48 to 10.52 conforms." in meaning.sentences[1]
    assert "a value below 9.30 or above 10.70 does not conform." in meaning.sentences[2]


def test_a_range_narrower_than_the_spread_says_that_nothing_conforms_for_certain() -> None:
    meaning = meaning_of(a_rule(kind="range", lower_limit="10.45", tolerance="0"))
    assert "no value conforms" in meaning.sentences[1]


@pytest.mark.parametrize(("tolerance", "words"), [("0.10", "covers a usual spread"), ("0.09", "more than that")])
def test_a_tolerance_is_held_against_a_usual_spread(tolerance: str, words: str) -> None:
    rule = a_rule(tolerance=tolerance, decision_rule="simple_acceptance", tolerance_covers_uncertainty=True)
    assert any(words in sentence for sentence in meaning_of(rule).sentences)


def test_simple_acceptance_names_the_tolerance_limit_digit_for_digit() -> None:
    meaning = meaning_of(a_rule(limit="10.555", tolerance="0", decision_rule="simple_acceptance"))
    assert "A value at or below 10.555 conforms, whatever its spread." in meaning.sentences


def test_a_displacement_is_worked_out_in_both_systems() -> None:
    meaning = meaning_of(RuleIn.model_validate({**DISPLACEMENT, "decision_rule": "guarded_rejection"}))
    assert (meaning.expanded_uncertainty, meaning.cylinders, meaning.decimals) == (6.0, 1, 1)
    # 5997.67 + 1.645 × 3 = 6002.6 cm³
    assert meaning.sentences[1] == (
        "At a usual spread of ±6 cm³ (0.37 in³), a value above 6002.6 cm³ (366.30 in³) does not conform."
    )


_NUMBERS = st.decimals("1.5", "30", places=2)


@given(
    kind=st.sampled_from(["maximum", "minimum", "range"]),
    limit=_NUMBERS,
    lower=st.none() | _NUMBERS,
    tolerance=st.decimals("0", "5", places=2),
    applies_to=st.sampled_from(["every_cylinder", "mean_of_cylinders", "designated_cylinder", "whole_engine"]),
    designated=st.none() | st.integers(1, 48),
    decision_rule=st.sampled_from(["simple_acceptance", "guarded_acceptance", "guarded_rejection", "three_zones"]),
    covers=st.booleans(),
)
def test_what_fits_here_is_what_the_core_takes(
    kind: str,
    limit: Any,
    lower: Any,
    tolerance: Any,
    applies_to: str,
    designated: Any,
    decision_rule: str,
    covers: bool,
) -> None:
    more = {"lower_limit": lower, "designated_cylinder": designated, "tolerance_covers_uncertainty": covers}
    asked = {"kind": kind, "limit": limit, "tolerance": tolerance, "applies_to": applies_to, **more}
    try:
        edition = EditionIn.model_validate(
            {
                "in_force_from": "2026-01-01",
                "protest_minutes": 30,
                "rule": {**RULE, **asked, "decision_rule": decision_rule},
            }
        )
    except ValidationError:  # a minus sign before nought, and its like
        return
    if not problems_of(edition):
        check_rule(core_rule(edition.rule), core.Engine(100.0, 80.0, 48))
        assert meaning_of(edition.rule).examples
