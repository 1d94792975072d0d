"""What the studies found, in sentences. Figures are rounded so that they never say otherwise than the words."""

from decimal import Decimal

from app.metrology.rounding import at_place, telling_place, told, uncertainty_place
from app.metrology.studies.crossed import POOLING_PROBABILITY, Component, GaugeStudy
from app.metrology.studies.design import Plan, reach
from app.metrology.studies.flow import SIGNIFICANCE, FlowStudy
from app.metrology.studies.inspectors import InspectorComparison, InspectorDifference
from app.metrology.studies.mean_squares import Interval
from app.metrology.studies.range_method import RangeStudy
from app.metrology.studies.shares import STUDY_SPREAD, ToleranceSpan

# How AIAG reads %GRR and ndc: Measurement Systems Analysis, 4th ed., chapter II (10 %, 30 %) and III (5). From memory.
LOWER_MARK, UPPER_MARK = 0.10, 0.30
FEWEST_CATEGORIES = 5
_TENTH, _THOUSANDTH = Decimal("0.1"), Decimal("0.001")
_FEW = 2.0  # a standard deviation that may be over twice what is found is told as poorly known


def plan_words(plan: Plan) -> tuple[str, ...]:
    """What a study of this size can tell, before anyone measures."""
    far = reach(plan)
    sentences = [
        f"{len(plan.parts)} parts, {len(plan.inspectors)} inspectors and {plan.repeats} repeats make {plan.readings} "
        f"readings. At 95 % the repeatability may be up to {far.repeatability:.1f} times what the study finds, the "
        f"spread between inspectors up to {far.reproducibility:.1f} times, that between parts up to {far.parts:.1f} "
        "times."
    ]
    if far.reproducibility > _FEW:
        sentences.append("More inspectors would tell more of what lies between them; more parts or repeats would not.")
    if far.repeatability > _FEW:
        sentences.append("More parts or repeats would tell more of the repeatability.")
    return tuple(sentences)


def gauge_words(study: GaugeStudy, unit: str = "", tolerance: ToleranceSpan | None = None) -> tuple[str, ...]:
    """The gauge study, a sentence or two for each thing found; `unit` is that of the readings, "" for a ratio."""
    found = [_repeatability(study, unit), _interaction(study, unit), _reproducibility(study, unit)]
    found.append(_gauge(study, unit))
    if tolerance is not None:
        found.append(_of_tolerance(study, tolerance, unit))
    found.append(_categories(study.distinct_categories))
    set_to_zero = [
        name
        for name, component in (
            ("between inspectors", study.inspector),
            ("of inspectors with parts", study.interaction),
            ("between parts", study.part),
        )
        if component is not None and component.below_zero
    ]
    if set_to_zero:
        found.append(
            f"The variance {' and the one '.join(set_to_zero)} was estimated below 0, which no variance is, and is set "
            "to 0: the scatter alone explains what was seen."
        )
    return tuple(found)


def range_words(study: RangeStudy, unit: str = "") -> tuple[str, ...]:
    """The average-and-range method, as a second opinion on the same readings."""
    zero = (
        " The inspectors' means lie closer together than the scatter alone explains, so AV is set to 0."
        if study.below_zero
        else ""
    )
    ev, av, grr = (
        f"{_two_digits(deviation)}{_with(unit)}"
        for deviation in (study.repeatability, study.reproducibility, study.gauge)
    )
    return (
        f"By averages and ranges: repeatability EV {ev}, reproducibility AV {av}, both together GRR {grr}, which is "
        f"{_share(study.share_of_total(study.gauge))} of the whole spread.{zero}",
        _categories(study.distinct_categories),
    )


def flow_words(study: FlowStudy) -> tuple[str, ...]:
    """The flow study: the sensitivity, whether a straight line does, and where it holds."""
    slope, expanded = _slope(study)
    turn = "falls" if study.sensitivity < 0.0 else "rises"
    where = f"From {study.lowest_l_min:g} to {study.highest_l_min:g} L/min"
    whence = f"{study.indications} indications at {study.airflows} airflows"
    found = [
        f"{where} the indication {turn} by {slope} for each L/min more, with an expanded uncertainty of {expanded} "
        f"(95 %; {whence})."
    ]
    if not study.shows_an_effect:
        found.append("That is no effect of the airflow which the scatter would not explain; it is used as found.")
    found.append(_shape_words(study))
    found.append(
        f"It holds for airflows in this range about the set-point {study.set_point_l_min:g} L/min, and for this "
        "instrument."
    )
    return tuple(found)


