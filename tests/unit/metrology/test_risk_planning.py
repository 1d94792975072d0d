import math
from collections.abc import Sequence

import pytest
from scipy import stats

from app.metrology.errors import MeasurementError
from app.metrology.risk.intervals import DecisionLimits, Interval, decision_limits
from app.metrology.risk.operating_characteristic import Errors, engine_odds
from app.metrology.risk.planning import (
    USUAL_CYLINDERS,
    ErrorPart,
    changed,
    errors_of,
    one_error,
    policing,
    standard_uncertainty,
    what_ifs,
)
from app.metrology.risk.processes import Normal, RectangularAndNormal, Uniform

ACCURACY = ErrorPart("accuracy", "stated accuracy", 0.1 / math.sqrt(3.0), shared=True, rectangular=True)
TEMPERATURE = ErrorPart("temperature", "gas temperature", 0.04, shared=True)
BORE = ErrorPart("bore", "bore", 0.03, shared=True)
REPEATABILITY = ErrorPart("repeatability", "repeatability", 0.03, shared=False)
RESOLUTION = ErrorPart("resolution", "resolution", 0.004, shared=False, rectangular=True)
ALL = (ACCURACY, TEMPERATURE, BORE, REPEATABILITY, RESOLUTION)


def test_parts_make_a_common_error_and_one_of_each_cylinder() -> None:
    found = errors_of(ALL)
    assert isinstance(found.shared, RectangularAndNormal)
    assert found.shared.half_width == pytest.approx(0.1, rel=1e-14)
    assert found.shared.normal_standard_deviation == pytest.approx(0.05, rel=1e-14)
    assert isinstance(found.own, Normal)
    assert found.own.standard_deviation == pytest.approx(math.hypot(0.03, 0.004), rel=1e-14)
    assert standard_uncertainty(ALL) == pytest.approx(math.hypot(0.1 / math.sqrt(3.0), 0.05, 0.03, 0.004), rel=1e-14)


def test_a_mean_of_cylinders_divides_only_what_is_their_own() -> None:
    found = errors_of(ALL, averaged_over=4)
    assert found.shared == errors_of(ALL).shared
    assert found.own == Normal(0.0, math.hypot(0.03, 0.004) / 2.0)
    assert standard_uncertainty([TEMPERATURE, REPEATABILITY], 9) == pytest.approx(math.hypot(0.04, 0.01), rel=1e-14)


def test_of_several_rectangles_the_greatest_stays_one() -> None:
    lesser = ErrorPart("reference", "reference volume", 0.02, shared=True, rectangular=True)
    found = errors_of([lesser, ACCURACY]).shared
    assert isinstance(found, RectangularAndNormal)
    assert found.half_width == pytest.approx(0.1, rel=1e-14)
    assert found.normal_standard_deviation == pytest.approx(0.02, rel=1e-14)
    assert errors_of([ACCURACY]).shared == Uniform(-found.half_width, found.half_width)
    assert errors_of([TEMPERATURE, BORE]).shared == Normal(0.0, 0.05)


def test_parts_that_are_nothing_make_no_error() -> None:
    nothing = ErrorPart("bore", "bore", 0.0, shared=True)
    assert errors_of([]) == Errors(None, None)
    assert errors_of([nothing, ErrorPart("own", "own", 0.0, shared=False)]) == Errors(None, None)
    with pytest.raises(MeasurementError, match="at least one part") as raised:
        one_error([nothing])
    assert raised.value.field == "parts"


def test_one_error_takes_all_parts_together() -> None:
    whole = one_error(ALL)
    assert isinstance(whole, RectangularAndNormal)
    assert whole.half_width == pytest.approx(0.1, rel=1e-14)
    assert whole.normal_standard_deviation == pytest.approx(math.hypot(0.05, 0.03, 0.004), rel=1e-14)
    assert one_error([TEMPERATURE, REPEATABILITY], 9) == Normal(0.0, math.hypot(0.04, 0.01))


