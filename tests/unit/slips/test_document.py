"""The page: what it says, how it is built, and that it never changes."""

import hashlib
import json
import logging
import os
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
import segno
from PIL import Image

from app.slips import document, wording
from app.slips.document import LayoutError, page_html, render_slip
from app.slips.presentation import DENSITIES, both_units, drawing, figure, result_rows
from tests.unit.slips.page_words import expected, squeezed
from tests.unit.slips.records import a_record

TYPED = {"kind": "typed", "name": "Tamsin Okonjo-Reyes", "path": "", "note": "for the entrant"}
REFUSED = {
    "kind": "refused",
    "name": "Tamsin Okonjo-Reyes",
    "path": "",
    "note": "Wants it repeated; seen by Pell Ashdown.",
}
ABSENT = {"kind": "not_present", "name": "", "path": "", "note": ""}
ASIDE = {3: [(("9.80", "9.75"), "leak at the fitting"), ((), "flow not steady")]}
MINIMUM = {"kind": "minimum", "limit": "9.00", "tolerance": "0.05"}
CORRECTED = {
    "set_displacement_cm3": "1998", "set_cylinders": "4", "set_gas_temperature_c": "20.0", "gas_temperature_c": "34.0",
    "temperature_source": "coolant_gauge", "airflow_l_min": "4.70", "reason": "gauge read in the wrong column",
}  # fmt: skip
EARLIER = {
    "slip": "SL-000009", "verdict": "inconclusive", "decided_at": "2026-05-02T11:20:00Z", "reason": "across the limit",
}  # fmt: skip
RECORDS: dict[str, Callable[[], dict[str, Any]]] = {
    "one cylinder inside": lambda: a_record(1, "10.30", repeats=3),
    "two cylinders, typed name": lambda: a_record(2, "10.20", acknowledgement=TYPED),
    "four, below a minimum": lambda: a_record(4, "8.40", decision_rule="simple_acceptance", **MINIMUM),
    "six across, readings set aside": lambda: a_record(6, "10.75", set_aside=ASIDE, acknowledgement=TYPED),
    "eight inside": lambda: a_record(8, "10.30"),
    "eight, the mean judged": lambda: a_record(8, "10.60", applies_to="mean_of_cylinders"),
    "eight, one not measured": lambda: a_record(8, "10.30", not_measured={5: "plug seized"}, calibration=False),
    "eight, no check, nobody there": lambda: a_record(
        8, "10.30", acknowledgement=ABSENT, changes={"instrument": {"verification": None}}
    ),
    "twelve past": lambda: a_record(12, "11.05", acknowledgement=REFUSED, decision_rule="guarded_acceptance"),
    "two, above the limit yet not proven past it": lambda: a_record(2, "10.77", decision_rule="guarded_rejection"),
    "two, inside the limit yet not proven so": lambda: a_record(2, "10.68", decision_rule="guarded_acceptance"),
    "four, corrected and measured again": lambda: a_record(4, "10.30", corrected=[CORRECTED], earlier=EARLIER),
    "one, its calibration beyond the stated accuracy": lambda: a_record(1, "10.30", deviation="0.15"),
    "one, its calibration overdue by a day": lambda: a_record(1, "10.30", overdue_days=1),
    "four, its calibration overdue by twelve days": lambda: a_record(4, "10.30", overdue_days=12),
    "four in a range": lambda: a_record(4, "10.30", kind="range", lower_limit="10.00"),
    "four, one designated": lambda: a_record(4, "10.30", applies_to="designated_cylinder", designated_cylinder=2),
    "two, the tolerance covering the uncertainty": lambda: a_record(
        2, "10.30", decision_rule="simple_acceptance", tolerance="0.20", tolerance_covers_uncertainty=True
    ),
    "sixteen, the doubt on the series": lambda: a_record(16, "10.95", decision_rule="guarded_rejection"),
}


@pytest.fixture(autouse=True)
def no_complaint_of_the_layout_engine(caplog: pytest.LogCaptureFixture) -> Iterator[None]:
    caplog.set_level(logging.WARNING, "weasyprint")
    yield
    complaints = [one.getMessage() for one in caplog.get_records("call") if one.name.startswith("weasyprint")]
    assert complaints == []


