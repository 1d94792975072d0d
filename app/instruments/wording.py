"""How the instrument book says dates, marks and states."""

from datetime import date
from decimal import Decimal

from app.instruments.schemas import DueState, Stage
from app.intake import KINDS, day, show_both

SOON_DAYS = 30


def plain(number: Decimal) -> str:
    return format(number, "f")


def whole_sentence(typed: str) -> str:
    """As it was typed, with the stop that is often left out."""
    return typed if typed.endswith((".", "!", "?", "…")) else f"{typed}."


def mark_text(low: Decimal, high: Decimal) -> str:
    return plain(low) if low == high else f"{plain(low)} to {plain(high)}"


def flow_study(sensitivity: Decimal | None) -> str:
    """What the flow study found, for either unit of flow: "+0.02 for each L/min more (+0.0094 for each SCFH)"."""
    if sensitivity is None:
        return "none recorded"
    metric, inch = KINDS["flow"].metric, KINDS["flow"].inch
    per_inch = round(KINDS["flow"].to_stored(sensitivity, inch), 4).normalize()
    told = f"{sensitivity:+f} for each {metric} more ({per_inch:+f} for each {inch})"
    return told.replace("-", "−")


def due(due_on: date | None, today: date) -> tuple[DueState, str]:
    """The state and the words: "due in 41 days", "overdue since 2 May 2026"."""
    if due_on is None:
        return "none", "none recorded"
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


# ---- what a verification came to --------------------------------------------------------------------------------

AIRFLOW_IS_FIXED = "The airflow may never be trimmed to make the check read right."
SCATTERS_MORE = (
    "The indications scatter more than this instrument usually does: seat the reference volume again and look at the "
    "hose."
)


def read_between(volume: str, mean: Decimal, lowest: Decimal, highest: Decimal) -> str:
    """One digit more for the mean than the mark has, so that a near miss does not read like a hit."""
    digits = max(-int(lowest.as_tuple().exponent), -int(highest.as_tuple().exponent), 2) + 1
    return (
        f"Reference volume {volume} read {plain(round(mean, digits))}; "
        f"it must be between {plain(lowest)} and {plain(highest)}."
    )


def off_set_point(flow: Decimal, set_point: Decimal, tolerance: Decimal) -> str:
    return (
        f"The airflow was {show_both(flow, 'flow')}; the set-point is {show_both(set_point, 'flow')}, "
        f"within {show_both(tolerance, 'flow')}. This verification is refused."
    )


def headline(name: str, stage: Stage, *, accepted: bool, off_airflow: bool) -> str:
    if accepted:
        return {
            "opening": f"{name} is open",
            "during": f"{name} stays open",
            "closing": f"{name} is closed in order",
        }[stage]
    if off_airflow:
        return f"{name} stays closed: the airflow was off its set-point"
    return {
        "opening": f"{name} stays closed: it missed its mark",
        "during": f"{name} is closed: it missed its mark",
        "closing": f"{name} missed its mark at closing",
    }[stage]


def what_to_do(stage: Stage, on: date, *, accepted: bool, off_airflow: bool, was_in_order: bool) -> str:
    """`on`: its day, for the page is read long after too. `was_in_order`: by a good verification before this one."""
    if accepted:
        return {
            "opening": "Go on to the waiting list. Verify it again during the day, and close it after the last engine.",
            "during": "Go on where you were.",
            "closing": "Nothing more to do with this instrument here.",
        }[stage]
    if off_airflow:
        return f"Bring the airflow to its set-point and verify again. {AIRFLOW_IS_FIXED}"
    doubted = (
        "What was measured with it since its last good verification" if was_in_order else "What was measured with it"
    )
    return (
        f"{doubted} is in doubt until an official decides. Take another instrument, and leave this one as it is, its "
        f"airflow too. From {day(on)} on it is closed until an official has it calibrated, on that day or later, and "
        "records that here. The miss stays in its history."
    )
