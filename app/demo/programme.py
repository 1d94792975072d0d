"""What is done in the shed at each event: which engine on which bench, by whom, and what went otherwise than usual."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from app.demo.bench import ONE, SMALL, TWO, Check

NESSA, JORUN = "inspector", "inspector2"


@dataclass(frozen=True, slots=True)
class Kink:
    """A first reading taken through a kinked hose, and put right afterwards."""

    cylinder: int
    shift: float  # ratio, what the kink did to it
    reason: str


@dataclass(frozen=True, slots=True)
class Acknowledgement:
    kind: str = "typed"
    note: str = ""


@dataclass(frozen=True, slots=True)
class Visit:
    """One engine on one bench."""

    car: str
    bench: str
    gas_c: float  # what the gas temperature was found to be
    inspector: str = NESSA
    repeats: int = 3
    source: str = "thermometer_in_chamber"
    dialled_c: float | None = None  # where it was not set to what was found
    true_gas_c: float | None = None  # where the finding was far off
    leaks: Mapping[int, float] = field(default_factory=dict)
    kink: Kink | None = None
    not_measured: Mapping[int, str] = field(default_factory=dict)
    measured_again_because: str = ""
    left_open_after: int = 0  # cylinders read so far on a sheet that is still open
    acknowledgement: Acknowledgement = Acknowledgement()

    @property
    def is_again(self) -> bool:
        return bool(self.measured_again_because)


@dataclass(frozen=True, slots=True)
class Programme:
    """Slots run one after the other; the visits of one slot side by side. Checks lie before and between them."""

    checks: tuple[Check, ...]
    slots: tuple[tuple[float, tuple[Visit, ...]], ...]  # minute at which it starts, visits


_KINKED = "The hose had kinked behind the stand. Straightened it and read again."
_REFUSED = "Says the engine was too warm to be measured. Seen by Tancred Ulver, official."
_COLD_AGAIN = (
    "The coolant gauge left too much doubt. Measured again cold, with the thermometer in the chamber and five repeats."
)
_PLUG_THREAD = "The thread of the plug hole is damaged; the adapter would not seal."
_ABSENT = Acknowledgement("not_present")


def _jorun(car: str, bench: str, gas_c: float, **more: object) -> Visit:
    return Visit(car, bench, gas_c, JORUN, **more)  # type: ignore[arg-type]  # the rest of Visit's own fields


FIRST = Programme(
    checks=(
        Check(0, ONE, "opening", NESSA),
        Check(3, TWO, "opening", JORUN, airflow_off_by=0.19),
        Check(8, TWO, "opening", JORUN),
        Check(11, SMALL, "opening", JORUN),
        Check(63, ONE, "during", NESSA),
        Check(116, ONE, "during", NESSA),
        Check(118, TWO, "during", JORUN),
        Check(169, ONE, "during", NESSA),
        Check(212, ONE, "closing", NESSA),
        Check(214, TWO, "closing", JORUN),
        Check(217, SMALL, "closing", JORUN),
    ),
    slots=(
        (15, (Visit("31", ONE, 19.5), _jorun("11", SMALL, 19.6))),
        (40, (Visit("34", ONE, 20.1, kink=Kink(3, 0.41, _KINKED)), _jorun("14", TWO, 20.0))),
        (65, (Visit("37", ONE, 20.8), _jorun("17", SMALL, 20.7, acknowledgement=_ABSENT))),
        (
            90,
            (
                Visit("61", ONE, 21.4, repeats=2, acknowledgement=Acknowledgement("drawn")),
                _jorun("88", TWO, 21.2, repeats=2),
            ),
        ),
        (121, (Visit("64", ONE, 22.4, repeats=2), _jorun("81", TWO, 22.3))),
        (
            146,
            (
                Visit("66", ONE, 27.2, acknowledgement=Acknowledgement("refused", _REFUSED)),
                _jorun("43", TWO, 22.9),
            ),
        ),
        (171, (Visit("68", ONE, 23.3, repeats=2, dialled_c=20.0), _jorun("41", TWO, 23.2))),
    ),
)
SECOND = Programme(
    checks=(
        Check(0, ONE, "opening", NESSA),
        Check(3, TWO, "opening", JORUN),
        Check(6, SMALL, "opening", JORUN),
        Check(83, ONE, "during", NESSA),
        Check(112, ONE, "during", NESSA),
        Check(114, TWO, "during", JORUN),
        Check(191.5, ONE, "during", NESSA),
        Check(226, ONE, "closing", NESSA),
        Check(228, SMALL, "closing", JORUN),
        Check(230, TWO, "closing", JORUN),
    ),
    slots=(
        (10, (Visit("31", ONE, 16.8), _jorun("19", SMALL, 16.9))),
        (35, (Visit("46", ONE, 34.0, source="coolant_gauge", true_gas_c=32.5), _jorun("12", SMALL, 17.5))),
        (60, (Visit("61", ONE, 18.2, repeats=2), _jorun("90", TWO, 18.0, repeats=2))),
        (85, (Visit("75", ONE, 18.9, repeats=2), _jorun("84", TWO, 18.8))),
        (
            118,
            (
                Visit("64", ONE, 19.6, leaks={5: 0.07}),
                _jorun("93", TWO, 19.5, not_measured={6: _PLUG_THREAD}),
            ),
        ),
        (143, (Visit("72", ONE, 19.9, repeats=2, source="ambient_on_stand"), _jorun("48", TWO, 20.0))),
        (
            168,
            (
                Visit("46", ONE, 20.2, repeats=5, measured_again_because=_COLD_AGAIN),
                _jorun("34", TWO, 20.1, acknowledgement=_ABSENT),
            ),
        ),
        (193, (Visit("43", ONE, 20.3),)),
    ),
)
THIRD = Programme(
    checks=(Check(0, ONE, "opening", NESSA), Check(3, SMALL, "opening", JORUN)),
    slots=(
        (6, (Visit("41", ONE, 18.4), _jorun("12", SMALL, 18.3))),
        (31, (Visit("37", ONE, 18.9), _jorun("19", SMALL, 18.8))),
        (56, (Visit("72", ONE, 19.4, repeats=2), _jorun("17", SMALL, 19.2))),
        (97, (Visit("68", ONE, 19.8, repeats=2, left_open_after=4),)),
    ),
)
PROGRAMMES = {1: FIRST, 2: SECOND, 3: THIRD}
