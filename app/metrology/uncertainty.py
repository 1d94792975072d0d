"""The budget: what each source contributes, what comes of them together, and with how many degrees of freedom.

First-order propagation by JCGM 100:2008, 5.1.2, sources uncorrelated within one result. Across the cylinders of one
engine a *shared* source has one and the same error everywhere, so it adds linearly (5.2.2, r = +1); an *own* source is
independent from cylinder to cylinder and adds by root sum of squares.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from app.metrology.distributions import INFINITE
from app.metrology.measurement import WHOLE_ENGINE, Measured, Measurement, Source
from app.metrology.rejection import Parts
from app.metrology.spread import Spread

TRUNCATION_ALLOWANCE = 0.01
_ROOT_THREE = math.sqrt(3.0)


class Combined(NamedTuple):
    """What the sources of one result yield together; all in the result's unit."""

    contributions: tuple[float, ...]  # |c|·u of each source, in order. JCGM 100:2008, 5.1.3
    standard_uncertainty: float
    effective_dof: float  # Welch–Satterthwaite over all sources, as computed
    spread: Spread  # of the error: the greatest rectangular source, and the bell of all others
    parts: Parts  # the same error as shared and own part


def effective_degrees_of_freedom(contributions: Sequence[tuple[float, float]]) -> float:
    """ν_eff = u⁴ / Σ(uᵢ⁴/νᵢ) from pairs (contribution, dof); infinite when no part is an estimate. JCGM 100, G.4.1."""
    largest = max((contribution for contribution, _ in contributions), default=0.0)
    if largest == 0.0:
        return INFINITE
    # relative to the largest part, so that fourth powers neither overflow nor vanish
    variance = sum([(contribution / largest) ** 2 for contribution, _ in contributions])
    divisor = sum([(contribution / largest) ** 4 / dof for contribution, dof in contributions if dof != INFINITE])
    return variance * variance / divisor if divisor > 0.0 else INFINITE


def truncated_degrees_of_freedom(degrees_of_freedom: float) -> float:
    """ν_eff taken to the next lower integer, as JCGM 100:2008, G.4.1 allows and its example H.1 does (16.7 → 16).

    A hundredth is added first: the example of G.4.1 computes to 18.9987 and is printed, and used, as 19.
    """
    if math.isinf(degrees_of_freedom):
        return INFINITE
    return float(max(1, math.floor(degrees_of_freedom + TRUNCATION_ALLOWANCE)))


def combine(sources: Sequence[Source], measured: Measured) -> Combined:
    """What the sources of this result yield together. JCGM 100:2008, 5.1.2 and G.4.1.

    The greatest source of which only limits are known stays rectangular; all others are taken as one bell.
    """
    contributions = tuple([abs(c) * u for c, u in zip(measured.sensitivity, measured.u, strict=True)])
    rectangle, shared_rectangle = 0.0, True
    shared_variance = own_variance = shared_divisor = own_divisor = 0.0
    for source, contribution, dof in zip(sources, contributions, measured.dof, strict=True):
        variance = contribution * contribution
        if source.distribution == "rectangular" and contribution > rectangle:
            # the lesser rectangle so far goes into the bell
            if shared_rectangle:
                shared_variance += rectangle * rectangle
            else:
                own_variance += rectangle * rectangle
            rectangle, shared_rectangle = contribution, source.shared
        elif source.shared:
            shared_variance += variance
            if dof != INFINITE:
                shared_divisor += variance * variance / dof
        else:
            own_variance += variance
            if dof != INFINITE:
                own_divisor += variance * variance / dof
    bell = shared_variance + own_variance
    total = bell + rectangle * rectangle
    divisor = shared_divisor + own_divisor
    half_width = rectangle * _ROOT_THREE
    own = own_variance if shared_rectangle else own_variance + rectangle * rectangle
    return Combined(
        contributions,
        math.sqrt(total),
        total * total / divisor if divisor > 0.0 else INFINITE,
        Spread(half_width, math.sqrt(bell), _dof_used(bell, divisor)),
        Parts(
            half_width if shared_rectangle else 0.0,
            math.sqrt(shared_variance),
            math.sqrt(own),
            _dof_used(own, own_divisor),
            _dof_used(shared_variance, shared_divisor),
        ),
    )


def _dof_used(variance: float, divisor: float) -> float:
    """Truncated, from a variance u² and the divisor Σ(uᵢ⁴/νᵢ) of Welch and Satterthwaite."""
    return truncated_degrees_of_freedom(variance * variance / divisor) if divisor > 0.0 else INFINITE