@pytest.mark.parametrize("wrong", [-0.01, math.nan, math.inf])
def test_a_standard_uncertainty_that_cannot_be_says_which(wrong: float) -> None:
    with pytest.raises(MeasurementError, match="uncertainty of gas temperature must be 0 or more") as raised:
        errors_of(changed(ALL, "temperature", wrong))
    assert raised.value.field == "temperature"


def test_one_part_is_changed_and_the_others_stay() -> None:
    better = changed(ALL, "temperature", 0.01)
    assert [part.standard_uncertainty for part in better] == [ACCURACY.standard_uncertainty, 0.01, 0.03, 0.03, 0.004]
    with pytest.raises(MeasurementError, match="no part humidity"):
        changed(ALL, "humidity", 0.01)


NORMAL = (TEMPERATURE, REPEATABILITY)  # together 0.05
Z95 = float(stats.norm.ppf(0.95))


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("probability", [0.5, 0.8, 0.95, 0.99])
def test_one_cylinder_is_policed_to_guard_band_and_quantile_together(sign: int, probability: float) -> None:
    tolerance = Interval(upper=10.6) if sign > 0 else Interval(lower=10.6)
    limits = decision_limits("three_zones", tolerance, 0.08, 0.09)
    found = policing(10.6, sign, limits, errors_of(NORMAL), 1, probability)
    z = float(stats.norm.ppf(probability)) * 0.05
    assert found.excess == pytest.approx(0.09 + z, abs=2e-6)
    assert found.reserve == pytest.approx(0.08 + z, abs=2e-6)
    assert found.rejected_from == pytest.approx(10.6 + sign * (0.09 + z), abs=2e-6)
    assert found.accepted_to == pytest.approx(10.6 - sign * (0.08 + z), abs=2e-6)
    assert found.cylinders == 1


@pytest.mark.parametrize("cylinders", USUAL_CYLINDERS)
@pytest.mark.parametrize("sign", [1, -1])
def test_at_the_turning_points_the_verdict_is_as_likely_as_asked_for(cylinders: int, sign: int) -> None:
    tolerance = Interval(upper=10.6) if sign > 0 else Interval(lower=10.6)
    limits = decision_limits("three_zones", tolerance, 0.14, 0.18)
    errors = errors_of(ALL)
    found = policing(10.6, sign, limits, errors, cylinders, 0.95)
    assert found.rejected_from is not None
    assert found.accepted_to is not None
    rejected = engine_odds([found.rejected_from] * cylinders, errors, limits).rejected
    accepted = engine_odds([found.accepted_to] * cylinders, errors, limits).accepted
    assert rejected == pytest.approx(0.95, abs=1e-5)
    assert accepted == pytest.approx(0.95, abs=1e-5)


def test_guarded_acceptance_rejects_engines_still_inside_and_guarded_rejection_passes_some_beyond() -> None:
    strict = decision_limits("guarded_acceptance", Interval(upper=10.6), 3.0 * Z95 * 0.05, 0.0)
    found = policing(10.6, 1, strict, errors_of(NORMAL), 1, 0.95)
    assert found.excess == pytest.approx(-2.0 * Z95 * 0.05, abs=2e-6)
    lenient = decision_limits("guarded_rejection", Interval(upper=10.6), 0.0, 3.0 * Z95 * 0.05)
    found = policing(10.6, 1, lenient, errors_of(NORMAL), 1, 0.95)
    assert found.reserve == pytest.approx(-2.0 * Z95 * 0.05, abs=2e-6)


def test_without_errors_the_limits_themselves_are_policed() -> None:
    limits = DecisionLimits(Interval(upper=10.5), Interval(upper=10.75))
    found = policing(10.6, 1, limits, Errors(None, None), 4, 0.95)
    assert (found.rejected_from, found.accepted_to) == (10.75, 10.5)
    assert found.excess == pytest.approx(0.15)
    assert found.reserve == pytest.approx(0.1)


