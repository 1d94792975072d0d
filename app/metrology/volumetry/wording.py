"""Where the figures of a pouring come from, and what was corrected, in words."""

from app.metrology.metals import METALS
from app.metrology.phrases import temperature_both
from app.metrology.volumetry.delivered import WARMED, Drawn, reduction
from app.metrology.volumetry.glassware import BURETTE_CLASSES, GLASSES, STATED, tolerance_cm3
from app.metrology.volumetry.liquids import LIQUIDS
from app.metrology.volumetry.pouring import Burette, Pouring
from app.metrology.volumetry.repeats import ALONE, ASSUMED, ASSUMED_CM3, FillScatter


def fills_in_words(count: int) -> str:
    """A count of fills."""
    return "a single fill" if count == 1 else f"the mean of {count} fills"


def scatter_words(found: FillScatter, count: int, prior: tuple[float, float] | None) -> str:
    """Where the repeatability of the mean of `count` fills comes from."""
    if found.origin == ASSUMED:
        return f"{fills_in_words(count)} and nothing known of its scatter: {ASSUMED_CM3:g} cm³ assumed, common practice"
    one = f"{found.standard_deviation_cm3:.2g} cm³ for one"
    if found.origin == ALONE:
        return f"scatter of {count} fills, {one}, significantly wider than the others', which are not drawn on"
    history = " and what was known beforehand" if prior is not None else ""
    return f"{fills_in_words(count)}; scatter of all repeated fills of this sheet{history} pooled, {one}"


def reading_words(burette: Burette, volume: Drawn) -> str:
    """How finely the burette was read."""
    again = ", the burette filled up in between" if volume.drawings > 1.0 else ""
    return (
        f"divided into {burette.graduation_cm3:g} cm³ and read to a fifth of that or to the digits typed, whichever is "
        f"coarser, twice for each drawing; {fills_in_words(len(volume.values_cm3))}{again}"
    )


def pouring_words(pouring: Pouring) -> tuple[str, ...]:
    """Where the figures of `pouring_sources` come from, in their order."""
    burette, liquid, glass, metal = (
        pouring.burette,
        LIQUIDS[pouring.liquid],
        GLASSES[pouring.burette.material],
        METALS[pouring.metal],
    )
    standard = "" if burette.tolerance_class == STATED else ", ISO 385 and ASTM E287"
    return (
        f"{burette.nominal_cm3:g} cm³, {BURETTE_CLASSES[burette.tolerance_class]}: ±{tolerance_cm3(burette):g} cm³ "
        f"between any two readings{standard}",
        f"{liquid.label} in the burette, known to {pouring.liquid_temperature_standard_uncertainty_k:g} K",
        f"{metal.label}, known to {pouring.metal_temperature_standard_uncertainty_k:g} K",
        "the liquid was anywhere between its own temperature and the metal's when the level was taken",
        f"{liquid.label}: {liquid.source}",
        f"{glass.label}: {glass.source}",
        f"{metal.label}: {metal.source}",
        f"evaporated, left on the glass or run past the rings, known to "
        f"{pouring.loss_standard_uncertainty_cm3:g} cm³ a fill",
        f"anything from none to {pouring.trapped_air_at_most_cm3:g} cm³ may have stayed in",
    )


def pouring_corrections(pouring: Pouring, mean_cm3: float, worth_cm3: float) -> tuple[str, ...]:
    """What was corrected in a volume of which `mean_cm3` was drawn; temperature only from `worth_cm3` on."""
    sentences = []
    change_cm3 = mean_cm3 * (reduction(pouring).factor - 1.0)
    if abs(change_cm3) >= worth_cm3:
        sentences.append(
            f"The liquid left the burette at {temperature_both(pouring.liquid_temperature_c)}, the metal was at "
            f"{temperature_both(pouring.metal_temperature_c)}, and the liquid is taken to have come "
            f"{100.0 * WARMED:.0f} % of the way. At 20 °C, {mean_cm3:.2f} cm³ by the scale stand for "
            f"{mean_cm3 + change_cm3:.2f} cm³ filled."
        )
    if pouring.loss_cm3:
        sentences.append(f"{pouring.loss_cm3:.2f} cm³ lost on the way were taken off at each fill.")
    if pouring.trapped_air_at_most_cm3:
        sentences.append(
            f"Up to {pouring.trapped_air_at_most_cm3:g} cm³ of air may have stayed in: half of that was added."
        )
    return tuple(sentences)
