"""The signed result in the figures that both sides read: what was frozen at sign-off, never worked out again.

Strings of digits stay as they were frozen; the `_text` fields are the same figures rounded as they are reported.
"""

from collections.abc import Mapping
from decimal import ROUND_HALF_EVEN, Decimal

from app.inspections.models import Inspection, Verdict
from app.inspections.schemas import InspectionView
from app.intake import View
from app.metrology.frozen import Data
from app.metrology.rounding import as_written, percent
from app.metrology.rules import INCONCLUSIVE_ACTIONS
from app.plots import likelihood, pictured, pictured_row, reported
from app.regulations.models import Rule

_DISTRIBUTIONS = {"t": "Student’s t"}
_MEAN = 0  # the frozen result's "cylinder" of a mean


class ResultRow(View):
    """One cylinder, or the mean of all; empty figures where it was not measured."""

    cylinder: int
    label: str
    indications: list[str]
    not_measured_reason: str
    value: str
    expanded_uncertainty: str
    value_text: str
    uncertainty_text: str
    conformance_text: str
    acceptance_limit: str | None
    rejection_limit: str | None
    verdict: str
    side: str  # maximum | minimum: the side of the rule that decided on it
    picture: str  # the verdict as it is drawn, so that its words are true of the value too
    is_deciding: bool


class BudgetLine(View):
    """One source of uncertainty of the deciding result."""

    label: str
    source: str
    distribution: str
    standard_uncertainty: str
    unit: str
    sensitivity: str
    contribution: str
    degrees_of_freedom: str
    percent_of_variance: str


class SuspicionView(View):
    cylinder: int
    seen: str
    look_for: str
    do: str
    settled_by: str  # empty while open, and where an early core knew of no check that settles it


class SignedResultView(View):
    """What the verdict says, the figure that decided it, every cylinder beside it, and the budget of that figure."""

    verdict: str
    picture: str  # the verdict as it is drawn: empty where a leak or a gap keeps it open
    action_words: str  # what follows an inconclusive verdict; empty otherwise
    reason: str
    kind: str
    side: str  # maximum | minimum: the side of the rule that decided
    limit: str
    tolerance: str
    tolerance_limit: str
    limit_text: str
    deciding: str
    value: str
    expanded_uncertainty: str
    value_text: str
    uncertainty_text: str
    decimals: int
    coverage_factor_text: str
    coverage_text: str
    degrees_of_freedom_text: str
    conformance_text: str
    engine_conformance_text: str  # of every judged result; empty where an early core did not know it
    acceptance_text: str
    rejection_text: str
    rejection_factor_text: str  # of the greatest of all judged errors; empty likewise, or without a rejection limit
    rows: list[ResultRow]
    budget: list[BudgetLine]
    suspicions: list[SuspicionView]
    corrections: list[str]
    core_version: str


def signed_result(inspection: Inspection, verdict: Verdict, sheet: InspectionView) -> SignedResultView:
    """`sheet` is the same inspection as its view, whose `assessment` is the frozen result once signed."""
    result: Mapping[str, Data] = sheet.assessment or {}
    decided = result["decided"]
    value_text, uncertainty_text = reported(decided)
    rule = inspection.rule
    place = len(uncertainty_text.partition(".")[2])
    return SignedResultView(
        verdict=verdict.verdict,
        picture=pictured(result),
        action_words=INCONCLUSIVE_ACTIONS.get(result["action"], result["action"].replace("_", " ")),
        reason=result["reason"],
        kind=rule.kind,
        side=result.get("side") or rule.kind,
        limit=result["limit"],
        tolerance=format(rule.tolerance, "f"),
        tolerance_limit=result["tolerance_limit"],
        limit_text=limit_in_words(result, rule),
        deciding=_label(int(decided["cylinder"])),
        value=decided["value"],
        expanded_uncertainty=decided["expanded_uncertainty"],
        value_text=value_text,
        uncertainty_text=uncertainty_text,
        decimals=place,
        coverage_factor_text=f"{float(decided['coverage_factor']):.2f}",
        coverage_text=f"{100 * float(decided['coverage_probability']):g}\u00a0%",
        degrees_of_freedom_text=_degrees(decided["degrees_of_freedom_used"]),
        conformance_text=_likelihood(decided, rule),
        engine_conformance_text=_engine_likelihood(result),
        acceptance_text=_at(decided["acceptance_limit"], place + 1),
        rejection_text=_at(decided["rejection_limit"], place + 1),
        rejection_factor_text=_at(result.get("rejection_factor") if decided["rejection_limit"] else None, 2),
        rows=_rows(result, rule, sheet),
        budget=[_budget_line(part) for part in decided["budget"]["components"]],
        suspicions=[
            SuspicionView(
                cylinder=int(one["cylinder"]),
                seen=one["seen"],
                look_for=one["look_for"],
                do=one["do"],
                settled_by=one.get("settled_by", ""),
            )
            for one in result["suspicions"]
        ],
        corrections=list(result["corrections"]),
        core_version=result["core_version"],
    )


