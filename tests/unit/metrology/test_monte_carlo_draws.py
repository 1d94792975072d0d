"""Draws of input quantities: right distributions, and the same for a seed however they are blocked."""

import math

import numpy as np
import pytest
from scipy import stats

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.draws import BLOCK, DISTRIBUTIONS, Draws, InputQuantity, QuantityDraws

SEED = 7
MANY = 25 * BLOCK
ALL = [
    InputQuantity(10.0, 0.5),
    InputQuantity(10.0, 0.5, "t", 5.0),
    InputQuantity(10.0, 0.5, "t", 9.0, 4.0, "history"),
    InputQuantity(10.0, 0.5, "t", 4.0, 4.0, "history"),
    InputQuantity(10.0, 0.5, "rectangular"),
    InputQuantity(10.0, 0.5, "triangular"),
    InputQuantity(10.0, 0.5, "u-shaped"),
]


def drawn(quantities: list[InputQuantity], trials: int = MANY, seed: int = SEED, block: int = BLOCK) -> Draws:
    draws = QuantityDraws(quantities, seed)
    sizes = [min(block, trials - start) for start in range(0, trials, block)]
    return np.concatenate([draws.next(size).copy() for size in sizes], axis=1)


@pytest.mark.parametrize(
    ("quantity", "expected"),
    [
        (InputQuantity(10.0, 0.5), stats.norm(10.0, 0.5)),
        (InputQuantity(10.0, 0.5, "t"), stats.norm(10.0, 0.5)),
        (InputQuantity(10.0, 0.5, "t", 1e7), stats.norm(10.0, 0.5)),
        (InputQuantity(10.0, 0.5, "t", 1.0), stats.t(1.0, 10.0, 0.5)),
        (InputQuantity(10.0, 0.5, "t", 5.0), stats.t(5.0, 10.0, 0.5)),
        (InputQuantity(10.0, 0.5, "t", 9.0, 4.0, "history"), stats.t(9.0, 10.0, 0.5)),
        (InputQuantity(10.0, 0.5, "t", 4.0, 4.0, "history"), stats.t(4.0, 10.0, 0.5)),
        (InputQuantity(10.0, 0.5, "t", 3.0, 1.0, "history"), stats.t(3.0, 10.0, 0.5)),
        (
            InputQuantity(10.0, 0.5, "rectangular"),
            stats.uniform(10.0 - 0.5 * math.sqrt(3.0), math.sqrt(3.0)),
        ),
        (
            InputQuantity(10.0, 0.5, "triangular"),
            stats.triang(0.5, 10.0 - 0.5 * math.sqrt(6.0), math.sqrt(6.0)),
        ),
        (
            InputQuantity(10.0, 0.5, "u-shaped"),
            stats.arcsine(10.0 - 0.5 * math.sqrt(2.0), math.sqrt(2.0)),
        ),
    ],
    ids=[
        "normal",
        "t-infinite",
        "t-vast",
        "t-1",
        "t-5",
        "t-part-common",
        "t-all-common",
        "t-one-common",
        "rect",
        "triang",
        "u",
    ],
)
def test_each_distribution_is_the_one_of_that_name_and_standard_uncertainty(
    quantity: InputQuantity, expected: object
) -> None:
    """JCGM 101:2008, 6.4, by Kolmogorov and Smirnov; one seed in a thousand would fail by chance, this one does not."""
    assert stats.kstest(drawn([quantity])[0], expected.cdf).pvalue > 1e-3  # type: ignore[attr-defined]


@pytest.mark.parametrize("distribution", DISTRIBUTIONS)
def test_mean_and_standard_deviation_are_value_and_standard_uncertainty(distribution: str) -> None:
    found = drawn([InputQuantity(-3.0, 0.2, distribution)])[0]
    assert found.mean() == pytest.approx(-3.0, abs=5 * 0.2 / math.sqrt(MANY))
    assert found.std() == pytest.approx(0.2, rel=0.01)


