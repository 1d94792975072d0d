"""The ledger of an instrument on its pages: certificates, their values and files, damage, faults, repairs, moves."""

import hashlib
from typing import Any

import httpx
import pytest

from app.instruments.certificates import LARGEST_FILE, shown_name
from tests.builders import INSTRUMENT, VOLUME, a_calibration, a_class, an_instrument, put, verify
from tests.conftest import Logbook, an_id

BOOK = f"/instruments/{INSTRUMENT}"
NEW = f"{BOOK}/calibrations/{an_id('new')}"
HEAD = {
    "laboratory": "Northmoor Calibration",
    "certificate": "NC-2026-300",
    "calibrated_on": "2026-04-01",
    "due_on": "2027-04-01",
    "coverage_factor": "2",
}
PDF = b"%PDF-1.7\n% a certificate of our own making\n%%EOF\n"
PNG = b"\x89PNG\r\n\x1a\n" + bytes(20)
JPEG = b"\xff\xd8\xff\xe0" + bytes(20)


def line(number: int, reference: str, deviation: str, uncertainty: str) -> dict[str, str]:
    names = ("reference", "deviation", "expanded_uncertainty")
    return {
        f"point_{number}_{name}": text for name, text in zip(names, (reference, deviation, uncertainty), strict=True)
    }


def read(logbook: Logbook) -> dict[str, Any]:
    found: dict[str, Any] = logbook.client("official").get(f"/api{BOOK}").json()
    return found


def beside(answer: httpx.Response, field: str) -> str:
    return answer.text.split(f'id="f-{field}-error"')[1].split("</p>")[0]


# ---- certificates with their values -----------------------------------------------------------------------------


def test_of_a_table_the_point_with_the_greatest_deviation_and_uncertainty_counts(logbook: Logbook) -> None:
    an_instrument(logbook)
    official = logbook.client("official")
    # |d| + U: 0.05, 0.07, 0.06, 0.07: the first of the equal ones counts; the second line of the form stays empty
    lines = [line(1, "8.00", "0.01", "0.04"), line(3, "10.00", "-0.03", "0.04"), line(4, "12,00", "0.05", "0.01")]
    typed = {**HEAD, **lines[0], **lines[1], **lines[2], **line(5, "14.00", "0.04", "0.03"), "rows": "5"}
    assert official.post(NEW, data=typed).status_code == 303
    found = read(logbook)["calibrations"][0]
    assert (found["deviation"], found["expanded_uncertainty"]) == ("-0.03", "0.04")
    assert [(point["reference"], point["counts"]) for point in found["points"]] == [
        ("8.00", False),
        ("10.00", True),
        ("12.00", False),
        ("14.00", False),
    ]
    page = official.get(NEW).text
    assert page.count("This one counts") == 1
    assert "deviation and uncertainty together are greatest" in page
    assert official.post(NEW, data=typed).status_code == 303  # a double tap
    assert "already holds something else" in official.post(NEW, data={**typed, "point_5_deviation": "0.03"}).text
    assert len(read(logbook)["calibrations"]) == 2


def test_more_lines_come_without_recording_anything_and_all_that_was_typed_stays(logbook: Logbook) -> None:
    an_instrument(logbook)
    official = logbook.client("official")
    assert official.get(f"{BOOK}/calibrations/new").text.count("<legend>Line") == 5
    typed = {**HEAD, **line(5, "8.00", "by ear", "0.04"), "rows": "5"}
    answer = official.post(NEW, data={**typed, "more": "yes"})
    assert (answer.status_code, answer.text.count("<legend>Line")) == (200, 10)
    assert all(f'value="{text}"' in answer.text for name, text in typed.items() if name != "rows")
    assert 'name="rows" value="10"' in answer.text
    most = official.post(NEW, data={**typed, "rows": "38", "more": "yes"}).text
    assert most.count("<legend>Line") == 40
    assert 'name="more"' not in most
    assert official.post(NEW, data={**typed, "rows": "many", "more": "yes"}).text.count("<legend>Line") == 10
    assert official.get(NEW).status_code == 404


WRONG_POINTS = [
    (line(2, "8.00", "", "0.04"), "point_2_deviation", "Deviation found is needed. Fill it in."),
    (line(2, "eight", "0", "0.04"), "point_2_reference", "“eight” is not a number."),
    (line(2, "8.00", "0", "0"), "point_2_expanded_uncertainty", "An expanded uncertainty of 0 is outside"),
    (line(2, "8.00", "0", "0.04") | {"deviation": "0.01"}, "deviation", "The values below say 0. Leave this empty"),
    ({"expanded_uncertainty": "0.04"}, "deviation", "Deviation found is needed where the certificate gives no table"),
    ({"deviation": "0.04"}, "expanded_uncertainty", "Expanded uncertainty is needed where the certificate gives no"),
]


