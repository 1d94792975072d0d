"""The measuring methods: one module each, one line each."""

from app.metrology.measurement import Method
from app.metrology.methods import acoustic_resonance, dimensional, liquid_volume, teardown

METHODS: dict[str, Method] = {
    acoustic_resonance.METHOD.key: acoustic_resonance.METHOD,
    liquid_volume.METHOD.key: liquid_volume.METHOD,
    teardown.METHOD.key: teardown.METHOD,
    dimensional.METHOD.key: dimensional.METHOD,
}

__all__ = ["METHODS", "Method"]
