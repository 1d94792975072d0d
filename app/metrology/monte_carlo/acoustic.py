"""The ratio by acoustic resonance as a model to simulate, from plain numbers: the physics whole, nothing linearised.

    Vc,ind = (D_set/N_set)/(r_ind − 1),   Vc,read = Vc,ind·T/T_set (kelvin),   Vs = π/4·B²·S,
    Vc = Vc,read − Vs·s(θ),   r = 1 + Vs/Vc,

where the crank stood θ away from top dead centre at the best reading and s(θ) is the share of the stroke by which the
piston was then below it: slider-crank, rod ratio n = l/S, s = sin²(θ/2) + w/(n + √(n² − w)) with w = sin²(θ)/4. What
the airflow does is drawn as the product that it is: its slope, where that is uncertain, times its error.
"""

import math
from collections.abc import Sequence

import numpy as np

from app.metrology.errors import MeasurementError
from app.metrology.monte_carlo.draws import RECTANGULAR, Draws, InputQuantity
from app.metrology.monte_carlo.engine import EngineModel, MeasurementFunction

NO_AIRFLOW = InputQuantity(0.0, 0.0)


def crank_angle(step_degrees: float) -> InputQuantity:
    """How far off top dead centre the best reading may have been taken: anywhere within half a step, in degrees."""
    return InputQuantity(0.0, step_degrees / math.sqrt(12.0), RECTANGULAR)


def measurement_function(
    set_volume_cm3: float,
    set_gas_temperature_k: float,
    airflow_sensitivity: float = 0.0,
    rod_ratio: float | None = None,
    slope_varies: bool = False,
) -> MeasurementFunction:
    """From bore and stroke (mm), gas temperature (K), error of instrument and airflow (L/min) to every ratio.

    `set_volume_cm3` is what was dialled, displacement by cylinder count; the airflow's sensitivity is in units of the
    indication per L/min. Where that slope varies, its error follows as a sixth shared quantity; any further one is an
    error of the indication, such as the inspector's. A cylinder's own quantities are the mean of its indications, what
    rounding took from it, and with a rod ratio the crank angle in degrees, as a third.
    """
    # Vs/Vc with all that no cylinder changes gathered first: one division for all of them
    fixed = math.pi / 4000.0 / set_volume_cm3 * set_gas_temperature_k

    def ratios(shared: Draws, own: Draws) -> Draws:
        bore, stroke, temperature, instrument_error, airflow_error, *further = shared
        if temperature.min() <= 0.0:
            raise MeasurementError(
                "conditions.gas_temperature_standard_uncertainty_k",
                "The gas temperature is so uncertain that it reaches absolute zero. Enter how well it is known, in K.",
            )
        per_indication = fixed * bore * bore * stroke / temperature
        found = own[:, 0] + own[:, 1]
        found += instrument_error + airflow_sensitivity * airflow_error - 1.0
        if slope_varies:
            found += further.pop(0) * airflow_error
        for error in further:
            found += error
        found *= per_indication
        if rod_ratio is not None:
            # 1/(1/q − s): the chamber as read, less what the piston left open
            found /= 1.0 - found * _share_of_stroke(rod_ratio, own[:, 2])
        found += 1.0
        return np.asarray(found)

    return ratios


def _share_of_stroke(rod_ratio: float, degrees: Draws) -> Draws:
    radians = np.radians(degrees)
    quarter = np.square(0.5 * np.sin(radians))
    return np.asarray(
        np.square(np.sin(0.5 * radians)) + quarter / (rod_ratio + np.sqrt(rod_ratio * rod_ratio - quarter))
    )


def acoustic_model(
    bore_mm: InputQuantity,
    stroke_mm: InputQuantity,
    gas_temperature_k: InputQuantity,
    instrument_error: InputQuantity,
    indications: Sequence[tuple[InputQuantity, ...]],
    set_volume_cm3: float,
    set_gas_temperature_k: float,
    airflow_error_l_min: InputQuantity = NO_AIRFLOW,
    airflow_sensitivity: float = 0.0,
    crank_step_degrees: float = 0.0,
    rod_ratio: float = 1.75,
    airflow_sensitivity_error: InputQuantity | None = None,
    inspector_error: InputQuantity | None = None,
) -> EngineModel:
    """The model of one engine; `indications` has each cylinder's mean indication and what rounding took from it.

    What is not known of airflow and inspectors is no quantity at all: so a sheet without studies is drawn as ever.
    """
    stepped = crank_step_degrees > 0.0
    studied = tuple(one for one in (airflow_sensitivity_error, inspector_error) if one is not None)
    turned = (crank_angle(crank_step_degrees),) if stepped else ()
    return EngineModel(
        shared=(bore_mm, stroke_mm, gas_temperature_k, instrument_error, airflow_error_l_min, *studied),
        own=tuple((*of_cylinder, *turned) for of_cylinder in indications),
        function=measurement_function(
            set_volume_cm3,
            set_gas_temperature_k,
            airflow_sensitivity,
            rod_ratio if stepped else None,
            slope_varies=airflow_sensitivity_error is not None,
        ),
    )
