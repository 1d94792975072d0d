"""Whatever is sent as an entry list is read or refused in words; it never breaks the reader."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.entries.entry_sheet import COLUMNS, SEPARATORS, Sheet, canonical, example, read_sheet, text_of
from app.errors import Invalid

HEADINGS = ["car", "class", "competitor", "licence", "engine", "cylinders", "bore_mm", "stroke_mm", "displacement_cm3"]
CELL = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=12)


def read_or_refused(sent: bytes | str) -> tuple[Sheet | None, str]:
    """The sheet, or the sentence that refuses it."""
    try:
        return read_sheet(sent if isinstance(sent, str) else text_of(sent)[0], "metric"), ""
    except Invalid as invalid:
        return None, invalid.errors["file"]


@given(st.binary(max_size=400))
def test_any_bytes_are_read_or_refused_in_a_sentence(sent: bytes) -> None:
    sheet, refusal = read_or_refused(sent)
    assert sheet is not None or refusal.endswith(".")


@given(st.text(max_size=300))
def test_any_text_under_the_right_headings_is_read_or_refused_in_a_sentence(text: str) -> None:
    sheet, refusal = read_or_refused(",".join(HEADINGS) + "\n" + text)
    assert sheet is not None or refusal.endswith(".")


@given(st.lists(st.lists(CELL, min_size=9, max_size=9), min_size=1, max_size=6), st.sampled_from(list(SEPARATORS)))
def test_what_a_spreadsheet_writes_is_read_back_cell_for_cell(rows: list[list[str]], separator: str) -> None:
    out = io.StringIO()
    writer = csv.writer(out, delimiter=separator)
    writer.writerow(HEADINGS)
    writer.writerows(rows)
    sheet, refusal = read_or_refused(out.getvalue().encode("utf-8-sig"))
    assert ("no row under them" in refusal) == (not any(cell.strip() for row in rows for cell in row))
    read = {row.number: row for row in sheet.rows} if sheet else {}
    for number, cells in enumerate(rows, start=2):
        expected = {COLUMNS[name]: cell.strip() for name, cell in zip(HEADINGS, cells, strict=True) if cell.strip()}
        found = {name: cell.written for name, cell in read[number].cells.items()} if number in read else {}
        assert found == expected


@pytest.mark.parametrize(
    ("heading", "name"),
    [
        ("Bore (mm)", "bore_mm"),
        (" STROKE in ", "stroke_in"),
        ("Displacement [cm³]", "displacement_cm3"),
        ("Displacement cc", "displacement_cm3"),
        ("License", "licence"),
        ("Car number", "car"),
        ("Telephone", None),
        ("", None),
    ],
)
def test_headings_are_known_again_however_they_are_dressed(heading: str, name: str | None) -> None:
    assert canonical(heading) == name


def test_the_example_uses_the_classes_of_the_rule_book() -> None:
    rows = list(csv.DictReader(io.StringIO(example(["GT", "RX"], "metric"))))
    assert [row["class"] for row in rows] == ["GT", "GT", "RX"]
    assert [row["class"] for row in csv.DictReader(io.StringIO(example([], "inch")))] == ["S4", "S4", "S4"]
