"""The simulation that stands beside a verdict: the frozen inputs drawn at random, by JCGM 101:2008.

Once per sheet: the page that shows it and the slip that keeps it have the same figures, and only the first one waits.
"""

import hashlib
import json
from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import rfc8785

if TYPE_CHECKING:
    from app.metrology.second_opinion import SecondOpinion

MOST_TRIALS = 500_000  # about a tenth of a second; a result with few degrees of freedom takes half of them
SHEETS_REMEMBERED = 256
SEEDS = 10**9  # nine digits, as long as a whole number of a record may be
_CLOSE = 1e-9


def seed_of(frozen_inputs: str) -> int:
    """From the frozen inputs alone: whoever has the record draws the same, and nobody could choose what is drawn."""
    return int.from_bytes(hashlib.sha256(frozen_inputs.encode()).digest()[:8], "big") % SEEDS


def opinion_on(frozen_inputs: str) -> dict[str, Any] | None:
    """The second opinion on these inputs (canonical JSON) as a record keeps it; None where nothing can be drawn."""
    found: dict[str, Any] | None = json.loads(_simulated(frozen_inputs))
    return found


@lru_cache(maxsize=SHEETS_REMEMBERED)
def _simulated(frozen_inputs: str) -> str:
    from app.metrology.assessment import inputs_from_data
    from app.metrology.errors import MeasurementError
    from app.metrology.evaluation import evaluate
    from app.metrology.frozen import to_data
    from app.metrology.second_opinion import second_opinion

    inputs = inputs_from_data(json.loads(frozen_inputs))
    try:
        opinion = second_opinion(inputs, evaluate(inputs), seed_of(frozen_inputs), MOST_TRIALS)
    except MeasurementError:
        return "null"  # an input so uncertain that it may be what cannot be
    return json.dumps(to_data(opinion))


def opinion_problem(record: Mapping[str, Any]) -> str:
    """What does not fit in a record's second opinion, in words; empty where all does, or where a slip has none.

    Nothing is drawn again: another build of the generator may draw otherwise, and no verdict hangs on it. That the
    seed is the sheet's own, and that clause 8 follows from the figures kept, is worked out.
    """
    from app.metrology.errors import MeasurementError
    from app.metrology.frozen import from_data
    from app.metrology.second_opinion import SecondOpinion

    if record.get("second_opinion") is None:
        return ""
    try:
        kept: SecondOpinion = from_data(SecondOpinion, record["second_opinion"], "second_opinion")
    except MeasurementError:
        return "has not the entries that it has to have"
    if kept.seed != seed_of(rfc8785.dumps(record["inputs"]).decode()):
        return "was not drawn for this sheet"
    return _comparison_problem(kept, record["result"]["decided"])


def _comparison_problem(kept: "SecondOpinion", decided: Mapping[str, Any]) -> str:
    from app.metrology.monte_carlo.adaptive import numerical_tolerance
    from app.metrology.second_opinion import SIGNIFICANT_DIGITS

    if str(kept.cylinder) != decided["cylinder"]:
        return "is of another cylinder than the one that decided"
    value, expanded = float(decided["value"]), float(decided["expanded_uncertainty"])
    d_low, d_high = abs(value - expanded - kept.symmetric_low), abs(value + expanded - kept.symmetric_high)
    tolerance = numerical_tolerance(float(decided["standard_uncertainty"]), SIGNIFICANT_DIGITS)
    if max(abs(d_low - kept.d_low), abs(d_high - kept.d_high), abs(tolerance - kept.tolerance)) > _CLOSE:
        return "is compared with another interval than the slip shows"
    if kept.validated != (kept.steady and max(d_low, d_high) <= tolerance):
        return "says otherwise of the budget than its own figures do"
    return ""