@pytest.mark.parametrize(("typed", "field", "sentence"), WRONG_POINTS)
def test_what_cannot_be_taken_of_a_table_is_said_at_its_line(
    logbook: Logbook, typed: dict[str, str], field: str, sentence: str
) -> None:
    an_instrument(logbook)
    answer = logbook.client("official").post(NEW, data={**HEAD, **typed})
    assert answer.status_code == 422
    assert sentence in beside(answer, field)
    assert f'href="#f-{field}"' in answer.text
    assert all(f'value="{text}"' in answer.text for text in (*HEAD.values(), *filter(None, typed.values())))
    assert len(read(logbook)["calibrations"]) == 1


def test_the_operation_names_the_line_of_its_list(logbook: Logbook) -> None:
    an_instrument(logbook)
    points = [{"reference": "8.00", "deviation": "0.01", "expanded_uncertainty": "0.04"}, {"reference": "9.00"}]
    answer = logbook.client("official").put(f"/api{NEW}", json={**HEAD, "points": points})
    assert answer.status_code == 422
    assert set(answer.json()["errors"]) == {"points.1.deviation", "points.1.expanded_uncertainty"}


def test_a_certificate_beyond_the_stated_accuracy_is_said_and_its_very_edge_is_within(logbook: Logbook) -> None:
    an_instrument(logbook)
    a_calibration(logbook, name="edge", calibrated_on="2026-03-01", deviation="-0.06", expanded_uncertainty="0.04")
    assert read(logbook)["instrument"]["calibration"]["beyond_accuracy"] == ""
    a_calibration(logbook, name="C", calibrated_on="2026-03-02", deviation="-0.07", expanded_uncertainty="0.04")
    said = read(logbook)["instrument"]["calibration"]["beyond_accuracy"]
    assert said == (
        "Certificate NC-2026-118C goes beyond the stated accuracy: it leaves Instrument 2 up to 0.11 off (deviation "
        "and uncertainty together, k = 2), where ± 0.1 is stated. Uncertainty budgets take what the certificate found."
    )
    assert said in logbook.client("inspector").get(BOOK).text


def test_a_volume_on_which_too_much_passes_is_said(logbook: Logbook) -> None:
    an_instrument(logbook)  # RV-7: 0.05 permitted and half an interval of 0.05 are the 0.10 stated, not more
    mark = {"mark_displacement": "5733", "mark_cylinders": 8}
    wide = {"serial": "RV-8", "mark_low": "9.40", "mark_high": "9.50", "permitted_deviation": "0.06"}
    put(logbook.client("official"), f"{BOOK}/reference-volumes/{an_id('wide')}", {**mark, **wide})
    single = {"serial": "RV-9", "mark_low": "8.00", "permitted_deviation": "0.20"}
    put(logbook.client("official"), f"{BOOK}/reference-volumes/{an_id('single')}", {**mark, **single})
    said = [volume["passing_too_wide"] for volume in read(logbook)["instrument"]["reference_volumes"]]
    assert said == [
        "",
        "A verification on RV-8 can pass with Instrument 2 0.11 off (0.06 is permitted, and half of the mark's "
        "interval is 0.05), outside its stated accuracy of ± 0.1: to pass is not to be within it.",
        "A verification on RV-9 can pass with Instrument 2 0.2 off (0.20 is permitted), outside its stated accuracy of "
        "± 0.1: to pass is not to be within it.",
    ]
    page = logbook.client("inspector").get(BOOK).text
    assert "can pass with Instrument 2 0.11 off" in page
    condemnation = f"{BOOK}/reference-volumes/{an_id('wide')}/condemnation/{an_id('d')}"
    put(logbook.client("official"), condemnation, {"reason": "x"})
    assert "can pass with Instrument 2 0.11 off" not in logbook.client("inspector").get(BOOK).text


# ---- the file ---------------------------------------------------------------------------------------------------

OLD = f"{BOOK}/calibrations/{an_id('calibration')}"


