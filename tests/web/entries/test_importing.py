"""Entry lists as people send them: preview in words, all or nothing, no doubles."""

import time
from decimal import Decimal
from typing import Any

import pytest
from httpx import Response
from sqlalchemy import select

from app import audit
from tests.conftest import Logbook
from tests.web.entries.season import EVENT

HEADINGS = "car,class,competitor,licence,engine,cylinders,bore_mm,stroke_mm,displacement_cm3,seals"
FENN = "41,S4,Fenn Racing,FEN-7,K-1204,4,86.00,86.00,1998,4411 4412"
ASHBY = "7,V8,Ashby & Daughter,ASH-21,V-3001,8,101.6,88.39,5733,"


def send(logbook: Logbook, text: str | bytes, *, dry_run: bool = False, **query: Any) -> Response:
    content = text.encode() if isinstance(text, str) else text
    headers = {"content-type": "text/csv"}
    address = f"/api/events/{EVENT}/entries/import"
    return logbook.client("official").post(
        address, params={"dry_run": dry_run, **query}, content=content, headers=headers
    )


def entries(logbook: Logbook) -> Any:
    return logbook.client("official").get(f"/api/events/{EVENT}/entries").json()


def a_list(*rows: str) -> str:
    return "\r\n".join([HEADINGS, *rows]) + "\r\n"


def problems(logbook: Logbook, *rows: str) -> list[tuple[int, str, str]]:
    found = send(logbook, a_list(*rows), dry_run=True).json()["problems"]
    return [(one["row"], one["column"], one["sentence"]) for one in found]


def test_a_preview_keeps_nothing_and_the_import_keeps_all(season: Logbook) -> None:
    seen = send(season, a_list(FENN, ASHBY), dry_run=True).json()
    assert (seen["row_count"], seen["new_entries"], seen["new_competitors"], seen["new_engines"]) == (2, 2, 2, 2)
    assert seen["problems"] == []
    assert not seen["imported"]
    assert entries(season) == []
    done = send(season, a_list(FENN, ASHBY), plan=seen["plan"]).json()
    assert done["imported"]
    assert done["plan"] == seen["plan"]
    ashby, fenn = entries(season)
    assert (ashby["car_number"], ashby["class_code"], ashby["engine"]["seals"]) == ("7", "V8", [])
    assert (fenn["car_number"], fenn["competitor"]["name"], fenn["engine"]["seals"]) == (
        "41",
        "Fenn Racing",
        ["4411", "4412"],
    )


def test_the_same_list_twice_makes_no_doubles(season: Logbook) -> None:
    send(season, a_list(FENN, ASHBY))
    before = entries(season)
    again = send(season, a_list(FENN, ASHBY)).json()
    assert (again["new_entries"], again["already_entered"]) == (0, 2)
    assert [row["state"] for row in again["rows"]] == ["already entered", "already entered"]
    more = send(season, a_list(ASHBY, FENN, "9,S4,Fenn Racing,FEN-7,K-1205,4,86,86,1998,")).json()
    assert (more["new_entries"], more["new_competitors"], more["new_engines"]) == (1, 0, 1)
    assert [entry for entry in entries(season) if entry["car_number"] != "9"] == before


def test_nothing_is_taken_in_while_one_row_is_wrong(season: Logbook) -> None:
    answer = send(season, a_list(FENN, ASHBY.replace("V8", "V9")))
    assert answer.status_code == 422
    assert answer.json()["detail"] == "1 row needs another look. Nothing of the list was taken in."
    assert answer.json()["errors"] == {"row 3, class": "The rule book has no class “V9”. Its classes are: S4, V8."}
    assert entries(season) == []


@pytest.mark.parametrize(
    ("row", "column", "words"),
    [
        (FENN.replace("86.00,86.00", "8l.0,86.00"), "bore_mm", "“8l.0” is not a number. Use digits and one point"),
        (FENN.replace("86.00,86.00", "86.00,86 furlong"), "stroke_mm", "“furlong” is not a unit of length known here."),
        (FENN.replace("86.00,86.00", "3.386,86.00"), "bore_mm", "A bore of 3.386 mm is outside 20 mm to 250 mm."),
        (FENN.replace(",4,", ",four,"), "cylinders", "Number of cylinders must be a whole number, such as 8."),
        (
            FENN.replace("1998", "2300"),
            "displacement_cm3",
            "1998.2 cm³ (121.94 in³), but 2300 cm³ (140.35 in³)",
        ),
        (FENN.replace("41,", "4#1,", 1), "car", "“4#1” is no car number."),
        (FENN.replace("FEN-7", ""), "licence", "This cell is empty, and every row needs it."),
        (FENN.replace("4411 4412", "4411 4411"), "seals", "Seal 4411 is named twice."),
        (
            FENN.replace("86.00,86.00", "86,00,86,00"),
            "",
            "This row has 12 cells under 10 headings. A number with",
        ),
    ],
)
def test_each_wrong_cell_is_named_with_row_and_column_in_words(
    season: Logbook, row: str, column: str, words: str
) -> None:
    found = problems(season, ASHBY, row)
    assert [(place, where) for place, where, _ in found] == [(3, column)]
    assert words in found[0][2]


