"""Judging an instrument on a reference volume."""

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from app.metrology.assessment import MeasurementError
from app.metrology.verification import VerificationJudgement, judge_verification


def judged(*indications: str, **changes: Any) -> VerificationJudgement:
    given_ = {
        "mark_low": 10.45,
        "mark_high": 10.55,
        "permitted_deviation": 0.05,
        "airflow_l_min": 5.0,
        "airflow_set_point_l_min": 5.0,
        "airflow_tolerance_l_min": 0.2,
    }
    return judge_verification(indications, **{**given_, **changes})


def test_indications_on_the_mark_are_accepted() -> None:
    found = judged("10.50", "10,52", "10.51")
    assert found.accepted
    assert found.mean == pytest.approx(10.51)
    assert found.standard_deviation == pytest.approx(0.01)
    assert found.deviation == 0.0
    assert found.reason == "The mean of 3 indications, 10.510, lies on the mark 10.45 to 10.55."


def test_a_single_indication_has_no_scatter() -> None:
    found = judged("10.50", mark_low=10.5, mark_high=10.5)
    assert found.standard_deviation is None
    assert found.reason == "The indication 10.50 lies on the mark 10.50."


@pytest.mark.parametrize(
    ("indication", "deviation", "accepted", "side"),
    [("10.60", 0.05, True, "above"), ("10.40", -0.05, True, "below"), ("10.61", 0.06, False, "above"),
     ("10.39", -0.06, False, "below")],
)  # fmt: skip
def test_the_permitted_deviation_counts_from_the_nearest_edge_and_its_end_is_inside(
    indication: str, deviation: float, accepted: bool, side: str
) -> None:
    found = judged(indication)
    assert found.deviation == deviation
    assert found.accepted is accepted
    assert side in found.reason
    assert ("is permitted." in found.reason) is accepted
    assert ("may not be used" in found.reason) is not accepted


def test_thirds_do_not_tip_a_mean_over_the_edge() -> None:
    """10.60, 10.60, 10.60 is 10.60 exactly; the same sum in binary is not."""
    assert judged("10.60", "10.60", "10.60").accepted
    assert not judged("10.60", "10.60", "10.61").accepted


@pytest.mark.parametrize("airflow", [4.79, 5.21, 0.0])
def test_off_the_airflow_set_point_nothing_is_accepted_however_well_it_reads(airflow: float) -> None:
    found = judged("10.50", airflow_l_min=airflow)
    assert not found.accepted
    assert "may never be trimmed to make the check read right" in found.reason


@pytest.mark.parametrize("airflow", [4.8, 5.0, 5.2])
def test_the_ends_of_the_airflow_tolerance_are_inside(airflow: float) -> None:
    assert judged("10.50", airflow_l_min=airflow).accepted


@given(
    st.lists(st.integers(900, 1200), min_size=1, max_size=5),
    st.integers(1000, 1060),
    st.integers(0, 20),
    st.integers(0, 30),
)
def test_a_wider_permission_never_refuses_what_a_narrower_accepts(
    hundredths: list[int], low: int, width: int, permitted: int
) -> None:
    typed = [f"{n // 100}.{n % 100:02d}" for n in hundredths]
    mark = {"mark_low": low / 100, "mark_high": (low + width) / 100}
    narrow = judged(*typed, **mark, permitted_deviation=permitted / 100)
    wide = judged(*typed, **mark, permitted_deviation=(permitted + 5) / 100)
    assert wide.accepted >= narrow.accepted
    off = max(sum(hundredths) - (low + width) * len(typed), low * len(typed) - sum(hundredths), 0)
    assert narrow.accepted == (off <= permitted * len(typed))


@pytest.mark.parametrize(
    ("changes", "field"),
    [
        ({"mark_low": 10.6}, "mark_low"),
        ({"mark_low": 1.0}, "mark_low"),
        ({"mark_high": 100.0}, "mark_low"),
        ({"mark_low": math.nan}, "mark_low"),
        ({"permitted_deviation": -0.1}, "permitted_deviation"),
        ({"permitted_deviation": math.nan}, "permitted_deviation"),
        ({"permitted_deviation": math.inf}, "permitted_deviation"),
        ({"airflow_l_min": -1.0}, "airflow_l_min"),
        ({"airflow_l_min": math.nan}, "airflow_l_min"),
        ({"airflow_l_min": math.inf}, "airflow_l_min"),
        ({"airflow_set_point_l_min": 0.0}, "airflow_set_point_l_min"),
        ({"airflow_set_point_l_min": math.inf}, "airflow_set_point_l_min"),
        ({"airflow_tolerance_l_min": -0.1}, "airflow_tolerance_l_min"),
        ({"airflow_tolerance_l_min": math.nan}, "airflow_tolerance_l_min"),
    ],
)
def test_what_cannot_be_is_named(changes: dict[str, float], field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        judged("10.50", **changes)
    assert refused.value.field == field


def test_no_indication_or_a_misread_one_is_named() -> None:
    with pytest.raises(MeasurementError) as refused:
        judged()
    assert refused.value.field == "indications"
    with pytest.raises(MeasurementError) as refused:
        judged("10.50", "1O.50")
    assert refused.value.field == "indications.1"
