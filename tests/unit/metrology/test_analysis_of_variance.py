"""What varies between groups and what within them, by hand."""

import math

import pytest

from app.metrology.analysis_of_variance import Group, group_of, one_way
from app.metrology.errors import MeasurementError


def test_two_groups_of_three_by_hand() -> None:
    """1, 2, 3 and 5, 6, 7: between 3·(2² + 2²)/1 = 24, within (2 + 2)/4 = 1, F = 24, effect² = (24 − 1)/3."""
    found = one_way([group_of([1.0, 2.0, 3.0]), group_of([5.0, 6.0, 7.0])])
    assert found.mean == 4.0
    assert found.between == pytest.approx(math.sqrt(24.0))
    assert found.within == 1.0
    assert found.variance_ratio == pytest.approx(24.0)
    assert (found.between_degrees_of_freedom, found.within_degrees_of_freedom) == (1.0, 4.0)
    assert found.group_effect == pytest.approx(math.sqrt(23.0 / 3.0))
    assert found.standard_uncertainty == pytest.approx(2.0)
    assert found.standard_uncertainty_without_effect == pytest.approx(math.sqrt(28.0 / 30.0))
    assert found.differs()
    assert found.differs(0.01)
    assert not found.differs(0.001)


def test_groups_of_unequal_size_by_hand() -> None:
    """4 and 1, 2, 3: weighted mean 2.5; between 2.25 + 3·0.25 = 3, within 2/2; n₀ = 4 − 10/4 = 1.5."""
    found = one_way([group_of([4.0]), group_of([1.0, 2.0, 3.0])])
    assert found.mean == 3.0
    assert found.between == pytest.approx(math.sqrt(3.0))
    assert found.within == 1.0
    assert found.within_degrees_of_freedom == 2.0
    assert found.group_effect == pytest.approx(math.sqrt(2.0 / 1.5))
    assert found.standard_uncertainty == pytest.approx(1.0)
    assert found.standard_uncertainty_without_effect == pytest.approx(math.sqrt(5.0 / 12.0))


def test_three_groups_of_unequal_size_by_hand() -> None:
    """0, 2 and 4, 8 and 7, 9, 11, 13: mean 54/8; between 2·5.75² + 2·0.75² + 4·3.25², within (2 + 8 + 20)/5.

    n₀ = (8 − 24/8)/2 = 2.5.
    """
    found = one_way([group_of([0.0, 2.0]), group_of([4.0, 8.0]), group_of([7.0, 9.0, 11.0, 13.0])])
    between = (2.0 * 5.75**2 + 2.0 * 0.75**2 + 4.0 * 3.25**2) / 2.0
    assert found.between == pytest.approx(math.sqrt(between))
    assert found.within == pytest.approx(math.sqrt(6.0))
    assert found.variance_ratio == pytest.approx(between / 6.0)
    assert found.group_effect == pytest.approx(math.sqrt((between - 6.0) / 2.5))
    assert found.mean == pytest.approx(17.0 / 3.0)


def test_groups_that_agree_better_than_their_values_show_no_effect() -> None:
    found = one_way([Group(5, 10.0, 0.1), Group(5, 10.0, 0.2)])
    assert found.group_effect == 0.0
    assert found.variance_ratio == 0.0
    assert not found.differs()
    assert found.within == pytest.approx(math.sqrt(0.025))


def test_groups_without_scatter_differ_if_their_means_do() -> None:
    apart = one_way([Group(2, 1.0, 0.0), Group(2, 2.0, 0.0)])
    assert apart.variance_ratio == math.inf
    assert apart.differs()
    alike = one_way([Group(2, 1.0, 0.0), Group(2, 1.0, 0.0)])
    assert alike.variance_ratio == 1.0
    assert not alike.differs()


def test_a_group_is_told_by_count_mean_and_scatter() -> None:
    assert group_of([3.0, 5.0]) == Group(2, 4.0, math.sqrt(2.0))
    assert group_of([3.0]) == Group(1, 3.0, 0.0)
    with pytest.raises(MeasurementError, match="at least one value") as refused:
        group_of([])
    assert refused.value.field == "groups"


@pytest.mark.parametrize(
    "groups",
    [[], [Group(5, 1.0, 0.1)], [Group(1, 1.0, 0.0), Group(1, 2.0, 0.0)]],
)
def test_fewer_than_two_groups_or_none_with_repeats_are_refused(groups: list[Group]) -> None:
    with pytest.raises(MeasurementError, match="Two groups") as refused:
        one_way(groups)
    assert refused.value.field == "groups"
    assert one_way([Group(1, 1.0, 0.0), Group(2, 2.0, 0.1)]).within == pytest.approx(0.1)