@pytest.fixture(params=RECORDS, scope="module")
def rendered(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    record = RECORDS[request.param]()
    path = tmp_path_factory.mktemp("slip") / "slip.pdf"
    path.write_bytes(render_slip(record))
    return record, path


def text_of(path: Path) -> str:
    """As an independent program reads it; where lines break does not matter."""
    done = subprocess.run(["pdftotext", "-raw", path, "-"], check=True, capture_output=True, text=True)
    return squeezed(done.stdout)


def test_the_page_says_every_field_of_its_record(rendered: tuple[dict[str, Any], Path]) -> None:
    record, path = rendered
    text = text_of(path)
    missing = [words for words in expected(record) if squeezed(words) not in text]
    assert missing == []


def test_the_page_says_what_a_report_with_a_statement_of_conformity_must_say(
    rendered: tuple[dict[str, Any], Path],
) -> None:
    # ISO/IEC 17025:2017, 7.8.2.1 (title, unique identification with page numbers and clear end, item only) and
    # 7.8.6.2 (decision rule); wording from memory.
    text = text_of(rendered[1])
    for words in (
        "Technical inspection slip",
        "SL-000012, page 1 of 2",
        "Annex to slip SL-000012: the uncertainty in full",
        "End of slip SL-000012",
        "This slip concerns only the engine identified above.",
        "Copy it only as a whole.",
        "Rule and decision",
        "Uncertainty budget of",
        "Released and sealed by the inspector",
        # 7.8.2.2: what the customer gave is told apart, with the disclaimer that the result rests on it; from memory
        "bore, stroke and displacement are the competitor’s figures, not measured here; r holds if they do",
        "The stated accuracy is taken to cover the air’s humidity, the adapter and the piston’s position too.",
    ):
        assert squeezed(words) in text, words


def test_only_a_calibration_past_its_due_date_is_called_overdue() -> None:
    assert "Overdue" not in page_html(a_record(1, "10.30"), DENSITIES[0])
    assert "Overdue" not in page_html(a_record(1, "10.30", calibration=False), DENSITIES[0])
    assert "Overdue by 12 days when measured" in page_html(a_record(1, "10.30", overdue_days=12), DENSITIES[0])


def test_inch_units_stand_beside_metric_ones() -> None:
    # NIST SP 811, Appendix B: 1 in = 25.4 mm, 1 in³ = 16.387064 cm³ exactly.
    assert str(both_units("101.60", "length")) == ('<span class="one">101.60 mm</span> <span class="one">(4 in)</span>')
    assert "(349.85 in³)" in both_units("5733", "volume")
    assert "(75.2 °F)" in both_units("24.0", "temperature")
    assert "(−13 °F)" in both_units("-25", "temperature")
    assert both_units("", "pressure") == "–"


@pytest.mark.parametrize("cylinders", [1, 2, 4, 6, 8, 12, 16])
def test_the_verdict_on_any_usual_engine_fits_on_one_page_and_its_annex_on_the_next(
    cylinders: int, tmp_path: Path
) -> None:
    record = a_record(cylinders, "10.75", repeats=3, set_aside=ASIDE if cylinders > 2 else None)
    assert pages(render_slip(record), tmp_path) == 2


def test_what_cannot_fit_goes_on_a_page_more_and_says_so(tmp_path: Path) -> None:
    wordy = {"rule": {"text": "No cylinder shall exceed the limit, measured as the appendix says. " * 40}}
    record = a_record(16, "10.95", repeats=6, changes=wordy)
    path = tmp_path / "slip.pdf"
    assert pages(render_slip(record), tmp_path) == 3
    text = text_of(path)
    assert "SL-000012,page1of3" in text
    assert "SL-000012,page2of3" in text
    # The rule's own words run over the page's end, so the program that reads them finds the foot of the page between.
    broken = record["rule"]["text"]
    assert text.count("Nocylindershallexceedthelimit") >= 39
    assert [words for words in expected(record) if words != broken and squeezed(words) not in text] == []


def pages(pdf: bytes, folder: Path) -> int:
    path = folder / "slip.pdf"
    path.write_bytes(pdf)
    told = subprocess.run(["pdfinfo", path], check=True, capture_output=True, text=True).stdout
    found = re.search(r"^Pages:\s+(\d+)$", told, re.M)
    assert found is not None
    return int(found[1])


def test_the_same_record_gives_the_same_bytes_in_any_process() -> None:
    program = (
        "import hashlib, json, sys; from app.slips.document import render_slip;"
        "print(hashlib.sha256(render_slip(json.load(sys.stdin))).hexdigest())"
    )
    record = a_record(6, "10.75", set_aside=ASIDE)
    digests = {hashlib.sha256(render_slip(record)).hexdigest()}
    for seed in ("1", "2"):
        done = subprocess.run(
            [sys.executable, "-c", program], input=json.dumps(record), check=True, capture_output=True, text=True,
            env={**os.environ, "PYTHONHASHSEED": seed, "TZ": "Asia/Tokyo", "SOURCE_DATE_EPOCH": "1"},
        )  # fmt: skip
        digests.add(done.stdout.strip())
    assert len(digests) == 1


def test_another_record_gives_other_bytes() -> None:
    assert render_slip(a_record(1, "10.30")) != render_slip(a_record(1, "10.31"))


def test_what_people_type_stays_text(tmp_path: Path) -> None:
    hostile = '<img src="file:///etc/passwd"><script>x</script>&amp;{{ 7*7 }}'
    record = a_record(
        2,
        "10.20",
        acknowledgement={"kind": "typed", "name": hostile, "path": "", "note": "<style>@import 'http://x'</style>"},
        changes={"competitor": {"name": hostile}, "engine": {"serial": "<a rel=attachment href=file:///etc/passwd>"}},
    )
    path = tmp_path / "slip.pdf"
    path.write_bytes(render_slip(record))
    text = text_of(path)
    assert squeezed(hostile) in text
    assert "49" not in text.split(squeezed(hostile))[0][-6:]
    listed = subprocess.run(["pdfdetach", "-list", path], check=True, capture_output=True, text=True).stdout
    assert listed.startswith("1 embedded files")


@pytest.mark.parametrize(
    "address", ["file:///etc/passwd", "http://127.0.0.1/x.png", "own:../x", "data:,x", "own:slip.css"]
)
def test_the_layout_reaches_nothing_outside(address: str, monkeypatch: pytest.MonkeyPatch) -> None:
    html = f'<!DOCTYPE html><html lang="en"><title>x</title><img alt="x" src="{address}">'
    monkeypatch.setattr(document, "page_html", lambda *_: html)
    with pytest.raises(LayoutError, match="outside the logbook"):
        render_slip(a_record(1))


def test_the_code_on_paper_is_the_address_square_for_square(tmp_path: Path) -> None:
    record = a_record(1)
    path = tmp_path / "slip.pdf"
    path.write_bytes(render_slip(record))
    matrix = segno.make(record["slip"]["verify_url"], error="m", micro=False).matrix
    subprocess.run(["pdftoppm", "-r", "400", "-gray", "-singlefile", path, tmp_path / "page"], check=True)
    with Image.open(tmp_path / "page.pgm") as page:
        assert squares_seen(page, len(matrix)) == [[bool(square & 1) for square in line] for line in matrix]


def squares_seen(page: Image.Image, size: int) -> list[list[bool]]:
    """Finds the code by its box of 27 mm near the lower right corner, then looks at the middle of each square."""
    per_mm = page.width / 210
    dark = page.point(lambda shade: 255 if shade < 128 else 0)
    region = (round(128 * per_mm), round(200 * per_mm), round(165 * per_mm), page.height)
    left, top = first_finder(dark.crop(region), per_mm, size)
    step = 27 * per_mm / (size + 8)
    x0, y0 = region[0] + left, region[1] + top
    return [
        [dark.getpixel((round(x0 + (x + 0.5) * step), round(y0 + (y + 0.5) * step))) == 255 for x in range(size)]
        for y in range(size)
    ]


def first_finder(area: Image.Image, per_mm: float, size: int) -> tuple[int, int]:
    """The upper left corner of the code: the first dark run as long as a finder's edge, seven squares."""
    edge = 7 * 27 * per_mm / (size + 8)
    for y in range(area.height):
        run = 0
        for x in range(area.width):
            run = run + 1 if area.getpixel((x, y)) == 255 else 0
            ends = x + 1 >= area.width or area.getpixel((x + 1, y)) == 0
            if ends and edge * 0.93 <= run <= edge * 1.07 and finder_below(area, x - run + 1, y, edge):
                return x - run + 1, y
    raise AssertionError("no code on the page")


def finder_below(area: Image.Image, x: int, y: int, edge: float) -> bool:
    step = edge / 7
    down = [area.getpixel((round(x + 0.5 * step), round(y + (square + 0.5) * step))) == 255 for square in range(7)]
    return all(down)


def test_a_drawn_signature_is_fitted_into_its_box() -> None:
    fitted = drawing("M10 20L110 20L110 70M0 0L1 1")
    assert fitted is not None
    left, top, width, height = (float(part) for part in fitted.box.split())
    assert left < 0
    assert top < 0
    assert width > 110
    assert height > 70


@pytest.mark.parametrize("path", ["", "M0 0 C1 1 2 2 3 3", "M10", "url(#x)", 'M1 1"/><script>', "M1e9 1L2 2", "Mnan 0"])
def test_a_path_that_is_not_plain_strokes_is_not_drawn(path: str) -> None:
    assert drawing(path) is None


def test_an_endless_drawing_is_neither_drawn_nor_a_delay() -> None:
    assert drawing("M1 1" + "L2 2" * 100_000) is None


def test_a_long_row_of_indications_takes_a_second_line_and_keeps_the_bars_beside_the_rows() -> None:
    html = page_html(a_record(2, "10.20", repeats=6), DENSITIES[0])
    assert html.count("10.20 · 10.21 · 10.19 · 10.20 ·<br>10.21 · 10.20") == 1
    heights = [float(height) for height in re.findall(r"nth-child\(\d\) > \* \{ height: ([\d.]+)mm", html)]
    view = re.search(r'viewBox="0 -13.0 62.0 ([\d.]+)"', html)
    assert view is not None
    assert float(view[1]) == pytest.approx(13 + sum(heights) + 6)


@pytest.mark.parametrize(
    ("rule", "bearer"),
    [
        ({"decision_rule": "simple_acceptance"}, "share the doubt"),
        ({"decision_rule": "guarded_acceptance"}, "The competitor bears"),
        ({"decision_rule": "guarded_rejection"}, "The series bears"),
        ({"decision_rule": "three_zones", "inconclusive_action": "measure_again"}, "Neither side bears"),
        ({"decision_rule": "three_zones", "inconclusive_action": "benefit_of_doubt"}, "The series bears"),
    ],
)
def test_the_decision_rule_says_who_bears_the_doubt(rule: dict[str, str], bearer: str) -> None:
    # JCGM 106:2012, 8.2 and 8.3: whose risk each rule limits.
    sentence, doubt = wording.decision_rule({"confidence": "0.95", "inconclusive_action": "measure_again", **rule})
    assert bearer in doubt
    assert "95 %" in sentence or rule["decision_rule"] == "simple_acceptance"


@pytest.mark.parametrize("name", RECORDS)
def test_every_limit_named_in_the_picture_stands_whole_inside_it(name: str) -> None:
    """A label cut at the edge would tell another limit than the one that decided."""
    record = RECORDS[name]()
    drawn = figure(record, result_rows(record, DENSITIES[0]))
    for label in drawn.labels:
        length = 1.12 * len(label.text)
        left = label.text_x - length if label.anchor == "end" else label.text_x
        assert left >= 0.0, label.text
        assert left + length <= drawn.width + 0.01, label.text
