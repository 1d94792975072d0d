"""The gauge study by analysis of variance, by hand."""

import math

import pytest

from app.metrology.errors import MeasurementError
from app.metrology.studies.crossed import analyse, analysis_of_variance
from app.metrology.studies.design import Cells, Plan
from app.metrology.studies.mean_squares import Interval
from app.metrology.studies.shares import ToleranceSpan, distinct_categories

SMALL = Plan(("1", "2"), ("A", "B"), 2)
# means 2, 6 / 5, 3: the inspectors' are alike, the parts' 3.5 and 4.5, and each cell lies 1.5 off their sum
CROSSING = Cells(SMALL, (((1.0, 3.0), (5.0, 7.0)), ((4.0, 6.0), (2.0, 4.0))))


def test_the_table_by_hand_where_the_interaction_is_kept() -> None:
    """SS 2, 0, 4·2·1.5² = 18, 8; F = 18/2 = 9 with 1 and 4: p = 0.03994; parts and inspectors against 18."""
    table = analysis_of_variance(CROSSING)
    assert not table.pooled
    lines = (table.part, table.inspector, table.interaction, table.repeatability)
    assert [line.sum_of_squares for line in lines] == pytest.approx([2.0, 0.0, 18.0, 8.0])
    assert [line.degrees_of_freedom for line in lines] == [1.0, 1.0, 1.0, 4.0]
    assert table.error == table.repeatability
    assert table.repeatability.mean_square == (2.0, 4.0)
    assert table.interaction.test.ratio == pytest.approx(9.0)
    assert table.interaction.test.probability == pytest.approx(0.03994, abs=1e-5)
    assert table.part.test.ratio == pytest.approx(1.0 / 9.0)
    assert table.inspector.test.ratio == 0.0
    assert table.inspector.test.probability == 1.0
    assert table.total.sum_of_squares == pytest.approx(28.0)
    assert table.total.degrees_of_freedom == 7.0


def test_components_by_hand_where_the_interaction_is_kept() -> None:
    """σ² = 2, interaction (18 − 2)/2 = 8, inspectors (0 − 18)/4 and parts (2 − 18)/4 below 0."""
    study = analyse(CROSSING)
    assert study.repeatability.variance == pytest.approx(2.0)
    assert study.repeatability.degrees_of_freedom == pytest.approx(4.0)
    assert study.interaction is not None
    assert study.interaction.variance == pytest.approx(8.0)
    assert study.interaction.degrees_of_freedom == pytest.approx(64.0 / 81.25)
    assert (study.inspector.standard_deviation, study.inspector.below_zero) == (0.0, True)
    assert study.inspector.degrees_of_freedom == math.inf
    assert (study.part.standard_deviation, study.part.below_zero) == (0.0, True)
    assert study.reproducibility.variance == pytest.approx(8.0)
    assert study.reproducibility.degrees_of_freedom == pytest.approx(64.0 / 81.25)
    assert study.gauge.variance == pytest.approx(10.0)
    assert study.gauge.degrees_of_freedom == pytest.approx(100.0 / 81.25)
    assert study.total.variance == pytest.approx(10.0)
    assert (study.repeatability.below_zero, study.interaction.below_zero) == (False, False)
    assert study.reproducibility.below_zero
    assert study.gauge.below_zero
    assert study.total.below_zero
    assert study.distinct_categories == 0
    assert study.share_of_total(study.gauge) == 1.0
    assert study.contribution(study.repeatability) == pytest.approx(0.2)


