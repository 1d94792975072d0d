"""A notice's record laid out for the notice board, on as many pages as its slips need. Heavy, as `document` is."""

from collections.abc import Mapping
from typing import Any

from app.slips import notice_wording
from app.slips.layout import as_pdf, filled, squares
from app.slips.record import canonical_bytes


def render_notice(record: Mapping[str, Any]) -> bytes:
    """The same record gives the same bytes, as with a slip."""
    return as_pdf(
        canonical_bytes(record),
        record["notice"]["issued_at"],
        "The record of this notice (RFC 8785 JSON)",
        "notice",
        lambda lay_out: lay_out(notice_html(record)),
    )


def notice_html(record: Mapping[str, Any]) -> str:
    return filled(
        "slips/notice.html",
        record=record,
        says=notice_wording,
        code_squares=squares(record["notice"]["verify_url"]),
    )
