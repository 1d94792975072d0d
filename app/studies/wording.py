"""What the studies' pages say beside the core's sentences."""

import math
from collections.abc import Mapping, Sequence
from datetime import date

from app.intake import day

FLOW, GAUGE = "flow", "gauge"
NAMED_AT_MOST = 3
NOTHING = 1e-9  # of a ratio: noise of the arithmetic
FEW_DEGREES = 5.0  # below, first order and simulation of a budget that rests on it part company; our own trials


def letter_of(place: int) -> str:
    """A for the first in the plan, and so on: on pictures nobody has a name."""
    again = place // 26
    return chr(ord("A") + place % 26) + (str(again + 1) if again else "")


def class_words(code: str, clause: str, edition: int) -> str:
    return f"class {code}, rule {clause}, edition {edition}"


OWN_TOLERANCE = "a tolerance of its own"


def figure(value: float) -> str:
    """Three digits that count."""
    return "0" if abs(value) < NOTHING else f"{value:.{_places(value)}f}"


def beside(value: float, uncertainty: float) -> str:
    """To the last digit that its uncertainty is told to, without its sign."""
    return figure(abs(value)) if uncertainty < NOTHING else f"{abs(value):.{_places(uncertainty)}f}"


def _places(value: float) -> int:
    return max(2, 2 - math.floor(math.log10(abs(value))))


def degrees(value: float) -> str:
    return "∞" if math.isinf(value) else f"{value:.1f}".removesuffix(".0")


def missing_words(by_name: Sequence[tuple[str, Sequence[tuple[str, int]]]]) -> str:
    """By inspector: (name, what is not read yet as (part, reading)). Empty when nothing is missing."""
    told = []
    for name, missing in by_name:
        if not missing:
            continue
        first = ", ".join(f"{part} (reading {repeat})" for part, repeat in missing[:NAMED_AT_MOST])
        more = len(missing) - NAMED_AT_MOST
        told.append(f"{name}: {first}" + (f" and {more} more" if more > 0 else ""))
    return "; ".join(told)


def gauge_figures_words(figures: Mapping[str, str]) -> str:
    repeatability, reproducibility = float(figures["repeatability"]), float(figures["reproducibility"])
    return (
        f"repeatability {figure(repeatability)} ({degrees(float(figures['repeatability_dof']))} degrees of freedom), "
        f"between inspectors {figure(reproducibility)} ({degrees(float(figures['reproducibility_dof']))})"
    )


def flow_figures_words(figures: Mapping[str, str]) -> str:
    slope, uncertainty = float(figures["sensitivity"]), float(figures["standard_uncertainty"])
    signed = f"{'−' if slope < 0 else '+'}{beside(slope, uncertainty)}"
    return f"{signed} for each L/min more, standard uncertainty {figure(uncertainty)}"


def figures_words(kind: str, figures: Mapping[str, str]) -> str:
    return gauge_figures_words(figures) if kind == GAUGE else flow_figures_words(figures)


_INSTEAD = {
    GAUGE: "the scatter of the verifications since then, and no difference between inspectors",
    FLOW: "what the airflow does as without a study",
}


def passed_over_words(kind: str, repaired_on: date) -> str:
    return (
        f"It is passed over: on {day(repaired_on)}, after it was made, the instrument was repaired so that what it "
        f"shows may have changed. Budgets take {_INSTEAD[kind]}, until a new study is made and adopted."
    )


def gauge_budget_words(figures: Mapping[str, str], *, is_careful: bool) -> str:
    told = f"A budget takes {gauge_figures_words(figures)}."
    if is_careful:
        told += (
            " The spread of the inspectors’ means is taken whole, the scatter not taken off: inspectors so few or so "
            "close together do not bear that, and whole it errs to the careful side."
        )
    if float(figures["reproducibility_dof"]) < FEW_DEGREES:
        told += (
            " So few degrees of freedom make intervals wide; where inspectors are a large part of a budget, the "
            "simulation on its slip may not bear it out, and says so. The more inspectors measure, the better that "
            "becomes."
        )
    return told


def flow_title(volume: str) -> str:
    return f"Flow study on reference volume {volume}"


def not_verified_words(instrument: str, moved_on: date) -> str:
    return (
        f"The airflow of {instrument} was moved for a flow study on {day(moved_on)}, and it was not verified since. "
        "Verify it on its reference volume before anything is measured with it."
    )


SMALL, MUCH = 0.10, 0.30  # of the tolerance; where AIAG draws its lines too (MSA, 4th ed., chapter II; from memory)


def class_meaning(held_against: str, tolerance: str, share: float, low: float, high: float) -> str:
    """What the gauge leaves of a tolerance, in plain words; shares 0 to 1 and beyond, with their interval."""
    whose = "" if held_against == OWN_TOLERANCE else f" of {held_against}"
    if share < SMALL:
        means = "a small part: the tolerance is left to the engines, whoever measures."
    elif share <= MUCH:
        means = "a part that shows: close to the limit it matters who measures, and how often."
    elif share < 1.0:
        means = (
            "a large part: close to the limit one inspector can find the same engine inside and another find it past. "
            "More indications help where repeatability is the greater part, one inspector for the whole class where "
            "inspectors are."
        )
    else:
        means = (
            "all of it and more: what one inspector finds inside, another can find past the tolerance. This tolerance "
            "cannot be policed with this instrument as it is used now."
        )
    told = f"Of the ±{tolerance}{whose} the measurement itself takes {percent(share)}, {means}"
    if _mark(low) != _mark(high):
        told += f" How much is not well known yet: {percent(low)} to {percent(high)} at 95 %."
    return told


def _mark(share: float) -> int:
    return sum(share > mark for mark in (SMALL, MUCH, 1.0))


def percent(share: float) -> str:
    return f"{100 * share:.1f} %" if share < SMALL else f"{100 * share:.0f} %"


COMPONENTS = (
    ("repeatability", "Repeatability", "one inspector, one part, again and again"),
    ("inspector", "Inspectors", "what distinguishes them on all parts"),
    ("interaction", "Inspectors with parts", "what they differ by on some parts only"),
    ("reproducibility", "Reproducibility", "inspectors and inspectors with parts together"),
    ("gauge", "Repeatability and reproducibility", "the whole of the gauge, GRR"),
    ("part", "Parts", "what the parts differ by"),
    ("total", "Total", "all of the study’s spread"),
)
POOLED = "does not show; taken as repeatability"

# picture, what it is about, what to do: engines as parts, and air at the bench
ENGINE_CAUTIONS = (
    (
        "vapour-air",
        "Fuel vapour and compressed air can burn together.",
        "No spark, lamp, phone or this tablet at the open hole; take volumes and other closed parts where you can.",
    ),
    ("ignition-off", "Ignition off and its plug pulled.", "The engine must not be able to fire or to be started."),
    ("hot", "Hot parts.", "Wear gloves; all parts at one temperature, which is also what the figures need."),
    ("turned-by-hand", "Engine turned by hand only.", "Car held, out of gear, hands and tools clear of belts and fan."),
    ("eye-protection", "Eye protection on before the air goes on.", "For everyone near, at each of the many readings."),
)
FLOW_CAUTIONS = (
    (
        "eye-protection",
        "Eye protection on before the air goes on.",
        "For everyone at the bench. Turn the air up slowly, never towards a person; vent it before the hose comes off.",
    ),
    (
        "vapour-air",
        "Fuel vapour and compressed air can burn together.",
        "Make the study away from fuel, open engines and sparks.",
    ),
)
