"""One record whole: the frozen figures, and everything around them."""

import json
import re
from html import unescape

from sqlalchemy import select

from app.inspections.models import Verdict
from app.metrology.rounding import rounded
from tests import builders
from tests.conftest import Logbook, an_id
from tests.web.history.rows import ACROSS, INSIDE, PAST, a_result, a_shed, an_open_sheet, sign


def words_of(html: str) -> str:
    """What a reader sees, without the marks between."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", html)).split())


def test_page_and_api_show_the_figures_that_were_frozen(logbook: Logbook) -> None:
    a_shed(logbook)
    inspection_id = a_result(logbook, shown=ACROSS)
    with logbook.database.read() as session:
        frozen = json.loads(session.scalars(select(Verdict.result)).one())
    found = logbook.client("official").get(f"/api/records/{inspection_id}").json()
    result, decided = found["result"], frozen["decided"]
    assert found["sheet"]["assessment"] == frozen
    assert (result["value"], result["expanded_uncertainty"]) == (decided["value"], decided["expanded_uncertainty"])
    value, uncertainty = rounded(float(decided["value"]), float(decided["expanded_uncertainty"]))
    assert (result["value_text"], result["uncertainty_text"]) == (value, uncertainty)
    page = words_of(logbook.client("official").get(f"/records/{inspection_id}").text)
    assert f"{result['deciding']}: {value} ± {uncertainty}" in page
    assert "limit 10.50, with its tolerance 10.60 (rule 5.4, edition 1)" in page
    assert frozen["reason"] in page
    assert [row["value"] for row in result["rows"]] == [row["value"] for row in frozen["results"]]
    for row in result["rows"]:
        assert f"{row['value_text']} ± {row['uncertainty_text']}" in page
    for line, part in zip(result["budget"], decided["budget"]["components"], strict=True):
        assert line["percent_of_variance"] == f"{float(part['percent_of_variance']):.1f}"
        assert f"{line['percent_of_variance']} %" in page


def test_a_signed_result_is_read_back_and_never_worked_out_again(logbook: Logbook) -> None:
    a_shed(logbook)
    inspection_id = a_result(logbook, shown=ACROSS)
    before = logbook.client("official").get(f"/api/records/{inspection_id}").json()
    logbook.clock.advance(minutes=5)
    builders.verify(logbook, "during", "11.21", "11.29", "11.25")  # the instrument's history now has more scatter
    open_sheet = an_open_sheet(logbook, "12", "rival")
    builders.readings(logbook, open_sheet, [[ACROSS, ACROSS]] * 4)
    after = logbook.client("official").get(f"/api/records/{inspection_id}").json()
    now_worked_out = logbook.client("inspector").get(f"/api/inspections/{open_sheet}").json()["assessment"]
    assert after["result"] == before["result"]
    assert now_worked_out["decided"]["expanded_uncertainty"] != after["result"]["expanded_uncertainty"]


def test_a_corrected_reading_stays_with_its_reason(logbook: Logbook) -> None:
    a_shed(logbook)
    inspection_id = an_open_sheet(logbook)
    builders.readings(logbook, inspection_id, [["9.41", "9.44"], *[[INSIDE, INSIDE]] * 3])
    correction = {
        "cylinder": 1,
        "indications": [INSIDE, INSIDE],
        "replaces_id": str(an_id(f"reading {inspection_id} 1")),
        "reason": "Adapter was not seated",
    }
    builders.put(logbook.client("inspector"), f"/inspections/{inspection_id}/readings/{an_id('again')}", correction)
    sign(logbook, inspection_id)
    page = words_of(logbook.client("official").get(f"/records/{inspection_id}").text)
    assert "9.41 9.44 set aside: Adapter was not seated" in page
    assert "Reading corrected" in page
    assert "Verdict signed" in page


def test_a_cylinder_that_was_not_measured_is_shown_with_its_reason(logbook: Logbook) -> None:
    a_shed(logbook)
    inspection_id = an_open_sheet(logbook)
    builders.readings(logbook, inspection_id, [[INSIDE, INSIDE], [], [INSIDE, INSIDE], [INSIDE, INSIDE]])
    sign(logbook, inspection_id)
    found = logbook.client("official").get(f"/api/records/{inspection_id}").json()["result"]
    assert found["verdict"] == "inconclusive"
    assert [row["value"] == "" for row in found["rows"]] == [False, True, False, False]
    page = words_of(logbook.client("official").get(f"/records/{inspection_id}").text)
    assert "Not measured: Plug seized" in page


def test_a_rule_for_the_mean_shows_the_mean_as_the_deciding_row(logbook: Logbook) -> None:
    builders.a_class(logbook, applies_to="mean_of_cylinders")
    builders.an_instrument(logbook)
    builders.verify(logbook)
    inspection_id = an_open_sheet(logbook)
    builders.readings(
        logbook, inspection_id, [["10.20", "10.21"], [PAST, PAST], ["10.20", "10.21"], ["10.20", "10.21"]]
    )
    sign(logbook, inspection_id)
    found = logbook.client("official").get(f"/api/records/{inspection_id}").json()["result"]
    assert [(row["label"], row["is_deciding"]) for row in found["rows"]][-1] == ("Mean of cylinders", True)
    assert [row["verdict"] for row in found["rows"][:-1]] == [""] * 4
    page = words_of(logbook.client("official").get(f"/records/{inspection_id}").text)
    assert "not judged by itself" in page
    assert f"Mean of cylinders: {found['value_text']} ± {found['uncertainty_text']}" in page


def test_a_failed_closing_puts_the_results_since_the_last_good_check_in_doubt(logbook: Logbook) -> None:
    a_shed(logbook)
    logbook.clock.advance(minutes=10)
    early = a_result(logbook, "41", "competitor")
    logbook.clock.advance(minutes=10)
    builders.verify(logbook, "during")
    logbook.clock.advance(minutes=10)
    late = a_result(logbook, "12", "rival")
    official = logbook.client("official")
    assert official.get(f"/api/records/{late}").json()["standing"]["state"] == "sound"
    logbook.clock.advance(minutes=10)
    builders.verify(logbook, "closing", "11.62", "11.63", "11.64")
    assert official.get(f"/api/records/{early}").json()["standing"]["state"] == "sound"
    page = words_of(official.get(f"/records/{late}").text)
    assert "This result is in doubt In doubt since 2 May 2026, 09:40 UTC." in page
    assert "Instrument 2 missed its mark at its closing verification, Round one, 2 May 2026, 09:40 UTC." in page
    assert "The last good verification before that was made on 2 May 2026, 09:20 UTC." in page
    assert "Results put in doubt: Instrument 2 missed its mark" in page
    assert "This result is in doubt" not in official.get(f"/records/{early}").text
    assert [check["stage"] for check in official.get(f"/api/records/{late}").json()["instrument"]["verifications"]] == [
        "opening",
        "during",
        "closing",
    ]


def test_sheets_of_one_engine_lead_to_each_other(logbook: Logbook) -> None:
    a_shed(logbook)
    first = a_result(logbook, shown=ACROSS)
    logbook.clock.advance(minutes=15)
    entry_id = an_id("entry 41")
    again = builders.a_sheet(
        logbook, entry_id, "second", set_displacement="2866", set_cylinders=4,
        repeats_id=str(first), repeat_reason="The edition says: measure again",
    )  # fmt: skip
    official = logbook.client("official")
    later = official.get(f"/api/records/{first}").json()["linked"]
    earlier = official.get(f"/api/records/{again}").json()["linked"]
    assert [(one["inspection_id"], one["relation"], one["verdict"]) for one in later] == [
        (str(again), "measured again as", "")
    ]
    assert [(one["inspection_id"], one["relation"], one["verdict"]) for one in earlier] == [
        (str(first), "measured again from", "inconclusive")
    ]
    assert f'href="/records/{again}"' in official.get(f"/records/{first}").text


def test_an_open_sheet_has_a_record_without_a_verdict(logbook: Logbook) -> None:
    a_shed(logbook)
    inspection_id = an_open_sheet(logbook)
    builders.readings(logbook, inspection_id, [[PAST, PAST]] * 4)
    found = logbook.client("official").get(f"/api/records/{inspection_id}").json()
    assert (found["is_signed"], found["result"], found["slip"]) == (False, None, None)
    page = logbook.client("official").get(f"/records/{inspection_id}").text
    assert "NO VERDICT" in page
    assert "PAST THE LIMIT" not in page
    assert f'href="/inspections/{inspection_id}"' in page


def test_the_record_quotes_the_edition_and_offers_the_slip(logbook: Logbook) -> None:
    a_shed(logbook)
    inspection_id = a_result(logbook)
    page = logbook.client("official").get(f"/records/{inspection_id}").text
    assert "No cylinder may exceed a static compression ratio of 10.50." in page
    assert f'href="/api/slips/{an_id(f"slip {inspection_id}")}/record"' in page
    assert "still waits for the inspector’s signature" in page  # no file was made in this test
    assert "Name typed: <b>Cleo Fenn</b>" in page


def test_a_record_is_for_the_staff(logbook: Logbook) -> None:
    a_shed(logbook)
    inspection_id = a_result(logbook)
    for face in ("/records", "/api/records"):
        for who in ("inspector", "official", "administrator"):
            assert logbook.client(who).get(f"{face}/{inspection_id}").status_code == 200
            assert logbook.client(who).get(f"{face}/{an_id('no such')}").status_code == 404
        assert logbook.client("competitor").get(f"{face}/{inspection_id}").status_code == 404
    assert "/protest/new" not in logbook.client("inspector").get(f"/records/{inspection_id}").text
    assert "/protest/new" in logbook.client("official").get(f"/records/{inspection_id}").text