def test_bounded_ones_stay_within_their_bounds_and_come_near_them() -> None:
    for distribution, divisor in (("rectangular", 3.0), ("triangular", 6.0), ("u-shaped", 2.0)):
        off = drawn([InputQuantity(0.0, 1.0, distribution)])[0] / math.sqrt(divisor)
        assert np.abs(off).max() <= 1.0
        assert off.max() > 0.99
        assert off.min() < -0.99


def test_students_t_is_wider_than_its_scale_by_its_degrees_of_freedom() -> None:
    """JCGM 101:2008, 6.4.9.4: variance ν/(ν − 2)."""
    assert drawn([InputQuantity(0.0, 1.0, "t", 10.0)])[0].std() == pytest.approx(math.sqrt(10.0 / 8.0), rel=0.01)


def test_draws_do_not_depend_on_the_size_of_the_blocks() -> None:
    whole = drawn(ALL, trials=20_000)
    for block in (1, 999, 4096):
        trials = 500 if block == 1 else 20_000
        assert np.array_equal(drawn(ALL, trials=trials, block=block), whole[:, :trials])


def test_the_same_seed_draws_the_same_and_another_seed_another() -> None:
    assert np.array_equal(drawn(ALL, 100), drawn(ALL, 100))
    assert not np.any(drawn(ALL, 100, seed=SEED + 1) == drawn(ALL, 100))


def test_one_quantity_does_not_change_what_another_draws() -> None:
    alone = drawn(ALL[:1], 100)[0]
    assert np.array_equal(drawn(ALL, 100)[0], alone)
    assert np.array_equal(drawn([ALL[0], InputQuantity(1.0, 2.0, "t", 3.0)], 100)[0], alone)


def test_different_quantities_are_independent() -> None:
    found = drawn([InputQuantity(0.0, 1.0), InputQuantity(0.0, 1.0), InputQuantity(0.0, 1.0, "rectangular")])
    r = np.corrcoef(found)
    assert np.abs(r - np.eye(3)).max() < 4.0 / math.sqrt(MANY)


def test_a_history_in_common_widens_all_that_draw_on_it_together() -> None:
    """Deviations are uncorrelated, their sizes are not: where the history was too calm, it was so for all."""
    common = drawn([InputQuantity(0.0, 1.0, "t", 10.0, 10.0, "history")] * 2)
    apart = drawn([InputQuantity(0.0, 1.0, "t", 10.0)] * 2)
    assert abs(np.corrcoef(common)[0, 1]) < 5.0 / math.sqrt(MANY)
    sizes_together = np.corrcoef(np.log(np.abs(common)))[0, 1]
    assert sizes_together > 0.03
    assert abs(np.corrcoef(np.log(np.abs(apart)))[0, 1]) < 4.0 / math.sqrt(MANY)


def test_two_histories_are_two() -> None:
    two = drawn([InputQuantity(0.0, 1.0, "t", 3.0, 3.0, name) for name in ("first", "second")])
    assert abs(np.corrcoef(np.log(np.abs(two)))[0, 1]) < 4.0 / math.sqrt(MANY)


def test_wholly_common_degrees_of_freedom_give_a_ratio_of_two_normals() -> None:
    """Both are divided by one and the same χ: their quotient is that of two normals, a Cauchy variable."""
    first, second = drawn([InputQuantity(0.0, 1.0, "t", 5.0, 5.0, "history")] * 2)
    assert stats.kstest(first / second, stats.cauchy.cdf).pvalue > 1e-3


def test_a_quantity_known_exactly_is_its_value_in_every_trial() -> None:
    for distribution in DISTRIBUTIONS:
        assert np.all(drawn([InputQuantity(4.25, 0.0, distribution, 3.0)], 50) == 4.25)


def test_known_figures_of_a_seed_stay_what_they_are() -> None:
    """A second opinion tells its seed: another NumPy or another arrangement of streams must not change the draws."""
    found = drawn([InputQuantity(0.0, 1.0), InputQuantity(0.0, 1.0, "t", 3.0)], 2)
    assert found[0] == pytest.approx([-1.8217894631105087, -0.20163753165413598], rel=1e-12)
    assert found[1] == pytest.approx([-0.8749019765966065, 1.009512095730848], rel=1e-12)


