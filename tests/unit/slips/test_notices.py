"""A notice on paper: what it says, how it is built, who signed it, and what is found out about a false one."""

import hashlib
import logging
import random
import re
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import datetime, timedelta
from io import BytesIO
from pathlib import Path
from typing import Any

import pypdf
import pytest

from app.errors import Unavailable
from app.officials.authority import create_authority
from app.slips import notice_document
from app.slips.findings import ALTERED_NOTICE, GENUINE_NOTICE, SlipVerification
from app.slips.making import make_notice
from app.slips.notice_document import notice_html, render_notice
from app.slips.notice_wording import heading, meaning, of_one, said_by
from app.slips.record import canonical_bytes, read_record
from app.slips.signing import sign_slip
from app.slips.verification import AUTHORITY, INTACT, OFFICIAL, PRINTED, RECORD, WHOLE_FILE, verify_slip
from tests.unit.slips import nss_trust
from tests.unit.slips.notices import REASON, REASONS, a_notice, digest_of
from tests.unit.slips.page_words import squeezed
from tests.unit.slips.records import identity
from tests.unit.slips.test_structure import catalog, elements, objects

ISSUED = datetime.fromisoformat("2026-05-03T17:20:08Z")
RECORDS: dict[str, Callable[[], dict[str, Any]]] = {
    "twelve in doubt": lambda: a_notice(12),
    "one in doubt, not yet signed": lambda: a_notice(1, unsigned=[1]),
    "sixty upheld": lambda: a_notice(60, "upheld"),
    "three measured again": lambda: a_notice(3, "measured_again"),
    "one withdrawn": lambda: a_notice(1, "withdrawn"),
    "five hundred in doubt": lambda: a_notice(500),
    "reasons over pages": lambda: a_notice(3, "upheld", reasons="\n".join(f"Reason {one}." for one in range(200))),
}


@contextmanager
def nothing_to_complain_of() -> Iterator[None]:
    """The layout engine only logs what it cannot do: a letter without a font, a picture without words."""
    said: list[str] = []
    listening = logging.Handler(logging.WARNING)
    listening.emit = lambda record: said.append(record.getMessage())  # type: ignore[method-assign]
    logging.getLogger("weasyprint").addHandler(listening)
    try:
        yield
    finally:
        logging.getLogger("weasyprint").removeHandler(listening)
    # the slip's bars are filled by a property of SVG, which the style sheet's reader does not know
    assert [one for one in said if "`fill: " not in one] == []


