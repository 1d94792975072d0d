"""Engines of known truth: does the interval hold what it says, and is the stated risk the engine's?

A fixed seed and fewer trials than the bench; each bound is what a true share would be exceeded by once in a thousand.
"""

from dataclasses import replace

import pytest

from tests.simulated_engines import Shed, simulate

TRIALS = 400


@pytest.mark.parametrize(
    "shed",
    [
        Shed(4, 1, "limits"),
        Shed(8, 3, "limits"),
        Shed(12, 2, "limits"),
        Shed(6, 2, "limits", history_dof=0),
        Shed(4, 3, "expanded_k2"),
        Shed(8, 2, "expanded_k2", history_dof=0),
        Shed(12, 1, "expanded_k2", history_dof=60),
        Shed(8, 2, "expanded_k2", accuracy=0.02, noise=0.05),  # mostly own errors: the maximum of eight
    ],
    ids=lambda shed: f"{shed.cylinders} cylinders, {shed.repeats} repeats, {shed.meaning}, {shed.history_dof} dof",
)
def test_the_stated_risks_hold_for_engines_of_known_truth(shed: Shed) -> None:
    counted = simulate(shed, TRIALS, seed=20261125 + shed.cylinders * 10 + shed.repeats)
    assert 1.0 - counted.most(0.06) <= counted.share("covered") <= 1.0 - 0.04 + (counted.most(0.04) - 0.04)
    assert counted.share("wrongly_rejected") <= counted.most(0.05)
    assert counted.share("wrongly_accepted") <= counted.most(0.05)
    assert counted.leak_conforming == 0


@pytest.mark.parametrize(
    "shed",
    [
        Shed(4, 2, "expanded_k2", accuracy=0.04, inspector=0.08, study_dof=6),
        Shed(8, 2, "limits", inspector=0.08, study_dof=4),
        Shed(8, 1, "expanded_k2", accuracy=0.02, noise=0.06, inspector=0.06, study_dof=3),  # own and shared alike
    ],
    ids=lambda shed: f"{shed.cylinders} cylinders, {shed.meaning}, {shed.study_dof} dof between inspectors",
)
def test_what_inspectors_differ_by_is_covered_with_the_gauge_study_and_not_without(shed: Shed) -> None:
    told = simulate(shed, TRIALS, seed=20261125)
    untold = simulate(replace(shed, study_dof=0), TRIALS, seed=20261125)
    assert 1.0 - told.most(0.05) <= told.share("covered") <= 0.98
    assert told.share("wrongly_rejected") <= told.most(0.05)
    assert told.share("wrongly_accepted") <= told.most(0.05)
    assert untold.share("covered") < 1.0 - untold.most(0.05)
    assert untold.share("wrongly_rejected") > untold.most(0.05)
    assert untold.share("wrongly_accepted") > untold.most(0.05)


def test_judged_cylinder_by_cylinder_the_risk_would_not_hold() -> None:
    """The factor of a single cylinder at 95 % rejects an eight-cylinder engine at its limit too often."""
    from app.metrology.rejection import Parts, rejection_factor
    from app.metrology.spread import Spread

    spread = Spread(0.0, 0.05, float("inf"))
    mostly_own = Parts(0.0, 0.02, (0.05**2 - 0.02**2) ** 0.5, float("inf"))
    assert rejection_factor(mostly_own, spread, 8, 0.95) > 2.4
    assert rejection_factor(mostly_own, spread, 1, 0.95) == pytest.approx(1.6449, abs=5e-5)
