"""The verification as a procedure: its steps in order, what each asks for, and what is said where one is open."""

from collections.abc import Collection
from decimal import Decimal
from typing import Literal, get_args

from app.intake import show
from app.metrology.verification import warmth_per_kelvin

StepKey = Literal["room_temperature", "settings_dialled", "hose_straight", "airflow_left_alone"]
STEP_KEYS: tuple[StepKey, ...] = get_args(StepKey)
# what is confirmed, and what is said beside it where it is not
STEPS: dict[StepKey, tuple[str, str]] = {
    "room_temperature": (
        "The reference volume lies on the bench at room temperature, in nobody’s hand",
        "Let the reference volume lie on the bench until it is as warm as the room, then confirm it. "
        "Warmth from a hand skews the reading.",
    ),
    "settings_dialled": (
        "Displacement and cylinder count are set as on the mark",
        "The mark holds for its own settings only. Dial them and confirm it.",
    ),
    "hose_straight": (
        "Hose straight, adapter fully seated",
        "Lay the hose without kink or bend, seat the adapter, and confirm it.",
    ),
    "airflow_left_alone": (
        "Airflow set before the first indication, and not touched since",
        "Set the airflow once, before the first indication, and leave it alone; then confirm it. "
        "It may never be trimmed to make the check read right.",
    ),
}
GAS_TOLERANCE_K = Decimal("0.5")
_ROOM_C = 20.0


def not_confirmed(confirmed: Collection[str]) -> list[StepKey]:
    """The steps still open, in order."""
    return [key for key in STEP_KEYS if key not in confirmed]


def gas_off_ambient(gas_c: Decimal, ambient_c: Decimal, units: str) -> str:
    """The sentence where what was dialled is not the ambient temperature; empty where it is."""
    if abs(gas_c - ambient_c) <= GAS_TOLERANCE_K:
        return ""
    within = "0.9 °F" if units == "inch" else "0.5 °C"
    return (
        f"The gas temperature is set to {show(gas_c, 'temperature', units)}, but the air is "
        f"{show(ambient_c, 'temperature', units)}. Set it to ambient, within {within}, and read again."
    )


def warmth_words(mark: Decimal) -> str:
    """What a warm reference volume does, for this mark."""
    high = warmth_per_kelvin(float(mark), _ROOM_C)
    return (
        f"One kelvin (1.8 °F) warmer, its gas reads about 0.34 % less in volume: the ratio reads about {high:.3f} "
        "too high."
    )
