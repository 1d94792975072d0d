"""The ratio by acoustic resonance as a model to simulate, from plain numbers: the physics whole, nothing linearised.

Vc,ind = (D_set/N_set)/(r_ind − 1),   Vc = Vc,ind·T/T_set (kelvin),   r = 1 + Vs/Vc,   Vs = π/4·B²·S.
"""

import math
from collections.abc import Sequence

import numpy as np

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.draws import Draws, InputQuantity
from app.metrology.monte_carlo.engine import EngineModel, MeasurementFunction


def measurement_function(set_volume_cm3: float, set_gas_temperature_k: float) -> MeasurementFunction:
    """From bore (mm), stroke (mm), gas temperature (K) and the instrument's error to every cylinder's ratio.

    `set_volume_cm3` is what was dialled, displacement by cylinder count. A cylinder's own quantities add up to its
    indication: the mean of what was shown, and what rounding took from it.
    """
    # Vs/Vc with all that no cylinder changes gathered first: one division for all of them
    fixed = math.pi / 4000.0 / set_volume_cm3 * set_gas_temperature_k

    def ratios(shared: Draws, own: Draws) -> Draws:
        bore, stroke, temperature, instrument_error = shared
        if temperature.min() <= 0.0:
            raise MeasurementError(
                "conditions.gas_temperature",
                "The gas temperature is so uncertain that it reaches absolute zero. Enter how well it is known, in K.",
            )
        per_indication = fixed * bore * bore * stroke / temperature
        shown = np.asarray(own.sum(axis=1))
        shown += instrument_error - 1.0
        shown *= per_indication
        shown += 1.0
        return shown

    return ratios


def acoustic_model(
    bore_mm: InputQuantity,
    stroke_mm: InputQuantity,
    gas_temperature_k: InputQuantity,
    instrument_error: InputQuantity,
    indications: Sequence[tuple[InputQuantity, ...]],
    set_volume_cm3: float,
    set_gas_temperature_k: float,
) -> EngineModel:
    """The model of one engine; `indications` has each cylinder's own quantities, the first its mean indication."""
    return EngineModel(
        shared=(bore_mm, stroke_mm, gas_temperature_k, instrument_error),
        own=tuple(indications),
        function=measurement_function(set_volume_cm3, set_gas_temperature_k),
    )
