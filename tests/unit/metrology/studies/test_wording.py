"""What the studies say, sentence by sentence, and that no figure is rounded against its words."""

from dataclasses import replace

import pytest

from app.metrology.studies.crossed import Component, GaugeStudy, analyse
from app.metrology.studies.design import Cells, Plan
from app.metrology.studies.flow import FlowPoint, flow_study
from app.metrology.studies.inspectors import InspectorComparison, compare_inspectors
from app.metrology.studies.mean_squares import Interval, VarianceRatioTest
from app.metrology.studies.range_method import analyse_ranges
from app.metrology.studies.shares import ToleranceSpan
from app.metrology.studies.wording import flow_words, gauge_words, inspector_words, plan_words, range_words

SMALL = Plan(("1", "2"), ("A", "B"), 2)
HAND = Cells(SMALL, (((10.0, 12.0), (20.0, 22.0)), ((14.0, 16.0), (24.0, 26.0))))
CROSSING = Cells(SMALL, (((1.0, 3.0), (5.0, 7.0)), ((4.0, 6.0), (2.0, 4.0))))


def test_a_small_plan_is_told_what_it_cannot_tell() -> None:
    assert plan_words(SMALL) == (
        "2 parts, 2 inspectors and 2 repeats make 8 readings. At 95 % the repeatability may be up to 2.9 times what "
        "the study finds, the spread between inspectors up to 31.9 times, that between parts up to 31.9 times.",
        "More inspectors would tell more of what lies between them; more parts or repeats would not.",
        "More parts or repeats would tell more of the repeatability.",
    )


def test_a_large_plan_needs_no_advice() -> None:
    plan = Plan(tuple("abcdefghij"), tuple("stuvwxyz"), 3)
    assert plan_words(plan) == (
        "10 parts, 8 inspectors and 3 repeats make 240 readings. At 95 % the repeatability may be up to 1.1 times what "
        "the study finds, the spread between inspectors up to 2.0 times, that between parts up to 1.8 times.",
        "More inspectors would tell more of what lies between them; more parts or repeats would not.",
    )
    assert len(plan_words(Plan(tuple("abcdefghij"), tuple("rstuvwxyz"), 3))) == 1


def test_a_gauge_study_in_words() -> None:
    assert gauge_words(analyse(HAND), "mm", ToleranceSpan(40.0)) == (
        "Repeatability, of one inspector on one part: standard deviation 1.3 mm (0.8 to 3.1 at 95 %), 5 degrees of "
        "freedom.",
        "That inspectors would differ more on some parts than on others does not show (p = 1.000): taken as scatter.",
        "Reproducibility, of different inspectors: standard deviation 2.8 mm (1.0 to 90.3 at 95 %), 0.9 degrees of "
        "freedom.",
        "Both together (GRR): standard deviation 3.0 mm (1.7 to 90.3 at 95 %); as study variation, 6 standard "
        "deviations, 18 mm. That is 39.6 % of the whole spread of this study: above 30 %, which AIAG calls not "
        "acceptable. Parts that are more alike would make the share greater.",
        "Of the class tolerance, 40 mm wide, 6 standard deviations of the gauge take 45.5 % (24.9 % to 1353.9 % at "
        "95 %).",
        "It tells 3 kinds of these parts apart (ndc); AIAG asks for 5 at the least.",
    )


def test_an_interaction_that_is_kept_and_variances_below_zero_are_told() -> None:
    words = gauge_words(analyse(CROSSING), "", ToleranceSpan(40.0, one_sided=True))
    assert words[1].startswith(
        "Inspectors may differ more on some parts than on others (p = 0.040): standard deviation 2.8 ("
    )
    assert words[1].endswith("it counts as reproducibility.")
    assert words[2].startswith("Reproducibility, of different inspectors: standard deviation 2.8 (0.0 to ")
    assert words[4].startswith("Of the distance 40 to the only limit, 3 standard deviations of the gauge take 23.7 % (")
    assert words[5] == "It tells 0 kinds of these parts apart (ndc); AIAG asks for 5 at the least."
    assert words[6] == (
        "The variance between inspectors and the one between parts was estimated below 0, which no variance is, and is "
        "set to 0: the scatter alone explains what was seen."
    )
    assert len(words) == 7


def test_a_choice_against_the_rule_is_told() -> None:
    assert gauge_words(analyse(CROSSING, pooled=True))[1] == (
        "That inspectors differ more on some parts than on others (p = 0.040) was chosen to be taken as scatter."
    )
    against = gauge_words(analyse(HAND, pooled=False))
    assert against[1].startswith(
        "Inspectors with parts, kept apart as was chosen although it does not show (p = 1.000): standard deviation "
    )
    assert "of inspectors with parts was estimated below 0" in against[-1]


def test_nothing_between_inspectors_is_told_with_what_it_may_be() -> None:
    study = analyse(CROSSING, pooled=True)
    assert study.reproducibility.standard_deviation == 0.0
    words = gauge_words(study, "mm")[2]
    most = study.reproducibility.interval.high
    assert words == f"Reproducibility, of different inspectors: none shows; at 95 % it is at most {most:.0f} mm."


