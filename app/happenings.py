"""What the log holds about a record, as people read it: the same words wherever a page says what happened."""

import json
from collections import defaultdict
from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from sqlalchemy.orm import Session

from app import audit
from app.intake import View

# what a line says beyond its action, where the page it stands on does not say it already
_TOLD_WITH = {
    "edition published": "edition {number} published",
    "competitor added": "competitor {name} added",
    "engine added": "engine {serial} added",
    "engine changed": "engine {serial} changed: a new record, the earlier one stays",
    "competitor renamed": "name changed from {before} to {now}",
    "entry added": "car {car} entered",
    "entry list taken in": "entry list taken in: {entries} new entries",
    "instrument registered": "instrument registered: {name}, {serial}",
    "reference volume added": "reference volume added: {serial}",
    "calibration recorded": "calibration recorded: {certificate}",
    "doubt raised": "results put in doubt: {reason}",
    "looked back": "looked back, results found in doubt: {verdicts}",
    "doubt decided": "decided about the doubt: {decision}",
    "notice numbered": "notice {notice} issued, slips named: {slips}",
    "notice signed": "notice {notice} signed",
    "doubts decided": "decided about {results}: {decision}",
    "certificate attached": "certificate {certificate} attached as a file",
    "certificate withdrawn": "certificate {certificate} withdrawn: {reason}",
    "reference volume condemned": "reference volume {volume} found damaged: {reason}",
    "fault noted": "fault noted: {text}",
    "repair noted": "repair noted: {text}",
    "instrument moved": "moved to {place}: {text}",
    "verification accepted": "verification accepted: {stage}, {event}",
    "verification not accepted": "verification not accepted: {stage}, {event}",
    "gauge study planned": "gauge study planned: {title}",
    "study reading entered": "reading {reading} of {part} entered",
    "study reading corrected": "reading {reading} of {part} corrected: {because}",
    "flow study made": "flow study on reference volume {volume} entered",
    "gauge study adopted": "gauge study adopted: {reason}",
    "gauge study no longer adopted": "gauge study no longer adopted: {reason}",
    "flow study adopted": "flow study adopted: {reason}",
    "flow study no longer adopted": "flow study no longer adopted: {reason}",
}


class HappenedView(View):
    """One line of "What happened here"."""

    at: datetime
    who: str
    what: str


def happened(session: Session, subjects: Collection[UUID]) -> list[HappenedView]:
    """Everything about these records, in the order in which it happened."""
    return [happened_view(row) for row in audit.entries_about(session, subjects)]


def happened_view(row: audit.LogEntry) -> HappenedView:
    return HappenedView(at=row.at, who=row.actor, what=told(row))


def told(row: audit.LogEntry) -> str:
    said = _TOLD_WITH.get(row.action, row.action).format_map(defaultdict(str, json.loads(row.entry)["body"]))
    return said[:1].upper() + said[1:]