def inspector_words(comparison: InspectorComparison, unit: str = "") -> tuple[str, ...]:
    """Whether inspectors differ; then each of them, in the order given."""
    standing_out = [one for one in comparison.inspectors if not one.explained_by_scatter]
    p = f"{_probability(comparison.test.probability, 1.0 - comparison.confidence)}"
    if comparison.differ:
        verdict = f"The inspectors' means differ by more than the scatter of their runs explains ({p})."
        if not standing_out:
            verdict += " No one of them alone lies farther from the whole than the scatter explains."
    elif standing_out:
        verdict = (
            f"Taken together, the inspectors show no difference that the scatter of their runs does not explain ({p}), "
            "though one of them at least lies farther from the whole than its interval allows. More runs would settle "
            "it."
        )
    else:
        verdict = f"There is no difference between inspectors that the scatter of their runs does not explain ({p})."
    spread = (
        f"Standard deviation between inspectors: "
        f"{_with_interval(comparison.between, comparison.between_interval, unit, comparison.confidence)}; of one run "
        f"about its inspector's mean: {_two_digits(comparison.within)}{_with(unit)}."
    )
    limits = (
        "It does not say who is right: only the mark of the reference volume can. What changed between their days, a "
        "drift or a repair, would look the same."
    )
    return verdict, spread, limits, *(_one_inspector(one, unit) for one in comparison.inspectors)


def _one_inspector(one: InspectorDifference, unit: str) -> str:
    runs = "1 run" if one.runs == 1 else f"{one.runs} runs"
    half = (one.interval.high - one.interval.low) / 2.0
    if half == 0.0:
        away = f"{one.difference:+g}" if one.difference else "0"
        return f"{one.inspector}, {runs}: {away}{_with(unit)} from the whole; the runs show no scatter."
    away, allowed = told(one.difference, half, (half, -half, 0.0))
    sign = "+" if one.difference > 0.0 else ""
    explained = "explained by" if one.explained_by_scatter else "more than is explained by"
    return f"{one.inspector}, {runs}: {sign}{away} ± {allowed}{_with(unit)} from the whole, {explained} the scatter."


def _repeatability(study: GaugeStudy, unit: str) -> str:
    found = study.repeatability
    if found.standard_deviation == 0.0:
        return (
            "All repeats agree to the last digit: the step of the display hides the repeatability. Take the resolution "
            "into the budget in its place."
        )
    return (
        f"Repeatability, of one inspector on one part: standard deviation {_told(study, found, unit)}, "
        f"{_degrees(found)}."
    )


def _interaction(study: GaugeStudy, unit: str) -> str:
    test = study.table.interaction.test
    p = f"{_probability(test.probability, POOLING_PROBABILITY)}"
    shows = test.probability <= POOLING_PROBABILITY
    if study.interaction is None:
        if shows:
            return f"That inspectors differ more on some parts than on others ({p}) was chosen to be taken as scatter."
        return f"That inspectors would differ more on some parts than on others does not show ({p}): taken as scatter."
    kept = f"standard deviation {_told(study, study.interaction, unit)}; it counts as reproducibility."
    if shows:
        return f"Inspectors may differ more on some parts than on others ({p}): {kept}"
    return f"Inspectors with parts, kept apart as was chosen although it does not show ({p}): {kept}"


def _reproducibility(study: GaugeStudy, unit: str) -> str:
    found = study.reproducibility
    if found.standard_deviation == 0.0:
        end = study.confidence
        return (
            f"Reproducibility, of different inspectors: none shows; at {100.0 * end:g} % it is at most "
            f"{_two_digits(found.interval.high)}{_with(unit)}."
        )
    return (
        f"Reproducibility, of different inspectors: standard deviation {_told(study, found, unit)}, {_degrees(found)}."
    )


