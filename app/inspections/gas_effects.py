"""What other gas than dry air in the chamber would do to this engine's figure, in sentences for its sheet."""

from app.inspections.models import Conditions
from app.intake import show_both
from app.metrology.physics.gas import fuel_saturation_fraction, humidity_effect, unpurged_effect

ASSUMED_HUMIDITY_PERCENT = 50.0
ASSUMED_PRESSURE_KPA = 101.325
WARMEST_ASSUMED_AIR_C = 30.0  # an engine that came in warm says nothing about the air beside it
FUEL, A_LITTLE = "petrol", 0.01


def gas_sentences(ratio: float, conditions: Conditions) -> list[str]:
    """One on the damp of the air, one on fuel vapour, for an engine of this ratio under the recorded conditions."""
    gas_c = float(conditions.gas_temperature_c)
    air_c = min(gas_c, WARMEST_ASSUMED_AIR_C)
    if conditions.ambient_temperature_c is not None:
        air_c = float(conditions.ambient_temperature_c)
    pressure_kpa = ASSUMED_PRESSURE_KPA if conditions.pressure_kpa is None else float(conditions.pressure_kpa)
    percent = ASSUMED_HUMIDITY_PERCENT if conditions.humidity_percent is None else float(conditions.humidity_percent)
    humidity = percent / 100.0
    taken = ", which nobody recorded," if conditions.humidity_percent is None else ""

    damp = humidity_effect(ratio, gas_c, pressure_kpa, humidity, air_c)
    most_fraction = fuel_saturation_fraction(FUEL, gas_c, pressure_kpa)
    little = unpurged_effect(ratio, gas_c, pressure_kpa, humidity, FUEL, min(A_LITTLE, most_fraction), air_c)
    most = unpurged_effect(ratio, gas_c, pressure_kpa, humidity, FUEL, None, air_c)
    return [
        f"The damp of the air, {percent:g} %{taken} at {show_both(air_c, 'temperature')}, makes this engine read "
        f"{damp.ratio_change:.3f} higher than dry air would; the stated accuracy is taken to cover that.",
        f"Fuel vapour makes it read low: {_percent(little.mole_fraction)} of petrol vapour in the chamber by "
        f"{-little.ratio_change:.2f}, the {_percent(most.mole_fraction)} that the gas can hold at "
        f"{show_both(gas_c, 'temperature')} by {-most.ratio_change:.2f}. Purge it with air before measuring.",
    ]


def _percent(fraction: float) -> str:
    """Two telling digits, never an exponent."""
    return f"{100.0 * fraction:.{2 if fraction < 0.01 else 1 if fraction < 0.1 else 0}f}".removesuffix(".0") + " %"
