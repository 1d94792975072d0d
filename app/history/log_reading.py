"""The append-only log as people read it."""

import json
import re
from collections.abc import Mapping
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from app import audit
from app.audit import LogEntry
from app.happenings import told
from app.history.schemas import ChainView, DetailedHappenedView, LogLine, LogView

PAGE_LINES = 100
CHECKED_UNASKED = 20_000  # a log up to this length is read whole in well under a second
_LONGEST_DETAILS = 240
_UNITS = {"_l_min": "L/min", "_cm3": "cm³", "_mm": "mm", "_kpa": "kPa", "_c": "°C"}
_ID = re.compile(r"^[0-9a-f]{8}(-[0-9a-f]{4}){3}-[0-9a-f]{12}$")
_DIGEST = re.compile(r"^[0-9a-f]{32,}$")
_MOMENT = re.compile(r"^(\d{4}-\d\d-\d\d)T(\d\d:\d\d:\d\d)(\.\d+)?(Z|\+00:00)$")
_NOT_TOLD = {"asked", "inputs", "result", "acknowledgement", "subject"}  # whole documents, kept in the entry itself


def log_page(session: Session, before: int | None, check: bool) -> LogView:
    query = select(LogEntry).order_by(LogEntry.seq.desc()).limit(PAGE_LINES)
    if before is not None:
        query = query.where(LogEntry.seq < before)
    rows = list(session.scalars(query))
    last = session.scalar(select(func.max(LogEntry.seq)))
    entries = 0 if last is None else last + 1
    return LogView(
        lines=[_line(row) for row in rows],
        entries=entries,
        older_before=rows[-1].seq if rows and rows[-1].seq > 0 else None,
        chain=_chain(session) if check or entries <= CHECKED_UNASKED else None,
    )


def detailed(row: LogEntry) -> DetailedHappenedView:
    return DetailedHappenedView(at=row.at, who=row.actor, what=told(row), details=_details(row))


def _line(row: LogEntry) -> LogLine:
    return LogLine(
        seq=row.seq,
        at=row.at,
        who=row.actor,
        what=_as_sentence(row.action),
        details=_details(row),
        subject=row.subject,
        digest=row.digest.hex(),
    )


def _chain(session: Session) -> ChainView:
    found = audit.check(session)
    count = f"{found.entries:,}".replace(",", "\u00a0")
    if found.broken_at is not None:
        sentence = (
            f"Entry {found.broken_at} does not follow from the one before it; the {count} entries before it hold. "
            "Something was changed or lost. Stop writing, keep a copy of the database, and compare with a backup."
        )
    elif not found.entries:
        sentence = "The log is empty."
    else:
        sentence = f"All {count} entries hold; head {found.head[:16]}."
    return ChainView(
        entries=found.entries,
        holds=found.broken_at is None,
        broken_at=found.broken_at,
        head=found.head,
        sentence=sentence,
    )


def _as_sentence(action: str) -> str:
    return action[:1].upper() + action[1:]


def _details(row: LogEntry) -> str:
    """The short facts of an entry; what is long stays in the entry itself."""
    body: Mapping[str, Any] = json.loads(row.entry)["body"]
    told = [
        f"{_named(key)} {text}" for key, value in body.items() if key not in _NOT_TOLD and (text := _plainly(value))
    ]
    said = " · ".join(told)
    return said if len(said) <= _LONGEST_DETAILS else said[: _LONGEST_DETAILS - 1].rstrip() + "…"


def _named(key: str) -> str:
    """bore_mm is read as "bore in mm"."""
    for ending, unit in _UNITS.items():
        if key.endswith(ending):
            return f"{key.removesuffix(ending).replace('_', ' ')} in {unit}"
    return key.replace("_", " ")


def _plainly(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str | int):
        return _shortened(str(value))
    if isinstance(value, list) and all(isinstance(part, str | int) for part in value):
        return ", ".join(_shortened(str(part)) for part in value)
    return ""


def _shortened(text: str) -> str:
    """Ids say nothing to a reader; of a digest its beginning is enough to compare by eye."""
    if _ID.match(text):
        return ""
    if moment := _MOMENT.match(text):
        return f"{moment[1]} {moment[2]} UTC"
    return f"{text[:12]}…" if _DIGEST.match(text) else text
