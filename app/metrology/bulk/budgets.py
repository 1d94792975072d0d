"""The budgets of many sheets: what `acoustic_resonance.measure` and `uncertainty.combine` yield, column by column."""

from typing import NamedTuple

import numpy as np

from app.metrology.bulk.columns import Floats, Sheets
from app.metrology.uncertainty import TRUNCATION_ALLOWANCE
from app.metrology.units import ZERO_CELSIUS_K

SOURCES = ("repeatability", "resolution", "stated_accuracy", "gas_temperature", "bore", "stroke")
_ROOT_THREE = np.sqrt(3.0)


class Budgets(NamedTuple):
    """Of c cylinders × n sheets, in units of ratio; NaN where not measured."""

    contributions: Floats  # shape (6, c, n), in the order of SOURCES
    value: Floats
    own_u: Floats  # of the sources that differ from cylinder to cylinder
    standard_uncertainty: Floats
    effective_dof: Floats  # Welch–Satterthwaite over all sources, as computed
    half_width: Floats  # of the rectangular part
    scale: Floats  # of the bell
    dof_computed: Floats  # of the bell, as computed
    dof: Floats  # of the bell, truncated


def budgets_of(sheets: Sheets) -> Budgets:
    """First-order propagation, JCGM 100:2008, 5.1.2 and G.4.1; the greatest rectangular source stays rectangular."""
    value, contributions = _contributions(sheets)
    repeatability, resolution, accuracy, temperature, bore, stroke = np.square(contributions)
    accuracy_stays = sheets.accuracy_is_rectangular & (contributions[2] > contributions[1])
    rectangle = np.where(accuracy_stays, accuracy, resolution)
    bell = np.where(accuracy_stays, resolution, accuracy) + temperature + bore + stroke + repeatability
    total = bell + rectangle
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        divisor = repeatability * repeatability / sheets.repeatability_dof
        effective = total * total / divisor
        of_bell = bell * bell / divisor
    of_bell[bell == 0.0] = np.inf
    return Budgets(
        contributions,
        value,
        np.sqrt(repeatability + resolution),
        np.sqrt(total),
        effective,
        _ROOT_THREE * np.sqrt(rectangle),
        np.sqrt(bell),
        of_bell,
        np.maximum(1.0, np.floor(of_bell + TRUNCATION_ALLOWANCE)),
    )


def _contributions(sheets: Sheets) -> tuple[Floats, Floats]:
    """The ratios, and |c|·u of each source."""
    swept_cm3 = np.pi / 4.0 * sheets.bore_mm**2 * sheets.stroke_mm / 1000.0
    kelvin = sheets.gas_temperature_c + ZERO_CELSIUS_K
    temperature_ratio = (sheets.set_temperature_c + ZERO_CELSIUS_K) / kelvin
    gain = swept_cm3 / (sheets.set_displacement_cm3 / sheets.set_cylinders) * temperature_ratio
    above_one = gain * (sheets.mean_indication - 1.0)
    found = np.empty((len(SOURCES), *above_one.shape))
    np.multiply(gain, sheets.repeatability_u, out=found[0])
    np.multiply(gain / (2.0 * _ROOT_THREE), sheets.resolution, out=found[1])
    np.multiply(above_one, 0.0, out=found[2])  # NaN where not measured
    found[2] += gain * sheets.accuracy_u
    np.multiply(above_one, sheets.gas_temperature_u_k / kelvin, out=found[3])
    np.multiply(above_one, 2.0 * sheets.bore_u_mm / sheets.bore_mm, out=found[4])
    np.multiply(above_one, sheets.stroke_u_mm / sheets.stroke_mm, out=found[5])
    return 1.0 + above_one, found
