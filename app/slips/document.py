"""A slip's record laid out as one A4 page and its annex. Only slip workers and the command line import this."""

from collections.abc import Mapping
from typing import Any

from app.plots import pictured
from app.slips import presentation, wording
from app.slips.annex import annex
from app.slips.layout import FONTS, LayOut, LayoutError, as_pdf, filled, squares
from app.slips.presentation import DENSITIES, Density
from app.slips.record import canonical_bytes

__all__ = ["DENSITIES", "FONTS", "LayoutError", "page_html", "render_slip"]


def render_slip(record: Mapping[str, Any]) -> bytes:
    """The page of a record; nothing else goes in, so the same record gives the same bytes."""
    return as_pdf(
        canonical_bytes(record),
        record["slip"]["issued_at"],
        "The record of this slip (RFC 8785 JSON)",
        "slip",
        lambda lay_out: _fitted(record, lay_out),
    )


def page_html(record: Mapping[str, Any], density: Density) -> str:
    rows = presentation.result_rows(record, density)
    return filled(
        "slips/slip.html",
        record=record,
        density=density,
        rows=rows,
        figure=presentation.figure(record, rows),
        picture=pictured(record["result"]),
        headline=presentation.headline(record),
        budget=presentation.budget_rows(record),
        set_aside=presentation.set_aside_sentences(record),
        conditions_corrected=presentation.corrected_conditions(record),
        accuracy_borne_out=presentation.accuracy_borne_out(record),
        overdue=presentation.overdue(record),
        drawing=presentation.drawing(record["acknowledgement"].get("path", "")),
        decision=wording.decision_rule(record["rule"]),
        covering=wording.covering(record["rule"]),
        whose_risk=wording.whose_risk(record["result"], record["rule"]),
        annex=annex(record),
        code_squares=squares(record["slip"]["verify_url"]),
    )


def _fitted(record: Mapping[str, Any], lay_out: LayOut) -> Any:
    """The roomiest setting whose verdict stays on one page, the annex on the next; where none does, one to read."""
    lines = len(record["readings"])
    densities = [one for one in DENSITIES if lines <= one.most_rows]
    for density in densities:
        document = lay_out(page_html(record, density))
        if len(document.pages) == 1 or "annex" in document.pages[1].anchors:
            return document
    return lay_out(page_html(record, densities[0]))
