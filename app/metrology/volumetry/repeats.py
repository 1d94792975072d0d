"""How well fills repeat: one scatter for all fills of a sheet, pooled, and none of it where a cylinder disagrees.

Filling is one hand's skill with one burette, so its scatter is one and the same for all cylinders; eight cylinders
filled twice give it eight degrees of freedom where each alone would have one (JCGM 100:2008, 4.2.4).
"""

import math
from collections.abc import Sequence
from typing import NamedTuple

from app.metrology.distributions import INFINITE, variance_ratio_quantile
from app.metrology.repeatability import SIGNIFICANCE, scatter

ASSUMED_CM3 = 0.2  # of a single fill that nothing is known of: common practice, no source
POOLED, ALONE, ASSUMED = "pooled", "alone", "assumed"


class FillScatter(NamedTuple):
    """Standard deviation of one fill in cm³, its degrees of freedom, and where both come from."""

    standard_deviation_cm3: float
    dof: float
    origin: str  # pooled | alone | assumed

    @property
    def dof_in_common(self) -> float:
        """All of them where the estimate is everyone's."""
        return self.dof if self.origin == POOLED else 0.0


def fill_scatters(
    runs: Sequence[Sequence[float]], prior: tuple[float, float] | None, floor_cm3: float
) -> tuple[FillScatter, ...]:
    """The scatter that holds for each run of fills (cm³), in order.

    A run that scatters significantly wider than the others together (F test, one-sided, 1 %) is not pooled: it has its
    own. Others that agree to the last digit by luck are taken to scatter by `floor_cm3`, what reading alone explains.
    """
    parts = [(scatter(run), float(len(run) - 1)) if len(run) > 1 else (0.0, 0.0) for run in runs]
    alone = [_wider(parts, place, prior, floor_cm3) for place in range(len(parts))]
    pool = _pooled([part for part, own in zip(parts, alone, strict=True) if not own], prior)
    common = FillScatter(ASSUMED_CM3, INFINITE, ASSUMED) if pool is None else FillScatter(*pool, POOLED)
    return tuple(FillScatter(*part, ALONE) if own else common for part, own in zip(parts, alone, strict=True))


def _wider(
    parts: Sequence[tuple[float, float]], place: int, prior: tuple[float, float] | None, floor_cm3: float
) -> bool:
    deviation, dof = parts[place]
    others = _pooled([*parts[:place], *parts[place + 1 :]], prior)
    if not dof or others is None:
        return False
    bound = max(others[0], floor_cm3)
    return deviation**2 > variance_ratio_quantile(1.0 - SIGNIFICANCE, dof, others[1]) * bound**2


def _pooled(parts: Sequence[tuple[float, float]], prior: tuple[float, float] | None) -> tuple[float, float] | None:
    """JCGM 100:2008, 4.2.4. None when nothing repeats anything; known with infinite dof, the prior stands alone."""
    if prior is not None and math.isinf(prior[1]):
        return prior
    known = [*parts, prior] if prior is not None else parts
    dof = math.fsum(part[1] for part in known)
    if not dof:
        return None
    return math.sqrt(math.fsum(part[1] * part[0] ** 2 for part in known) / dof), dof