def reported_figures(result: Mapping[str, Data]) -> tuple[str, str]:
    """(value, expanded uncertainty) of the deciding result as they stand on the slip."""
    return reported(result["decided"])


def limit_in_words(result: Mapping[str, Data], rule: Rule) -> str:
    limit, with_tolerance = float(result["limit"]), float(result["tolerance_limit"])
    named = f"limit {as_written(limit)}"
    if with_tolerance != limit:
        named += f", with its tolerance {as_written(with_tolerance)}"
    return f"{named} (rule {rule.clause}, edition {rule.edition.number})"


def _rows(result: Mapping[str, Data], rule: Rule, sheet: InspectionView) -> list[ResultRow]:
    decided = int(result["decided"]["cylinder"])
    measured = {int(figures["cylinder"]): figures for figures in result["results"]}
    rows = []
    for row in sheet.rows:
        figures = measured.get(row.cylinder)
        reason = row.reading.not_measured_reason if row.reading else ""
        if figures is None:
            rows.append(_unmeasured_row(row.cylinder, reason))
        else:
            rows.append(_measured_row(figures, rule, row.cylinder == decided))
    if decided == _MEAN:
        rows.append(_measured_row(result["decided"], rule, True))
    return rows


def _measured_row(figures: Mapping[str, Data], rule: Rule, is_deciding: bool) -> ResultRow:
    value_text, uncertainty_text = reported(figures)
    cylinder = int(figures["cylinder"])
    return ResultRow(
        cylinder=cylinder,
        label=_label(cylinder),
        indications=list(figures["indications"]),
        not_measured_reason="",
        value=figures["value"],
        expanded_uncertainty=figures["expanded_uncertainty"],
        value_text=value_text,
        uncertainty_text=uncertainty_text,
        conformance_text=_likelihood(figures, rule) if figures["verdict"] else "",
        acceptance_limit=figures["acceptance_limit"],
        rejection_limit=figures["rejection_limit"],
        verdict=figures["verdict"],
        side=figures.get("side") or rule.kind,
        picture=pictured_row(figures, rule),
        is_deciding=is_deciding,
    )


def _unmeasured_row(cylinder: int, reason: str) -> ResultRow:
    return ResultRow(
        cylinder=cylinder,
        label=_label(cylinder),
        indications=[],
        not_measured_reason=reason,
        value="",
        expanded_uncertainty="",
        value_text="",
        uncertainty_text="",
        conformance_text="",
        acceptance_limit=None,
        rejection_limit=None,
        verdict="",
        side="maximum",
        picture="",
        is_deciding=False,
    )


def _label(cylinder: int) -> str:
    return "Mean of cylinders" if cylinder == _MEAN else f"Cylinder {cylinder}"


def _budget_line(part: Mapping[str, Data]) -> BudgetLine:
    contribution = abs(float(part["sensitivity"])) * float(part["standard_uncertainty"])
    return BudgetLine(
        label=part["label"][:1].upper() + part["label"][1:],
        source=part["source"],
        distribution=_DISTRIBUTIONS.get(str(part["distribution"]), str(part["distribution"])),
        standard_uncertainty=_significant(part["standard_uncertainty"]),
        unit="" if part["unit"] == "1" else part["unit"],
        sensitivity=_significant(part["sensitivity"]),
        contribution=_significant(part.get("contribution", repr(contribution))),
        degrees_of_freedom=_degrees(part["degrees_of_freedom"]),
        percent_of_variance=f"{float(part['percent_of_variance']):.1f}",
    )


def _likelihood(figures: Mapping[str, Data], rule: Rule) -> str:
    return likelihood(figures, rule).replace(" %", "\u00a0%")


def _engine_likelihood(result: Mapping[str, Data]) -> str:
    kept = result.get("engine_conformance_probability")
    return "" if kept is None else percent(float(kept)).replace(" %", "\u00a0%")


def _significant(text: str, digits: int = 2) -> str:
    """Two telling digits, never an exponent."""
    number = Decimal(text)
    if not number:
        return "0"
    place = Decimal(1).scaleb(number.adjusted() - digits + 1)
    return f"{number.quantize(min(place, Decimal(1)), ROUND_HALF_EVEN):f}".replace("-", "−")


def _degrees(text: str) -> str:
    number = float(text)
    return "unlimited" if number > 999 else f"{number:.0f}"


def _at(text: str | None, decimals: int) -> str:
    return "" if text is None else f"{float(text):.{decimals}f}"
