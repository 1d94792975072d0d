"""The budget: what each source contributes, what comes of them together, and with how many degrees of freedom.

First-order propagation by JCGM 100:2008, 5.1.2, sources uncorrelated within one result. Across the cylinders of one
engine a *shared* source has one and the same error everywhere, so it adds linearly (5.2.2, r = +1); an *own* source is
independent from cylinder to cylinder and adds by root sum of squares.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from app.metrology.distributions import INFINITE, coverage_factor

TRUNCATION_ALLOWANCE = 0.01


@dataclass(frozen=True, slots=True)
class Component:
    """One source: the standard uncertainty of an input quantity in `unit`, and what it does to the ratio."""

    name: str
    label: str
    source: str
    distribution: str
    standard_uncertainty: float
    unit: str
    sensitivity: float  # ratio per unit, signed
    degrees_of_freedom: float  # infinite where the standard uncertainty is not itself an estimate from few values
    shared: bool  # the same error for all cylinders of the engine
    degrees_of_freedom_in_common: float = 0.0  # those of them that the cylinders' estimates draw from one history
    percent_of_variance: float = 0.0  # filled by the budget

    @property
    def contribution(self) -> float:
        """|c|·u in units of ratio. JCGM 100:2008, 5.1.3."""
        return abs(self.sensitivity) * self.standard_uncertainty


@dataclass(frozen=True, slots=True)
class Budget:
    """Components with what they yield together; all in units of ratio."""

    components: tuple[Component, ...]
    standard_uncertainty: float
    effective_degrees_of_freedom: float  # Welch–Satterthwaite, as computed
    degrees_of_freedom_used: float  # truncated; the coverage factor and every probability use this one

    def coverage_factor(self, coverage_probability: float) -> float:
        """k from Student's t at the degrees of freedom used. JCGM 100:2008, G.3.2."""
        return coverage_factor(coverage_probability, self.degrees_of_freedom_used)

    @property
    def own_part(self) -> "Budget":
        """The budget of the sources that differ from cylinder to cylinder: what counts when siblings are compared."""
        return combine([part for part in self.components if not part.shared])


def effective_degrees_of_freedom(contributions: Sequence[tuple[float, float]]) -> float:
    """ν_eff = u⁴ / Σ(uᵢ⁴/νᵢ) from pairs (contribution, dof); infinite when no part is an estimate. JCGM 100, G.4.1."""
    largest = max((contribution for contribution, _ in contributions), default=0.0)
    if largest == 0.0:
        return INFINITE
    # relative to the largest part, so that fourth powers neither overflow nor vanish
    variance = sum((contribution / largest) ** 2 for contribution, _ in contributions)
    divisor = sum((contribution / largest) ** 4 / dof for contribution, dof in contributions)
    return variance**2 / divisor if divisor > 0.0 else INFINITE


def truncated_degrees_of_freedom(degrees_of_freedom: float) -> float:
    """ν_eff taken to the next lower integer, as JCGM 100:2008, G.4.1 allows and its example H.1 does (16.7 → 16).

    A hundredth is added first: the example of G.4.1 computes to 18.9987 and is printed, and used, as 19.
    """
    if math.isinf(degrees_of_freedom):
        return INFINITE
    return float(max(1, math.floor(degrees_of_freedom + TRUNCATION_ALLOWANCE)))


def combine(components: Sequence[Component]) -> Budget:
    """The budget of one result from its components. JCGM 100:2008, 5.1.2 and G.4.1."""
    standard_uncertainty = math.hypot(*(part.contribution for part in components))
    dof = effective_degrees_of_freedom([(part.contribution, part.degrees_of_freedom) for part in components])
    return Budget(
        components=tuple(_with_percent(part, standard_uncertainty) for part in components),
        standard_uncertainty=standard_uncertainty,
        effective_degrees_of_freedom=dof,
        degrees_of_freedom_used=truncated_degrees_of_freedom(dof),
    )


def _with_percent(part: Component, standard_uncertainty: float) -> Component:
    share = (part.contribution / standard_uncertainty) ** 2 if standard_uncertainty > 0.0 else 0.0
    return replace(part, percent_of_variance=100.0 * share)


def combine_mean(budgets: Sequence[Budget]) -> Budget:
    """The budget of the mean of several cylinders, whose budgets list the same sources in the same order.

    Shared sources keep their input and take the mean sensitivity; own ones are merged into one line in units of ratio.
    """
    return combine([_of_mean(parts) for parts in zip(*(budget.components for budget in budgets), strict=True)])


def _of_mean(parts: Sequence[Component]) -> Component:
    first, count = parts[0], len(parts)
    if first.shared:
        return replace(first, sensitivity=math.fsum(part.sensitivity for part in parts) / count)
    return replace(
        first,
        source=f"{first.source}; {count} cylinders, root sum of squares divided by {count}",
        standard_uncertainty=math.hypot(*(part.contribution for part in parts)) / count,
        unit="1",
        sensitivity=1.0,
        degrees_of_freedom=_degrees_of_freedom_together(parts),
        degrees_of_freedom_in_common=0.0,
    )


def _degrees_of_freedom_together(parts: Sequence[Component]) -> float:
    """Of own sources whose variances are estimates (JCGM 100, G.4.1), the history that several of them share once only.

    uᵢ² is pooled from νᵢ degrees of freedom, c of them common: the common estimate stands in the sum with Σ uᵢ²·c/νᵢ.
    Eight cylinders with one and the same history of c, and no scatter of their own, have c together, not 8·c.
    """
    separate, common, in_common = [], 0.0, 0.0
    for part in parts:
        variance, dof, shared = part.contribution**2, part.degrees_of_freedom, part.degrees_of_freedom_in_common
        if shared == 0.0 or math.isinf(dof):
            separate.append((part.contribution, dof))
            continue
        own = dof - shared
        separate.append((math.sqrt(variance * own / dof), own if own > 0.0 else INFINITE))
        common, in_common = common + variance * shared / dof, shared
    return effective_degrees_of_freedom([*separate, (math.sqrt(common), in_common or INFINITE)])