def test_repeats_that_all_agree_point_to_the_resolution() -> None:
    parts_alone = Cells(SMALL, (((1.0, 1.0), (2.0, 2.0)), ((1.0, 1.0), (2.0, 2.0))))
    words = gauge_words(analyse(parts_alone))
    assert words[0].startswith("All repeats agree to the last digit: the step of the display hides the repeatability.")
    assert words[2].endswith("it is at most 0.")
    assert words[3].startswith(
        "Both together (GRR): standard deviation 0; as study variation, 6 standard deviations, 0."
    )
    assert words[4].startswith("The gauge shows no spread of its own")


def of_share(share: float) -> GaugeStudy:
    study = analyse(HAND)
    whole = Component(1.0, Interval(0.5, 2.0), 5.0)
    return replace(study, gauge=replace(whole, standard_deviation=share), total=whole)


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (0.05, "5.0 % of the whole spread of this study: below 10 %, which AIAG calls acceptable."),
        (0.09996, "9.996 % of the whole spread of this study: below 10 %"),
        (0.1, "10.0 % of the whole spread of this study: between 10 % and 30 %, which AIAG calls acceptable for some"),
        (0.3, "30.0 % of the whole spread of this study: between 10 % and 30 %"),
        (0.30004, "30.004 % of the whole spread of this study: above 30 %, which AIAG calls not acceptable."),
    ],
)
def test_a_share_reads_on_the_side_of_the_mark_that_its_words_say(share: float, words: str) -> None:
    assert words in gauge_words(of_share(share))[3]


def test_one_kind_of_parts_is_one_kind() -> None:
    alike = replace(analyse(HAND), part=Component(2.2, Interval(1.0, 3.0), 1.0))
    assert alike.distinct_categories == 1
    assert "It tells 1 kind of these parts apart" in gauge_words(alike)[4]


@pytest.mark.parametrize(
    ("probability", "words"),
    [(0.0009, "(p below 0.001)"), (0.001, "(p = 0.001)"), (0.2499, "(p = 0.2499)"), (0.2501, "(p = 0.2501)")],
)
def test_a_probability_reads_on_the_side_of_its_threshold(probability: float, words: str) -> None:
    study = analyse(HAND)
    table = replace(study.table, interaction=replace(study.table.interaction, test=VarianceRatioTest(1.0, probability)))
    assert words in gauge_words(replace(study, table=table))[1]


def test_averages_and_ranges_in_words() -> None:
    assert range_words(analyse_ranges(HAND), "mm") == (
        "By averages and ranges: repeatability EV 1.7 mm, reproducibility AV 2.7 mm, both together GRR 3.2 mm, which "
        "is 40.9 % of the whole spread.",
        "It tells 3 kinds of these parts apart (ndc); AIAG asks for 5 at the least.",
    )
    alike = Cells(SMALL, (HAND.values[0], HAND.values[0]))
    assert "AV 0, both" in range_words(analyse_ranges(alike))[0]
    assert range_words(analyse_ranges(alike))[0].endswith(
        "of the whole spread. The inspectors' means lie closer together than the scatter alone explains, so AV is set "
        "to 0."
    )


def flow_of(shown: dict[float, tuple[float, ...]], resolution: float = 0.0) -> tuple[str, ...]:
    return flow_words(flow_study([FlowPoint(flow, y) for flow, y in shown.items()], 10.0, resolution))


def test_a_flow_study_without_repeats_in_words() -> None:
    assert flow_of({8.0: (10.0,), 9.0: (10.3,), 11.0: (10.5,), 12.0: (11.0,)}) == (
        "From 8 to 12 L/min the indication rises by 0.22 for each L/min more, with an expanded uncertainty of 0.21 "
        "(95 %; 4 indications at 4 airflows).",
        "A straight line does, so far as a study without repeats can tell (curvature: p = 0.691).",
        "It holds for airflows in this range about the set-point 10 L/min, and for this instrument.",
    )


def test_a_flow_study_with_repeats_and_without_effect_in_words() -> None:
    pairs = {flow: (mean - 0.2, mean + 0.2) for flow, mean in ((8.0, 10.5), (9.0, 10.4), (11.0, 10.5), (12.0, 10.4))}
    words = flow_of(pairs)
    assert words[0].startswith("From 8 to 12 L/min the indication falls by 0.01 for each L/min more, with an expanded")
    assert words[1] == "That is no effect of the airflow which the scatter would not explain; it is used as found."
    assert words[2].startswith("A straight line does (lack of fit: p = 0.896")
    assert "; curvature: p = 1.000)." in words[2]
    assert len(words) == 4