@pytest.mark.parametrize(
    ("content", "media_type", "ending"),
    [(PDF, "application/pdf", "pdf"), (PNG, "image/png", "png"), (JPEG, "image/jpeg", "jpg")],
)
def test_a_certificate_is_handed_out_as_it_came_and_called_by_its_number(
    logbook: Logbook, content: bytes, media_type: str, ending: str
) -> None:
    an_instrument(logbook)
    official = logbook.client("official")
    hostile = 'C:\\scans\\"><script>alert(1)</script>.html'
    sent = official.post(f"{OLD}/file", files={"file": (hostile, content, "text/html")})
    assert sent.status_code == 303
    got = logbook.client("inspector").get(f"{OLD}/file")
    assert (got.content, got.headers["content-type"]) == (content, media_type)
    assert got.headers["content-disposition"] == f'attachment; filename="NC-2026-118.{ending}"'
    assert got.headers["x-content-type-options"] == "nosniff"
    page = logbook.client("inspector").get(OLD).text
    assert "<script>alert(1)" not in page
    assert hashlib.sha256(content).hexdigest() in page
    assert f'action="{OLD}/file"' not in official.get(OLD).text
    again = official.put(f"/api{OLD}/file?name=other.pdf", content=content)
    assert again.status_code == 200
    assert again.json()["calibration"]["file"]["sha256"] == hashlib.sha256(content).hexdigest()
    assert again.json()["calibration"]["file"]["name"] != "other.pdf"
    other = official.post(f"{OLD}/file", files={"file": ("b.pdf", PDF + b"more", "application/pdf")})
    assert other.status_code == 409
    assert "Another file is attached to certificate NC-2026-118 already, and stays." in other.text
    assert logbook.client("inspector").get(f"/api{OLD}/file").content == content


def test_what_is_no_certificate_is_refused_beside_the_field(logbook: Logbook) -> None:
    an_instrument(logbook)
    official = logbook.client("official")
    for content, sentence in (
        (b"", "No file came."),
        (b" " + PDF, "This file is neither a PDF nor a PNG or JPEG picture."),
        (b"<html>%PDF-", "This file is neither"),
        (PDF + bytes(LARGEST_FILE + 1 - len(PDF)), "This file is larger than 8 MiB."),
    ):
        answer = official.post(f"{OLD}/file", files={"file": ("certificate.pdf", content, "application/pdf")})
        assert (answer.status_code, sentence in beside(answer, "file")) == (422, True)
        assert official.put(f"/api{OLD}/file", content=content).json()["errors"]["file"].startswith(sentence)
    assert official.post(f"{OLD}/file", data={"file": "typed"}).status_code == 422
    assert official.get(f"{OLD}/file").status_code == 404
    assert official.put(f"/api{OLD}/file", content=PDF + bytes(LARGEST_FILE - len(PDF))).status_code == 200


def test_the_name_of_a_file_is_shown_without_its_folders_and_marks() -> None:
    assert shown_name("C:\\scans\\certificate 7.pdf") == "certificate 7.pdf"
    assert shown_name("../../etc/certificate.pdf") == "certificate.pdf"
    assert shown_name("a\u202efdp.\nb\0.pdf") == "afdp.b.pdf"
    assert shown_name("x" * 200 + ".pdf") == "x" * 116 + ".pdf"
    assert shown_name("scans/") == ""


def test_a_nameless_file_gets_a_name_and_a_certificate_number_of_signs_only_too(logbook: Logbook) -> None:
    an_instrument(logbook)
    signs = a_calibration(logbook, name="signs", certificate="№ “”")
    official = logbook.client("official")
    view = official.put(f"/api{BOOK}/calibrations/{signs}/file", content=PDF)
    assert view.status_code == 200
    got = official.get(f"/api{BOOK}/calibrations/{signs}/file")
    assert got.headers["content-disposition"] == 'attachment; filename="certificate.pdf"'
    assert [row["file"]["name"] for row in read(logbook)["calibrations"] if row["file"]] == ["certificate.pdf"]


HOSTILE = "<script>alert(1)</script>"


def test_what_people_write_is_shown_as_text_on_every_page_of_the_ledger(logbook: Logbook) -> None:
    an_instrument(logbook)
    official = logbook.client("official")
    certificate = a_calibration(logbook, name="H", calibrated_on="2026-03-01", certificate=HOSTILE, laboratory=HOSTILE)
    page = f"{BOOK}/calibrations/{certificate}"
    put(official, f"{page}/withdrawal/{an_id('w')}", {"reason": HOSTILE})
    official.post(f"{page}/file", files={"file": (f"{HOSTILE}.pdf", PDF, "application/pdf")})
    put(official, f"{BOOK}/reference-volumes/{VOLUME}/condemnation/{an_id('d')}", {"reason": HOSTILE})
    moved = {"kind": "moved", "happened_at": "2026-05-01T09:00:00Z", "place": HOSTILE, "text": HOSTILE}
    put(official, f"{BOOK}/notes/{an_id('n')}", moved)
    volume = f"{BOOK}/reference-volumes/{VOLUME}/condemnation"
    for address in ("/instruments", BOOK, f"{BOOK}/history", page, volume, f"{BOOK}/notes/new?kind=moved"):
        shown = official.get(address)
        assert (shown.status_code, HOSTILE in shown.text) == (200, False), address
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in official.get(BOOK).text
    handed_out = official.get(f"{page}/file").headers["content-disposition"]
    assert handed_out == 'attachment; filename="script-alert-1-script.pdf"'