@pytest.fixture(params=RECORDS, scope="module")
def made(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[dict[str, Any], Path]:
    record = RECORDS[request.param]()
    path = tmp_path_factory.mktemp("notice") / "notice.pdf"
    with nothing_to_complain_of():
        path.write_bytes(pressed(record))
    return record, path


def pressed(record: dict[str, Any]) -> bytes:
    keys = identity()
    return make_notice(record, keys["private_key"], keys["certificate"], keys["authority"]).pdf


def signed(record: dict[str, Any], signed_at: datetime = ISSUED) -> bytes:
    """A notice that skipped the check before release."""
    keys = identity()
    return sign_slip(
        render_notice(record), keys["private_key"], keys["certificate"], keys["authority"],
        name=record["official"]["name"], reason="Notice", signed_at=signed_at, role="official",
    )  # fmt: skip


def verified(pdf: bytes) -> SlipVerification:
    return verify_slip(pdf, identity()["authority"])


def broken(found: SlipVerification) -> set[str]:
    return {finding.question for finding in found.broken}


def told(program: str, path: Path, *more: str) -> str:
    return subprocess.run([program, *more, path], check=True, capture_output=True, text=True).stdout


def text_of(path: Path) -> str:
    done = subprocess.run(["pdftotext", "-raw", path, "-"], check=True, capture_output=True, text=True)
    return squeezed(done.stdout)


# ---- what it says ------------------------------------------------------------------------------------------------


def test_the_pages_say_all_of_the_record(made: tuple[dict[str, Any], Path]) -> None:
    record, path = made
    text = text_of(path)
    wanted = [
        record["notice"]["number"], "code 9M4R X2ZD", heading(record), meaning(record), REASON,
        "Northfell Saloon Car Series", "Resonance meter, shed B, serial RM-204", "raised by Pell Ashdown",
        "from 2026-05-02 08:10:44 UTC until 2026-05-03 16:58:02 UTC", "In doubt since 2026-05-03 16:58:02 UTC",
        "Issued and sealed by the official", "Ilse Vandermoor", "2026-05-03 17:20:08 UTC",
        f"The slips concerned: {len(record['slips'])}", "each stays, byte for byte, as it was signed",
        "End of notice NT-000003",
    ]  # fmt: skip
    for one in record["slips"]:
        wanted += [
            f"{one['number']} {one['sha256'] or 'not yet signed'} {one['measured_again_as'] or ''}{one['event']}"
        ]
    if record["decision"]:
        wanted += ["The decision", *record["decision"]["reasons"].split("\n")]
    assert [words for words in wanted if squeezed(words) not in text] == []


def test_where_a_certificate_was_withdrawn_it_is_named_in_place_of_times(tmp_path: Path) -> None:
    record = a_notice(1)
    record["causes"][0] |= {"certificate": "FM-26-118", "since": ""}
    path = tmp_path / "notice.pdf"
    path.write_bytes(render_notice(record))
    assert squeezed("Resting on calibration certificate FM-26-118") in text_of(path)
    assert squeezed("Measured until") not in text_of(path)


def test_where_no_good_verification_stood_before_only_the_end_is_said() -> None:
    record = a_notice(1)
    record["causes"][0]["since"] = ""
    assert "<td>until 2026-05-03 16:58:02 UTC</td>" in notice_html(record).replace("\u00a0", " ")


def test_each_outcome_has_words_of_its_own() -> None:
    records = [a_notice(2, decision) for decision in ("", "upheld", "measured_again", "withdrawn")]
    assert len({heading(record) for record in records}) == len({meaning(record) for record in records}) == 4
    assert len({of_one(key) for key in ("doubt", "upheld", "measured_again", "withdrawn")}) == 4
    assert said_by(records[0]) == f"The results on these slips are in doubt. {REASON} It names 2 slips."
    assert said_by(a_notice(1, "upheld")) == f"The results on these slips are upheld. {REASONS} It names 1 slip."


def test_a_long_list_numbers_its_pages_and_repeats_its_headings(tmp_path: Path) -> None:
    path = tmp_path / "notice.pdf"
    path.write_bytes(render_notice(a_notice(500)))
    pages = int(re.findall(r"^Pages:\s+(\d+)$", told("pdfinfo", path), re.M)[0])
    assert 8 <= pages <= 14
    text = text_of(path)
    assert f"NT-000003,page{pages}of{pages}" in text
    assert text.count(squeezed("SHA-256 of its file")) == pages


def test_the_same_record_gives_the_same_bytes_and_another_one_others() -> None:
    once = hashlib.sha256(render_notice(a_notice(4))).hexdigest()
    assert hashlib.sha256(render_notice(a_notice(4))).hexdigest() == once
    assert hashlib.sha256(render_notice(a_notice(5))).hexdigest() != once


# ---- how it is built ---------------------------------------------------------------------------------------------


def test_the_file_is_both_standards_tagged_whole_and_carries_its_record(made: tuple[dict[str, Any], Path]) -> None:
    # ISO 19005-3, 6.6.4, 6.2.11.4.1; ISO 14289-1, 5, 7.1, 7.3, 7.4.2, 7.5; from memory. As for slips.
    record, path = made
    with pypdf.PdfReader(path, strict=True) as reader:
        root = catalog(reader)
        xmp = root["/Metadata"].get_data().decode()
        for pattern in (r'pdfaid:part(="3"|>3<)', r'pdfaid:conformance(="A"|>A<)', r'pdfuaid:part(="1"|>1<)'):
            assert re.search(pattern, xmp), pattern
        assert root["/MarkInfo"]["/Marked"] == True  # noqa: E712  # pypdf's own boolean
        assert root["/Lang"] == "en"
        assert "NT-000003" in (reader.metadata.title or "" if reader.metadata else "")
        assert len(elements(reader, "/H1")) == 1
        assert all(str(figure["/Alt"]).strip() for figure in elements(reader, "/Figure"))
        assert all(len(cell["/A"].get_object()["/Headers"]) > 0 for cell in elements(reader, "/TD"))
        for font in [one for one in objects(reader) if one.get("/Type") == "/Font" and one.get("/Subtype") == "/Type0"]:
            assert re.fullmatch(r"/[A-Z]{6}\+Source-?Sans-?Pro.*", font["/BaseFont"])
        assert reader.attachments["record.json"] == [canonical_bytes(record)]
        assert root["/AcroForm"]["/Fields"][0]["/T"] == "Official"
        assert root["/AcroForm"]["/Fields"][0]["/TU"] == "Signature of the official, Ilse Vandermoor"
        assert root["/Perms"]["/DocMDP"]["/Reason"].endswith("issued by the official: NT-000003")
    assert "No syntax or stream encoding errors found" in told("qpdf", path, "--check")


def test_an_independent_program_says_valid_whole_and_trusted(tmp_path: Path) -> None:
    authority, path = tmp_path / "authority.pem", tmp_path / "notice.pdf"
    authority.write_text(identity()["authority"])
    subprocess.run([sys.executable, nss_trust.__file__, tmp_path, authority], check=True, capture_output=True)
    path.write_bytes(pressed(a_notice(3, "upheld")))
    said = told("pdfsig", path, "-nssdir", str(tmp_path))
    for words in ("Total document signed", "Signature is Valid.", "Certificate is Trusted.", "Ilse Vandermoor"):
        assert words in said, said


# ---- what our own check says -------------------------------------------------------------------------------------


def test_a_genuine_notice_keeps_every_promise(made: tuple[dict[str, Any], Path]) -> None:
    found = verified(made[1].read_bytes())
    assert found.genuine
    assert found.sentence == GENUINE_NOTICE
    asked = [finding.question for finding in found.findings]
    assert asked == [WHOLE_FILE, INTACT, AUTHORITY, RECORD, OFFICIAL, PRINTED]
    assert all(finding.holds for finding in found.findings)
    assert (found.signer, found.signed_at) == ("Ilse Vandermoor", ISSUED)
    assert found.record == read_record(canonical_bytes(made[0]))


def test_every_changed_byte_is_reported() -> None:
    pdf, dice = pressed(a_notice(3)), random.Random(20260503)
    for _ in range(80):
        place = dice.randrange(len(pdf))
        changed = pdf[:place] + bytes([pdf[place] ^ dice.randrange(1, 256)]) + pdf[place + 1 :]
        assert not verified(changed).genuine, place
    assert not verified(pdf + b"\n").genuine


def test_a_stranger_authority_and_a_signature_out_of_time_are_not_believed() -> None:
    stranger, _ = create_authority("Northfell Saloon Car Series", ISSUED - timedelta(days=90))
    assert {finding.question for finding in verify_slip(pressed(a_notice(1)), stranger).broken} == {AUTHORITY}
    assert broken(verified(signed(a_notice(1), ISSUED + timedelta(days=365 * 16)))) == {AUTHORITY}


@pytest.mark.parametrize("change", [{"name": "Pell Ashdown"}, {"certificate_serial": "abc123"}])
def test_a_notice_signed_by_someone_else_than_it_names_is_reported(change: dict[str, str]) -> None:
    record = a_notice(1)
    record["official"] |= change
    found = verified(signed(record))
    assert broken(found) == {OFFICIAL}
    assert found.sentence == ALTERED_NOTICE


def changed_slip(**change: str) -> Callable[[dict[str, Any]], None]:
    return lambda record: record["slips"][1].update(change)


FALSE_PAGES: dict[str, Callable[[dict[str, Any]], None]] = {
    "another slip": changed_slip(number="SL-000077"),
    "another digest": changed_slip(sha256=digest_of("other")),
    "a slip without its digest": changed_slip(sha256=""),
    "another later slip": changed_slip(measured_again_as="SL-000900"),
    "another event": changed_slip(event="Autumn Meeting, 2026-09-12"),
    "a slip more": lambda record: record["slips"].append(dict(record["slips"][0], number="SL-000078")),
    "a slip less": lambda record: record["slips"].pop(),
    "another order": lambda record: record["slips"].reverse(),
    "another number": lambda record: record["notice"].update(number="NT-000009"),
    "another code": lambda record: record["notice"].update(code="9M4RX2ZE"),
    "another decision": lambda record: record["decision"].update(decision="withdrawn"),
    "other reasons": lambda record: record["decision"].update(reasons="Something else."),
    "another who decided": lambda record: record["decision"].update(decided_by="Pell Ashdowne"),
    "another cause": lambda record: record["causes"][0].update(reason="Something else."),
    "another instrument": lambda record: record["causes"][0]["instrument"].update(serial="RM-205"),
}


@pytest.mark.parametrize("what", FALSE_PAGES)
def test_pages_that_show_something_else_than_the_record_are_reported(
    what: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    record = a_notice(3, "measured_again")
    shown = notice_html(record)
    monkeypatch.setattr(notice_document, "notice_html", lambda _: shown)
    FALSE_PAGES[what](record)
    assert broken(verified(signed(record))) == {PRINTED}


@pytest.mark.parametrize("part", ["official", "slips", "causes", "notice", "decision", "series"])
def test_a_record_that_lacks_a_part_is_reported_in_words(part: str, monkeypatch: pytest.MonkeyPatch) -> None:
    record = a_notice(2, "upheld")
    shown = notice_html(record)
    monkeypatch.setattr(notice_document, "notice_html", lambda _: shown)
    monkeypatch.setattr(notice_document, "canonical_bytes", lambda whole: canonical_bytes(without(whole, part)))
    found = verified(signed(record))
    if part == "series":  # named on the page, and nothing hangs on it
        assert found.genuine
    else:
        assert "lacks a part that every notice has" in " ".join(finding.sentence for finding in found.broken)


def without(record: dict[str, Any], part: str) -> dict[str, Any]:
    return {name: value for name, value in record.items() if name != part}


def test_a_notice_that_fails_its_own_check_is_not_released(monkeypatch: pytest.MonkeyPatch) -> None:
    shown = notice_html(a_notice(1))
    monkeypatch.setattr(notice_document, "notice_html", lambda _: shown)
    with pytest.raises(Unavailable, match="Notice NT-000003 failed its own check and was not released"):
        pressed(a_notice(2))


@pytest.mark.parametrize(
    "words",
    [
        "All good 😀 here 👩‍🔧",
        "龍虎 because of 北村 優子",
        "مرسم الريح because חטיבה is",
        "<b>&amp;</b> {{ 7*7 }} <img src=x>",
        "Zoë x̂ ffi office fluff",
        "soft\u00adhyphen " * 40 + "zero\u200bwidth",
        "x" * 4000,
        "line one\n" * 400,
        "See\nSL-000009\n" + "a" * 64 + "\nand so on",
        f"See\nSL-000001\n{digest_of('SL-000001')}\nonce more",
    ],
    ids=lambda words: ascii(words[:24]),
)
def test_whatever_an_official_types_does_not_keep_the_notice_from_being_released(words: str) -> None:
    assert verified(pressed(a_notice(3, "upheld", reasons=words))).genuine
    assert verified(pressed(a_notice(3, reason=words))).genuine


def test_the_bytes_show_no_name_of_a_competitor_and_no_code_of_a_slip() -> None:
    """Nothing of the record's form has a place for one."""
    names = set(a_notice(2, "measured_again")["slips"][0])
    assert names == {"number", "sha256", "event", "measured_again_as"}
    reader = pypdf.PdfReader(BytesIO(pressed(a_notice(2))), strict=True)
    assert "code" not in reader.attachments["record.json"][0].decode().split('"slips":')[1]
