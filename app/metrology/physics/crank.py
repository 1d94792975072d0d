"""Slider-crank kinematics: what the piston's place away from top dead centre does to the figure.

With crank radius a = S/2 and connecting rod l = n·S, both between centres, n the rod ratio, no wrist-pin offset, the
piston stands below top dead centre by

    x(θ) = a·(1 − cos θ) + l − √(l² − a²·sin²θ) = 2a·sin²(θ/2) + a²·sin²θ/(l + √(l² − a²·sin²θ)),

the second form being free of the difference of near-equal numbers. Exact; plane geometry.
"""

import math
from functools import lru_cache
from typing import NamedTuple

from app.metrology.errors import MeasurementError
from app.metrology.geometry import swept_volume_cm3
from app.metrology.physics.ranges import a_ratio, finite, more_than_nothing, within

LEAST_ROD_RATIO, GREATEST_ROD_RATIO = 1.0, 3.0
COARSEST_STEP_DEGREES = 20.0
LARGEST_SHARE_OF_CHAMBER = 0.25

# Gauss-Legendre on 0…1, eight points (Abramowitz and Stegun, Table 25.4, mapped from −1…1)
_NODES = tuple(
    0.5 * (1.0 + side * x)
    for x in (0.1834346424956498, 0.5255324099163290, 0.7966664774136267, 0.9602898564975363)
    for side in (-1.0, 1.0)
)
_WEIGHTS = tuple(
    0.5 * w
    for w in (0.3626837833783620, 0.3137066458778873, 0.2223810344533745, 0.1012285362903763)
    for _ in (-1.0, 1.0)
)


class PeakBias(NamedTuple):
    """What reading a peak in crank steps does: `bias` ≥ 0 is added back, both in units of ratio."""

    bias: float
    standard_uncertainty: float


def piston_below_tdc_mm(stroke_mm: float, rod_ratio: float, crank_degrees: float) -> float:
    """How far the piston stands below top dead centre in mm; stroke in mm, rod ratio l/S, crank angle in degrees."""
    more_than_nothing(stroke_mm, "stroke_mm", "A stroke")
    _usual(rod_ratio)
    finite(crank_degrees, "crank_degrees", "A crank angle")
    return stroke_mm * _share_of_stroke(rod_ratio, math.radians(crank_degrees))


def volume_above_tdc_cm3(bore_mm: float, stroke_mm: float, rod_ratio: float, crank_degrees: float) -> float:
    """By how many cm³ the chamber is larger than at top dead centre: the error of the clearance volume, never negative.

    Bore and stroke in mm, rod ratio l/S, crank angle from top dead centre in degrees, to either side.
    """
    more_than_nothing(bore_mm, "bore_mm", "A bore")
    return swept_volume_cm3(bore_mm, piston_below_tdc_mm(stroke_mm, rod_ratio, crank_degrees))


def peak_bias(bore_mm: float, stroke_mm: float, rod_ratio: float, step_degrees: float, ratio: float) -> PeakBias:
    """Bias to add back and its standard uncertainty, in units of ratio, of a peak read in crank steps.

    `ratio` is the greatest reading, the one at the best step; `step_degrees` (0 to 20) the step δ between readings,
    0 when the crank was turned steadily. The crank then stood θ off top dead centre, any angle within ±δ/2 being as
    likely as another. There the chamber is Vc + A·x(θ), so with q = r − 1 of the engine and q_m = ratio − 1 as read

        q_m = q/(1 + q·s),   q = q_m/(1 − q_m·s),   s = x/S ≥ 0,   d(θ) = q − q_m = q_m²·s/(1 − q_m·s) ≥ 0.

    The bias is the mean of d over θ and u² its variance (JCGM 101:2008, 6.4.2, carried through the exact function):
    one-sided, nearly that of a squared rectangular variable, for which u is 2/√5 of the bias; no small angle is
    assumed. Means by Gauss-Legendre in eight points, right to 1e-9 of themselves wherever it is not refused.
    Bore and stroke only scale both volumes and cancel; they are asked so that what cannot be is refused.
    """
    more_than_nothing(bore_mm, "bore_mm", "A bore")
    more_than_nothing(stroke_mm, "stroke_mm", "A stroke")
    a_ratio(ratio)
    shares, greatest = _shares_of_stroke(rod_ratio, step_degrees)
    as_read = ratio - 1.0
    if as_read * greatest > LARGEST_SHARE_OF_CHAMBER:
        raise MeasurementError(
            "step_degrees",
            f"Half a step of {step_degrees:g}° makes this chamber larger by more than a quarter: the peak is lost "
            "between readings. Turn the crank in smaller steps.",
        )
    squared = as_read * as_read
    found = [squared * share / (1.0 - as_read * share) for share in shares]
    mean = sum(map(float.__mul__, _WEIGHTS, found))
    variance = sum([weight * (value - mean) ** 2 for weight, value in zip(_WEIGHTS, found, strict=True)])
    return PeakBias(mean, math.sqrt(variance))


@lru_cache(maxsize=256)
def _shares_of_stroke(rod_ratio: float, step_degrees: float) -> tuple[tuple[float, ...], float]:
    """s = x/S at the nodes over 0…δ/2 (s is even in θ) and at δ/2: the same for all cylinders of an engine."""
    _usual(rod_ratio)
    within(
        step_degrees,
        0.0,
        COARSEST_STEP_DEGREES,
        "step_degrees",
        f"The crank step lies between 0 (turned steadily) and {COARSEST_STEP_DEGREES:g}°; turn in smaller steps, "
        "the peak is sharp.",
    )
    half = math.radians(step_degrees) / 2.0
    return tuple(_share_of_stroke(rod_ratio, half * node) for node in _NODES), _share_of_stroke(rod_ratio, half)


def _share_of_stroke(rod_ratio: float, radians: float) -> float:
    """x/S: the share of the stroke by which the piston stands below top dead centre."""
    half_sine, quarter = math.sin(radians / 2.0), (0.5 * math.sin(radians)) ** 2
    return half_sine * half_sine + quarter / (rod_ratio + math.sqrt(rod_ratio * rod_ratio - quarter))


def _usual(rod_ratio: float) -> None:
    how = "It is the connecting rod's length between centres divided by the stroke, usually 1.4 to 2.2."
    if not rod_ratio > 0.5:
        raise MeasurementError(
            "rod_ratio", f"A connecting rod is longer than half the stroke, or the crank could not turn. {how}"
        )
    within(
        rod_ratio,
        LEAST_ROD_RATIO,
        GREATEST_ROD_RATIO,
        "rod_ratio",
        f"A rod ratio of {rod_ratio:g} is no engine's. {how} Was the rod divided by half the stroke, or not divided?",
    )