def test_a_row_may_have_several_wrong_cells(season: Logbook) -> None:
    found = problems(season, "4#1,S5,Fenn Racing,,K-1204,four,86x,86,1998,")
    assert [(row, column) for row, column, _ in found] == [
        (2, "car"),
        (2, "class"),
        (2, "licence"),
        (2, "cylinders"),
        (2, "bore_mm"),
    ]


def test_a_list_may_not_contradict_itself(season: Logbook) -> None:
    found = problems(
        season,
        FENN,
        FENN,
        "42,S4,Fen Racing,FEN-7,K-1206,4,86,86,1998,",
        "43,S4,Fenn Racing,FEN-7,K-1204,4,87,86,2045,",
    )
    assert found == [
        (3, "car", "Car 41 stands in row 2 already. One car number, one entry."),
        (4, "competitor", "Licence FEN-7 is Fenn Racing in row 2, and Fen Racing here. Mend one."),
        (
            5,
            "engine",
            "Engine K-1204 stands in row 2 with other figures: bore 86 mm (3.3858 in), now 87 mm (3.4252 in); "
            "displacement 1998 cm³ (121.93 in³), now 2045 cm³ (124.79 in³).",
        ),
    ]


def test_a_row_that_differs_from_what_is_kept_says_how(season: Logbook) -> None:
    send(season, a_list(FENN))
    changed = FENN.replace("S4", "V8").replace("K-1204", "K-1299")
    (found,) = problems(season, changed)
    assert found[:2] == (2, "car")
    assert "entered already, and differently: class S4, now V8; engine K-1204, now K-1299." in found[2]


def test_a_known_engine_with_new_figures_gets_a_new_record_and_the_preview_says_so(season: Logbook) -> None:
    send(season, a_list(FENN))
    rebored = "42,S4,Fenn Racing,FEN-7,K-1204,4,86.5,86,2021.5,"
    seen = send(season, a_list(rebored), dry_run=True).json()
    assert (seen["new_engines"], seen["changed_engines"]) == (0, 1)
    assert "Engine K-1204 is not as it was kept: bore 86 mm (3.3858 in), now 86.5 mm" in seen["rows"][0]["said"]
    send(season, a_list(rebored))
    first, second = entries(season)
    assert second["engine"]["replaces_id"] == first["engine"]["id"]
    assert send(season, a_list(rebored)).json()["already_entered"] == 1


TABLE = [
    [
        "Seals",
        "Car",
        "CLASS",
        "Competitor",
        "Licence",
        "Engine",
        "Cylinders",
        "Bore (mm)",
        "Stroke [mm]",
        "Displacement cm³",
    ],
    ["4411, 4412", "41", "s4", "Müller, Fenn & Söhne", "fen-7", "k-1204", "4", "86,00", "86,00", "1998,2"],
]


def as_csv(separator: str) -> str:
    rows = [[f'"{cell}"' if separator in cell or "," in cell else cell for cell in row] for row in TABLE]
    return "\r\n".join(separator.join(row) for row in rows)


@pytest.mark.parametrize(
    ("separator", "encoding"), [(",", "utf-8-sig"), (";", "utf-8"), (";", "cp1252"), ("\t", "utf-8"), ("\t", "utf-16")]
)
def test_every_usual_way_of_writing_a_list_is_read(season: Logbook, separator: str, encoding: str) -> None:
    answer = send(season, as_csv(separator).encode(encoding)).json()
    assert answer["imported"], answer
    (entry,) = entries(season)
    assert entry["competitor"]["name"] == "Müller, Fenn & Söhne"
    assert entry["engine"]["seals"] == ["4411", "4412"]
    assert (entry["engine"]["bore_mm"], entry["engine"]["declared_displacement_cm3"]) == ("86", "1998.2")
    read_otherwise = [note for note in answer["notes"] if "Windows-1252" in note]
    assert bool(read_otherwise) == (encoding == "cp1252")


def test_inch_columns_line_ends_blank_lines_and_a_separator_line_are_understood(season: Logbook) -> None:
    heads = HEADINGS.replace("bore_mm", "bore_in").replace("stroke_mm", "stroke_in")
    heads = heads.replace("displacement_cm3", "displacement_in3").replace(",", ";")
    text = f"sep=;\n{heads};Telephone\n\n7;V8;Ashby;ASH-21;V-3001;8;4.000;3,48;350;;0123\n"
    answer = send(season, text).json()
    assert answer["imported"], answer
    assert "Left out, as the logbook has no place for it: Telephone." in answer["notes"]
    assert answer["rows"][0]["row"] == 4
    (entry,) = entries(season)
    # 4 in = 101.6 mm, 3.48 in = 88.392 mm, 350 in³ = 5735.4724 cm³: NIST SP 811:2008, B.8
    assert Decimal(entry["engine"]["bore_mm"]) == Decimal("101.6")
    assert Decimal(entry["engine"]["stroke_mm"]) == Decimal("88.392")
    assert Decimal(entry["engine"]["declared_displacement_cm3"]) == Decimal("5735.4724")


