"""How the engines of a class spread: from their signed verdicts, or as an official declares it."""

import json
import math
from collections.abc import Iterable, Mapping
from typing import Any
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.entries.models import Entry
from app.inspections.models import Inspection, Verdict
from app.metrology.risk.processes import History, from_history
from app.planning.budget import ACCURACY
from app.plots import pictured

MOST_VERDICTS = 400  # an engine is soon measured often; what a class was like years ago says little of it now


def history_of(session: Session, class_id: UUID) -> History:
    """A distribution fitted to the newest signed result of each engine of the class.

    A result that a leak or a gap keeps open is left out: its figure proves nothing. The stated accuracy is one and the
    same error for all engines measured with one instrument and adds no scatter between them, so it is not taken off.
    """
    found = session.execute(
        select(Entry.engine_id, Verdict.result)
        .join(Verdict.inspection)
        .join(Inspection.entry)
        .where(Entry.class_id == class_id)
        .order_by(Verdict.decided_at.desc())
        .limit(MOST_VERDICTS)
    )
    newest: dict[UUID, Mapping[str, Any]] = {}
    for engine_id, result in found:
        newest.setdefault(engine_id, json.loads(result))
    return _history(result for result in newest.values() if _counts(result))


def _counts(result: Mapping[str, Any]) -> bool:
    return pictured(result) != "" and result.get("quantity", "compression_ratio") == "compression_ratio"


def _history(results: Iterable[Mapping[str, Any]]) -> History:
    values, scatter = [], []
    for result in results:
        decided = result["decided"]
        values.append(float(decided["value"]))
        scatter.append(
            math.hypot(
                *(
                    float(one["sensitivity"]) * float(one["standard_uncertainty"])
                    for one in decided["budget"]["components"]
                    if one["name"] != ACCURACY
                )
            )
        )
    return from_history(values, scatter)
