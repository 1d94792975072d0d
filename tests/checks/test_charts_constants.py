"""The factors of control charts in print, and by other ways than the quadrature that computes them."""

import math

import pytest
from scipy.stats import studentized_range

from app.metrology.charts.constants import chart_constants

# CC-a: ISO 7870-2 and ASTM MNL 7, tables of factors; from memory, recomputation consistent
PRINTED = [
    (2, "d2", 1.128), (2, "c4", 0.7979), (2, "A2", 1.880), (2, "D3", 0.0), (2, "D4", 3.267), (2, "A3", 2.659),
    (2, "B4", 3.267), (2, "d3", 0.853), (3, "d2", 1.693), (3, "c4", 0.8862), (3, "A2", 1.023), (3, "D4", 2.574),
    (4, "d2", 2.059), (4, "c4", 0.9213), (4, "A2", 0.729), (4, "D4", 2.282), (5, "d2", 2.326), (5, "c4", 0.9400),
    (5, "A2", 0.577), (5, "D4", 2.114), (5, "A3", 1.427), (5, "B4", 2.089), (5, "B3", 0.0), (6, "B3", 0.030),
    (7, "D3", 0.076), (10, "d2", 3.078), (10, "d3", 0.797), (10, "D3", 0.223), (10, "D4", 1.777), (10, "B3", 0.284),
    (10, "B4", 1.716), (25, "d2", 3.931), (25, "d3", 0.708), (25, "c4", 0.9896), (25, "A2", 0.153), (25, "A3", 0.606),
    (25, "D3", 0.459), (25, "D4", 1.541), (25, "B3", 0.565), (25, "B4", 1.435),
]  # fmt: skip
RECOMPUTED = [
    (2, "d2", 1.1284), (2, "A2", 1.8800), (2, "D4", 3.2666), (2, "A3", 2.6587), (2, "B4", 3.2665), (3, "d2", 1.6926),
    (3, "A2", 1.0233), (3, "D4", 2.5746), (4, "d2", 2.0588), (4, "A2", 0.7286), (4, "D4", 2.2821), (5, "d2", 2.3259),
    (5, "A2", 0.5768), (5, "D4", 2.1145), (5, "A3", 1.4273), (5, "B4", 2.0890),
]  # fmt: skip


@pytest.mark.parametrize(("size", "name", "printed"), PRINTED)
def test_factors_in_the_tables(size: int, name: str, printed: float) -> None:
    """CC-a; from memory. D4 for 3 prints 2.574 or 2.575, and 2.5746 is right; the rest agrees to the last digit."""
    last_digit = 5e-5 if name == "c4" else 5e-4
    assert getattr(chart_constants(size), name) == pytest.approx(
        printed, abs=last_digit * (2.0 if name == "D4" else 1.01)
    )


@pytest.mark.parametrize(("size", "name", "recomputed"), RECOMPUTED)
def test_factors_as_recomputed(size: int, name: str, recomputed: float) -> None:
    """CC-a, the column recomputed elsewhere, to its four digits: 3.2666 there for D4 of two values is 3.26653."""
    assert getattr(chart_constants(size), name) == pytest.approx(recomputed, abs=1e-4)


def test_the_mean_range_of_two_to_four_values_in_closed_form() -> None:
    """L. H. C. Tippett (1925) and others: 2/√π, 3/√π, and (6/√π)·(1 − arccos(1/3)/π) for four. From memory."""
    root = math.sqrt(math.pi)
    assert chart_constants(2).d2 == pytest.approx(2.0 / root, rel=1e-12)
    assert chart_constants(3).d2 == pytest.approx(3.0 / root, rel=1e-12)
    assert chart_constants(4).d2 == pytest.approx(6.0 / root * (1.0 - math.acos(1.0 / 3.0) / math.pi), rel=1e-12)


def test_the_scatter_of_the_range_of_two_and_three_values_in_closed_form() -> None:
    """√(2 − 4/π) for two; the mean square for three is 2 + 3√3/π. From memory."""
    assert chart_constants(2).d3 == pytest.approx(math.sqrt(2.0 - 4.0 / math.pi), rel=1e-12)
    three = chart_constants(3)
    assert three.d3**2 + three.d2**2 == pytest.approx(2.0 + 3.0 * math.sqrt(3.0) / math.pi, rel=1e-12)


@pytest.mark.parametrize("size", [2, 6, 12, 25])
def test_the_moments_of_the_range_by_an_independent_library(size: int) -> None:
    """SciPy's distribution of the studentized range without its s: an infinite number of degrees of freedom."""
    widths = [0.02 * (turn + 0.5) for turn in range(600)]
    wider = [float(studentized_range.sf(width, size, math.inf)) for width in widths]
    mean = 0.02 * math.fsum(wider)
    square = 2.0 * 0.02 * math.fsum(width * share for width, share in zip(widths, wider, strict=True))
    found = chart_constants(size)
    assert found.d2 == pytest.approx(mean, abs=1e-4)
    assert found.d3 == pytest.approx(math.sqrt(square - mean * mean), abs=2e-4)
