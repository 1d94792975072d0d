"""Many sheets evaluated at once, block by block, with the figures and the verdicts that `evaluation` gives each.

Only the verdict that needs no second look is found here: conforming, every cylinder measured, every one far enough on
the right side, nothing suspected. Everything else goes through `evaluate`, so both ways always come to one verdict.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, fields

import numpy as np

from app.metrology.bulk.budgets import SOURCES, budgets_of
from app.metrology.bulk.columns import Flags, Floats, Sheets, columns_of
from app.metrology.bulk.spreads import tails
from app.metrology.bulk.suspecting import perhaps_suspected
from app.metrology.conformity import CONFORMING
from app.metrology.evaluation import evaluate
from app.metrology.inputs import AssessmentInputs
from app.metrology.rules import ARITHMETIC_NOISE
from app.metrology.uncertainty import TRUNCATION_ALLOWANCE

BLOCK = 2048  # sheets: what is worked on at once stays in a processor's cache
CLEARLY = 1e-8  # probability beyond the confidence required, so that no rounding decides
CLOSE = 1e-9  # relative: degrees of freedom this near to a whole number may be truncated either way


@dataclass(frozen=True, slots=True)
class Found:
    """Figures of c cylinders × n sheets, in units of ratio, NaN where not measured; and the plain verdicts."""

    contributions: Floats  # shape (6, c, n), in the order of SOURCES
    value: Floats
    standard_uncertainty: Floats
    effective_dof: Floats  # Welch–Satterthwaite over all sources, as computed
    half_width: Floats  # of the rectangular part
    scale: Floats  # of the bell
    dof: Floats  # of the bell, truncated
    conformance_probability: Floats
    conforms: Flags  # shape (n,): plainly conforming; where not, `evaluate` knows


_FIGURES = tuple(one.name for one in fields(Found))[:-1]


def evaluate_columns(sheets: Sheets) -> Found:
    """All sheets; worked out in blocks, so beside the answer only one block is in memory."""
    shape = sheets.mean_indication.shape
    whole = Found(
        np.empty((len(SOURCES), *shape)),
        **{name: np.empty(shape) for name in _FIGURES[1:]},
        conforms=np.empty(len(sheets), np.bool_),
    )
    start = 0
    for found in evaluated_blocks(sheets):
        stop = start + len(found.conforms)
        for one in fields(Found):
            getattr(whole, one.name)[..., start:stop] = getattr(found, one.name)
        start = stop
    return whole


def evaluated_blocks(sheets: Sheets, block: int = BLOCK) -> Iterator[Found]:
    """The same, one block after the other, for whoever keeps no figures."""
    for start in range(0, len(sheets), block):
        yield _evaluate(sheets.block(start, start + block))


def evaluate_many(inputs: Sequence[AssessmentInputs], block: int = 2 * BLOCK) -> list[str]:
    """The verdict on each sheet, the same as `evaluate` gives. Raises MeasurementError at the first that cannot be."""
    verdicts: list[str] = []
    for start in range(0, len(inputs), block):
        part = inputs[start : start + block]
        sheets = columns_of(part)
        plain = {
            int(place)
            for place, conforms in zip(sheets.place, evaluate_columns(sheets).conforms, strict=True)
            if conforms
        }
        verdicts += [CONFORMING if place in plain else evaluate(one).outcome.verdict for place, one in enumerate(part)]
    return verdicts


def _evaluate(sheets: Sheets) -> Found:
    budgets = budgets_of(sheets)
    margin = sheets.sign * (sheets.tolerance_limit - budgets.value)
    tail = tails(budgets.half_width, budgets.scale, budgets.dof, np.abs(margin))
    probability = np.where(margin > 0.0, 1.0 - tail, tail)
    probability[np.abs(margin) < ARITHMETIC_NOISE] = 0.5
    conforms = _within(sheets, budgets.dof_computed, margin, probability)
    conforms &= ~perhaps_suspected(sheets, budgets.value, budgets.own_u)
    return Found(
        budgets.contributions,
        budgets.value,
        budgets.standard_uncertainty,
        budgets.effective_dof,
        budgets.half_width,
        budgets.scale,
        budgets.dof,
        probability,
        conforms,
    )


def _within(sheets: Sheets, dof_computed: Floats, margin: Floats, probability: Floats) -> Flags:
    """Every cylinder measured and plainly on the right side: of the limit, and where that is guarded, of its guard."""
    there = np.arange(len(margin))[:, None] < sheets.cylinders
    certain = probability >= sheets.confidence + CLEARLY
    truncated = dof_computed + TRUNCATION_ALLOWANCE
    with np.errstate(invalid="ignore"):  # infinite degrees of freedom
        certain &= ~(np.abs(truncated - np.rint(truncated)) <= CLOSE * truncated)
    right = np.where(sheets.guards_acceptance, certain, margin >= 0.0)
    enough: Flags = np.all(right | ~there, axis=0)
    return enough
