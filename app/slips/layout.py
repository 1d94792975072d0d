"""What slips and notices share on their way to paper: typeface, tags, PDF/A-3a and PDF/UA-1 at once, the record inside.

The same record gives the same bytes every time.
Only slip workers and the command line import this: it is heavy, and its layout engine must stay in one thread.
"""

import re
import warnings
from collections.abc import Callable, Mapping
from datetime import datetime
from functools import cache
from pathlib import Path
from typing import Any

import font_source_sans_pro
import segno
from jinja2 import Environment
from weasyprint import CSS, HTML, Attachment
from weasyprint.text.fonts import FontConfiguration
from weasyprint.urls import FatalURLFetchingError, URLFetcher, URLFetcherResponse

from app.config import SHARED_ROOT
from app.slips import presentation, wording
from app.slips.record import record_digest
from app.templating import template_environment

ATTACHMENT = "record.json"
# A figure and its unit stay on one line.
_UNIT = re.compile(r"(?<=[0-9.]) (?=(?:%|°C|°F|mm|cm³|in³|in|L/min|SCFH|kPa|inHg|K|UTC)(?![A-Za-z]))")
VARIANT = "pdf/a-3a"
FONTS = ("SourceSansPro-Regular.ttf", "SourceSansPro-Semibold.ttf", "SourceSansPro-Bold.ttf")
# One variant writes one identification; the second one needs its schema declared to stay valid PDF/A-3
# (ISO 19005-3, 6.6.2.3.1 as the reference validator reads it).
_PDF_UA = b"""<rdf:Description xmlns:pdfuaid="http://www.aiim.org/pdfua/ns/id/" rdf:about="" pdfuaid:part="1"/>
<rdf:Description xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/"
 xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#"
 rdf:about=""><pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">
<pdfaSchema:namespaceURI>http://www.aiim.org/pdfua/ns/id/</pdfaSchema:namespaceURI>
<pdfaSchema:prefix>pdfuaid</pdfaSchema:prefix><pdfaSchema:schema>PDF/UA identification</pdfaSchema:schema>
<pdfaSchema:property><rdf:Seq><rdf:li rdf:parseType="Resource"><pdfaProperty:category>internal</pdfaProperty:category>
<pdfaProperty:description>Part of PDF/UA</pdfaProperty:description><pdfaProperty:name>part</pdfaProperty:name>
<pdfaProperty:valueType>Integer</pdfaProperty:valueType></rdf:li></rdf:Seq></pdfaSchema:property>
</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>"""


class LayoutError(RuntimeError):
    """The page asked for something that is not ours."""


class _OwnNames(URLFetcher):  # type: ignore[misc]  # WeasyPrint is not followed by the type checker
    """Serves the shipped fonts from memory, and nothing else in the world."""

    def __init__(self) -> None:
        super().__init__(allowed_protocols=(), allow_redirects=False, fail_on_errors=True)

    def fetch(self, url: str, headers: Mapping[str, str] | None = None) -> URLFetcherResponse:
        name = url.removeprefix("own:")
        if name == url or name not in FONTS:
            raise ValueError(f"not ours: {url[:80]}")
        return URLFetcherResponse(url, body=_font(name), headers={"Content-Type": "font/ttf"})


LayOut = Callable[[str], Any]


def as_pdf(canonical: bytes, issued_at: str, description: str, style: str, fitted: Callable[[LayOut], Any]) -> bytes:
    """`fitted` is given what lays HTML out in the named style, and answers with the layout it settles on."""
    issued = datetime.fromisoformat(issued_at)
    attachment = Attachment(
        string=canonical.decode(), name=ATTACHMENT, description=description,
        relationship="Data", created=issued, modified=issued, url_fetcher=_OwnNames(),
    )  # fmt: skip
    options = {"pdf_variant": VARIANT, "attachments": [attachment]}
    try:
        document = fitted(lambda html: _laid_out(html, style, options))
        plain = document.metadata.generate_rdf_metadata
        document.metadata.generate_rdf_metadata = lambda *given: plain(*given).replace(
            b"</rdf:RDF>", _PDF_UA + b"</rdf:RDF>"
        )
        with warnings.catch_warnings():
            # WeasyPrint leaves its own colour profile open for the collector to close.
            warnings.simplefilter("ignore", ResourceWarning)
            pdf: bytes = document.write_pdf(
                **options, pdf_identifier=record_digest(canonical)[:32].encode(), finisher=_without_double
            )
    except FatalURLFetchingError as refused:  # a BaseException: it must not end the worker
        raise LayoutError(f"The page asked for something outside the logbook: {refused}") from refused
    return pdf


def filled(template: str, **values: Any) -> str:
    """The template as HTML, each figure kept on one line with its unit."""
    return _UNIT.sub("\u00a0", _environment().get_template(template).render(**values))


def _laid_out(html: str, style: str, options: Mapping[str, Any]) -> Any:
    return HTML(string=html, base_url="own:", url_fetcher=_OwnNames()).render(
        font_config=_fonts(), stylesheets=_styles(style), **options
    )


def _without_double(document: Any, pdf: Any) -> None:
    """WeasyPrint lists the one attachment twice among the associated files."""
    listed = pdf.catalog["AF"]
    for double in listed[1:]:
        listed.remove(double)


@cache
def _fonts() -> FontConfiguration:
    """One for the life of the worker: a new one per slip is never given back."""
    return FontConfiguration()


@cache
def _styles(style: str) -> tuple[CSS, ...]:
    """The slip's own style, and what another paper sets otherwise."""
    names = ("slip",) if style == "slip" else ("slip", style)
    return tuple(
        CSS(
            string=(SHARED_ROOT / "static" / f"{name}.css").read_text(encoding="utf-8"),
            font_config=_fonts(), url_fetcher=_OwnNames(), base_url="own:",
        )
        for name in names
    )  # fmt: skip


@cache
def _font(name: str) -> bytes:
    return (Path(font_source_sans_pro.font_directory) / name).read_bytes()


@cache
def _environment() -> Environment:
    environment = template_environment()
    environment.globals.update(words=wording)
    environment.filters.update(
        both=presentation.both_units, utc=presentation.moment, spaced_code=presentation.spaced_code,
        groups=presentation.quarter_groups, lower_first=presentation.lower_first, per_cent=wording.per_cent,
        said=lambda key, words: wording.said(words, key),
    )  # fmt: skip
    return environment


def squares(text: str) -> tuple[int, str]:
    """A QR code as one path of strokes one square wide, and its width in squares with the quiet zone."""
    matrix = segno.make(text, error="m", micro=False).matrix
    runs = []
    for y, line in enumerate(matrix):
        x = 0
        while x < len(line):
            length = 1
            while x + length < len(line) and line[x + length] == line[x]:
                length += 1
            if line[x] & 1:
                runs.append(f"M{x + 4} {y + 4.5}h{length}")
            x += length
    return len(matrix) + 8, "".join(runs)