def test_a_side_without_a_limit_is_not_policed() -> None:
    limits = decision_limits("simple_acceptance", Interval(upper=10.6), 0.0, 0.0)
    found = policing(10.6, -1, limits, errors_of(NORMAL), 1, 0.95)
    assert (found.rejected_from, found.accepted_to, found.excess, found.reserve) == (None, None, None, None)


def test_between_two_limits_each_side_is_policed_by_itself() -> None:
    limits = decision_limits("simple_acceptance", Interval(10.0, 10.6), 0.0, 0.0)
    above = policing(10.6, 1, limits, errors_of(NORMAL), 1, 0.95)
    below = policing(10.0, -1, limits, errors_of(NORMAL), 1, 0.95)
    for found in (above, below):
        assert found.excess == pytest.approx(Z95 * 0.05, abs=2e-6)
        assert found.reserve == pytest.approx(Z95 * 0.05, abs=2e-6)


def test_limits_too_near_each_other_accept_nothing_that_surely() -> None:
    limits = decision_limits("simple_acceptance", Interval(10.5, 10.6), 0.0, 0.0)
    found = policing(10.6, 1, limits, errors_of(NORMAL), 1, 0.95)
    assert found.accepted_to is None
    assert found.reserve is None
    assert found.excess == pytest.approx(Z95 * 0.05, abs=1e-4)
    narrow = decision_limits("simple_acceptance", Interval(10.58, 10.6), 0.0, 0.0)
    found = policing(10.6, 1, narrow, errors_of(NORMAL), 1, 0.8)
    assert found.rejected_from == pytest.approx(10.59)  # from halfway on everything is


@pytest.mark.parametrize("probability", [0.49, 1.0, math.nan])
def test_a_probability_that_cannot_be_asked_for_says_so(probability: float) -> None:
    limits = decision_limits("simple_acceptance", Interval(upper=10.6), 0.0, 0.0)
    with pytest.raises(MeasurementError, match=r"lies from 0\.5 up to below 1") as raised:
        policing(10.6, 1, limits, errors_of(NORMAL), 1, probability)
    assert raised.value.field == "probability"


def test_what_would_make_it_sharper_is_told_for_each_number_of_cylinders() -> None:
    def limits_for(parts: Sequence[ErrorPart], cylinders: int) -> DecisionLimits:
        guard = Z95 * standard_uncertainty(parts)
        return decision_limits("three_zones", Interval(upper=10.6), guard, guard * (1.0 + 0.01 * cylinders))

    changes = [("as planned", ALL), ("thermometer in the chamber", changed(ALL, "temperature", 0.01))]
    rows = what_ifs(changes, 10.6, 1, limits_for, 0.95)
    assert [row.label for row in rows] == ["as planned", "thermometer in the chamber"]
    assert rows[0].standard_uncertainty == standard_uncertainty(ALL)
    for row in rows:
        assert [found.cylinders for found in row.policing] == [1, 4, 6, 8, 12]
    for planned, better in zip(rows[0].policing, rows[1].policing, strict=True):
        assert planned.excess is not None
        assert better.excess is not None
        assert better.excess < planned.excess
    alone = policing(10.6, 1, limits_for(ALL, 8), errors_of(ALL), 8, 0.95)
    assert rows[0].policing[3] == alone
    assert what_ifs(changes[:1], 10.6, 1, limits_for, 0.95, cylinders=(8,))[0].policing == (alone,)


def test_a_rule_for_the_mean_is_policed_as_one_value_whose_own_errors_are_averaged() -> None:
    def limits_for(parts: Sequence[ErrorPart], cylinders: int) -> DecisionLimits:
        guard = Z95 * standard_uncertainty(parts, cylinders)
        return decision_limits("three_zones", Interval(upper=10.6), guard, guard)

    (row,) = what_ifs([("as planned", NORMAL)], 10.6, 1, limits_for, 0.95, averaged=True)
    for found in row.policing:
        together = math.hypot(0.04, 0.03 / math.sqrt(found.cylinders))
        assert found.excess == pytest.approx(2.0 * Z95 * together, abs=2e-6)
    assert [found.cylinders for found in row.policing] == [1, 4, 6, 8, 12]