def mean_of(measurement: Measurement) -> Measured:
    """The arithmetic mean of the results of one measurement, as a result of its own, with the same sources.

    Shared sources keep their input and take the mean sensitivity; own ones are merged, in the result's unit.
    """
    results = measurement.results
    count = len(results)
    u, sensitivity, dof = [], [], []
    for place, source in enumerate(measurement.sources):
        if source.shared:
            u.append(results[0].u[place])
            sensitivity.append(math.fsum([one.sensitivity[place] for one in results]) / count)
            dof.append(results[0].dof[place])
        else:
            parts = [
                (abs(one.sensitivity[place]) * one.u[place], one.dof[place], one.dof_in_common[place])
                for one in results
            ]
            u.append(math.hypot(*(part for part, _, _ in parts)) / count)
            sensitivity.append(1.0)
            dof.append(_degrees_of_freedom_together(parts))
    shown = [one.mean_indication for one in results if one.mean_indication is not None]
    return Measured(
        cylinder=WHOLE_ENGINE,
        value=math.fsum([one.value for one in results]) / count,
        u=tuple(u),
        sensitivity=tuple(sensitivity),
        dof=tuple(dof),
        dof_in_common=(0.0,) * len(u),
        mean_indication=math.fsum(shown) / len(shown) if shown else None,
    )


def _degrees_of_freedom_together(parts: Sequence[tuple[float, float, float]]) -> float:
    """Of own sources whose variances are estimates (JCGM 100, G.4.1), what several of them share counted once only.

    Triples (contribution, dof, dof in common). uᵢ² is pooled from νᵢ degrees of freedom, c of them common: the common
    estimate stands in the sum with Σ uᵢ²·c/νᵢ. Eight cylinders with one and the same history of c, and no scatter of
    their own, have c together, not 8·c.
    """
    separate, common, in_common = [], 0.0, 0.0
    for contribution, dof, shared in parts:
        variance = contribution**2
        if shared == 0.0 or math.isinf(dof):
            separate.append((contribution, dof))
            continue
        own = dof - shared
        separate.append((math.sqrt(variance * own / dof), own if own > 0.0 else INFINITE))
        common, in_common = common + variance * shared / dof, shared
    return effective_degrees_of_freedom([*separate, (math.sqrt(common), in_common or INFINITE)])


def own_part(sources: Sequence[Source], measured: Measured) -> tuple[float, float]:
    """(standard uncertainty, dof) of the sources that differ from cylinder to cylinder: what siblings are held by."""
    parts = [
        (abs(c) * u, dof)
        for source, c, u, dof in zip(sources, measured.sensitivity, measured.u, measured.dof, strict=True)
        if not source.shared
    ]
    return math.hypot(*(part for part, _ in parts)), effective_degrees_of_freedom(parts)


@dataclass(frozen=True, slots=True)
class Component:
    """One line of the budget as shown and stored: the standard uncertainty of an input in `unit`, and what it does."""

    name: str
    label: str
    source: str
    distribution: str
    standard_uncertainty: float
    unit: str
    sensitivity: float  # result's unit per unit, signed
    degrees_of_freedom: float  # infinite where the standard uncertainty is not itself an estimate from few values
    shared: bool  # the same error for all cylinders of the engine
    contribution: float  # |c|·u in the result's unit
    percent_of_variance: float


@dataclass(frozen=True, slots=True)
class Budget:
    """Components with what they yield together; all in the result's unit."""

    components: tuple[Component, ...]
    standard_uncertainty: float
    effective_degrees_of_freedom: float  # Welch–Satterthwaite, as computed
    degrees_of_freedom_used: float  # of the bell, truncated
    half_width: float  # of the rectangular part; 0 without one


def budget_of(sources: Sequence[Source], measured: Measured, combined: Combined, words: Sequence[str]) -> Budget:
    """The budget in words and figures, for a reader and for the record."""
    variance = combined.standard_uncertainty**2
    return Budget(
        components=tuple(
            Component(
                name=source.name,
                label=source.label,
                source=said,
                distribution=source.distribution,
                standard_uncertainty=u,
                unit=source.unit,
                sensitivity=sensitivity,
                degrees_of_freedom=dof,
                shared=source.shared,
                contribution=contribution,
                percent_of_variance=100.0 * contribution**2 / variance,
            )
            for source, said, u, sensitivity, dof, contribution in zip(
                sources, words, measured.u, measured.sensitivity, measured.dof, combined.contributions, strict=True
            )
        ),
        standard_uncertainty=combined.standard_uncertainty,
        effective_degrees_of_freedom=combined.effective_dof,
        degrees_of_freedom_used=combined.spread.dof,
        half_width=combined.spread.half_width,
    )
