"""Reads back what a slip's pages print, from our renderer's page streams: text as glyph numbers in hexadecimal."""

import re
import unicodedata
from collections.abc import Iterable, Mapping
from typing import Any

# Font choice ("/f1 9 Tf"), or one line of text ("[<0012>-3<0044>] TJ"), or ("<0012> Tj").
_TEXT = re.compile(rb"/([^\s/\[\]<>()]+) [-\d.]+ Tf|\[([^\]]*)\] TJ|(<[0-9a-fA-F]*>) Tj")
_GLYPHS = re.compile(rb"<([0-9a-fA-F]+)>")
_MAPPING = re.compile(rb"<([0-9a-fA-F]{4})> <([0-9a-fA-F]*)>")


def printed_runs(root: Mapping[str, Any]) -> list[str]:
    """All pieces of text the pages show, in the order drawn, without spaces: where a line breaks must not matter."""
    return [run for page in _pages(root["/Pages"]) for run in _page_runs(page)]


def is_shown(words: str, text: str) -> bool:
    """Are these words in the page's text? Names written from right to left are drawn back to front, letters joined."""
    wanted = without_spaces(words)
    if any(unicodedata.bidirectional(letter) in {"R", "AL"} for letter in wanted):
        return set(wanted) <= set(text)
    return wanted in text


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
