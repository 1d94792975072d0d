"""The pictures in words, for those who do not see them."""

from collections.abc import Iterable
from typing import Any

from app.metrology.rules import SIDES
from app.plots.axis import Limits, Number, both_sides, field, label_of, limits_of, number, shown

# A guarded rule passes a value past the limit, or fails one inside it, where the other side is not certain enough.
# Then neither "inside" nor "past" would be true of what was measured.
UNPROVEN_PAST, UNPROVEN_INSIDE = "unproven_past", "unproven_inside"
VERDICT_WORDS = {
    "conforming": "INSIDE THE LIMIT",
    "nonconforming": "PAST THE LIMIT",
    "inconclusive": "ACROSS THE LIMIT",
    UNPROVEN_PAST: "NOT PROVEN PAST",
    UNPROVEN_INSIDE: "NOT PROVEN INSIDE",
    "": "NO VERDICT",
}
_ON_THE_LINE = 1e-9


def pictured(result: Any) -> str:
    """What the picture of a whole result shows: its verdict, or none where a leak or a gap keeps it open.

    An engine is drawn across the limit only when the interval that decides lies across it.
    """
    verdict, decided = str(field(result, "verdict") or ""), field(result, "decided")
    if verdict == "inconclusive" and field(decided, "verdict") != "inconclusive":
        return ""
    line = number(field(result, "tolerance_limit"))
    return verdict if decided is None or line is None else _pictured(verdict, decided, line)


def pictured_row(row: Any, rule: Any) -> str:
    """What the picture of one cylinder shows: its verdict, said so that it is true of the value too."""
    return _pictured(str(field(row, "verdict") or ""), row, limits_of(rule, row).tolerance_limit)


def _pictured(verdict: str, row: Any, line: float) -> str:
    value = number(field(row, "value"))
    accept, reject = number(field(row, "acceptance_limit")), number(field(row, "rejection_limit"))
    if value is None:
        return verdict
    beyond = value - line
    if abs(beyond) <= _ON_THE_LINE:
        beyond = 0.0
    only_rejects, only_accepts = accept is None and reject is not None, accept is not None and reject is None
    if verdict == "conforming" and only_rejects and beyond * ((reject or 0.0) - line) > 0:
        return UNPROVEN_PAST
    if verdict == "nonconforming" and only_accepts and accept != line and beyond * ((accept or 0.0) - line) >= 0:
        return UNPROVEN_INSIDE
    return verdict


def sentence(
    label: str, value: Number | None, expanded: Number | None, limits: Limits, verdict: str, decimals: int = 2
) -> str:
    """One row of a picture in words, for those who do not see it."""
    line = f"the {limits.kind} of {shown(limits.tolerance_limit, decimals)}"
    if number(value) is None:
        return f"{label}: not measured, so there is no bar against {line}."
    figures = f"{label}: {shown(value, decimals)} ± {shown(expanded or 0.0, decimals)}"
    row = {"value": value, "acceptance_limit": limits.acceptance, "rejection_limit": limits.rejection}
    return f"{figures} against {line}: {words(_pictured(verdict, row, limits.tolerance_limit))}."


def description(rows: Iterable[Any], rule: Any, decimals: int = 2) -> str:
    opening = _allowed(limits_of(rule), decimals)
    told = [opening]
    for row in rows:
        told.append(
            sentence(
                label_of(row),
                field(row, "value"),
                field(row, "expanded_uncertainty", "expanded"),
                limits_of(rule, row),
                str(field(row, "verdict") or ""),
                decimals,
            )
        )
    return " ".join(told)


def _allowed(limits: Limits, decimals: int) -> str:
    """What the rule allows, with the tolerance where one is granted."""
    sides = sorted(both_sides(limits), key=lambda one: one.limit)
    word = SIDES[limits.kind].label if len(sides) == 1 else "between"
    said = f"The rule allows {word} {' and '.join(shown(one.limit, decimals) for one in sides)}"
    if limits.tolerance_limit != limits.limit:
        said += f", with the tolerance granted {' and '.join(shown(one.tolerance_limit, decimals) for one in sides)}"
    return f"{said}."


def words(verdict: str) -> str:
    return VERDICT_WORDS.get(verdict, "NO VERDICT").lower()


def short_words(verdict: str) -> str:
    return words(verdict).removesuffix(" the limit")
