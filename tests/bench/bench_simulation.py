"""What share of intervals covers the truth, and how often an engine is wronged: simulated, with the errors as budgeted.

Shares, not speeds; the 95 % interval has to cover 94 to 96 %, either risk to stay at or below the 5 % of the edition.
"""

import os

import pytest

from tests.simulated_engines import Shed, simulate

TRIALS = 20_000 if os.environ.get("SHEDBOOK_SOAK") else 300


@pytest.mark.soak
@pytest.mark.parametrize("meaning", ["limits", "expanded_k2"])
@pytest.mark.parametrize("history_dof", [24, 0])
@pytest.mark.parametrize("cylinders", [4, 6, 8, 12])
@pytest.mark.parametrize("repeats", [1, 2, 3])
def test_shares(meaning: str, history_dof: int, cylinders: int, repeats: int) -> None:
    counted = simulate(Shed(cylinders, repeats, meaning, history_dof), TRIALS, seed=cylinders * 10 + repeats)
    print(
        f"\n{cylinders} cylinders, {repeats} repeats, accuracy as {meaning}, history of {history_dof} dof: "
        f"covered {100 * counted.share('covered'):.1f} %, "
        f"wrongly rejected {100 * counted.share('wrongly_rejected'):.1f} %, "
        f"wrongly accepted {100 * counted.share('wrongly_accepted'):.1f} %, "
        f"leaks called conforming {counted.leak_conforming} of {TRIALS}"
    )
    allowed = 3.1 * (0.06 * 0.94 / TRIALS) ** 0.5
    assert 0.94 - allowed <= counted.share("covered") <= 0.96 + allowed
    assert counted.share("wrongly_rejected") <= counted.most(0.05)
    assert counted.share("wrongly_accepted") <= counted.most(0.05)
    assert counted.leak_conforming == 0
