"""Reads back what pages print, from our renderer's streams of glyph numbers, and holds it against the record."""

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping, Sequence
from itertools import pairwise
from typing import Any

from app.slips.notice_wording import heading

# Font choice ("/f1 9 Tf"), or one line of text ("[<0012>-3<0044>] TJ"), or ("<0012> Tj").
_TEXT = re.compile(rb"/([^\s/\[\]<>()]+) [-\d.]+ Tf|\[([^\]]*)\] TJ|(<[0-9a-fA-F]*>) Tj")
_GLYPHS = re.compile(rb"<([0-9a-fA-F]+)>")
_SLIP_NUMBER = re.compile(r"SL-\d{6,}")
_DIGEST = re.compile(r"[0-9a-f]{64}|notyetsigned")
_MAPPING = re.compile(rb"<([0-9a-fA-F]{4})> <([0-9a-fA-F]*)>")


def printed_runs(root: Mapping[str, Any]) -> list[str]:
    """All pieces of text the pages show, in the order drawn, without spaces: where a line breaks must not matter."""
    return [run for page in _pages(root["/Pages"]) for run in _page_runs(page)]


def slip_problem(runs: Sequence[str], record: Mapping[str, Any]) -> str:
    """What of a slip's record its pages do not show; empty where they show it all."""
    if ("Car", without_spaces(record["entry"]["car_number"])) not in pairwise(runs):
        return f"car number {record['entry']['car_number']} of the record is not on the page."
    return _missing(_slip_literals(record), runs)


def notice_problem(runs: Sequence[str], record: Mapping[str, Any]) -> str:
    """The same of a notice; and it names the slips of its record, each with its digest, and no other."""
    foot = re.compile(re.escape(record["notice"]["number"]) + r",page\d+of\d+")
    runs = [run for run in runs if not foot.fullmatch(run)]  # it stands in the middle of what runs over a page's end
    named = [(one["number"], one["sha256"] or "notyetsigned") for one in record["slips"]]
    later = [(one["sha256"] or "notyetsigned", one["measured_again_as"]) for one in record["slips"]]
    instead = sorted({pair for pair in later if pair[1] is not None} - set(pairwise(runs)))
    if instead:
        return f"that slip {instead[0][1]} takes the place of another is not on the page."
    shown = [pair for pair in pairwise(runs) if _SLIP_NUMBER.fullmatch(pair[0]) and _DIGEST.fullmatch(pair[1])]
    prose = without_spaces(" ".join(_prose(record)))
    while len(shown) > len(named) and "".join(shown[0]) in prose:  # somebody wrote of a slip; the table is below
        shown = shown[1:]
    if named != shown:
        strays = sorted(set(named) ^ set(shown)) or named
        return f"the page and the record do not name the same slips ({strays[0][0]})."
    return _missing(_notice_literals(record), runs)


def is_shown(words: str, text: str) -> bool:
    """Are these words in the page's visible text? Names from right to left are drawn back to front, letters joined."""
    wanted = _visible(words)
    if any(unicodedata.bidirectional(letter) in {"R", "AL"} for letter in wanted):
        return set(wanted) <= set(text)
    return wanted in text


def _missing(literals: Iterable[tuple[str, str]], runs: Sequence[str]) -> str:
    text = _visible("".join(runs))
    for what, words in literals:
        if not is_shown(words, text):
            return f"{what} {words} of the record is not on the page."
    return ""


def _slip_literals(record: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    """What every version of the page prints exactly as it stands in the record."""
    yield "the number", record["slip"]["number"]
    yield "the code", record["slip"]["code"]
    yield "the inspector", record["inspector"]["name"]
    yield "the certificate", record["inspector"]["certificate_serial"]
    yield "the competitor", record["competitor"]["name"]
    yield "the engine", record["engine"]["serial"]
    yield "the limit", record["rule"]["limit"]
    for reading in record["readings"]:
        for indication in reading["indications"]:
            yield "the reading", indication


def _prose(record: Mapping[str, Any]) -> Iterator[str]:
    """What people wrote, in the order of the page."""
    if record["decision"] is not None:
        yield record["decision"]["reasons"]
    for cause in record["causes"]:
        yield cause["reason"]


def _notice_literals(record: Mapping[str, Any]) -> Iterator[tuple[str, str]]:
    yield "the number", record["notice"]["number"]
    yield "the code", record["notice"]["code"]
    yield "the official", record["official"]["name"]
    yield "the certificate", record["official"]["certificate_serial"]
    yield "the heading", heading(record)
    for cause in record["causes"]:
        yield "the instrument", cause["instrument"]["serial"]
        yield "the reason", cause["reason"]
    if record["decision"] is not None:
        yield "the reasons", record["decision"]["reasons"]
        yield "whoever decided,", record["decision"]["decided_by"]
    for event in sorted({one["event"] for one in record["slips"]}):
        yield "the event", event


# Unicode: variation selectors and other marks that are ignored where no shape is chosen by them
_CHOOSES_A_LOOK = re.compile(
    "[\u034f\u115f\u1160\u17b4\u17b5\u180b-\u180f\u3164\ufe00-\ufe0f\uffa0\U000e0100-\U000e01ef]"
)


def _visible(text: str) -> str:
    """Without what is not drawn: joiners, soft hyphens, breaks of no width (Unicode's general category Cf), and the
    marks that only choose how the letter before them looks."""
    return "".join(
        letter
        for letter in without_spaces(text)
        if unicodedata.category(letter) != "Cf" and not _CHOOSES_A_LOOK.match(letter)
    )


def without_spaces(text: str) -> str:
    return "".join(text.split())


def _pages(node: Mapping[str, Any]) -> Iterable[Mapping[str, Any]]:
    for kid in node["/Kids"]:
        page = kid.get_object()
        if page["/Type"] == "/Pages":
            raise ValueError("pages are nested; no slip has that")
        yield page


def _page_runs(page: Mapping[str, Any]) -> Iterable[str]:
    fonts = {str(name)[1:].encode(): _letters(font.get_object()) for name, font in page["/Resources"]["/Font"].items()}
    letters: Mapping[int, str] = {}
    for font, several, one in _TEXT.findall(page["/Contents"].data):
        if font:
            letters = fonts[font]
        glyphs = b"".join(_GLYPHS.findall(several or one))
        run = "".join(letters.get(int(glyphs[at : at + 4], 16), "\ufffd") for at in range(0, len(glyphs), 4))
        if run := without_spaces(run):
            yield run


def _letters(font: Mapping[str, Any]) -> dict[int, str]:
    table = font["/ToUnicode"].data
    return {int(glyph, 16): bytes.fromhex(text.decode()).decode("utf-16-be") for glyph, text in _MAPPING.findall(table)}
