import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from app.metrology.errors import MeasurementError
from app.metrology.risk.processes import (
    FEWEST,
    Distribution,
    Gamma,
    Normal,
    RectangularAndNormal,
    Uniform,
    error_distribution,
    from_history,
)
from app.metrology.risk.quadrature import integrate

BESIDE = [
    (Normal(10.4, 0.08), stats.norm(10.4, 0.08)),
    (Gamma(4.0, 4.0), stats.gamma(4.0, scale=0.25)),
    (Gamma(1.0, 2.0), stats.gamma(1.0, scale=0.5)),
    (Gamma(90.0, 8.0), stats.gamma(90.0, scale=0.125)),
    (Uniform(9.8, 10.6), stats.uniform(9.8, 0.8)),
]


@pytest.mark.parametrize(("ours", "theirs"), BESIDE)
def test_density_probability_quantile_and_moments_agree_with_an_independent_library(
    ours: Distribution, theirs: stats.rv_continuous
) -> None:
    assert ours.mean == pytest.approx(theirs.mean(), rel=1e-14)
    assert ours.standard_deviation == pytest.approx(theirs.std(), rel=1e-14)
    for probability in (1e-6, 0.025, 0.5, 0.8, 0.999):
        value = ours.quantile(probability)
        assert value == pytest.approx(theirs.ppf(probability), rel=1e-12)
        assert ours.cdf(value) == pytest.approx(probability, rel=1e-10)
        assert ours.pdf(value) == pytest.approx(theirs.pdf(value), rel=1e-11)


@pytest.mark.parametrize(
    "distribution", [*(ours for ours, _ in BESIDE), RectangularAndNormal(0.1, 0.03), RectangularAndNormal(0.02, 0.05)]
)
def test_all_that_is_probable_lies_between_the_first_break_and_the_last(distribution: Distribution) -> None:
    breaks = distribution.breaks
    assert list(breaks) == sorted(breaks)
    whole = integrate(lambda x: np.stack([distribution.densities(x), x * distribution.densities(x)]), breaks)
    assert whole.values[0] == pytest.approx(1.0, abs=1e-9)
    assert whole.values[1] == pytest.approx(distribution.mean, abs=1e-8)
    assert distribution.cdf(breaks[0]) == pytest.approx(0.0, abs=1e-15)
    assert distribution.cdf(breaks[-1]) == pytest.approx(1.0, abs=1e-15)


@pytest.mark.parametrize("distribution", [*(ours for ours, _ in BESIDE), RectangularAndNormal(0.1, 0.03)])
def test_far_outside_there_is_nothing_and_everything_lies_below_infinity(distribution: Distribution) -> None:
    assert distribution.cdf(-math.inf) == 0.0
    assert distribution.cdf(math.inf) == 1.0
    assert distribution.pdf(-100.0) == 0.0


def test_a_gamma_density_begins_at_nothing_unless_its_shape_is_one() -> None:
    assert Gamma(1.0, 2.0).pdf(0.0) == 2.0
    assert Gamma(1.5, 2.0).pdf(0.0) == 0.0
    assert Gamma(1.0, 2.0).pdf(-0.1) == 0.0
    assert Gamma(2.0, 2.0).cdf(-0.1) == 0.0


def test_a_uniform_density_counts_its_ends() -> None:
    assert Uniform(1.0, 3.0).pdf(1.0) == Uniform(1.0, 3.0).pdf(3.0) == 0.5
    assert Uniform(1.0, 3.0).pdf(0.999) == Uniform(1.0, 3.0).pdf(3.001) == 0.0


@given(
    st.floats(min_value=0.001, max_value=1.0),
    st.floats(min_value=0.005, max_value=1.0),
    st.floats(min_value=-4.0, max_value=4.0),
)
def test_a_rectangle_and_a_normal_together_have_the_probability_of_their_convolution(
    half_width: float, spread: float, place: float
) -> None:
    ours = RectangularAndNormal(half_width, spread)
    value = place * ours.standard_deviation
    sides = sorted({-half_width, *(value + z * spread for z in (-8.0, 0.0, 8.0)), half_width})
    inside = [side for side in sides if -half_width <= side <= half_width]
    normal = stats.norm(0.0, spread)
    expected = integrate(lambda r: np.stack([normal.cdf(value - r), normal.pdf(value - r)]), inside).values
    assert ours.cdf(value) == pytest.approx(expected[0] / (2.0 * half_width), abs=1e-9)
    assert ours.pdf(value) == pytest.approx(expected[1] / (2.0 * half_width), rel=1e-7, abs=1e-7)


def test_a_rectangle_and_a_normal_together_are_symmetric_about_nothing() -> None:
    both = RectangularAndNormal(0.1, 0.03)
    assert both.cdf(0.0) == pytest.approx(0.5, abs=1e-15)
    assert both.mean == 0.0
    assert both.standard_deviation == pytest.approx(math.sqrt(0.01 / 3.0 + 0.0009), rel=1e-14)
    assert both.cdf(0.12) + both.cdf(-0.12) == pytest.approx(1.0, abs=1e-15)
    assert both.pdf(0.12) == both.pdf(-0.12)
    assert both.quantile(0.95) == pytest.approx(-both.quantile(0.05), abs=1e-12)
    assert both.cdf(both.quantile(0.975)) == pytest.approx(0.975, abs=1e-11)
    assert both.breaks[0] == pytest.approx(-0.37)
    assert both.breaks[-1] == pytest.approx(0.37)


