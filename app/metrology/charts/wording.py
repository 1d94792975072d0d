"""An instrument's chart in whole sentences. Days are told by whoever knows the calendar."""

import math
from collections.abc import Callable
from decimal import Decimal

from app.metrology.charts.drift import COMING_BACK, HAS_PASSED, STEADY, Crossing, Drift, Forecast
from app.metrology.charts.individuals import FEWEST, FIRM
from app.metrology.charts.instrument_chart import FEWEST_FOR_DRIFT, InstrumentChart, Judgement
from app.metrology.charts.run_rules import Signal
from app.metrology.rounding import as_written, at_place, uncertainty_place

DAYS_OF_RATE = 30.0  # a drift is told for so many days; for one day it is too small a figure to picture
FURTHEST_DAYS = 36525.0  # a century: no calendar is asked for days beyond it
_THOUSANDTH = Decimal("0.001")

TellDay = Callable[[float], str]


def told_by_number(day: float) -> str:
    """A day where no calendar is at hand."""
    return f"day {day:.0f}"


def sentences(chart: InstrumentChart, tell_day: TellDay = told_by_number) -> tuple[str, ...]:
    """What a steward needs to know, most general first. `tell_day` gets whole days on the scale of the points."""
    return (*about_checks(chart, tell_day), *about_drift(chart, tell_day))


def about_checks(chart: InstrumentChart, tell_day: TellDay = told_by_number) -> list[str]:
    """Of `sentences` those on the limits and on what signals."""
    said = _about_limits(chart)
    if chart.judgement is not None:
        said += _about_signals(chart, chart.judgement, tell_day)
    return said


def signal_words(signal: Signal) -> str:
    """A signal as a clause, with its side where it has one."""
    match signal.side:
        case 1:
            return f"{signal.rule.words} (upwards)"
        case -1:
            return f"{signal.rule.words} (downwards)"
        case _:
            return signal.rule.words


def _about_limits(chart: InstrumentChart) -> list[str]:
    count = len(chart.points)
    if chart.judgement is None:
        return [
            f"{_checks(count)} on this reference volume so far. Limits need {FEWEST}, so none are drawn yet: only the "
            "edges of what is accepted judge the instrument."
        ]
    judged = chart.judgement
    baseline, limits = judged.baseline, judged.baseline.individuals
    said = [
        f"The limits come from the first {baseline.count} checks: centre {at_place(limits.centre, _THOUSANDTH)}, "
        f"limits {at_place(limits.lower, _THOUSANDTH)} to {at_place(limits.upper, _THOUSANDTH)}."
    ]
    if judged.held_back:
        said.append(
            f"After check {baseline.count} a shift that lasts begins to show, so the baseline ends there. Look for its "
            "cause; once the instrument is repaired or adjusted, begin a new chart."
        )
    if baseline.provisional:
        said.append(f"These limits are provisional: they become firm with a baseline of {FIRM} checks.")
    if baseline.day_to_day_sigma_taken:
        said.append("Checks of different days differ by more than those of one day; the limits take that.")
    if baseline.least_sigma_taken:
        step = as_written(chart.resolution)
        said.append(
            "In the baseline the checks agree more closely than the display can show. A standard deviation of "
            f"{at_place(limits.sigma, uncertainty_place(limits.sigma))} is taken, the least that steps of {step} leave "
            f"open, and a check within {step} of the centre counts as on it."
        )
    return said


def _about_signals(chart: InstrumentChart, judged: Judgement, tell_day: TellDay) -> list[str]:
    if not judged.signals:
        return ["No signal: the checks vary as chance makes them vary."]
    kinds: dict[str, list[Signal]] = {}
    for signal in judged.signals:
        kinds.setdefault(signal_words(signal), []).append(signal)
    said = []
    for words, of_kind in kinds.items():
        first, last = of_kind[0].place, of_kind[-1].place
        where = f"Check {first + 1} ({tell_day(float(math.floor(chart.points[first].day)))})"
        again = f" Shown {len(of_kind)} times, last at check {last + 1}." if len(of_kind) > 1 else ""
        said.append(f"{where}: {words}.{again}")
    return said


