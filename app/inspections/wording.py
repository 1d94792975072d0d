"""The trade's own words for why a reading is set aside or a cylinder not measured, as the forms offer them.

They are suggestions: whoever knows better writes it, and what was written is what sheet and slip say.
"""

from decimal import Decimal

from app.inspections.assembly import ASSUMED_ROD_RATIO
from app.metrology.inputs import CHECKS

SET_ASIDE = (
    "Leak at the fitting",
    "Obstruction in the tube or the plug hole",
    "Noise nearby",
    "Unsteady airflow",
    "Hose came off after too high a pressure",
    "Did not settle",
    "Adapter not seated",
    "Adapter refitted and measured again",
    "Typing error",
)
NOT_MEASURED = (
    "Cannot be measured through its plug tube",
    "Plug seized",
    "Chamber not reachable through the plug hole",
    "Thread of the plug hole damaged",
    "Adapter does not fit this plug hole",
    "A valve stays open, so the chamber does not close",
    "Engine could not be turned",
    "Competitor did not allow it",
)


def set_aside_words(count: int) -> str:
    """The heading over the readings that are kept and not used; empty where there is none."""
    if not count:
        return ""
    return "1 reading set aside" if count == 1 else f"{count} readings set aside"


def check_words(kind: str) -> str:
    """What was done, to begin a sentence; a kind that a later version knows is shown as it stands."""
    said = CHECKS.get(kind, kind.replace("_", " "))
    return said[:1].upper() + said[1:]


def crank_words(step_degrees: Decimal, rod_ratio: Decimal | None) -> str:
    """How the crank was turned while the peak was sought."""
    if not step_degrees:
        return "turned smoothly through top dead centre"
    known = f"{ASSUMED_ROD_RATIO:g}, assumed" if rod_ratio is None else f"{rod_ratio.normalize():f}"
    return f"turned in steps of {step_degrees.normalize():f}°, rod ratio {known}"
