"""What an edition can police: the page and its operation, on figures that can be worked out by hand."""

import itertools
import math
import re
from typing import Any

import pytest
from scipy import stats

from tests.builders import (
    CLASS,
    INSTRUMENT,
    SERIES,
    a_class,
    a_sheet,
    an_entry,
    an_instrument,
    put,
    readings,
    signed,
    verify,
)
from tests.conftest import Logbook, an_id

PAGE = f"/rule-book/{CLASS}/planning"


def ready(book: Logbook, **rule: str) -> None:
    a_class(book, **rule)
    an_instrument(book)


def plan(book: Logbook, **asked: str) -> dict[str, Any]:
    answer = book.client("official").get(f"/api/classes/{CLASS}/planning", params=asked)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()["plan"]
    return found


def test_a_class_without_an_edition_says_what_comes_first(logbook: Logbook) -> None:
    official = logbook.client("official")
    put(official, f"/series/{SERIES}", {"name": "Fellgate Trophy"})
    put(official, f"/classes/{CLASS}", {"series_id": str(SERIES), "code": "TR-8", "name": "Class TR-8"})
    found = official.get(f"/api/classes/{CLASS}/planning").json()
    assert (found["edition"], found["plan"]) == (None, None)
    assert "no edition yet" in found["missing"]
    shown = official.get(PAGE)
    assert shown.status_code == 200
    assert "Its limit has to be written" in shown.text


def test_a_logbook_without_an_instrument_says_so(logbook: Logbook) -> None:
    a_class(logbook)
    shown = logbook.client("inspector").get(PAGE).text
    assert "No instrument is registered yet." in shown
    assert 'href="/instruments"' in shown


def test_a_class_that_there_is_not_is_not_found(logbook: Logbook) -> None:
    assert logbook.client("official").get(f"/rule-book/{an_id('nowhere')}/planning").status_code == 404


def test_the_class_book_leads_there(logbook: Logbook) -> None:
    ready(logbook)
    assert f'href="{PAGE}"' in logbook.client("inspector").get(f"/rule-book/{CLASS}").text


def test_the_plan_adds_up_to_the_budget_of_the_core(logbook: Logbook) -> None:
    """At 10.60: ±0.10 rectangular; 1 K at 20 °C; bore 0.01 of 100 mm, stroke 0.02 of 90 mm; two steps of 0.01, ÷√3."""
    ready(logbook)
    found = plan(logbook)
    parts = {
        "stated accuracy of the instrument": 0.10 / math.sqrt(3.0),
        "gas temperature": 9.6 / 293.15,
        "repeatability": 0.02 / math.sqrt(3.0),
        "resolution": 0.01 / math.sqrt(12.0),
        "bore (swept volume)": 2.0 * 9.6 * 0.01 / 100.0,
        "stroke (swept volume)": 9.6 * 0.02 / 90.0,
    }
    assert {one["label"]: one["standard_uncertainty"] for one in found["sources"]} == pytest.approx(parts, rel=1e-9)
    assert found["standard_uncertainty"] == pytest.approx(math.hypot(*parts.values()), rel=1e-9)
    assert sum(one["percent_of_variance"] for one in found["sources"]) == pytest.approx(100.0)
    assert found["sources"][0]["label"] == "stated accuracy of the instrument"
    assert "no engine of this class is entered yet" in found["engine_words"]
    assert "two steps of its resolution" in found["scatter_words"]


def test_an_engine_at_the_limit_is_wrongly_rejected_at_the_risk_of_the_edition(logbook: Logbook) -> None:
    ready(logbook)
    for cylinders in ("1", "4", "12"):
        found = plan(logbook, cylinders=cylinders, repeats="2")
        at_limit = found["at_the_limit"]
        assert at_limit["ratio"] == 10.6
        assert at_limit["nonconforming"] == pytest.approx(0.05, abs=0.004)
        assert at_limit["conforming"] <= 0.0501
        assert sum(at_limit[verdict] for verdict in ("conforming", "inconclusive", "nonconforming")) == pytest.approx(
            1.0
        )


