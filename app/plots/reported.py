"""The figures of a result as page and slip print them: rounded, but never so that they contradict the verdict."""

from typing import Any

from app.metrology.rounding import percent, told
from app.plots.axis import field, number


def reported(row: Any) -> tuple[str, str]:
    """(value, expanded uncertainty) of one result of the core, held apart from the limits that it was judged by."""
    bounds = (number(field(row, "acceptance_limit")), number(field(row, "rejection_limit")))
    return told(float(field(row, "value")), float(field(row, "expanded_uncertainty")), bounds)


def likelihood(row: Any, rule: Any) -> str:
    """The conformance probability of one result, held apart from the confidence that its rule requires, if any."""
    asked = None if field(rule, "decision_rule") == "simple_acceptance" else number(field(rule, "confidence"))
    return percent(float(field(row, "conformance_probability")), asked)
