"""Volume by weighing water, so that a burette or a reference volume can be checked without a laboratory.

ISO 4787 and ISO 8655-6: V20 = m·Z·(1 − γ·(t − 20 °C)), Z the volume of water that one gram on the balance stands for.
The balance was adjusted with steel weights and both weighed in air, so buoyancy acts on water and weights unlike.
"""

from app.metrology.plausible import between
from app.metrology.volumetry.glassware import REFERENCE_C
from app.metrology.volumetry.water import density_kg_m3

AIR_KG_M3, WEIGHTS_KG_M3 = 1.2, 8000.0  # OIML R 111 conventional values


def z_factor_cm3_g(temperature_c: float, air_kg_m3: float = AIR_KG_M3, weights_kg_m3: float = WEIGHTS_KG_M3) -> float:
    """Z = (1 − ρa/ρw)/(ρ − ρa) in cm³ of water per gram shown, densities in kg/m³. No expansion of any vessel.

    Raises MeasurementError where the water is not between 0 °C and 40 °C, or a density cannot be.
    """
    between(air_kg_m3, 0.5, 2.0, "air_kg_m3", "The density of the air in kg/m³", "1.2")
    between(weights_kg_m3, 1000.0, 25000.0, "weights_kg_m3", "The density of the weights in kg/m³", "8000")
    return 1000.0 * (1.0 - air_kg_m3 / weights_kg_m3) / (density_kg_m3(temperature_c) - air_kg_m3)


def volume_at_20_cm3(mass_g: float, temperature_c: float, expansion_per_k: float) -> float:
    """The volume in cm³ at 20 °C of a vessel that held or delivered water weighed as `mass_g`; γ of the vessel."""
    between(mass_g, 0.0, 1e6, "mass_g", "The mass shown in grams", "99.71")
    between(expansion_per_k, 0.0, 1e-3, "expansion_per_k", "The cubic expansion of the vessel", "9.9e-6")
    return mass_g * z_factor_cm3_g(temperature_c) * (1.0 - expansion_per_k * (temperature_c - REFERENCE_C))