def test_components_where_all_are_above_zero() -> None:
    """MS 162, 32, 2, 0.25: interaction (2 − 0.25)/2, inspectors (32 − 2)/4 = 7.5, parts (162 − 2)/4 = 40."""
    values = (((9.5, 10.5), (20.0, 20.0)), ((14.5, 15.5), (23.0, 23.0)))
    study = analyse(Cells(SMALL, values), pooled=False)
    table = study.table
    assert table.part.mean_square.value == pytest.approx(162.0)
    assert table.inspector.mean_square.value == pytest.approx(32.0)
    assert table.interaction.mean_square.value == pytest.approx(2.0)
    assert table.repeatability.mean_square.value == pytest.approx(0.25)
    assert study.interaction is not None
    assert study.interaction.variance == pytest.approx(0.875)
    assert study.inspector.variance == pytest.approx(7.5)
    assert study.reproducibility.variance == pytest.approx(8.375)
    # [32 + (2 − 1)·2 − 2·0.25]/4: 8, 0.5, −0.125 with 1, 1, 4
    assert study.reproducibility.degrees_of_freedom == pytest.approx(8.375**2 / (64.0 + 0.25 + 0.125**2 / 4.0))
    assert study.gauge.variance == pytest.approx(8.625)
    assert study.part.variance == pytest.approx(40.0)
    assert study.part.degrees_of_freedom == pytest.approx(1600.0 / (40.5**2 + 0.25))
    assert study.total.variance == pytest.approx(48.625)
    # with two of each the interaction falls out of the sum: 8 + 40.5 + 0.125
    assert study.total.degrees_of_freedom == pytest.approx(48.625**2 / (64.0 + 40.5**2 + 0.125**2 / 4.0))
    assert not study.total.below_zero
    assert study.gauge.study_variation == pytest.approx(6.0 * math.sqrt(8.625))


def test_the_caller_may_choose_whether_to_pool() -> None:
    """Pooled by choice: error (18 + 8)/5 = 5.2 with 5; inspectors (0 − 5.2)/4 below 0."""
    table = analysis_of_variance(CROSSING, pooled=True)
    assert table.pooled
    assert table.error.mean_square == pytest.approx((5.2, 5.0))
    assert table.part.test.ratio == pytest.approx(2.0 / 5.2)
    assert table.interaction.test.ratio == pytest.approx(9.0)
    study = analyse(CROSSING, pooled=True)
    assert study.interaction is None
    assert study.repeatability.variance == pytest.approx(5.2)
    assert study.gauge.variance == pytest.approx(5.2)
    assert study.gauge.degrees_of_freedom == pytest.approx(5.0)


@pytest.mark.parametrize(("ratio", "pooled"), [(1.80, True), (1.81, False)])
def test_the_interaction_is_pooled_above_a_quarter(ratio: float, pooled: bool) -> None:
    """F(0.75; 1, 4) = 1.8071, tables. Repeats ±1 make a mean square of 2, cells ±h off their sum one of 8·h²."""
    h = math.sqrt(ratio) / 2.0
    high, low = (-1.0 + h, 1.0 + h), (-1.0 - h, 1.0 - h)
    table = analysis_of_variance(Cells(SMALL, ((high, low), (low, high))))
    assert table.interaction.test.ratio == pytest.approx(ratio)
    assert (table.interaction.test.probability > 0.25) is pooled
    assert table.pooled is pooled


def test_the_intervals_hold_their_estimates_also_where_a_part_was_set_to_zero() -> None:
    study = analyse(CROSSING)
    assert study.interaction is not None
    for component in (study.repeatability, study.interaction, study.inspector, study.gauge, study.part, study.total):
        assert component.interval.low <= component.standard_deviation <= component.interval.high
    assert study.repeatability.interval == pytest.approx(
        (math.sqrt(8.0 / 11.1433), math.sqrt(8.0 / 0.484419)), rel=1e-5
    )


def test_an_interval_is_widened_to_hold_its_estimate() -> None:
    """All cells have one mean: the sum itself is σ²/2 with 25 dof, whose upper end 25/13.1197 falls short of σ²."""
    plan = Plan(tuple("12345"), tuple("ABCDE"), 2)
    study = analyse(Cells(plan, (((-1.0, 1.0),) * 5,) * 5), pooled=False)
    assert study.interaction is not None
    assert study.interaction.interval == Interval(0.0, 0.0)
    assert study.gauge.variance == pytest.approx(2.0)
    assert study.gauge.interval.high == study.gauge.standard_deviation
    assert study.gauge.interval.low == pytest.approx(math.sqrt(25.0 / 40.6465), rel=1e-5)


