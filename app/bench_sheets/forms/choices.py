"""What the fields of the bench forms offer: the core's own tables, in its words."""

from app.metrology.metals import METALS, SINGLE_METALS
from app.metrology.volumetry.glassware import BURETTE_CLASSES, GLASSES
from app.metrology.volumetry.liquids import LIQUIDS


def _words(text: str) -> str:
    return text[:1].upper() + text[1:]


CHOICES: dict[str, list[tuple[str, ...]]] = {
    "burette_classes": [(key, _words(label)) for key, label in BURETTE_CLASSES.items()],
    "glasses": [(key, _words(glass.label)) for key, glass in GLASSES.items()],
    "liquids": [(key, _words(liquid.label), liquid.caution) for key, liquid in LIQUIDS.items()],
    "metals": [(key, _words(metal.label)) for key, metal in METALS.items()],
    "single_metals": [(key, _words(metal.label)) for key, metal in SINGLE_METALS.items()],
}
