"""The measuring methods: one module each, one line each."""

from app.metrology.methods import acoustic_resonance
from app.metrology.methods.measuring import Measurement, Method

METHODS: dict[str, Method] = {
    acoustic_resonance.METHOD.key: acoustic_resonance.METHOD,
}

__all__ = ["METHODS", "Measurement", "Method"]
