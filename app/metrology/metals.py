"""How the metals of an engine expand. Linear, per kelvin near 20 °C; ISO 1 makes 20 °C the temperature of lengths."""

from dataclasses import dataclass

REFERENCE_C = 20.0  # ISO 1:2022


@dataclass(frozen=True, slots=True)
class Metal:
    """A metal: mean linear expansion and its standard uncertainty, both per kelvin, and where they come from."""

    label: str
    expansion_per_k: float
    expansion_standard_uncertainty_per_k: float
    source: str


_HANDBOOKS = "engineering handbooks, from memory; the spread of alloys taken as its uncertainty"
METALS: dict[str, Metal] = {
    "cast_iron": Metal("cast iron", 10.5e-6, 0.6e-6, _HANDBOOKS),
    "steel": Metal("steel", 11.7e-6, 0.6e-6, _HANDBOOKS),
    "aluminium": Metal("aluminium alloy", 23.0e-6, 1.2e-6, _HANDBOOKS),
    "aluminium_on_iron": Metal(
        "aluminium head on an iron block", 16.8e-6, 3.6e-6, "midway between both metals, either within the limits"
    ),
}
SINGLE_METALS: dict[str, Metal] = {key: metal for key, metal in METALS.items() if key != "aluminium_on_iron"}


def length_ratio(expansion_per_k: float, temperature_c: float) -> float:
    """Length at this temperature over length at 20 °C, of one metal."""
    return 1.0 + expansion_per_k * (temperature_c - REFERENCE_C)
