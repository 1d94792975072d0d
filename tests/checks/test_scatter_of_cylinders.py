"""Cochran's test, which decides whether the cylinders of a sheet repeat alike, against print."""

import pytest

from app.metrology.repeatability import cochran_share


@pytest.mark.parametrize(
    ("groups", "repeats", "significance", "printed"),
    [
        (4, 2, 0.05, 0.906),
        (6, 2, 0.05, 0.781),
        (8, 2, 0.05, 0.680),
        (6, 3, 0.05, 0.616),
        (8, 3, 0.05, 0.516),
        (10, 2, 0.05, 0.602),
        (4, 2, 0.01, 0.968),
        (6, 3, 0.01, 0.722),
        (8, 3, 0.01, 0.615),
    ],
)
def test_cochrans_critical_values(groups: int, repeats: int, significance: float, printed: float) -> None:
    """ISO 5725-2, Table 4: Cochran's C for so many groups of equally many repeats. From memory; recomputed alike."""
    dof = repeats - 1
    found = cochran_share(float(dof), float(dof * (groups - 1)), groups, significance)
    assert found == pytest.approx(printed, abs=0.001)


@pytest.mark.parametrize(
    ("groups", "repeats", "recomputed"), [(4, 2, 0.9065), (8, 2, 0.6798), (8, 3, 0.5157), (6, 3, 0.6161)]
)
def test_the_same_to_four_digits(groups: int, repeats: int, recomputed: float) -> None:
    """Recomputed independently with scipy for the table above."""
    dof = repeats - 1
    assert cochran_share(float(dof), float(dof * (groups - 1)), groups) == pytest.approx(recomputed, abs=6e-5)