def test_an_error_is_made_of_the_parts_it_has() -> None:
    assert error_distribution(0.0, 0.0) is None
    assert error_distribution(0.1, 0.0) == Uniform(-0.1, 0.1)
    assert error_distribution(0.0, 0.03) == Normal(0.0, 0.03)
    assert error_distribution(0.1, 0.03) == RectangularAndNormal(0.1, 0.03)


def test_a_rectangle_that_is_nothing_beside_the_normal_part_is_taken_into_it() -> None:
    narrow = error_distribution(0.99e-3 * 0.05, 0.05)
    assert narrow == Normal(0.0, math.hypot(0.05, 0.99e-3 * 0.05 / math.sqrt(3.0)))
    exact = RectangularAndNormal(0.99e-3 * 0.05, 0.05)
    for value in (-0.2, -0.05, 0.01, 0.1):
        assert narrow.cdf(value) == pytest.approx(exact.cdf(value), abs=1e-12)
    assert error_distribution(1e-3 * 0.05, 0.05) == RectangularAndNormal(1e-3 * 0.05, 0.05)


SPREAD = [10.30, 10.42, 10.51, 10.38, 10.44, 10.29, 10.55, 10.41]


def test_a_history_gives_the_spread_of_the_engines_less_that_of_measuring() -> None:
    found = from_history(SPREAD, [0.03] * 4 + [0.05] * 4)
    assert found.distribution is not None
    assert found.distribution.mean == pytest.approx(stats.tmean(SPREAD), rel=1e-14)
    variance = stats.tvar(SPREAD) - (0.03**2 + 0.05**2) / 2.0
    assert found.distribution.standard_deviation == pytest.approx(math.sqrt(variance), rel=1e-12)
    assert found.sentence == (
        "8 engines measured: mean 10.412, standard deviation 0.091; less the scatter of measuring, 0.041, the engines "
        "themselves spread by 0.081. A normal distribution is assumed."
    )


@pytest.mark.parametrize(
    ("count", "begins"),
    [
        (0, "No engine has been measured yet"),
        (1, "Only 1 engine has"),
        (FEWEST - 1, "Only 7 engines have been measured"),
    ],
)
def test_a_history_too_short_says_so_and_gives_no_spread(count: int, begins: str) -> None:
    found = from_history(SPREAD[:count], [0.03] * count)
    assert found.distribution is None
    assert found.sentence.startswith(begins)
    assert "8 are needed to say how the engines spread. Declare a spread." in found.sentence


def test_scatter_that_measuring_alone_may_show_says_nothing_of_the_engines() -> None:
    values = [10.0, 10.1] * 4
    may_show = stats.chi2.ppf(0.95, 7) / 7.0
    just_explained = stats.tstd(values) / math.sqrt(may_show)
    found = from_history(values, [just_explained * 1.0001] * 8)
    assert found.distribution is None
    assert found.sentence == (
        "8 engines measured: mean 10.050, standard deviation 0.053; measuring alone scatters by 0.038 and may show as "
        "much. How far the engines themselves differ cannot be told from that. Declare a spread."
    )
    told = from_history(values, [just_explained * 0.9999] * 8).distribution
    assert told is not None
    assert told.standard_deviation == pytest.approx(stats.tstd(values) * math.sqrt(1.0 - 1.0 / may_show), rel=1e-3)


@pytest.mark.parametrize(
    ("make", "field", "sentence"),
    [
        (
            lambda: Normal(10.0, 0.0),
            "standard_deviation",
            "A standard deviation must be a number above 0; 0 was given.",
        ),
        (lambda: Normal(10.0, math.nan), "standard_deviation", "must be a number above 0; nan was given."),
        (lambda: Gamma(4.0, -1.0), "rate", "The rate of a gamma distribution must be a number above 0; -1 was given."),
        (lambda: Gamma(0.5, 1.0), "shape", "The shape of this gamma distribution is 0.5; it must be 1 or more."),
        (lambda: Gamma(math.inf, 1.0), "shape", "is inf; it must be 1 or more."),
        (lambda: Uniform(10.0, 10.0), "upper", "The width of a uniform distribution must be a number above 0"),
        (lambda: RectangularAndNormal(math.inf, 1.0), "half_width", "The half-width of a rectangular error must be"),
        (lambda: RectangularAndNormal(1.0, 0.0), "normal_standard_deviation", "A standard deviation must be"),
        (lambda: Normal(0.0, 1.0).quantile(0.0), "probability", "A probability lies between 0 and 1; 0 was given."),
        (lambda: Uniform(0.0, 1.0).quantile(1.0), "probability", "lies between 0 and 1; 1 was given."),
        (lambda: Gamma(2.0, 1.0).quantile(1.5), "probability", "1.5 was given."),
        (lambda: RectangularAndNormal(1.0, 1.0).quantile(-0.1), "probability", "-0.1 was given."),
    ],
)
def test_a_distribution_that_cannot_be_says_why(make: object, field: str, sentence: str) -> None:
    with pytest.raises(MeasurementError) as raised:
        make()  # type: ignore[operator]
    assert raised.value.field == field
    assert sentence in raised.value.sentence
