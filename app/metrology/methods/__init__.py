"""The measuring methods: one module each, one line each."""

from app.metrology.measurement import Method
from app.metrology.methods import acoustic_resonance

METHODS: dict[str, Method] = {
    acoustic_resonance.METHOD.key: acoustic_resonance.METHOD,
}

__all__ = ["METHODS", "Method"]