def test_what_is_said_of_policing_holds_at_the_figures_said(logbook: Logbook) -> None:
    ready(logbook)
    found = plan(logbook)
    policing = found["policing"]
    said = re.fullmatch(
        r"10\.60 can be policed to within (\d\.\d\d): an engine that truly stands at (\d\d\.\d\d) or more is found "
        r"nonconforming at least 95 times in 100\.",
        found["headline"],
    )
    assert said is not None
    assert 0.0 <= float(said[2]) - policing["rejected_from"] < 0.01
    assert float(said[1]) == pytest.approx(float(said[2]) - 10.6)
    assert policing["excess"] == pytest.approx(policing["rejected_from"] - 10.6)
    assert policing["reserve"] == pytest.approx(10.6 - policing["accepted_to"])
    assert f"{policing['safe_text']} or less" in found["sentences"][0]
    drawn = found["curve"]
    near = min(drawn, key=lambda one: abs(one["ratio"] - policing["rejected_from"]))
    assert near["nonconforming"] == pytest.approx(0.95, abs=0.05)
    rising = [one["nonconforming"] for one in drawn]
    assert all(later >= earlier - 1e-12 for earlier, later in itertools.pairwise(rising))
    assert (rising[0], rising[-1]) == (pytest.approx(0.0, abs=1e-3), pytest.approx(1.0, abs=1e-3))


def test_a_surer_probability_polices_less(logbook: Logbook) -> None:
    ready(logbook)
    usual, surer = plan(logbook), plan(logbook, probability="99 %")
    assert surer["policing"]["excess"] > usual["policing"]["excess"]
    assert "at least 99 times in 100" in surer["headline"]
    assert surer["probability"] == "0.99"


@pytest.mark.parametrize(
    ("rule", "acceptance", "rejection", "says"),
    [
        ("simple_acceptance", 10.6, None, "Both sides share the doubt"),
        ("guarded_acceptance", None, None, "The competitor bears the doubt."),
        ("guarded_rejection", None, None, "The series bears the doubt"),
        ("three_zones", None, None, "Nobody bears the doubt yet"),
    ],
)
def test_each_decision_rule_says_who_bears_the_doubt(
    logbook: Logbook, rule: str, acceptance: float | None, rejection: float | None, says: str
) -> None:
    ready(logbook, decision_rule=rule)
    found = plan(logbook, cylinders="4")
    assert found["doubt"][0].startswith(says)
    has_acceptance, has_rejection = rule != "guarded_rejection", rule in ("guarded_rejection", "three_zones")
    assert (found["acceptance_limit"] is not None) == has_acceptance
    assert (found["rejection_limit"] is not None) == has_rejection
    if acceptance is not None:
        assert found["acceptance_limit"] == acceptance
    odds = found["at_the_limit"]
    assert (odds["inconclusive"] > 0.0) == (rule == "three_zones")
    shown = logbook.client("official").get(PAGE).text
    assert found["doubt"][0] in shown
    assert ("Inconclusive</th>" in shown) == (rule == "three_zones")
    labels = [one["label"] for one in found["behind"]]
    assert ("rejection limit" in labels) == has_rejection


def test_guarded_acceptance_catches_all_and_says_its_price(logbook: Logbook) -> None:
    ready(logbook, decision_rule="guarded_acceptance", confidence="0.999")
    found = plan(logbook, cylinders="8", probability="80")
    assert found["policing"]["excess"] < 0.0
    assert found["headline"].startswith("Nothing past 10.60 slips through, at a price")
    assert "at least 80 times in 100" in found["headline"]
    assert "That is the reserve a builder has to keep" in found["sentences"][0]


def test_guarded_rejection_may_pass_an_engine_past_the_limit(logbook: Logbook) -> None:
    ready(logbook, decision_rule="guarded_rejection", confidence="0.999")
    found = plan(logbook, cylinders="1", probability="80")
    assert found["policing"]["reserve"] < 0.0
    assert "past the tolerance limit, still is found conforming at least 80 times in 100." in found["sentences"][0]
    assert found["sentences"][1] == "Engines of 1 cylinder."


def test_a_minimum_is_policed_downwards(logbook: Logbook) -> None:
    ready(logbook, kind="minimum")
    found = plan(logbook)
    assert found["tolerance_limit"] == 10.4
    assert found["policing"]["rejected_from"] < 10.4 < found["policing"]["accepted_to"]
    assert "or less is found nonconforming" in found["headline"]
    assert "or more, " in found["sentences"][0]
    assert found["risk"]["mean"] == pytest.approx(10.6)


def test_a_rule_for_the_mean_is_judged_as_one_value(logbook: Logbook) -> None:
    ready(logbook, applies_to="mean_of_cylinders")
    found = plan(logbook, cylinders="6")
    own = next(one for one in found["sources"] if one["label"] == "repeatability")
    assert own["standard_uncertainty"] == pytest.approx(0.02 / math.sqrt(3.0) / math.sqrt(6.0), rel=1e-9)
    assert found["sentences"][1] == "Engines of 6 cylinders, of which the mean is judged."
    assert found["at_the_limit"]["nonconforming"] == pytest.approx(0.05, abs=1e-3)
    assert len(found["doubt"]) == 2


