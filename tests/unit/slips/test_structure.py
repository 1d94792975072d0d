"""What the file must be inside: PDF/A-3a and PDF/UA-1 at once, before and after signing.

No validator for these is packaged for Debian or PyPI, so the clauses that went wrong on the way are checked here one
by one; the numbers are those of ISO 19005-3:2012 and ISO 14289-1:2014, from memory. Where `verapdf` is found, it is
asked too.
"""

import re
import shutil
import subprocess
from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pypdf
import pytest
from pypdf.generic import ArrayObject, DictionaryObject, IndirectObject, StreamObject

from app.slips.document import FONTS, render_slip
from app.slips.making import make_slip
from app.slips.record import canonical_bytes
from tests.unit.slips.records import a_record, identity

RECORDS = {
    "eight": lambda: a_record(8, "10.30"),
    "twelve, refused": lambda: a_record(
        12,
        "11.05",
        acknowledgement={"kind": "refused", "name": "", "path": "", "note": "No reason given; seen by P. A."},
    ),
    "one, the mean judged": lambda: a_record(1, "10.60", applies_to="mean_of_cylinders", not_measured={}),
    "names from elsewhere": lambda: a_record(
        2, "10.20", changes={"competitor": {"name": "Þórhildur Šťastná-Łęcka"}, "event": {"venue": "Ångström–Δοκιμή"}}
    ),
}


