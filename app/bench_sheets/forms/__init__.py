"""What is typed for each bench method: one line each, its In type in one module, its fields in one template."""

from collections.abc import Mapping
from dataclasses import dataclass

from app.bench_sheets.forms import dimensional, liquid_volume, teardown
from app.intake import In


@dataclass(frozen=True, slots=True)
class BenchForm:
    """`usual` is what the fields start from: name to (value as it is stored, kind of quantity or nothing)."""

    asked: type[In]
    template: str
    done: str  # what is done to the engine, in a sentence
    usual: Mapping[str, tuple[str, str]]


FORMS: dict[str, BenchForm] = {  # by the core's key of the method
    "liquid_volume": BenchForm(
        liquid_volume.LiquidVolumeIn,
        "bench_sheets/_liquid_volume.html",
        "The whole chamber is poured full through the plug hole, piston at top dead centre.",
        liquid_volume.USUAL,
    ),
    "teardown": BenchForm(
        teardown.TeardownIn,
        "bench_sheets/_teardown.html",
        "The head comes off; every volume of the chamber is measured by itself.",
        teardown.USUAL,
    ),
    "dimensional": BenchForm(
        dimensional.DimensionalIn,
        "bench_sheets/_dimensional.html",
        "Bores and strokes are measured with gauges, for the displacement.",
        dimensional.USUAL,
    ),
}
