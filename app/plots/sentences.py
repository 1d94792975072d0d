"""The pictures in words, for those who do not see them."""

from collections.abc import Iterable
from typing import Any

from app.plots.axis import Limits, Number, field, label_of, limits_of, number, shown

VERDICT_WORDS = {
    "conforming": "INSIDE THE LIMIT",
    "nonconforming": "PAST THE LIMIT",
    "inconclusive": "ACROSS THE LIMIT",
    "": "NO VERDICT",
}


def pictured(result: Any) -> str:
    """What the picture of a whole result shows: its verdict, or none where a leak or a gap keeps it open.

    An engine is drawn across the limit only when the interval that decides lies across it.
    """
    verdict = str(field(result, "verdict") or "")
    if verdict == "inconclusive" and field(field(result, "decided"), "verdict") != "inconclusive":
        return ""
    return verdict


def sentence(
    label: str, value: Number | None, expanded: Number | None, limits: Limits, verdict: str, decimals: int = 2
) -> str:
    """One row of a picture in words, for those who do not see it."""
    line = f"the {limits.kind} of {shown(limits.tolerance_limit, decimals)}"
    if number(value) is None:
        return f"{label}: not measured, so there is no bar against {line}."
    figures = f"{label}: {shown(value, decimals)} ± {shown(expanded or 0.0, decimals)}"
    return f"{figures} against {line}: {VERDICT_WORDS.get(verdict, 'NO VERDICT').lower()}."


def description(rows: Iterable[Any], rule: Any, decimals: int = 2) -> str:
    limits = limits_of(rule)
    opening = f"The limit is a {limits.kind} of {shown(limits.limit, decimals)}"
    if limits.tolerance_limit != limits.limit:
        opening += f", with the tolerance granted {shown(limits.tolerance_limit, decimals)}"
    told = [opening + "."]
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


def words(verdict: str) -> str:
    return VERDICT_WORDS.get(verdict, "NO VERDICT").lower()


def short_words(verdict: str) -> str:
    return words(verdict).removesuffix(" the limit")
