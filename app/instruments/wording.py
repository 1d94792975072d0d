"""How the instrument book says dates, marks and states."""

from datetime import date
from decimal import Decimal

from app.instruments.schemas import DueState

SOON_DAYS = 30


def plain(number: Decimal) -> str:
    return format(number, "f")


def day(on: date) -> str:
    return f"{on.day} {on:%B %Y}"


def mark_text(low: Decimal, high: Decimal) -> str:
    return plain(low) if low == high else f"{plain(low)} to {plain(high)}"


def due(due_on: date | None, today: date) -> tuple[DueState, str]:
    """The state and the words: "due in 41 days", "overdue since 2 May 2026"."""
    if due_on is None:
        return "none", "no calibration recorded"
    left = (due_on - today).days
    if left < 0:
        return "overdue", f"overdue since {day(due_on)}"
    state: DueState = "soon" if left <= SOON_DAYS else "in_time"
    if left < 2:
        return state, ("due today", "due tomorrow")[left]
    return state, f"due in {left} days"


def when(starts_on: date, ends_on: date, today: date) -> str:
    if starts_on <= today <= ends_on:
        return "today" if starts_on == ends_on else f"today, day {(today - starts_on).days + 1}"
    if today < starts_on:
        left = (starts_on - today).days
        return "tomorrow" if left == 1 else f"in {left} days"
    gone = (today - ends_on).days
    return "yesterday" if gone == 1 else f"{gone} days ago"
