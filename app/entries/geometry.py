"""Is a declared engine plausible, and is it the same engine as the one that is kept?"""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from app.intake import show_both
from app.metrology import geometry

# what rounding between the two unit systems can do to a figure as people write it, and no more
SAME_LENGTH_MM = Decimal("0.005")
SAME_VOLUME_CM3 = Decimal("0.5")
DOUBTFUL = Decimal("0.02")
REFUSED = Decimal("0.10")


@dataclass(frozen=True, slots=True)
class Geometry:
    """What is declared of an engine; an engine whose seals were renewed has been opened, so they count too."""

    cylinders: int
    bore_mm: Decimal
    stroke_mm: Decimal
    declared_displacement_cm3: Decimal
    seals: Sequence[str]

    @property
    def computed_displacement_cm3(self) -> Decimal:
        computed = geometry.displacement_cm3(float(self.bore_mm), float(self.stroke_mm), self.cylinders)
        return Decimal(f"{computed:.2f}")

    @property
    def apart(self) -> Decimal:
        """Declared against computed displacement, as a share of the computed one; never negative."""
        return abs(self.declared_displacement_cm3 / self.computed_displacement_cm3 - 1)


def doubt(engine: Geometry) -> str:
    """The sentence on a declared displacement that bore and stroke do not bear out; empty when they do."""
    if engine.apart <= DOUBTFUL:
        return ""
    count = "1 cylinder" if engine.cylinders == 1 else f"{engine.cylinders} cylinders"
    return (
        f"{count} of {show_both(engine.bore_mm, 'length')} bore and {show_both(engine.stroke_mm, 'length')} stroke "
        f"displace {show_both(engine.computed_displacement_cm3, 'volume')}, but "
        f"{show_both(engine.declared_displacement_cm3, 'volume')} is declared: {engine.apart * 100:.1f} % apart. "
        "Check all four figures and their units."
    )


def changes(kept: Geometry, asked: Geometry) -> list[str]:
    """Where an engine differs from what is kept, in words; empty for the same engine.

    No seals asked for means that nothing was said of them, not that they are gone.
    """
    found = []
    if asked.cylinders != kept.cylinders:
        found.append(f"cylinders {kept.cylinders}, now {asked.cylinders}")
    for word, before, after, kind, same in (
        ("bore", kept.bore_mm, asked.bore_mm, "length", SAME_LENGTH_MM),
        ("stroke", kept.stroke_mm, asked.stroke_mm, "length", SAME_LENGTH_MM),
        ("displacement", kept.declared_displacement_cm3, asked.declared_displacement_cm3, "volume", SAME_VOLUME_CM3),
    ):
        if abs(before - after) > same:
            found.append(f"{word} {show_both(before, kind)}, now {show_both(after, kind)}")
    if asked.seals and sorted(asked.seals) != sorted(kept.seals):
        found.append(f"seals {' '.join(kept.seals) or 'none'}, now {' '.join(asked.seals)}")
    return found
