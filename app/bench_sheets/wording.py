"""What a bench sheet says: its cautions, units beside figures, what was typed."""

from collections.abc import Mapping

# picture, what it is about, what to do; the pictures are those of the work sheet
CAUTIONS: tuple[tuple[str, str, str], ...] = (
    (
        "vapour-air",
        "Liquids that burn, and their vapour.",
        "Air the place; no flame, spark, lamp or phone near them; an extinguisher at hand. Never pour petrol.",
    ),
    (
        "ignition-off",
        "No ignition.",
        "Ignition off, battery disconnected: the engine must not be able to fire or turn.",
    ),
    (
        "hot",
        "Hot parts.",
        "Let the engine cool all through: for your hands, for the liquid, and because warm metal measures larger.",
    ),
    (
        "turned-by-hand",
        "Turn by hand only, and never on liquid.",
        "Get all of it out before the crank moves: liquid cannot be compressed and bends rods. Fingers clear of edges.",
    ),
    (
        "eye-protection",
        "Compressed air, springs, solvents.",
        "Eye protection and gloves on. Let off pressure first; hold down what a spring pushes before it is undone.",
    ),
)


_RAISED = str.maketrans("-0123456789", "⁻⁰¹²³⁴⁵⁶⁷⁸⁹")


def unit_words(unit: str) -> str:
    """A unit beside its figure; a ratio has none."""
    return "" if unit == "1" else unit


def small(text: str, digits: int = 3) -> str:
    """A figure of a budget to its telling digits; a very small one as a power of ten, never with an "e"."""
    digits_of, _, power = f"{float(text):.{digits}g}".partition("e")
    if not power:
        return digits_of.replace("-", "−")
    return f"{digits_of}·10{str(int(power)).translate(_RAISED)}".replace("-", "−")


def typed_words(typed: Mapping[str, str]) -> dict[str, str]:
    """What was typed, field by field, under names that people read: "Cylinder 3: head fills 1: start"."""
    return {_field_words(name): text for name, text in typed.items()}


def _field_words(name: str) -> str:
    said: list[str] = []
    for part in name.split("."):
        if part.isdigit() and said:
            said[-1] = f"{said[-1].removesuffix('s') if said[-1] == 'cylinders' else said[-1]} {part}"
        else:
            said.append(part.replace("_", " "))
    words = ": ".join(said)
    return words[:1].upper() + words[1:]
