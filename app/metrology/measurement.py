"""What every measuring method gives back in numbers, and what the table of methods holds of each.

Numbers and words are kept apart: numbers are worked out for every sheet, again and again; words once, for a reader.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, NamedTuple

from app.metrology.inputs import Engine

WHOLE_ENGINE = 0  # the "cylinder" of a result that belongs to no single one

COMPRESSION_RATIO, DISPLACEMENT = "compression_ratio", "displacement"
QUANTITIES: dict[str, tuple[str, str]] = {  # key: (name, unit)
    COMPRESSION_RATIO: ("static compression ratio", "1"),
    DISPLACEMENT: ("displacement", "cm³"),
}


class Source(NamedTuple):
    """One source of uncertainty, as all results of one measurement have it in common."""

    name: str
    label: str
    unit: str  # of the input quantity; "1" for a ratio
    distribution: str  # normal | t | rectangular | triangular | u-shaped
    shared: bool  # the same error for all cylinders of the engine


class Measured(NamedTuple):
    """One result in numbers; the four tuples run parallel to the sources of its measurement."""

    cylinder: int  # 0 is the engine as a whole
    value: float  # in the unit of the method's quantity
    u: tuple[float, ...]  # standard uncertainty of the input, in the source's unit
    sensitivity: tuple[float, ...]  # signed, quantity's unit per source's unit
    dof: tuple[float, ...]  # infinite where u is not itself an estimate from few values
    dof_in_common: tuple[float, ...]  # those of them that the cylinders' estimates draw from one history
    mean_indication: float | None = None  # of an instrument that shows the ratio itself


class Measurement(NamedTuple):
    """All results of one sheet by one method."""

    sources: tuple[Source, ...]
    results: tuple[Measured, ...]


@dataclass(frozen=True, slots=True)
class Method:
    """A measuring method. `observations` is the frozen dataclass of what is observed; the functions all take
    (engine, observations, …) and raise MeasurementError(field, sentence) where something cannot be."""

    key: str
    label: str
    quantity: str  # a key of QUANTITIES
    observations: type
    check: Callable[[Engine, Any], None]
    measure: Callable[[Engine, Any], Measurement]
    source_words: Callable[[Engine, Any, Measured], tuple[str, ...]]  # where each source's figure comes from, in order
    corrections: Callable[[Engine, Any, Measured], tuple[str, ...]]  # what was corrected, in sentences
    chamber_closed: bool = False  # measured closed, by ear: a leak lowers the figure unseen, so low ones are suspected
