"""Every stored verdict worked out once more from its frozen inputs with today's core; what is stored stays as it is."""

import json
import math
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from typing import Any
from uuid import UUID

from sqlalchemy import Select, inspect, select
from sqlalchemy.orm import InstrumentedAttribute

from app.database import Database
from app.entries.models import Entry
from app.inspections.models import Inspection, Verdict
from app.metrology.assessment import MeasurementError, inputs_from_data
from app.metrology.evaluation import Evaluation, evaluate
from app.metrology.inputs import Rule
from app.metrology.rules import written_limit
from app.regulations.models import Event

BLOCK = 500  # verdicts in memory at once
# Another processor or library may differ in the last digits of a float; that is no difference to report.
RELATIVE_TOLERANCE, ABSOLUTE_TOLERANCE = 1e-9, 1e-12
VERDICT = "verdict"
_UNREADABLE = "cannot be worked out"


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing that comes out otherwise today; figures as text, with as many digits as tell them apart."""

    what: str
    old: str
    new: str


@dataclass(frozen=True, slots=True)
class Recomputed:
    """One stored verdict, and all that comes out otherwise today."""

    inspection_id: UUID
    car_number: str
    event_name: str
    core_version: str
    differences: tuple[Difference, ...]

    @property
    def verdict_differs(self) -> bool:
        return any(one.what == VERDICT for one in self.differences)


@dataclass(slots=True)
class Tally:
    """How many verdicts were looked at, by the core that made them, and what was found."""

    verdicts: Counter[str] = field(default_factory=Counter)
    other_figures: Counter[str] = field(default_factory=Counter)
    other_verdict: Counter[str] = field(default_factory=Counter)

    def add(self, one: Recomputed) -> None:
        self.verdicts[one.core_version] += 1
        self.other_verdict[one.core_version] += one.verdict_differs
        self.other_figures[one.core_version] += bool(one.differences) and not one.verdict_differs

    def lines(self, today: str) -> list[str]:
        """A sentence for each core version, the oldest first, and one for all together."""
        if not self.verdicts:
            return ["No verdict is stored yet."]
        said = [self._line(version) for version in sorted(self.verdicts, key=_by_number)]
        otherwise = self.other_verdict.total()
        ending = (
            f"Worked out again by core {today}, {otherwise} of {_counted(self.verdicts.total())} "
            f"{'is' if otherwise == 1 else 'are'} decided otherwise. What was signed stays as it is."
            if otherwise
            else f"Worked out again by core {today}, no verdict comes out otherwise "
            f"({_counted(self.verdicts.total())} looked at)."
        )
        return [*said, ending]

    def _line(self, version: str) -> str:
        alike = self.verdicts[version] - self.other_figures[version] - self.other_verdict[version]
        return (
            f"Core {version}: {_counted(self.verdicts[version])}; {alike} the same in every figure, "
            f"{self.other_figures[version]} with other figures and the same verdict, "
            f"{self.other_verdict[version]} with another verdict."
        )


def _counted(count: int) -> str:
    return "1 verdict" if count == 1 else f"{count} verdicts"


def _by_number(version: str) -> tuple[list[int], str]:
    """10.0 comes after 9.0."""
    return [int(part) for part in version.split(".") if part.isdigit()], version


def is_a_logbook(database: Database) -> bool:
    """Whether verdicts could lie there at all."""
    return inspect(database.engine).has_table(Verdict.__tablename__)


def recompute_all(database: Database, block: int = BLOCK) -> Iterator[list[Recomputed]]:
    """The verdicts on work sheets, block by block, in the order of the primary key."""
    columns = (Verdict.id, Verdict.inspection_id, Verdict.verdict, Verdict.inputs, Verdict.result, Verdict.core_version)
    asked = (
        select(*columns, Entry.car_number, Event.name)
        .join(Inspection, Verdict.inspection_id == Inspection.id)
        .join(Entry, Inspection.entry_id == Entry.id)
        .join(Event, Entry.event_id == Event.id)
    )
    yield from recomputed_blocks(database, asked, Verdict.id, block)


def recomputed_blocks(
    database: Database,
    asked: Select[UUID, UUID, str, str, str, str, str, str],
    key: InstrumentedAttribute[UUID],
    block: int,
) -> Iterator[list[Recomputed]]:
    """Never more than one block is in memory or in a transaction.

    `asked` has a row for each verdict: its id (`key`), its sheet's, verdict, inputs, result, core version, car, event.
    """
    last: UUID | None = None
    ordered = asked.order_by(key).limit(block)
    while True:
        with database.read() as session:
            rows = session.execute(ordered if last is None else ordered.where(key > last)).all()
        if not rows:
            return
        yield [
            Recomputed(inspection_id, car, event, version, differences(verdict, inputs, result))
            for _, inspection_id, verdict, inputs, result, version, car, event in rows
        ]
        last = rows[-1][0]


def differences(verdict: str, inputs: str, result: str) -> tuple[Difference, ...]:
    """What comes out otherwise from these frozen inputs (JSON) than was stored: verdict, and the result as JSON."""
    stored = json.loads(result)
    try:
        read = inputs_from_data(json.loads(inputs))
        again = evaluate(read)
    except MeasurementError as error:
        return (Difference(VERDICT, verdict, f"{_UNREADABLE}: {error.sentence}"),)
    old, new = _stored_figures(verdict, stored), _figures(read.rule, again)
    return tuple(Difference(what, *_texts(old[what], new[what])) for what in old if not _same(old[what], new[what]))


Figures = dict[str, str | float | None]


def _stored_figures(verdict: str, stored: Mapping[str, Any]) -> Figures:
    decided = stored["decided"]
    figures = {
        "value": decided["value"],
        "expanded uncertainty": decided["expanded_uncertainty"],
        "limit": stored["limit"],
        "tolerance limit": stored["tolerance_limit"],
        "acceptance limit": stored["acceptance_limit"],
        "rejection limit": stored["rejection_limit"],
    }
    return {
        VERDICT: verdict,
        "what follows": str(stored["action"]),
        "deciding cylinder": str(decided["cylinder"]),
        **{what: None if text is None else float(text) for what, text in figures.items()},
    }


def _figures(rule: Rule, again: Evaluation) -> Figures:
    decided, decision = again.decided, again.outcome.decided.decision
    return {
        VERDICT: again.outcome.verdict,
        "what follows": again.outcome.action,
        "deciding cylinder": str(decided.measured.cylinder),
        "value": decided.measured.value,
        "expanded uncertainty": decided.coverage_factor * decided.combined.standard_uncertainty,
        "limit": written_limit(rule, decision.side),
        "tolerance limit": decision.tolerance_limit,
        "acceptance limit": decision.acceptance_limit,
        "rejection limit": decision.rejection_limit,
    }


def _same(old: str | float | None, new: str | float | None) -> bool:
    if isinstance(old, float) and isinstance(new, float):
        return math.isclose(old, new, rel_tol=RELATIVE_TOLERANCE, abs_tol=ABSOLUTE_TOLERANCE)
    return old == new


def _texts(old: str | float | None, new: str | float | None) -> tuple[str, str]:
    if isinstance(old, float) and isinstance(new, float):
        for digits in range(5, 17):
            texts = f"{old:.{digits}g}", f"{new:.{digits}g}"
            if texts[0] != texts[1]:
                return texts
    return _text(old), _text(new)


def _text(figure: str | float | None) -> str:
    return f"{figure:.5g}" if isinstance(figure, float) else figure or "none"
