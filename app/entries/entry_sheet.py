"""An entry list as people send it: bytes to text, text to rows under our own headings. Nothing here knows the logbook.

Taken as they come: UTF-8 with or without its mark, UTF-16 with its mark, Windows-1252; comma, semicolon or tab;
quoted cells; any line ends; headings in any order.
"""

import csv
import io
import re
from collections.abc import Mapping
from dataclasses import dataclass

from app.errors import Invalid
from app.intake import show

MOST_ROWS = 20_000
NO_TEXT = "This is not a text file. Save the list as CSV, and choose that one."
SEPARATORS = {",": "comma", ";": "semicolon", "\t": "tab"}

# heading as documented -> field of the entry; of each quantity one heading for each unit
COLUMNS: dict[str, str] = {
    "car": "car_number",
    "class": "class_id",
    "competitor": "competitor.name",
    "licence": "competitor.licence",
    "engine": "engine.serial",
    "cylinders": "engine.cylinders",
    "bore_mm": "engine.bore",
    "bore_in": "engine.bore",
    "bore": "engine.bore",
    "stroke_mm": "engine.stroke",
    "stroke_in": "engine.stroke",
    "stroke": "engine.stroke",
    "displacement_cm3": "engine.declared_displacement",
    "displacement_in3": "engine.declared_displacement",
    "displacement": "engine.declared_displacement",
    "seals": "engine.seals",
}
# the unit that a heading ends in, as intake spells it; a heading without one leaves it to the person's setting
HEADING_UNITS = {"_mm": "mm", "_in": "in", "_cm3": "cm³", "_in3": "in³"}
_ALSO_READ = {
    "car_number": "car",
    "number": "car",
    "class_code": "class",
    "license": "licence",
    "licence_number": "licence",
    "name": "competitor",
    "engine_number": "engine",
    "serial": "engine",
    "displacement_cc": "displacement_cm3",
    "displacement_ccm": "displacement_cm3",
    "displacement_ci": "displacement_in3",
}
_NEEDED = {
    "car_number": "car",
    "class_id": "class",
    "competitor.name": "competitor",
    "competitor.licence": "licence",
    "engine.serial": "engine",
    "engine.cylinders": "cylinders",
    "engine.bore": "bore_mm or bore_in",
    "engine.stroke": "stroke_mm or stroke_in",
    "engine.declared_displacement": "displacement_cm3 or displacement_in3",
}


