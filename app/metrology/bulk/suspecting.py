"""Might `screening` suspect something that keeps this engine from conforming? Here "perhaps" counts as yes.

Under a maximum that is a figure which may be too low (a low cylinder, repeats that drift), under a minimum one which
may be too high; what else is suspected no conforming verdict hangs on (`verdict.judge_engine`). Whatever is close or
dear to decide is left to the core: every bound here lies on the side of suspicion.
"""

import math
from functools import lru_cache

import numpy as np
from scipy.special import ndtri, stdtrit

from app.metrology.bulk.columns import Flags, Floats, Sheets
from app.metrology.distributions import NORMAL_FROM
from app.metrology.outliers import FEWEST, SIGNIFICANCE, grubbs_critical_value
from app.metrology.screening import CERTAIN_DIFFERENCE, LEAST_DIFFERENCE

CLOSE = 1e-9  # in units of ratio
CLOSE_SQUARES = 1e-6  # relative; differences of sums of squares round off more


def perhaps_suspected(sheets: Sheets, value: Floats, own_u: Floats) -> Flags:
    """Of each sheet with every cylinder measured; `own_u` is what differs from cylinder to cylinder, in ratio."""
    return _drifting(sheets) | _standing_apart(sheets.sign * value, own_u)


def _drifting(sheets: Sheets) -> Flags:
    """Repeats that sank or rose by more than the scatter allowed (`screening.allowed_difference`)."""
    history = ~np.isnan(sheets.history_deviation)
    per_quantile = math.sqrt(2.0) * sheets.history_deviation
    normal = _normal_quantiles(sheets.mean_indication.shape[0])[sheets.cylinders]
    allowed = np.where(history, normal * per_quantile, sheets.accuracy_half_width)
    drift = np.where(sheets.drift > 2.0 * sheets.resolution, sheets.drift, 0.0).max(axis=0)
    drifting: Flags = (drift > allowed) & (sheets.sign > 0.0)
    # t exceeds the normal quantile and is dear: it is worked out only for what has passed that
    rows = np.nonzero(drifting & history & (sheets.history_dof <= NORMAL_FROM))[0]
    quantiles = stdtrit(sheets.history_dof[rows], 1.0 - SIGNIFICANCE / sheets.cylinders[rows])
    drifting[rows] = drift[rows] > quantiles * per_quantile[rows]
    return drifting


def _standing_apart(value: Floats, own_u: Floats) -> Flags:
    """A cylinder far below its siblings, after the sign of the rule has been taken in."""
    suspected: Flags = np.zeros(value.shape[1], dtype=np.bool_)
    wide = np.nonzero(np.fmax.reduce(value) - np.fmin.reduce(value) > LEAST_DIFFERENCE - CLOSE)[0]
    if not len(wide):
        return suspected
    rising = np.sort(value[:, wide], axis=0)  # not measured, and no such cylinder: last
    most, counts = len(rising), np.sum(~np.isnan(rising), axis=0)
    above_lowest = np.nan_to_num(rising - rising[0])
    sums = np.cumsum(above_lowest[::-1], axis=0)[::-1]  # of this one and all above it
    squares = np.cumsum(np.square(above_lowest[::-1]), axis=0)[::-1]
    critical = _critical_values(most)
    apart = np.zeros(len(wide))  # from the lowest to the mean of its siblings, in the last step perhaps significant
    siblings = np.full(len(wide), most)
    for taken in range((most - 1) // 2):
        size = np.maximum(counts - taken, FEWEST)
        mean = sums[taken] / size
        variance = (squares[taken] - sums[taken] * mean) / (size - 1)
        perhaps = (mean - above_lowest[taken]) ** 2 * (1.0 + CLOSE_SQUARES) >= critical[size] ** 2 * variance
        perhaps &= 2 * taken + 2 < counts
        apart = np.where(perhaps, sums[taken + 1] / (size - 1), apart)
        siblings = np.where(perhaps, size - 1, siblings)
    # the core's bound takes t for the normal quantile and adds what the siblings' mean is uncertain by
    least_bound = _normal_quantiles(most + 1)[siblings + 1] * np.fmin.reduce(own_u[:, wide])
    suspected[wide] = apart > np.maximum(LEAST_DIFFERENCE, np.minimum(least_bound, CERTAIN_DIFFERENCE)) - CLOSE
    return suspected


@lru_cache(maxsize=64)
def _normal_quantiles(most: int) -> Floats:
    """At 5 % shared out over so many, by their number; 0 for none."""
    return np.array([0.0, *(float(ndtri(1.0 - SIGNIFICANCE / count)) for count in range(1, most + 1))])


@lru_cache(maxsize=64)
def _critical_values(most: int) -> Floats:
    """Of Grubbs' G, by the number of values; infinite where they are too few."""
    return np.array([math.inf] * FEWEST + [grubbs_critical_value(count) for count in range(FEWEST, most + 1)])
