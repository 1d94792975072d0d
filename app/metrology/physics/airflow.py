"""The variable-area flowmeter that feeds the instrument: what its scale means for another fluid or other conditions.

A float rests where the flow's drag carries its weight, so at one and the same reading the volume flow goes with
√((ρ_f − ρ)/ρ). A reading therefore belongs to the fluid, pressure and temperature its scale was made for.
`units.flow_at_other_conditions` carries a flow from one reference condition to another: a scale needs its label.
"""

import math

from app.metrology.distributions import standard_uncertainty_rectangular
from app.metrology.errors import MeasurementError
from app.metrology.physics.ranges import ABSOLUTE_ZERO_C, finite, more_than_nothing, within
from app.metrology.units import kelvin_from_celsius

ATMOSPHERE_KPA = 101.325


def liquid_factor(calibrated_density: float, density: float, float_density: float) -> float:
    """What a scale made for one liquid is multiplied by when another flows; the three densities in one unit.

    √[(ρ_f − ρ₂)·ρ₁/((ρ_f − ρ₁)·ρ₂)]. √(ρ₁/ρ₂) alone, the common slip, leaves out the float's buoyancy.
    """
    more_than_nothing(calibrated_density, "calibrated_density", "A density")
    more_than_nothing(density, "density", "A density")
    if not max(calibrated_density, density) < float_density < math.inf:
        raise MeasurementError("float_density", "The float is denser than the liquid, or it would not come down.")
    return math.sqrt((float_density - density) * calibrated_density / ((float_density - calibrated_density) * density))


def gas_factor(
    specific_gravity: float = 1.0,
    pressure_kpa: float = ATMOSPHERE_KPA,
    calibrated_pressure_kpa: float = ATMOSPHERE_KPA,
    temperature_c: float = 20.0,
    calibrated_temperature_c: float = 20.0,
) -> float:
    """What a scale in standard volumes is multiplied by for another gas, pressure (kPa absolute) or temperature (°C).

    √[(p/p₀)·(T₀/T)/σ], σ the gas's density relative to that of the scale's gas at like conditions: the standard flow
    goes with the root of the density in the tube, and a standard volume of the gas weighs σ times as much. The gas is
    ideal and its buoyancy on the float nothing.
    """
    more_than_nothing(specific_gravity, "specific_gravity", "A specific gravity")
    more_than_nothing(pressure_kpa, "pressure_kpa", "An absolute pressure")
    more_than_nothing(calibrated_pressure_kpa, "calibrated_pressure_kpa", "An absolute pressure")
    _temperature(temperature_c, "temperature_c")
    _temperature(calibrated_temperature_c, "calibrated_temperature_c")
    warmth = kelvin_from_celsius(calibrated_temperature_c) / kelvin_from_celsius(temperature_c)
    return math.sqrt(pressure_kpa / calibrated_pressure_kpa * warmth / specific_gravity)


def airflow_component(sensitivity_per_l_min: float, tolerance_l_min: float) -> float:
    """Standard uncertainty in units of ratio from the airflow's set-point, kept within ± its tolerance.

    The sensitivity in ratio per L/min is a flow study's, of either sign. Rectangular, JCGM 100:2008, 4.3.7.
    """
    finite(sensitivity_per_l_min, "sensitivity_per_l_min", "A sensitivity")
    within(
        tolerance_l_min,
        0.0,
        1000.0,
        "tolerance_l_min",
        "The tolerance of the airflow is what the float may wander to either side, in L/min: 0 or more.",
    )
    return abs(sensitivity_per_l_min) * standard_uncertainty_rectangular(tolerance_l_min)


def _temperature(temperature_c: float, field: str) -> None:
    if not ABSOLUTE_ZERO_C < temperature_c < math.inf:
        raise MeasurementError(field, f"A temperature in °C lies above {ABSOLUTE_ZERO_C}.")
