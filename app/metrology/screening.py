"""May this reading be used? Each suspicion says what was seen, what to look for, what to do."""

from dataclasses import dataclass

LOW_CYLINDER = "low_cylinder"
SINKING_REPEATS = "sinking_repeats"
WIDE_REPEATS = "wide_repeats"
LEAK_KINDS = frozenset({LOW_CYLINDER, SINKING_REPEATS})


@dataclass(frozen=True, slots=True)
class Suspicion:
    """Something about one cylinder's readings that the figures alone do not settle."""

    kind: str
    cylinder: int
    seen: str
    look_for: str
    do: str

    @property
    def is_leak(self) -> bool:
        """A leak lowers the figure, so what it shows proves nothing on the low side."""
        return self.kind in LEAK_KINDS