def test_a_certificate_is_found_under_its_own_instrument_only(logbook: Logbook) -> None:
    an_instrument(logbook)
    body = {**logbook.client("official").get(f"/api{BOOK}").json()["instrument"]}
    kept = ("method", "resolution", "stated_accuracy", "accuracy_meaning", "settable_cylinders")
    more = {"airflow_set_point": "4.72", "airflow_tolerance": "0.1", "displacement_min": "60", "displacement_max": "90"}
    named = {"name": "Instrument 3", "serial": "AR-3"}
    put(logbook.client("official"), f"/instruments/{an_id('three')}", {**{k: body[k] for k in kept}, **more, **named})
    official, three = logbook.client("official"), f"/instruments/{an_id('three')}"
    certificate = f"{three}/calibrations/{an_id('calibration')}"
    volume = f"{three}/reference-volumes/{VOLUME}/condemnation"
    for address in (certificate, f"{certificate}/file", volume):
        assert official.get(address).status_code == 404
    assert official.put(f"/api{certificate}/file", content=PDF).status_code == 404
    assert official.put(f"/api{certificate}/withdrawal/{an_id('w')}", json={"reason": "x"}).status_code == 404
    assert official.put(f"/api{volume}/{an_id('d')}", json={"reason": "x"}).status_code == 404
    note = {**NOTE, "happened_at": "2026-05-02T08:00:00Z"}
    put(official, f"{BOOK}/notes/{an_id('note')}", note)
    assert official.put(f"/api{three}/notes/{an_id('note')}", json=note).status_code == 409


# ---- the forms --------------------------------------------------------------------------------------------------


def test_withdrawing_asks_for_the_reason_and_then_tells_it(logbook: Logbook) -> None:
    an_instrument(logbook)
    official = logbook.client("official")
    assert "Withdraw this certificate" not in logbook.client("inspector").get(OLD).text
    empty = official.post(f"{OLD}/withdrawal/{an_id('w')}", data={"reason": "  "})
    assert "Reason is needed. Fill it in." in beside(empty, "reason")
    assert f'action="{OLD}/withdrawal/{an_id("w")}"' in empty.text
    done = official.post(f"{OLD}/withdrawal/{an_id('w')}", data={"reason": "Recalled <b>now</b>"})
    page = official.get(done.headers["location"]).text
    assert "Recalled &lt;b&gt;now&lt;/b&gt;" in page
    assert "Withdraw this certificate" not in page


def test_damage_is_told_in_the_sheds_time_and_wrong_times_are_said(logbook: Logbook) -> None:
    an_instrument(logbook)
    form = f"{BOOK}/reference-volumes/{VOLUME}/condemnation"
    inspector = logbook.client("inspector")
    assert "Reference volume RV-7 is damaged" in inspector.get(form).text
    for typed, sentence in (
        ("last week", "When it was last known to be sound is not a time."),
        ("2026-05-02T09:01", "This lies in the future."),
        ("0001-01-01T00:00", "No instrument of this book was there in that year."),
        ("9999-12-31T23:59", "No instrument of this book was there in that year."),
    ):
        answer = inspector.post(f"{form}/{an_id('d')}", data={"reason": "A dent", "last_sound_at": typed})
        assert answer.status_code == 422
        assert sentence in beside(answer, "last_sound_at")
        assert f'value="{typed}"' in answer.text
        assert "A dent</textarea>" in answer.text
    sent = inspector.post(f"{form}/{an_id('d')}", data={"reason": "A dent", "last_sound_at": "2026-05-02T08:30"})
    assert sent.status_code == 303
    page = inspector.get(sent.headers["location"]).text
    assert "Out of use: found damaged" in page
    assert "last known to be sound" in page
    condemned = read(logbook)["instrument"]["reference_volumes"][0]["condemnation"]
    assert (condemned["last_sound_at"], condemned["condemned_by"]) == ("2026-05-02T08:30:00Z", "Ines Tarn")
    assert "It is out of use already" in inspector.get(form).text
    assert "RV-7: out of use" in inspector.get("/instruments").text


NOTE = {"kind": "fault", "happened_at": "2026-05-02T08:00", "text": "Display flickers", "affects_indication": "false"}