@dataclass(frozen=True, slots=True)
class Cell:
    column: str  # the heading as it stands in the file
    written: str
    unit: str  # named by the heading; empty when it names none


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the list; `number` counts as a spreadsheet does. `fault` says why its cells cannot be told apart."""

    number: int
    cells: Mapping[str, Cell]  # by field of the entry
    fault: tuple[str, str, str] | None = None  # column, as written, sentence


@dataclass(frozen=True, slots=True)
class Sheet:
    rows: tuple[Row, ...]
    notes: tuple[str, ...]
    headings: Mapping[str, str]  # field of the entry -> its (first) heading in the file


def text_of(sent: bytes) -> tuple[str, list[str]]:
    """The text and, where it is not plain UTF-8, a note on how it was read. Raises Invalid on what is no text."""
    if sent.startswith(b"PK\x03\x04") or sent.startswith(b"\xd0\xcf\x11\xe0"):
        raise Invalid({"file": "This is a spreadsheet's own file. Save it there as CSV, and choose that one."})
    if sent.startswith((b"\xff\xfe", b"\xfe\xff")):
        try:
            return sent.decode("utf-16"), ["The file was read as UTF-16."]
        except UnicodeDecodeError:
            raise Invalid({"file": "The file breaks off in the middle of a letter. Save it again as CSV."}) from None
    if b"\0" in sent:
        raise Invalid({"file": NO_TEXT})
    try:
        return sent.decode("utf-8-sig"), []
    except UnicodeDecodeError:
        pass
    try:
        text = sent.decode("cp1252")
    except UnicodeDecodeError:
        raise Invalid({"file": "The letters of this file cannot be made out. Save it as CSV in UTF-8."}) from None
    return text, ["The file is not UTF-8, so it was read as Windows-1252. Look at the names with accents."]


def read_sheet(text: str, units: str) -> Sheet:
    """Raises Invalid (under "file") on a list whose headings cannot be understood."""
    text = text.removeprefix("\ufeff")
    if "\0" in text:
        raise Invalid({"file": NO_TEXT})
    if not text.strip():
        raise Invalid({"file": "The list is empty. Choose a file, or paste the list with its headings."})
    separator = _separator(text)
    lines = _lines(text, separator)
    first = next((place for place, line in enumerate(lines) if any(cell.strip() for cell in line)), 0)
    if lines[first] and re.fullmatch(r"sep=.?", "".join(lines[first]).strip(), re.IGNORECASE):
        first += 1  # a spreadsheet's own word on the separator
    if first >= len(lines):
        raise Invalid({"file": "The list has no row of headings. Write them as in the example."})
    headings = [cell.strip() for cell in lines[first]]
    known = [canonical(heading) for heading in headings]
    notes = [f"The cells are parted by {SEPARATORS[separator]}s."]
    _check_headings(headings, known)
    unknown = [heading for heading, name in zip(headings, known, strict=True) if heading and name is None]
    if unknown:
        notes.append(f"Left out, as the logbook has no place for it: {', '.join(unknown)}.")
    bare = [name for name in known if name in ("bore", "stroke", "displacement")]
    if bare:
        system = "mm and cm³" if units == "metric" else "inches and cubic inches"
        notes.append(f"No unit stands in the heading of {' and '.join(bare)}: read in {system}, as in your settings.")
    rows = [
        _row(place + 1, line, headings, known, separator)
        for place, line in enumerate(lines)
        if place > first and any(cell.strip() for cell in line)
    ]
    if not rows:
        raise Invalid({"file": "The list has headings but no row under them."})
    if len(rows) > MOST_ROWS:
        said = f"The list has {len(rows)} rows; {MOST_ROWS} are taken at once. Send it in parts."
        raise Invalid({"file": said})
    places: dict[str, str] = {}
    for heading, name in zip(headings, known, strict=True):
        if name:
            places.setdefault(COLUMNS[name], heading)
    return Sheet(tuple(rows), tuple(notes), places)


def canonical(heading: str) -> str | None:
    """`Bore (mm)`, `bore_mm` and `BORE MM` are the same heading; None for one that is not ours."""
    plain = re.sub(r"[^a-z0-9]+", "_", heading.strip().lower().replace("³", "3")).strip("_")
    plain = _ALSO_READ.get(plain, plain)
    return plain if plain in COLUMNS else None


def _lines(text: str, separator: str) -> list[list[str]]:
    try:
        return list(csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=False))
    except csv.Error as error:
        said = "One cell runs on without end. Look for a quotation mark that is opened and never closed."
        raise Invalid({"file": said}) from error


def _separator(text: str) -> str:
    """The one under which most headings are ours; a comma when none tells."""
    head = "\n".join(text.splitlines()[:3])

    def found(separator: str) -> int:
        try:
            return max(sum(canonical(cell) is not None for cell in line) for line in _lines(head, separator))
        except (Invalid, ValueError):
            return 0

    return max(SEPARATORS, key=found)


def _check_headings(headings: list[str], known: list[str | None]) -> None:
    fields = {COLUMNS[name] for name in known if name}
    missing = [name for field, name in _NEEDED.items() if field not in fields]
    if missing:
        found = ", ".join(heading for heading in headings if heading) or "none"
        what = "columns" if len(missing) > 1 else "column"
        raise Invalid({"file": f"The list lacks the {what} {', '.join(missing)}. Its headings are: {found[:300]}."})
    twice = next((name for name in known if name and known.count(name) > 1), None)
    if twice:
        raise Invalid({"file": f"The heading {twice} stands there twice. Keep one of them."})


def _row(number: int, line: list[str], headings: list[str], known: list[str | None], separator: str) -> Row:
    if any(cell.strip() for cell in line[len(headings) :]):
        said = f"This row has {len(line)} cells under {len(headings)} headings."
        if separator == ",":
            said += " A number with a decimal comma needs quotation marks around it, or semicolons between the cells."
        return Row(number, {}, ("", separator.join(line)[:80], said))
    open_ended = next((cell for cell in line if cell.count("\n") > 2), None)
    if open_ended is not None:
        said = "A quotation mark opens here and the rows after it fall into the same cell. Close it, or take it out."
        return Row(number, {}, ("", open_ended.splitlines()[0][:80], said))
    cells: dict[str, Cell] = {}
    for heading, name, written in zip(headings, known, line, strict=False):
        if name is None or not written.strip():
            continue
        field = COLUMNS[name]
        if field in cells:
            said = f"{cells[field].column} and {heading} are both filled in. Keep the one that counts."
            return Row(number, cells, (heading, written, said))
        unit = next((unit for ending, unit in HEADING_UNITS.items() if name.endswith(ending)), "")
        cells[field] = Cell(heading, written.strip(), unit)
    return Row(number, cells)


EXAMPLE = (
    ("41", 0, "Fenn Racing", "FEN-7", "K-1204", "4", "86.00", "86.00", "1998", "4411 4412"),
    ("7", 0, "Ashby & Daughter", "ASH-21", "B-88", "2", "94.00", "72.00", "999", "5120"),
    ("112", 1, "Marsh Lane Motors", "MLM-3", "V-3001", "8", "101.60", "88.39", "5733", "6001 6002 6003"),
)


def example(codes: list[str], units: str) -> str:
    """A list to begin with, with the classes of this rule book, in the reader's units."""
    lengths, volume = ("in", "in3") if units == "inch" else ("mm", "cm3")
    heads = ["car", "class", "competitor", "licence", "engine", "cylinders"]
    heads += [f"bore_{lengths}", f"stroke_{lengths}", f"displacement_{volume}", "seals"]
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\r\n")
    writer.writerow(heads)
    for car, place, *rest in EXAMPLE:
        cells = [str(cell) for cell in rest]
        if units == "inch":
            cells[4], cells[5] = (show(cell, "length", "inch", unit=False) for cell in cells[4:6])
            cells[6] = show(cells[6], "volume", "inch", unit=False)
        writer.writerow([car, codes[min(int(place), len(codes) - 1)] if codes else "S4", *cells])
    return out.getvalue()