def test_more_confidence_is_a_wider_interval() -> None:
    narrow, wide = analyse(CROSSING, confidence=0.90), analyse(CROSSING, confidence=0.99)
    assert narrow.confidence == 0.90
    assert wide.gauge.interval.low < narrow.gauge.interval.low
    assert wide.gauge.interval.high > narrow.gauge.interval.high


def test_repeats_that_all_agree_leave_no_noise_of_the_arithmetic() -> None:
    """Thirds and tenths, additive: interaction and repeats are 0, not 1e-30 against 1e-31."""
    plan = Plan(("1", "2", "3"), ("A", "B", "C"), 3)
    values = tuple(tuple((10.1 + 0.7 * part + 0.1 * inspector,) * 3 for part in range(3)) for inspector in range(3))
    study = analyse(Cells(plan, values))
    assert study.table.interaction.sum_of_squares == 0.0
    assert study.table.repeatability.sum_of_squares == 0.0
    assert study.table.pooled
    assert study.repeatability.standard_deviation == 0.0
    assert study.repeatability.interval == Interval(0.0, 0.0)
    assert study.inspector.standard_deviation == pytest.approx(0.1)
    assert study.part.standard_deviation == pytest.approx(0.7)
    assert study.table.part.test.ratio == math.inf


def test_a_large_common_part_takes_no_digits_away() -> None:
    near, far = (
        analyse(CROSSING),
        analyse(Cells(SMALL, tuple(tuple(tuple(1e9 + v for v in cell) for cell in row) for row in CROSSING.values))),
    )
    assert far.table == near.table


def test_readings_that_are_all_the_same_tell_nothing() -> None:
    same = Cells(SMALL, (((10.1, 10.1), (10.1, 10.1)), ((10.1, 10.1), (10.1, 10.1))))
    with pytest.raises(MeasurementError, match="All readings are the same") as refused:
        analyse(same)
    assert refused.value.field == "readings"


def test_a_gauge_without_spread_tells_no_number_of_categories() -> None:
    parts_alone = Cells(SMALL, (((1.0, 1.0), (2.0, 2.0)), ((1.0, 1.0), (2.0, 2.0))))
    study = analyse(parts_alone)
    assert study.distinct_categories is None
    assert study.share_of_total(study.gauge) == 0.0


@pytest.mark.parametrize(
    ("part", "gauge", "categories"), [(1.0, 0.0, None), (0.0, 1.0, 0), (0.70, 1.0, 0), (0.71, 1.0, 1), (1.42, 0.4, 5)]
)
def test_distinct_categories_are_whole_and_truncated(part: float, gauge: float, categories: int | None) -> None:
    assert distinct_categories(part, gauge) == categories


def test_a_tolerance_is_a_width_or_a_distance() -> None:
    assert ToleranceSpan(3.0).share(0.1) == pytest.approx(0.2)
    assert ToleranceSpan(3.0, one_sided=True).share(0.1) == pytest.approx(0.1)
    study = analyse(CROSSING)
    share, interval = study.share_of_tolerance(study.gauge, ToleranceSpan(60.0))
    assert share == pytest.approx(math.sqrt(10.0) / 10.0)
    assert interval == pytest.approx((study.gauge.interval.low / 10.0, study.gauge.interval.high / 10.0))


@pytest.mark.parametrize("span", [0.0, -0.1, math.inf, math.nan])
def test_a_tolerance_is_more_than_nothing(span: float) -> None:
    with pytest.raises(MeasurementError, match="more than 0") as refused:
        ToleranceSpan(span)
    assert refused.value.field == "span"