def test_a_curve_in_words() -> None:
    def at(off: float) -> float:
        return 10.0 + 0.1 * off + 0.05 * off * off

    words = flow_of({10.0 + off: (at(off) - 0.01, at(off) + 0.01) for off in (-1.0, 0.0, 1.0, 2.0)})
    assert words[0].startswith("From 9 to 12 L/min the indication rises by 0.100 for each L/min more")
    assert words[1] == (
        "A straight line does not do (curvature: p below 0.001): this is the slope of a parabola at the set-point, and "
        "what it differs from the line's is part of its uncertainty."
    )


def test_uneven_airflows_in_words() -> None:
    means = {8.0: 9.75, 9.0: 10.0, 11.0: 10.0, 12.0: 10.25}
    words = flow_of({flow: (mean - 0.01, mean + 0.01) for flow, mean in means.items()})
    assert words[-2].startswith("Neither a straight line nor a parabola comes as close as the repeats agree")


def test_a_display_that_stands_still_in_words() -> None:
    words = flow_of(dict.fromkeys((8.0, 9.0, 11.0, 12.0), (10.5,)))
    assert "rises by 0 for each L/min more, with an expanded uncertainty of 0 (" in words[0]


def test_inspectors_who_agree_in_words() -> None:
    runs = {"Wren": [10.50, 10.52, 10.51], "Kestrel": [10.49], "Owl": [10.50, 10.53, 10.50, 10.51]}
    assert inspector_words(compare_inspectors(runs)) == (
        "There is no difference between inspectors that the scatter of their runs does not explain (p = 0.404).",
        "Standard deviation between inspectors: 0.0025 (0.0000 to 0.0719 at 95 %); of one run about its inspector's "
        "mean: 0.013.",
        "It does not say who is right: only the mark of the reference volume can. What changed between their days, a "
        "drift or a repair, would look the same.",
        "Wren, 3 runs: +0.007 ± 0.024 from the whole, explained by the scatter.",
        "Kestrel, 1 run: -0.013 ± 0.032 from the whole, explained by the scatter.",
        "Owl, 4 runs: +0.007 ± 0.023 from the whole, explained by the scatter.",
    )


def test_inspectors_who_differ_in_words() -> None:
    words = inspector_words(compare_inspectors({"Wren": [5.0, 6.0, 7.0], "Kestrel": [1.0, 2.0, 3.0]}), "mm")
    assert words[0] == "The inspectors' means differ by more than the scatter of their runs explains (p = 0.008)."
    assert words[1].endswith("; of one run about its inspector's mean: 1.0 mm.")
    assert words[3] == "Wren, 3 runs: +2.0 ± 1.4 mm from the whole, more than is explained by the scatter."
    assert words[4] == "Kestrel, 3 runs: -2.0 ± 1.4 mm from the whole, more than is explained by the scatter."


def verdict(probability: float, *intervals: Interval) -> str:
    found = compare_inspectors({"Wren": [5.0, 6.0, 7.0], "Kestrel": [1.0, 2.0, 3.0]})
    inspectors = tuple(
        replace(one, interval=interval) for one, interval in zip(found.inspectors, intervals, strict=True)
    )
    changed: InspectorComparison = replace(
        found, inspectors=inspectors, test=VarianceRatioTest(found.test.ratio, probability)
    )
    return inspector_words(changed)[0]


def test_the_two_ways_of_looking_need_not_agree_and_the_words_say_so() -> None:
    around, beside = Interval(-1.0, 5.0), Interval(1.0, 3.0)
    assert verdict(0.04, around, around) == (
        "The inspectors' means differ by more than the scatter of their runs explains (p = 0.040). No one of them "
        "alone lies farther from the whole than the scatter explains."
    )
    assert verdict(0.06, around, beside) == (
        "Taken together, the inspectors show no difference that the scatter of their runs does not explain "
        "(p = 0.060), though one of them at least lies farther from the whole than its interval allows. More runs "
        "would settle it."
    )
    assert verdict(0.0499, beside, beside).endswith("(p = 0.0499).")
    assert verdict(0.0501, around, around).startswith("There is no difference")


def test_runs_without_scatter_are_told_as_that() -> None:
    words = inspector_words(compare_inspectors({"Wren": [10.0, 10.0], "Kestrel": [10.5, 10.5]}))
    assert words[3] == "Wren, 2 runs: -0.25 from the whole; the runs show no scatter."
    assert words[4] == "Kestrel, 2 runs: +0.25 from the whole; the runs show no scatter."
    same = inspector_words(compare_inspectors({"Wren": [10.0, 10.0], "Kestrel": [10.0]}))
    assert same[1].startswith("Standard deviation between inspectors: 0; of one run about its inspector's mean: 0.")
    assert same[4] == "Kestrel, 1 run: 0 from the whole; the runs show no scatter."


def test_an_inspector_who_lies_on_the_whole_has_no_sign() -> None:
    words = inspector_words(compare_inspectors({"a": [4.0, 6.0], "b": [5.0, 7.0], "c": [3.0, 5.0]}))
    assert words[3].startswith("a, 2 runs: 0.0 ± ")