def test_headings_without_a_unit_take_the_callers_units_and_cells_may_carry_their_own(season: Logbook) -> None:
    heads = HEADINGS.replace("_mm", "").replace("_cm3", "")
    row = "7,V8,Ashby,ASH-21,V-3001,8,101.6 mm,3.48,350 cu in,"
    answer = send(season, f"{heads}\n{row}\n", units="inch").json()
    assert answer["imported"], answer
    assert any("read in inches and cubic inches" in note for note in answer["notes"])
    (entry,) = entries(season)
    assert (entry["engine"]["bore_mm"], entry["engine"]["stroke_mm"]) == ("101.6", "88.392")


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        (b"", "The list is empty."),
        (b"PK\x03\x04rest", "This is a spreadsheet's own file. Save it there as CSV"),
        (b"\x00\x01\x02", "This is not a text file."),
        (HEADINGS.encode(), "The list has headings but no row under them."),
        (b"car,class\n1,S4\n", "The list lacks the columns competitor, licence, engine, cylinders, bore_mm or bore_in"),
        (f"{HEADINGS},bore_mm\n{FENN},86".encode(), "The heading bore_mm stands there twice."),
        (b"\x81\x8d", "The letters of this file cannot be made out."),
    ],
)
def test_what_is_no_list_at_all_gets_a_sentence(season: Logbook, sent: bytes, words: str) -> None:
    answer = send(season, sent, dry_run=True)
    assert answer.status_code == 422
    assert words in answer.json()["errors"]["file"]


def test_an_open_quotation_mark_is_found_in_its_row(season: Logbook) -> None:
    text = a_list(FENN.replace("Fenn", '"Fenn'), *(ASHBY.replace("7,", f"{car},", 1) for car in range(1, 9)))
    found = send(season, text, dry_run=True).json()["problems"]
    assert found[0]["row"] == 2
    assert "A quotation mark opens here" in found[0]["sentence"]


def test_json_carries_a_list_too(season: Logbook) -> None:
    official = season.client("official")
    address = f"/api/events/{EVENT}/entries/import"
    assert official.post(address, json={"text": a_list(FENN)}).json()["new_entries"] == 1
    assert official.post(address, json={"list": 1}).status_code == 422


def test_a_confirmed_plan_that_no_longer_holds_is_shown_again(season: Logbook) -> None:
    plan = send(season, a_list(FENN, ASHBY), dry_run=True).json()["plan"]
    send(season, a_list(ASHBY))
    answer = send(season, a_list(FENN, ASHBY), plan=plan)
    assert answer.status_code == 409
    assert len(entries(season)) == 1


def test_only_officials_take_in_a_list(season: Logbook) -> None:
    address = f"/api/events/{EVENT}/entries/import"
    for who, status in (("inspector", 403), ("competitor", 404), ("", 401)):
        assert season.client(who).post(address, content=a_list(FENN).encode()).status_code == status


def test_the_log_has_one_entry_for_the_list_that_binds_its_records(season: Logbook) -> None:
    send(season, a_list(FENN, ASHBY))
    with season.database.read() as session:
        rows = session.scalars(select(audit.LogEntry).where(audit.LogEntry.action == "entry list taken in")).all()
        assert len(rows) == 1
        assert '"entries":2' in rows[0].entry
        assert '"records_sha256":"' in rows[0].entry
        assert audit.check(session).broken_at is None
    entry = entries(season)[0]
    page = season.client("official").get(f"/api/entries/{entry['id']}/page").json()
    assert [line["what"] for line in page["happened"]] == ["Entry list taken in: 2 new entries"]


def test_five_thousand_rows_take_seconds(season: Logbook) -> None:
    rows = (
        f"{number},{'S4' if number % 2 else 'V8'},Team {number % 900},L-{number % 900},E-{number},4,"
        f"86,{86 + number % 7 / 100},1998,{number} A{number}"
        for number in range(1, 5001)
    )
    text = a_list(*rows)
    began = time.process_time()  # work, not waiting: other tests may run beside this one
    done = send(season, text).json()
    taken = time.process_time() - began
    assert (done["new_entries"], done["new_competitors"], done["new_engines"]) == (5000, 900, 5000)
    began = time.process_time()
    again = send(season, text).json()
    taken_again = time.process_time() - began
    assert again["already_entered"] == 5000
    assert taken < 8
    assert taken_again < 8