@pytest.mark.parametrize(
    ("quantity", "moments"),
    [
        (InputQuantity(0.0, 1.0), 2),
        (InputQuantity(0.0, 1.0, "t"), 2),
        (InputQuantity(0.0, 1.0, "t", 1.0), 0),
        (InputQuantity(0.0, 1.0, "t", 1.5), 1),
        (InputQuantity(0.0, 1.0, "t", 2.0), 1),
        (InputQuantity(0.0, 1.0, "t", 2.5), 2),
        (InputQuantity(0.0, 1.0, "rectangular", 1.0), 2),
        (InputQuantity(0.0, 0.0, "t", 1.0), 2),
    ],
)
def test_mean_and_variance_are_missing_where_students_t_has_none(quantity: InputQuantity, moments: int) -> None:
    assert quantity.moments == moments


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"value": math.nan}, "value"),
        ({"value": math.inf}, "value"),
        ({"standard_uncertainty": -1e-9}, "standard_uncertainty"),
        ({"standard_uncertainty": math.nan}, "standard_uncertainty"),
        ({"standard_uncertainty": math.inf}, "standard_uncertainty"),
        ({"distribution": "log-normal"}, "distribution"),
        ({"degrees_of_freedom": 0.99}, "degrees_of_freedom"),
        ({"degrees_of_freedom": math.nan}, "degrees_of_freedom"),
        ({"degrees_of_freedom_in_common": -1.0}, "degrees_of_freedom_in_common"),
        ({"degrees_of_freedom": 3.0, "degrees_of_freedom_in_common": 3.5}, "degrees_of_freedom_in_common"),
    ],
)
def test_a_quantity_that_cannot_be_is_refused_with_a_sentence(given: dict[str, object], field: str) -> None:
    with pytest.raises(MeasurementError) as refused:
        InputQuantity(**{"value": 1.0, "standard_uncertainty": 0.1, **given})  # type: ignore[arg-type]
    assert refused.value.field == field
    assert refused.value.sentence.endswith(".")


def test_degrees_of_freedom_may_all_be_in_common_and_be_one() -> None:
    assert InputQuantity(1.0, 0.1, "t", 1.0, 1.0, "history").is_student


def test_a_negative_seed_is_refused_and_zero_is_a_seed() -> None:
    with pytest.raises(MeasurementError, match="0 or more") as refused:
        QuantityDraws(ALL, -1)
    assert refused.value.field == "seed"
    assert drawn(ALL, 10, seed=0).shape == (7, 10)


def test_quantities_that_disagree_about_a_history_are_refused() -> None:
    disagreeing = [InputQuantity(0.0, 1.0, "t", 9.0, common, "history") for common in (4.0, 5.0)]
    with pytest.raises(MeasurementError, match="one history") as refused:
        QuantityDraws(disagreeing, SEED)
    assert refused.value.field == "degrees_of_freedom_in_common"


def test_a_quantity_may_stand_apart_from_the_history_that_others_draw_on() -> None:
    """A cylinder whose scatter is wider than the history's, beside cylinders that are pooled with it."""
    apart = InputQuantity(0.0, 1.0, "t", 2.0, 0.0, "history")
    pooled = InputQuantity(0.0, 1.0, "t", 9.0, 5.0, "history")
    assert np.array_equal(drawn([apart, pooled], 10)[0], drawn([apart], 10)[0])
    assert np.array_equal(drawn([pooled, apart], 10)[0], drawn([pooled], 10)[0])


def test_a_history_that_is_not_drawn_on_need_not_agree() -> None:
    """A normal quantity has no estimate behind it, whatever history it names."""
    calm = [InputQuantity(0.0, 1.0, "t", math.inf, 4.0, "history"), InputQuantity(0.0, 1.0, "t", 9.0, 5.0, "history")]
    assert drawn(calm, 10).shape == (2, 10)