@pytest.fixture(scope="module", params=[f"{name}, {stage}" for name in RECORDS for stage in ("rendered", "signed")])
def slip(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    name, _, stage = request.param.rpartition(", ")
    record, keys = RECORDS[name](), identity()
    pdf = render_slip(record)
    if stage == "signed":
        pdf = make_slip(record, keys["private_key"], keys["certificate"], keys["authority"]).pdf
    path = tmp_path_factory.mktemp("slip") / "slip.pdf"
    path.write_bytes(pdf)
    return record, path


@pytest.fixture
def reader(slip: tuple[dict[str, Any], Path]) -> Iterator[pypdf.PdfReader]:
    with pypdf.PdfReader(slip[1], strict=True) as opened:
        yield opened


def objects(reader: pypdf.PdfReader) -> Iterator[DictionaryObject]:
    numbers = set(reader.xref_objStm) | {number for table in reader.xref.values() for number in table}
    for number in sorted(numbers):
        found = reader.get_object(IndirectObject(number, 0, reader))
        if isinstance(found, DictionaryObject):
            yield found


def catalog(reader: pypdf.PdfReader) -> Any:
    return reader.trailer["/Root"]


def elements(reader: pypdf.PdfReader, kind: str) -> list[DictionaryObject]:
    return [one for one in objects(reader) if one.get("/Type") == "/StructElem" and one.get("/S") == kind]


def test_the_file_says_it_is_both_standards_and_declares_the_second_ones_schema(reader: pypdf.PdfReader) -> None:
    # ISO 19005-3, 6.6.4 and 6.6.2.3.1; ISO 14289-1, clause 5.
    xmp = catalog(reader)["/Metadata"].get_data().decode()
    assert re.search(r'pdfaid:part(="3"|>3<)', xmp)
    assert re.search(r'pdfaid:conformance(="A"|>A<)', xmp)
    assert re.search(r'pdfuaid:part(="1"|>1<)', xmp)
    # The signature's own revision writes the same in RDF's shorter forms.
    assert re.search(r'<pdfaSchema:namespaceURI[^>]*?(>|resource=")http://www.aiim.org/pdfua/ns/id/["<]', xmp)
    assert re.search(r'pdfaProperty:category(>|=")internal["<]', xmp)


def test_every_font_is_one_of_ours_embedded_with_its_letters_named(reader: pypdf.PdfReader) -> None:
    # ISO 19005-3, 6.2.11.4.1 (embedded) and 6.2.11.7.2 (Unicode).
    fonts = [one for one in objects(reader) if one.get("/Type") == "/Font" and one.get("/Subtype") == "/Type0"]
    assert 0 < len(fonts) <= len(FONTS)
    for font in fonts:
        assert re.fullmatch(r"/[A-Z]{6}\+Source-?Sans-?Pro.*", font["/BaseFont"]), font["/BaseFont"]
        assert "beginbfchar" in font["/ToUnicode"].get_object().get_data().decode()
        descriptor = font["/DescendantFonts"][0].get_object()["/FontDescriptor"].get_object()
        assert "/FontFile2" in descriptor or "/FontFile3" in descriptor
    simple = [one for one in objects(reader) if one.get("/Subtype") in {"/Type1", "/TrueType", "/Type3"}]
    assert simple == []


def test_the_page_is_tagged_and_says_its_language_and_title(reader: pypdf.PdfReader) -> None:
    # ISO 14289-1, 7.1 and 7.2.
    root = catalog(reader)
    assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712  # pypdf's own boolean
    assert "/StructTreeRoot" in root
    assert root["/Lang"] == "en"
    assert root["/ViewerPreferences"]["/DisplayDocTitle"] == True  # noqa: E712
    assert reader.metadata is not None
    assert "SL-000012" in (reader.metadata.title or "")
    for page in reader.pages:
        assert page["/Tabs"] == "/S"


def test_every_picture_has_words_and_every_table_cell_its_headings(reader: pypdf.PdfReader) -> None:
    # ISO 14289-1, 7.3 and 7.5.
    figures = elements(reader, "/Figure")
    assert len(figures) >= 3  # verdict, intervals, code; the drawn signature where there is one
    assert all(str(figure["/Alt"]).strip() for figure in figures)
    cells = elements(reader, "/TD")
    assert len(cells) > 30
    assert all(len(cell["/A"].get_object()["/Headers"]) > 0 for cell in cells)


def test_headings_descend_without_a_gap(reader: pypdf.PdfReader) -> None:
    # ISO 14289-1, 7.4.2.
    assert len(elements(reader, "/H1")) == 1
    assert len(elements(reader, "/H2")) >= 7
    assert elements(reader, "/H3") == []


def test_all_that_is_drawn_is_marked(reader: pypdf.PdfReader) -> None:
    # ISO 14289-1, 7.1: content is tagged or an artifact.
    for page in reader.pages:
        depth = 0
        for line in page.get_contents().get_data().split(b"\n"):  # type: ignore[union-attr]
            word = line.split(b" ")[-1] if line else b""
            if word in {b"BDC", b"BMC"}:
                depth += 1
            elif word == b"EMC":
                depth -= 1
            elif word in {b"TJ", b"Tj", b"Do"}:
                assert depth > 0, line[:80]
        assert depth == 0


def test_colours_rest_on_one_declared_profile(reader: pypdf.PdfReader) -> None:
    # ISO 19005-3, 6.2.3.
    intents = catalog(reader)["/OutputIntents"]
    assert [intent["/S"] for intent in intents] == ["/GTS_PDFA1"]
    assert intents[0]["/DestOutputProfile"].get_object()["/N"] == 3


def test_the_record_is_attached_once_as_data_with_its_dates(
    slip: tuple[dict[str, Any], Path], reader: pypdf.PdfReader
) -> None:
    # ISO 19005-3, 6.8 and annex E.
    record, path = slip
    root = catalog(reader)
    names = root["/Names"]["/EmbeddedFiles"]["/Names"]
    assert [names[0], len(names)] == ["record.json", 2]
    specification = names[1].get_object()
    assert isinstance(root["/AF"], ArrayObject)
    assert [one.get_object() for one in root["/AF"]] == [specification]
    assert specification["/AFRelationship"] == "/Data"
    assert specification["/UF"] == "record.json"
    file = specification["/EF"]["/F"].get_object()
    assert file["/Subtype"] == "/application/json"
    issued = datetime.fromisoformat(record["slip"]["issued_at"]).strftime("D:%Y%m%d%H%M%SZ")
    assert file["/Params"]["/ModDate"] == issued
    assert file["/Params"]["/CreationDate"] == issued
    # Byte for byte, as another program takes it out.
    out = path.with_name("taken.json")
    subprocess.run(["pdfdetach", "-save", "1", "-o", out, path], check=True, capture_output=True)
    assert out.read_bytes() == canonical_bytes(record)


def test_nothing_forbidden_is_in_the_file(reader: pypdf.PdfReader) -> None:
    # ISO 19005-3, 6.1.3 (encryption, identifier), 6.2.8 (interpolation), 6.4 (forms), 6.5 (actions, annotations).
    assert "/Encrypt" not in reader.trailer
    assert len(reader.trailer["/ID"]) == 2
    root = catalog(reader)
    form = root.get("/AcroForm", DictionaryObject())
    assert "/NeedAppearances" not in form
    assert "/XFA" not in form
    assert "/OpenAction" not in root
    for one in objects(reader):
        assert one.get("/Interpolate") != True  # noqa: E712
        assert one.get("/S") not in {"/JavaScript", "/Launch", "/URI"}
        if one.get("/Subtype") == "/Widget":
            flags = int(one["/F"])
            assert flags & 4, "printed"
            assert not flags & (1 | 2 | 32), "neither hidden nor without view"
            assert "/AP" in one or [float(edge) for edge in one["/Rect"]] == [0, 0, 0, 0]
            assert str(one["/TU"]).strip()


def test_streams_use_no_forbidden_filter(reader: pypdf.PdfReader) -> None:
    # ISO 19005-3, 6.1.7.2: LZW and Crypt are out; here everything is Flate.
    filters = {str(one.get("/Filter")) for one in objects(reader) if isinstance(one, StreamObject)}
    assert filters <= {"/FlateDecode", "None"}


def test_other_readers_find_nothing_to_complain_of(slip: tuple[dict[str, Any], Path]) -> None:
    checked = subprocess.run(["qpdf", "--check", slip[1]], check=True, capture_output=True, text=True)
    assert "No syntax or stream encoding errors found" in checked.stdout
    assert checked.stderr == ""
    fonts = subprocess.run(["pdffonts", slip[1]], check=True, capture_output=True, text=True)
    rows = fonts.stdout.splitlines()[2:]
    # embedded, subset, with Unicode: three times yes in each line
    assert rows
    assert all(re.search(r"yes\s+yes\s+yes", row) for row in rows)
    for profile in ("3a", "ua1") if shutil.which("verapdf") else ():
        judge = ["verapdf", "--flavour", profile, "--format", "text", slip[1]]
        assert subprocess.run(judge, check=True, capture_output=True, text=True).stdout.startswith("PASS")


def test_a_signed_slip_of_eight_cylinders_is_small_enough_to_send_from_the_shed() -> None:
    keys = identity()
    pdf = make_slip(a_record(8), keys["private_key"], keys["certificate"], keys["authority"]).pdf
    assert len(pdf) <= 96 * 1024