def about_drift(chart: InstrumentChart, tell_day: TellDay = told_by_number) -> list[str]:
    """Of `sentences` those on the drift and on where it leads."""
    if chart.drift is None or chart.forecast is None:
        return [f"A drift is looked for from {FEWEST_FOR_DRIFT} days with a check on."]
    ahead = chart.forecast
    if ahead.crossing is None:
        return [_rate(chart.drift), _without_drift(chart, ahead, tell_day)]
    return [_rate(chart.drift), _with_drift(ahead, ahead.crossing, chart.drift.confidence, tell_day)]


def _rate(drift: Drift) -> str:
    width = drift.factor * drift.slope_standard_uncertainty * DAYS_OF_RATE
    rates = [DAYS_OF_RATE * rate for rate in (drift.slope, drift.lowest, drift.highest)]
    place = uncertainty_place(width) if width > 0.0 else Decimal("0.0001")
    slope, lowest, highest = (_signed(at_place(rate, place)) for rate in rates)
    interval = f"{slope} in {DAYS_OF_RATE:.0f} days, {_confidence(drift.confidence)} interval {lowest} to {highest}"
    if drift.differs_from_zero:
        return f"This instrument, or this reference volume, drifts by {interval}."
    return f"No drift that differs from zero: {interval}."


def _signed(figure: str) -> str:
    """With a sign, as a drift needs one; no minus before nothing."""
    if not figure.strip("-0."):
        return figure.lstrip("-")
    return figure.replace("-", "−") if figure.startswith("-") else f"+{figure}"


def _without_drift(chart: InstrumentChart, ahead: Forecast, tell_day: TellDay) -> str:
    edges = f"{as_written(chart.lowest_accepted)} to {as_written(chart.highest_accepted)}"
    if ahead.standing != STEADY:
        return (
            f"The line through the checks stands at {at_place(ahead.level, _THOUSANDTH)}, outside what is accepted, "
            f"{edges}."
        )
    if ahead.not_before is None:
        return f"The line may have reached an edge of what is accepted, {edges}, already: it is not known well enough."
    if math.isinf(ahead.not_before):
        return f"Nothing points to an edge of what is accepted, {edges}."
    return (
        f"If there is a drift after all, the line reaches an edge of what is accepted, {edges}, not before "
        f"{_moment(ahead.not_before, ahead.as_of, tell_day, math.floor)}; no latest date can be given."
    )


def _with_drift(ahead: Forecast, crossing: Crossing, confidence: float, tell_day: TellDay) -> str:
    edge, level = as_written(crossing.edge), at_place(ahead.level, _THOUSANDTH)
    day = _moment(crossing.day, ahead.as_of, tell_day, math.floor)
    earliest = _moment(crossing.earliest, ahead.as_of, tell_day, math.floor)
    latest = _moment(crossing.latest, ahead.as_of, tell_day, math.ceil)
    when = f"{edge} on {day} ({_confidence(confidence)} interval {earliest} to {latest})"
    if ahead.standing == HAS_PASSED:
        return f"The line through the checks stands at {level}, past the edge; it reached {when}."
    if ahead.standing == COMING_BACK:
        return (
            f"The line through the checks stands at {level}, outside what is accepted, and runs back; it reaches the "
            f"far edge {when}."
        )
    return f"If it goes on so, the line through the checks reaches the edge {when}."


def _confidence(confidence: float) -> str:
    return f"{100.0 * confidence:g} %"


def _moment(day: float, as_of: float, tell_day: TellDay, whole: Callable[[float], int]) -> str:
    if abs(day - as_of) > FURTHEST_DAYS:
        return "a day more than a century from now" if day > as_of else "a day more than a century ago"
    return tell_day(float(whole(day)))


def _checks(count: int) -> str:
    return "1 check" if count == 1 else f"{count} checks"
