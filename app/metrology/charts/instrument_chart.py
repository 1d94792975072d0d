"""An instrument on one reference volume as a steward looks at it: limits, signals, drift, and when it leaves its edges.

The points are those since the instrument was last calibrated, adjusted or repaired: whoever knows of such a day starts
a new chart there. Figures alone; `wording` says them.

Rules, steps, average and scatter together signal about once in 50 checks without any cause, where the limits are well
known and every check is of another day; checks of one day are alike and signal more often. A signal asks people to
look, and closes nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from app.metrology.charts.check_standard import CheckPoint, CheckStandard, check_points, check_standard
from app.metrology.charts.days import FEWEST_DAYS, day_means, day_to_day_sigma
from app.metrology.charts.drift import Drift, Forecast, drift_of, forecast
from app.metrology.charts.ewma import EwmaChart, ewma
from app.metrology.charts.individuals import FEWEST, FIRM, IndividualsChart, baseline_limits, moving_ranges
from app.metrology.charts.limits import all_finite
from app.metrology.charts.run_rules import WESTERN_ELECTRIC, Rule, RunRule, Signal, signals
from app.metrology.distributions import standard_uncertainty_resolution
from app.metrology.errors import MeasurementError
from app.metrology.rules import ARITHMETIC_NOISE

FEWEST_FOR_DRIFT = FEWEST_DAYS  # the checks of one day are one point of the line
SCATTER_PROBABILITY = 0.9973  # as seldom beyond as three standard deviations; the e-Handbook's 95 % is one in twenty

FAR_JUMP = Rule(
    "far_jump",
    "the step from one check to the next is greater than the baseline explains",
    "ISO 7870-2, moving range, D₄ (from memory); NIST/SEMATECH e-Handbook, 6.3.2.2",
)
SLOW_SHIFT = Rule(
    "slow_shift",
    "the weighted average of the checks has moved away from the centre: a small shift that lasts",
    "NIST/SEMATECH e-Handbook, 6.3.2.4",
)
WIDE_SCATTER = Rule(
    "wide_scatter",
    "the repeats of this check scatter more than those of the baseline",
    "NIST/SEMATECH e-Handbook, 2.2.3.1, F test",
)


@dataclass(frozen=True, slots=True)
class Judgement:
    """What the baseline sets, and what all points show against it; unit of ratio."""

    baseline: IndividualsChart
    average: EwmaChart
    standard: CheckStandard
    scatter_limits: tuple[float | None, ...]  # at every point; None where nothing was repeated
    signals: tuple[Signal, ...]  # by place; those of the baseline's own points among them
    held_back: bool  # the baseline ends where it does because a shift that lasts begins to show after it


@dataclass(frozen=True, slots=True)
class InstrumentChart:
    """All of it. `judgement` is None with too few points for limits, drift and forecast with too few days."""

    points: tuple[CheckPoint, ...]
    lowest_accepted: float
    highest_accepted: float
    resolution: float
    moving_ranges: tuple[float, ...]  # between neighbours, so one fewer than points
    judgement: Judgement | None
    drift: Drift | None
    forecast: Forecast | None


def chart_of(
    points: Sequence[CheckPoint],
    lowest_accepted: float,
    highest_accepted: float,
    baseline: int | None = None,
    *,
    resolution: float,
    as_of: float | None = None,
    rules: Sequence[RunRule] = WESTERN_ELECTRIC,
) -> InstrumentChart:
    """The chart of points in the order of time, with the edges between which a check is accepted; unit of ratio.

    The baseline are the first `baseline` points, eight at least. Unless given it begins with eight and grows to twenty,
    but ends before a shift that lasts shows against the limits set until then: a drift is not to widen the limits that
    are to show it. σ comes from neighbouring checks, or from neighbouring days where their means show more. It is at
    least what the display leaves open, resolution/√12; where that is taken, a mean within one step of the centre counts
    as on it. The drift is that of the days' means, from three days on.
    `as_of` is the day from which the forecast looks, the last point's unless given. Raises MeasurementError.
    """
    check_points(points)
    all_finite([lowest_accepted, highest_accepted], "edges")
    if not 0.0 < resolution < 1.0:
        raise MeasurementError(
            "resolution", f"The display's last step is given as {resolution:g}; it is a part of a ratio, as 0.01."
        )
    _check_baseline(baseline, len(points))
    means = [point.mean for point in points]
    least_sigma = standard_uncertainty_resolution(resolution)
    drift, ahead = None, None
    days = day_means(points)
    if len(days) >= FEWEST_FOR_DRIFT:
        drift = drift_of([day.moment for day in days], [day.mean for day in days], least_scatter=least_sigma)
        ahead = forecast(drift, lowest_accepted, highest_accepted, points[-1].day if as_of is None else as_of)
    return InstrumentChart(
        points=tuple(points),
        lowest_accepted=lowest_accepted,
        highest_accepted=highest_accepted,
        resolution=resolution,
        moving_ranges=moving_ranges(means),
        judgement=_judged(points, baseline, resolution, rules) if len(points) >= FEWEST else None,
        drift=drift,
        forecast=ahead,
    )


def _check_baseline(baseline: int | None, count: int) -> None:
    if baseline is None:
        return
    if baseline < FEWEST:
        raise MeasurementError(
            "baseline", f"A baseline of {baseline} checks sets no limits; it needs {FEWEST} at least, better {FIRM}."
        )
    if baseline > count:
        raise MeasurementError(
            "baseline", f"The baseline is to be {baseline} checks, and there are {count}. Take fewer, or measure more."
        )


def _judged(
    points: Sequence[CheckPoint], baseline: int | None, resolution: float, rules: Sequence[RunRule]
) -> Judgement:
    if baseline is not None:
        return _against(points, baseline, resolution, rules, held_back=False)
    size = FEWEST
    while size < min(FIRM, len(points)):
        until_next = _against(points[: size + 1], size, resolution, rules, held_back=False)
        far_out = until_next.baseline.individuals.side(points[size].mean) != 0
        begun = [signal.places[0] for signal in until_next.signals if signal.place == size and _lasts(signal, far_out)]
        if begun:
            return _against(points, max(FEWEST, min(begun)), resolution, rules, held_back=True)
        size += 1
    return _against(points, size, resolution, rules, held_back=False)


def _lasts(signal: Signal, far_out: bool) -> bool:
    """Whether it takes more than the newest point, which is `far_out` where it alone may have moved the average.

    Eight values know σ to a third only: among them and soon after a single one seems far out easily.
    """
    if signal.rule is SLOW_SHIFT:
        return not far_out
    return signal.side != 0 and isinstance(signal.rule, RunRule) and signal.rule.least > 1


def _against(
    points: Sequence[CheckPoint], size: int, resolution: float, rules: Sequence[RunRule], *, held_back: bool
) -> Judgement:
    """All points against the limits of the first `size`."""
    least_sigma = standard_uncertainty_resolution(resolution)
    baseline = points[:size]
    limits = baseline_limits([point.mean for point in baseline], least_sigma, day_to_day_sigma(baseline))
    centre, sigma = limits.individuals.centre, limits.individuals.sigma
    # The display steps from one figure to the next at an unknown place within a step: a mean that is one step off the
    # centre may stand for next to no change, and lies 3.5 of the least σ away.
    level = resolution + ARITHMETIC_NOISE if limits.least_sigma_taken else 0.0
    means = [centre if abs(point.mean - centre) <= level else point.mean for point in points]
    average = ewma(means, centre, sigma)
    standard = check_standard(baseline)
    scatter_limits = tuple(standard.scatter_limit(point.count, SCATTER_PROBABILITY, least_sigma) for point in points)
    found = signals(means, centre, sigma, rules)
    found += [
        Signal(place + 1, FAR_JUMP, 1 if means[place + 1] > means[place] else -1, (place, place + 1))
        for place in limits.moving_range.beyond(moving_ranges(means))
    ]
    found += [Signal(place, SLOW_SHIFT, side, (place,)) for place, side in enumerate(average.sides) if side]
    found += [
        Signal(place, WIDE_SCATTER, 0, (place,))
        for place, (point, limit) in enumerate(zip(points, scatter_limits, strict=True))
        if limit is not None and point.scatter > limit + ARITHMETIC_NOISE
    ]
    found.sort(key=lambda signal: signal.place)
    return Judgement(limits, average, standard, scatter_limits, tuple(found), held_back)
