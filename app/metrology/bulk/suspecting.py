"""Might `screening` suspect something that keeps this engine from conforming? Here "perhaps" counts as yes.

Under a maximum that is a figure which may be too low (a low cylinder, repeats that drift), under a minimum one which
may be too high; what else is suspected no conforming verdict hangs on (`verdict.judge_engine`). Whatever is close or
dear to decide is left to the core: every bound here lies on the side of suspicion.
"""

import math
from functools import lru_cache

import numpy as np
from scipy.special import ndtri

from app.metrology.bulk.columns import Flags, Floats, Sheets
from app.metrology.distributions import t_quantile
from app.metrology.outliers import FEWEST, SIGNIFICANCE, grubbs_critical_value
from app.metrology.screening import CERTAIN_DIFFERENCE, LEAST_DIFFERENCE

CLOSE = 1e-9  # relative for Grubbs' G, absolute for differences in units of ratio


def perhaps_suspected(sheets: Sheets, value: Floats, own_u: Floats) -> Flags:
    """Of each sheet with every cylinder measured; `own_u` is what differs from cylinder to cylinder, in ratio."""
    return _drifting(sheets) | _standing_apart(sheets.sign[:, None] * value, own_u)


def _drifting(sheets: Sheets) -> Flags:
    """Repeats that sank or rose by more than the scatter allowed (`screening.allowed_difference`)."""
    suspected: Flags = np.zeros(len(sheets), dtype=np.bool_)
    least = np.where(
        np.isnan(sheets.history_deviation),
        sheets.accuracy_half_width,
        math.sqrt(2.0)
        * sheets.history_deviation
        * _normal_quantiles(sheets.mean_indication.shape[1])[sheets.cylinders],
    )
    moved = (sheets.drift > np.maximum(least[:, None], 2.0 * sheets.resolution)) & (sheets.sign[:, None] > 0.0)
    # t exceeds the normal quantile: only what has passed that is looked at
    for row, cylinder in np.argwhere(moved):
        deviation = float(sheets.history_deviation[row])
        allowed = 0.0
        if not math.isnan(deviation):
            at = 1.0 - SIGNIFICANCE / float(sheets.cylinders[row])
            allowed = math.sqrt(2.0) * t_quantile(at, float(sheets.history_dof[row])) * deviation
        suspected[row] |= sheets.drift[row, cylinder] > allowed
    return suspected


def _standing_apart(value: Floats, own_u: Floats) -> Flags:
    """A cylinder far below its siblings, after the sign of the rule has been taken in."""
    suspected: Flags = np.zeros(len(value), dtype=np.bool_)
    wide = np.nonzero(np.fmax.reduce(value, axis=1) - np.fmin.reduce(value, axis=1) > LEAST_DIFFERENCE - CLOSE)[0]
    if not len(wide):
        return suspected
    rising = np.sort(value[wide], axis=1)  # not measured, and no such cylinder: last
    counts = np.sum(~np.isnan(rising), axis=1)
    apart = np.zeros(len(wide))  # from the lowest to the mean of the siblings, in the last step that may be significant
    siblings = np.full(len(wide), rising.shape[1])
    critical = _critical_values(rising.shape[1])
    for taken in range((rising.shape[1] - 1) // 2):
        rest = rising[:, taken:]
        size = np.maximum(counts - taken, 1)
        mean = np.nansum(rest, axis=1) / size
        deviation = np.sqrt(np.nansum((rest - mean[:, None]) ** 2, axis=1) / np.maximum(size - 1, 1))
        significant = (mean - rest[:, 0] >= critical[size] * (1.0 - CLOSE) * deviation) & (taken < (counts - 1) // 2)
        without = np.nansum(rest[:, 1:], axis=1) / np.maximum(size - 1, 1)
        apart = np.where(significant, without - rising[:, 0], apart)
        siblings = np.where(significant, size - 1, siblings)
    # the core's bound takes t for the normal quantile and adds what the siblings' mean is uncertain by
    least_bound = _normal_quantiles(rising.shape[1] + 1)[siblings + 1] * np.fmin.reduce(own_u[wide], axis=1)
    suspected[wide] = apart > np.maximum(LEAST_DIFFERENCE, np.minimum(least_bound, CERTAIN_DIFFERENCE)) - CLOSE
    return suspected


@lru_cache(maxsize=64)
def _normal_quantiles(most: int) -> Floats:
    """At 5 % shared out over so many, by their number; 0 for none."""
    return np.array([0.0, *(float(ndtri(1.0 - SIGNIFICANCE / count)) for count in range(1, most + 1))])


@lru_cache(maxsize=64)
def _critical_values(most: int) -> Floats:
    """Of Grubbs' G, by the number of values; 0 where they are too few."""
    return np.array([0.0] * FEWEST + [grubbs_critical_value(count) for count in range(FEWEST, most + 1)])