def _gauge(study: GaugeStudy, unit: str) -> str:
    found = study.gauge
    share = study.share_of_total(found)
    if share < LOWER_MARK:
        mark = f"below {LOWER_MARK:.0%}, which AIAG calls acceptable"
    elif share <= UPPER_MARK:
        mark = f"between {LOWER_MARK:.0%} and {UPPER_MARK:.0%}, which AIAG calls acceptable for some purposes"
    else:
        mark = f"above {UPPER_MARK:.0%}, which AIAG calls not acceptable"
    return (
        f"Both together (GRR): standard deviation {_told(study, found, unit)}; as study variation, {STUDY_SPREAD:g} "
        f"standard deviations, {_two_digits(found.study_variation)}{_with(unit)}. That is {_share(share)} of the whole "
        f"spread of this study: {mark.replace('%', ' %')}. Parts that are more alike would make the share greater."
    )


def _of_tolerance(study: GaugeStudy, tolerance: ToleranceSpan, unit: str) -> str:
    share, interval = study.share_of_tolerance(study.gauge, tolerance)
    span = f"{tolerance.span:g}{_with(unit)}"
    what = f"distance {span} to the only limit" if tolerance.one_sided else f"class tolerance, {span} wide"
    return (
        f"Of the {what}, {tolerance.spread:g} standard deviations of the gauge take {_share(share)} "
        f"({_share(interval.low)} to {_share(interval.high)} at {100.0 * study.confidence:g} %)."
    )


def _categories(categories: int | None) -> str:
    if categories is None:
        return "The gauge shows no spread of its own, so how many kinds of parts it tells apart cannot be said."
    kinds = "1 kind" if categories == 1 else f"{categories} kinds"
    return f"It tells {kinds} of these parts apart (ndc); AIAG asks for {FEWEST_CATEGORIES} at the least."


def _shape_words(study: FlowStudy) -> str:
    curved = study.curvature.test.probability
    match study.shape:
        case "straight":
            if study.lack_of_fit is None:
                return (
                    "A straight line does, so far as a study without repeats can tell "
                    f"(curvature: {_probability(curved, SIGNIFICANCE)})."
                )
            return (
                f"A straight line does (lack of fit: {_probability(study.lack_of_fit.probability, SIGNIFICANCE)}; "
                f"curvature: {_probability(curved, SIGNIFICANCE)})."
            )
        case "curved":
            return (
                f"A straight line does not do (curvature: {_probability(curved, SIGNIFICANCE)}): this is the slope "
                "of a parabola at the set-point, and what it differs from the line's is part of its uncertainty."
            )
        case _:
            return (
                "Neither a straight line nor a parabola comes as close as the repeats agree with each other, as where "
                "the airflow was not set exactly or something else changed in between. The line's slope is told, its "
                "uncertainty from how far the airflows' means lie off it."
            )


def _slope(study: FlowStudy) -> tuple[str, str]:
    expanded = study.expanded_uncertainty
    if expanded == 0.0:
        return f"{abs(study.sensitivity):g}", "0"
    return told(abs(study.sensitivity), expanded, (expanded,))


def _told(study: GaugeStudy, found: Component, unit: str) -> str:
    return _with_interval(found.standard_deviation, found.interval, unit, study.confidence)


def _with_interval(value: float, interval: Interval, unit: str, confidence: float) -> str:
    """0.23 (0.11 to 1.44 at 95 %), all to the place of the estimate's second digit, or of the upper end's for 0."""
    leading = value or interval.high
    if leading == 0.0:
        return f"0{_with(unit)}"
    place = uncertainty_place(leading)
    low, high = (at_place(end, place) for end in interval)
    return f"{at_place(value, place)}{_with(unit)} ({low} to {high} at {100.0 * confidence:g} %)"


def _two_digits(value: float) -> str:
    return at_place(value, uncertainty_place(value)) if value > 0.0 else "0"


def _with(unit: str) -> str:
    return f" {unit}" if unit else ""


def _share(share: float) -> str:
    """In per cent to a tenth, or to as many digits as tell it from the marks; it may be more than the whole."""
    hundredfold = 100.0 * share
    bounds = (100.0 * LOWER_MARK, 100.0 * UPPER_MARK)
    return f"{at_place(hundredfold, telling_place(hundredfold, bounds, _TENTH))} %"


def _probability(probability: float, threshold: float) -> str:
    """p in thousandths, or in as many digits as tell it from the threshold."""
    if probability < 0.001:
        return "p below 0.001"
    return "p = " + at_place(probability, telling_place(probability, (threshold,), _THOUSANDTH))


def _degrees(found: Component) -> str:
    return f"{found.degrees_of_freedom:.1f} degrees of freedom".replace(".0 ", " ")