def test_behind_a_value_at_the_acceptance_limit_stands_the_risk_of_the_edition(logbook: Logbook) -> None:
    ready(logbook)
    behind = {one["label"]: one for one in plan(logbook, spread="declared")["behind"]}
    assert behind["acceptance limit"]["past"] == pytest.approx(0.05, abs=1e-3)
    assert behind["tolerance limit"]["past"] == pytest.approx(0.5, abs=1e-9)
    assert behind["acceptance limit"]["past_in_class"] < behind["acceptance limit"]["past"]


def test_a_spread_too_narrow_for_a_value_leaves_its_place_empty(logbook: Logbook) -> None:
    ready(logbook)
    found = plan(logbook, mean="8.50", standard_deviation="0.05")
    assert found["behind"][-1]["past_in_class"] is None
    shown = logbook.client("official").get(PAGE, params={"mean": "8.50", "standard_deviation": "0.05"})
    assert shown.status_code == 200


def test_a_thousand_engines_are_all_accounted_for(logbook: Logbook) -> None:
    ready(logbook)
    risk = plan(logbook, mean="10.50", standard_deviation="0.10")["risk"]
    cells = [
        risk[f"{true}_{found}"]
        for true in ("inside", "past")
        for found in ("conforming", "inconclusive", "nonconforming")
    ]
    assert sum(cells) == pytest.approx(1.0, abs=1e-9)
    assert sum(cells[3:]) == pytest.approx(stats.norm.sf(1.0), abs=1e-9)
    assert risk["past_among_conforming"] == pytest.approx(cells[3] / (cells[0] + cells[3]), rel=1e-9)
    assert risk["inside_among_nonconforming"] == pytest.approx(cells[2] / (cells[2] + cells[5]), rel=1e-9)
    assert risk["drawn_from"] == "declared"
    assert "about 10.50 with a standard deviation of 0.10 (normal distribution; declared)" in risk["sentence"]
    assert 0.0 < risk["error_bound"] < 1e-8


def test_better_measuring_is_told_as_sharper_and_worse_as_less(logbook: Logbook) -> None:
    ready(logbook)
    found = plan(logbook, temperature_source="ambient_on_stand")
    planned = found["policing"]
    assert [one["label"] for one in found["sharper"]] == [
        "6 indications a cylinder",
        "12 indications a cylinder",
        "gas temperature by thermometer in the chamber",
        "an instrument twice as good (±0.05)",
        "its calibration corrected for (U = 0.04, k = 2)",
        "the best of these together",
    ]
    assert [one["label"] for one in found["blunter"]] == ["1 indication a cylinder", "gas temperature by coolant gauge"]
    assert all(one["excess"] < planned["excess"] for one in found["sharper"])
    assert all(one["excess"] > planned["excess"] for one in found["blunter"])
    best = found["sharper"][-1]
    assert best["excess"] == min(one["excess"] for one in found["sharper"])


def test_other_engines_are_told_beside_the_planned_one(logbook: Logbook) -> None:
    ready(logbook)
    found = plan(logbook, cylinders="10")
    assert [one["label"] for one in found["counts"]] == [
        "1 cylinder", "4 cylinders", "6 cylinders", "8 cylinders", "10 cylinders", "12 cylinders",
    ]  # fmt: skip
    assert next(one for one in found["counts"] if one["cylinders"] == 10)["excess"] == found["policing"]["excess"]


def test_without_a_calibration_none_is_corrected_for(logbook: Logbook) -> None:
    ready(logbook)
    body = {
        "name": "Instrument 3", "serial": "AR-0003", "method": "acoustic_resonance", "resolution": "0.01",
        "stated_accuracy": "0.05", "accuracy_meaning": "standard", "airflow_set_point": "4.72",
        "airflow_tolerance": "0.10", "settable_cylinders": [4, 6, 8], "displacement_min": "1000",
        "displacement_max": "9000",
    }  # fmt: skip
    other = an_id("another instrument")
    put(logbook.client("official"), f"/instruments/{other}", body)
    found = plan(logbook, instrument_id=str(other))
    assert found["instrument_name"] == "Instrument 3"
    assert [one["label"] for one in found["sharper"]][-2:] == [
        "an instrument twice as good (u = 0.025)", "the best of these together",
    ]  # fmt: skip
    assert plan(logbook, instrument_id=str(INSTRUMENT))["instrument_name"] == "Instrument 2"