def test_faults_repairs_and_moves_stand_in_their_order(logbook: Logbook) -> None:
    an_instrument(logbook)
    inspector = logbook.client("inspector")
    for number, changed in enumerate(
        (
            {"kind": "moved", "place": "Northmoor Calibration", "affects_indication": "", "text": "By van"},
            {"happened_at": "2026-05-02T08:30"},
            {"kind": "repair", "happened_at": "2026-05-02T08:45", "text": "New display"},
            {"kind": "moved", "place": "Fellgate", "happened_at": "2026-04-01T08:00", "affects_indication": ""},
        )
    ):
        sent = inspector.post(f"{BOOK}/notes/{an_id(f'note {number}')}", data={**NOTE, **changed})
        assert sent.status_code == 303, sent.text
    view = read(logbook)
    assert [note["kind_words"] for note in view["notes"]] == ["Repair", "Fault", "Moved", "Moved"]
    assert view["instrument"]["place"] == "Northmoor Calibration"  # noted late: Fellgate was before that
    page = inspector.get(BOOK).text
    assert page.index("New display") < page.index("Display flickers") < page.index("By van")
    assert "Northmoor Calibration" in inspector.get("/instruments").text
    assert {row["what"] for row in view["happened"]} >= {
        "Fault noted: Display flickers",
        "Repair noted: New display",
        "Moved to Northmoor Calibration: By van",
    }


WRONG_NOTES = [
    ({"affects_indication": ""}, "affects_indication", "Say whether what it shows may have changed by it."),
    ({"happened_at": "2026-05-02T09:00:01"}, "happened_at", "This lies in the future."),
    ({"happened_at": ""}, "happened_at", "When is needed. Fill it in."),
    ({"text": ""}, "text", "Words is needed."),
    ({"kind": "moved"}, "place", "Write where Instrument 2 is now"),
]


@pytest.mark.parametrize(("changed", "field", "sentence"), WRONG_NOTES)
def test_a_note_that_cannot_be_taken_keeps_all_that_was_typed(
    logbook: Logbook, changed: dict[str, str], field: str, sentence: str
) -> None:
    an_instrument(logbook)
    typed = {**NOTE, **changed}
    answer = logbook.client("inspector").post(f"{BOOK}/notes/{an_id('note')}", data=typed)
    assert answer.status_code == 422
    assert sentence in beside(answer, field)
    assert typed["text"] in answer.text
    assert f'value="{typed["happened_at"]}"' in answer.text
    assert f'name="kind" value="{typed["kind"]}"' in answer.text
    assert read(logbook)["notes"] == []


def test_what_a_note_may_not_say_by_the_operation(logbook: Logbook) -> None:
    an_instrument(logbook)
    inspector, body = logbook.client("inspector"), {**NOTE, "happened_at": "2026-05-02T08:00:00Z"}
    address = f"/api{BOOK}/notes/{an_id('note')}"
    placed = inspector.put(address, json={**body, "place": "Fellgate"})
    assert "A place is asked for with a move only." in placed.json()["errors"]["place"]
    moved = inspector.put(address, json={**body, "kind": "moved", "place": "x", "affects_indication": True})
    assert "A move by itself changes nothing" in moved.json()["errors"]["affects_indication"]
    assert inspector.put(address, json={**body, "happened_at": "2026-05-02T08:00"}).status_code == 422
    first, again = (inspector.put(address, json=body) for _ in range(2))
    assert (first.status_code, again.json()) == (200, first.json())
    assert inspector.put(address, json={**body, "text": "Other"}).status_code == 409
    assert inspector.get(f"{BOOK}/notes/new?kind=theft").status_code == 422
    strange = inspector.post(f"{BOOK}/notes/{an_id('n')}", data={**NOTE, "kind": ["fault", "theft"]})
    assert strange.status_code == 422


def test_the_book_and_the_page_warn_before_the_due_date(logbook: Logbook) -> None:
    an_instrument(logbook)
    a_class(logbook)
    verify(logbook)
    assert "Calibrations that fall due" not in logbook.client("official").get("/instruments").text
    a_calibration(logbook, name="short", calibrated_on="2026-03-01", due_on="2026-06-01")
    assert "Instrument 2: due in 30 days" in logbook.client("official").get("/instruments").text
    assert "The calibration is due in 30 days" in logbook.client("inspector").get(BOOK).text
    logbook.clock.advance(days=31)
    logbook.clients.clear()
    assert "Instrument 2: overdue since 1 June 2026" in logbook.client("official").get("/instruments").text
    assert "Calibration overdue by 1 day" in logbook.client("inspector").get(BOOK).text
