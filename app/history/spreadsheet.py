"""A found list as CSV. No cell can be taken for a formula by the program that opens it."""

import csv
import io
import re
from collections.abc import Iterable

from app.history.schemas import FoundRow

COLUMNS = (
    "car", "competitor", "class", "event", "engine", "instrument", "opened_at", "decided_at", "verdict", "value",
    "expanded_uncertainty", "limit", "limit_with_tolerance", "slip", "standing", "record_id",
)  # fmt: skip
_PLAIN_NUMBER = re.compile(r"^[+-]?\d+([.,]\d+)?$")
_FORMULA = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def harmless(cell: str) -> str:
    """A leading apostrophe makes text of what a spreadsheet would reckon with; plain numbers stay numbers."""
    if cell.lstrip(" \u00a0").startswith(_FORMULA) and not _PLAIN_NUMBER.match(cell):
        return f"'{cell}"
    return cell


def as_csv(rows: Iterable[FoundRow]) -> bytes:
    """UTF-8 with its mark, so that accents survive the usual spreadsheet programs; every cell quoted."""
    text = io.StringIO(newline="")
    writer = csv.writer(text, quoting=csv.QUOTE_ALL)
    writer.writerow(COLUMNS)
    for row in rows:
        writer.writerow([harmless(cell) for cell in _cells(row)])
    return text.getvalue().encode("utf-8-sig")


def _cells(row: FoundRow) -> list[str]:
    return [
        row.car_number,
        row.competitor,
        row.class_code,
        row.event_name,
        row.engine_serial,
        row.instrument,
        row.opened_at.isoformat(),
        row.decided_at.isoformat() if row.decided_at else "",
        row.verdict,
        row.value,
        row.expanded_uncertainty,
        row.limit,
        row.tolerance_limit,
        row.slip_number,
        row.standing or ("sound" if row.verdict else ""),
        str(row.inspection_id),
    ]
