"""Integrals over an interval, with a bound on what is wrong with them: adaptive Gauss–Kronrod, 7 and 15 points.

Nodes and weights: A. S. Kronrod (1965), as in R. Piessens and others, QUADPACK (1983), rule qk15; from memory, and
checked in the tests by the polynomials that they must integrate exactly.
"""

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_HALF = (  # node, weight of the 15-point rule, weight of the 7-point rule or 0
    (0.991455371120812639206854697526329, 0.022935322010529224963732008058970, 0.0),
    (0.949107912342758524526189684047851, 0.063092092629978553290700663189204, 0.129484966168869693270611432679082),
    (0.864864423359769072789712788640926, 0.104790010322250183839876322541518, 0.0),
    (0.741531185599394439863864773280788, 0.140653259715525918745189590510238, 0.279705391489276667901467771423780),
    (0.586087235467691130294144691258377, 0.169004726639267902826583426598550, 0.0),
    (0.405845151377397166906606412076961, 0.190350578064785409913256402421014, 0.381830050505118944950369775488975),
    (0.207784955007898467600689403773245, 0.204432940075298892414161999234649, 0.0),
)
_MIDDLE = (0.0, 0.209482141084727828012999174891714, 0.417959183673469387755102040816327)
NODES = (*((-node, *weights) for node, *weights in _HALF), _MIDDLE, *((node, *weights) for node, *weights in _HALF))
MOST_PANELS = 400
_AT, _FINE, _COARSE = (np.array(column) for column in zip(*NODES, strict=True))


class Integral(NamedTuple):
    """Integrals of several functions over one interval, and a bound on the error of each of them."""

    values: tuple[float, ...]
    error_bound: float


def integrate(function: Callable[[Array], Array], breaks: Sequence[float], tolerance: float = 1e-10) -> Integral:
    """∫ from the least of `breaks` to the greatest; two different ones at least, kinks belong among them.

    `function` takes places and gives a row of values for each of the functions to be integrated. Panels in which the
    two rules differ too much are halved, until the differences add up to no more than `tolerance` or there are too many
    panels. That sum is the error bound: the difference is the error of the *coarser* rule, the finer one's value is
    returned.
    """
    points = np.unique(np.asarray(breaks, dtype=float))
    low, high = points[:-1], points[1:]
    values, error = _on_panels(function, low, high)
    while error.sum() > tolerance and error.size < MOST_PANELS:
        halved = error > tolerance / (2.0 * error.size)
        middle = (low[halved] + high[halved]) / 2.0
        new_low, new_high = np.concatenate([low[halved], middle]), np.concatenate([middle, high[halved]])
        new_values, new_error = _on_panels(function, new_low, new_high)
        low, high = np.concatenate([low[~halved], new_low]), np.concatenate([high[~halved], new_high])
        values = np.concatenate([values[:, ~halved], new_values], axis=1)
        error = np.concatenate([error[~halved], new_error])
    return Integral(tuple(values.sum(axis=1).tolist()), float(error.sum()))


def _on_panels(function: Callable[[Array], Array], low: Array, high: Array) -> tuple[Array, Array]:
    """The finer rule's value of each function on each panel, and the greatest difference of the two rules there."""
    half = (high - low) / 2.0
    places = ((low + high) / 2.0)[:, None] + half[:, None] * _AT
    found = function(places.ravel()).reshape(-1, low.size, _AT.size)
    fine = found @ _FINE * half
    return fine, np.abs(fine - found @ _COARSE * half).max(axis=0)
