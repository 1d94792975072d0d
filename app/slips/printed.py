"""Reads back what a slip's pages print, from our renderer's page streams: text as glyph numbers in hexadecimal."""

import re
from collections.abc import Iterable, Mapping
from typing import Any

# Font choice ("/f1 9 Tf"), or one line of text ("[<0012>-3<0044>] TJ"), or ("<0012> Tj").
_TEXT = re.compile(rb"/([^\s/\[\]<>()]+) [-\d.]+ Tf|\[([^\]]*)\] TJ|(<[0-9a-fA-F]*>) Tj")
_GLYPHS = re.compile(rb"<([0-9a-fA-F]+)>")
_MAPPING = re.compile(rb"<([0-9a-fA-F]{4})> <([0-9a-fA-F]*)>")


def printed_text(root: Mapping[str, Any]) -> str:
    """All text the pages show, in the order drawn, without spaces: where a line breaks must not matter."""
    return "".join(_page_text(page) for page in _pages(root["/Pages"]))


def without_spaces(text: str) -> str:
    return "".join(text.split())


def _pages(node: Mapping[str, Any]) -> Iterable[Mapping[str, Any]]:
    for kid in node["/Kids"]:
        page = kid.get_object()
        if page["/Type"] == "/Pages":
            raise ValueError("pages are nested; no slip has that")
        yield page


def _page_text(page: Mapping[str, Any]) -> str:
    fonts = {str(name)[1:].encode(): _letters(font.get_object()) for name, font in page["/Resources"]["/Font"].items()}
    letters: Mapping[int, str] = {}
    found: list[str] = []
    for font, several, one in _TEXT.findall(page["/Contents"].data):
        if font:
            letters = fonts[font]
        for run in _GLYPHS.findall(several or one):
            found += [letters.get(int(run[at : at + 4], 16), "\ufffd") for at in range(0, len(run), 4)]
    return without_spaces("".join(found))


def _letters(font: Mapping[str, Any]) -> dict[int, str]:
    table = font["/ToUnicode"].data
    return {int(glyph, 16): bytes.fromhex(text.decode()).decode("utf-16-be") for glyph, text in _MAPPING.findall(table)}