def test_the_history_of_the_class_is_drawn_on_when_there_is_enough(logbook: Logbook) -> None:
    ready(logbook)
    verify(logbook)
    assert "No engine has been measured yet" in plan(logbook)["history_sentence"]
    ratios = ["10.02", "10.45", "10.20", "10.31", "10.10", "10.38", "10.26", "9.95"]
    for place, ratio in enumerate(ratios):
        sheet = a_sheet(logbook, an_entry(logbook, car=str(60 + place), cylinders=1))
        readings(logbook, sheet, [[ratio, ratio, ratio]])
        if place == len(ratios) - 1:
            assert "Only 7 engines have been measured" in plan(logbook)["history_sentence"]
        signed(logbook, sheet)
        logbook.clock.advance(minutes=1)
    found = plan(logbook)
    values = [float(ratio) for ratio in ratios]
    assert found["cylinders"] == 1
    assert found["risk"]["drawn_from"] == "history"
    assert found["risk"]["mean"] == pytest.approx(stats.tmean(values), abs=2e-3)
    # the temperature's 1 K and what the figures of bore, stroke and readings add; not the instrument's own accuracy
    assert found["risk"]["standard_deviation"] == pytest.approx(math.sqrt(stats.tvar(values) - 0.034**2), abs=2e-3)
    assert "8 engines measured" in found["risk"]["sentence"]
    declared = plan(logbook, spread="declared", mean="10.2", standard_deviation="0.3")
    assert (declared["risk"]["mean"], declared["risk"]["drawn_from"]) == (10.2, "declared")


@pytest.mark.parametrize(
    ("asked", "field", "sentence"),
    [
        ({"repeats": "0"}, "repeats", "Indications a cylinder must be at least 1."),
        ({"cylinders": "many"}, "cylinders", "Number of cylinders must be a whole number, such as 8."),
        ({"probability": "30"}, "probability", "A probability of 30 % is outside 50 to 99.9 %."),
        ({"probability": "0.95 in"}, "probability", "The probability is written as 95 % or 0.95."),
        ({"mean": "100"}, "mean", "A mean ratio of 100 is outside 1.5 to 30."),
        ({"standard_deviation": "0"}, "standard_deviation", "A standard deviation of 0 is outside 0.01 to 5."),
        ({"instrument_id": str(an_id("nowhere"))}, "instrument_id", "The logbook has no such instrument."),
        ({"temperature_source": "a guess"}, "temperature_source", "must be one of"),
        ({"spread": "history"}, "spread", "No engine has been measured yet; 8 are needed"),
    ],
)
def test_what_cannot_be_planned_says_why_beside_its_field_and_keeps_what_was_typed(
    logbook: Logbook, asked: dict[str, str], field: str, sentence: str
) -> None:
    ready(logbook)
    official = logbook.client("official")
    answer = official.get(f"/api/classes/{CLASS}/planning", params=asked)
    assert answer.status_code == 422
    assert field in answer.json()["errors"]
    shown = official.get(PAGE, params={"repeats": "7", **asked, "something": "else"})
    assert shown.status_code == 422
    assert sentence in shown.text
    assert f'href="#f-{field}"' in shown.text
    assert '<details class="plan-form" open>' in shown.text
    assert "here is the usual plan" in shown.text
    typed = asked.get("repeats", "7")
    assert f'name="repeats" value="{typed}"' in shown.text


def test_the_page_shows_the_operations_figures(logbook: Logbook) -> None:
    ready(logbook)
    found, shown = plan(logbook), logbook.client("inspector").get(PAGE).text
    assert found["headline"] in shown
    assert all(sentence in shown for sentence in found["sentences"])
    for one in (found["policing"], *found["sharper"], *found["blunter"], *found["counts"]):
        figures = "".join(
            f'<td class="figure">{one[name]}</td>' for name in ("caught_text", "excess_text", "safe_text")
        )
        assert figures in shown
    assert "At a true ratio of 10.60: conforming" in shown
    assert shown.count('<svg class="plot plot--') == 2


def test_a_range_is_not_planned_yet_and_says_so(logbook: Logbook) -> None:
    ready(logbook, kind="range", lower_limit="9.50")
    found = logbook.client("official").get(f"/api/classes/{CLASS}/planning").json()
    assert found["plan"] is None
    assert "A plan is worked out for a limit on one side." in found["missing"]
    assert found["missing"] in logbook.client("official").get(PAGE).text


def test_a_tolerance_that_covers_the_uncertainty_takes_no_guard(logbook: Logbook) -> None:
    ready(logbook, decision_rule="simple_acceptance", tolerance_covers_uncertainty="yes")
    found = plan(logbook)
    assert (found["acceptance_limit"], found["rejection_limit"]) == (10.6, None)
    assert found["doubt"][0].startswith("The tolerance bears the doubt")
