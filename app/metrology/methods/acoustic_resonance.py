"""Static compression ratio by acoustic resonance of the combustion chamber.

The instrument turns a tone into a ratio with the displacement, the cylinder count and the gas temperature dialled on
it. The tone itself fixes the volume only through the speed of sound: at a given tone V ∝ c² ∝ T (ideal gas). So

    Vc,ind = (D_set/N_set)/(r_ind − 1),   Vc = Vc,ind·T/T_set (kelvin),   r = 1 + Vs/Vc,   Vs = π/4·B²·S.

Written as r = 1 + q with q = Vs·(r_ind − 1)·(N_set/D_set)·(T_set/T), every sensitivity is a quotient of q.
"""

from app.metrology.distributions import (
    INFINITE,
    standard_uncertainty_resolution,
)
from app.metrology.geometry import clearance_volume_cm3, swept_volume_cm3
from app.metrology.inputs import (
    TEMPERATURE_SOURCES,
    Conditions,
    Engine,
    Instrument,
    Settings,
)
from app.metrology.methods.accuracy import stated_accuracy
from app.metrology.methods.measuring import Measurement, Method
from app.metrology.phrases import cylinders_in_words, temperature_both, volume_both
from app.metrology.repeatability import Repeatability
from app.metrology.uncertainty import Component
from app.metrology.units import kelvin_from_celsius

WORTH_SAYING = 0.005  # a correction too small for the second decimal is made but not spoken of


def corrected_ratio(engine: Engine, settings: Settings, gas_temperature_c: float, indication: float) -> float:
    """The measured ratio that an indication stands for, given what was dialled and what was in the chamber."""
    per_cylinder_cm3 = settings.displacement_cm3 / settings.cylinders
    temperature_ratio = kelvin_from_celsius(settings.gas_temperature_c) / kelvin_from_celsius(gas_temperature_c)
    swept_cm3 = swept_volume_cm3(engine.bore_mm, engine.stroke_mm)
    return 1.0 + swept_cm3 / per_cylinder_cm3 * (indication - 1.0) * temperature_ratio


def measure(
    engine: Engine,
    instrument: Instrument,
    settings: Settings,
    conditions: Conditions,
    mean_indication: float,
    resolution: float,
    repeatability: Repeatability,
) -> Measurement:
    """Ratio, clearance volume in cm³ and components from the mean indication; resolution in units of ratio."""
    value = corrected_ratio(engine, settings, conditions.gas_temperature_c, mean_indication)
    above_one = value - 1.0
    per_indication = above_one / (mean_indication - 1.0)
    per_kelvin = -above_one / kelvin_from_celsius(conditions.gas_temperature_c)
    components = (
        Component(
            name="repeatability",
            label="repeatability",
            source=repeatability.source,
            distribution=repeatability.distribution,
            standard_uncertainty=repeatability.standard_uncertainty_of_mean,
            unit="1",
            sensitivity=per_indication,
            degrees_of_freedom=repeatability.degrees_of_freedom,
            shared=False,
            degrees_of_freedom_in_common=repeatability.degrees_of_freedom_in_common,
        ),
        Component(
            name="resolution",
            label="resolution",
            source=f"last step of the indication, {resolution:g}; half a step either way",
            distribution="rectangular",
            standard_uncertainty=standard_uncertainty_resolution(resolution),
            unit="1",
            sensitivity=per_indication,
            degrees_of_freedom=INFINITE,
            shared=False,
        ),
        stated_accuracy(instrument, per_indication),
        Component(
            name="gas_temperature",
            label="gas temperature",
            source=(
                f"{TEMPERATURE_SOURCES.get(conditions.temperature_source, conditions.temperature_source)}, "
                f"known to {conditions.gas_temperature_standard_uncertainty_k:g} K by common practice"
            ),
            distribution="normal",
            standard_uncertainty=conditions.gas_temperature_standard_uncertainty_k,
            unit="K",
            sensitivity=per_kelvin,
            degrees_of_freedom=INFINITE,
            shared=True,
        ),
        Component(
            name="bore",
            label="bore (swept volume)",
            source=_declared("bore", engine.bore_mm, engine.bore_standard_uncertainty_mm),
            distribution="normal",
            standard_uncertainty=engine.bore_standard_uncertainty_mm,
            unit="mm",
            sensitivity=2.0 * above_one / engine.bore_mm,
            degrees_of_freedom=INFINITE,
            shared=True,
        ),
        Component(
            name="stroke",
            label="stroke (swept volume)",
            source=_declared("stroke", engine.stroke_mm, engine.stroke_standard_uncertainty_mm),
            distribution="normal",
            standard_uncertainty=engine.stroke_standard_uncertainty_mm,
            unit="mm",
            sensitivity=above_one / engine.stroke_mm,
            degrees_of_freedom=INFINITE,
            shared=True,
        ),
    )
    return Measurement(
        value=value,
        clearance_volume_cm3=clearance_volume_cm3(swept_volume_cm3(engine.bore_mm, engine.stroke_mm), value),
        effect_per_kelvin=per_kelvin,
        components=components,
    )


def _declared(name: str, length_mm: float, standard_uncertainty_mm: float) -> str:
    return (
        f"the {name} of {length_mm:g} mm is the competitor's and was not measured here; "
        f"{standard_uncertainty_mm:g} mm is common practice for parts made to it"
    )


def corrections(engine: Engine, settings: Settings, conditions: Conditions, indication: float) -> tuple[str, ...]:
    """What was corrected, in sentences with both unit systems; the example figure is the indication given."""
    sentences = []
    as_dialled = corrected_ratio(engine, settings, settings.gas_temperature_c, indication)
    set_cm3, swept_cm3 = settings.displacement_cm3, swept_volume_cm3(engine.bore_mm, engine.stroke_mm)
    dialled = (
        f"The instrument was set to {volume_both(set_cm3)} and {cylinders_in_words(settings.cylinders)}, "
        f"{volume_both(set_cm3 / settings.cylinders)} a cylinder"
    )
    if abs(as_dialled - indication) >= WORTH_SAYING:
        sentences.append(
            f"{dialled}; each cylinder of this engine sweeps {volume_both(swept_cm3)}. "
            f"Every indication was recomputed for that: {indication:.2f} becomes {as_dialled:.3f}."
        )
    elif settings.cylinders != engine.cylinders:
        sentences.append(
            f"{dialled}, which is what each of this engine's {cylinders_in_words(engine.cylinders)} sweeps: "
            f"nothing to correct for that."
        )
    value = corrected_ratio(engine, settings, conditions.gas_temperature_c, indication)
    if abs(value - as_dialled) >= WORTH_SAYING:
        sentences.append(
            f"The instrument was set to {temperature_both(settings.gas_temperature_c)}; the gas in the chamber was at "
            f"{temperature_both(conditions.gas_temperature_c)}. Every indication was recomputed for that: "
            f"{as_dialled:.3f} becomes {value:.3f}."
        )
    return tuple(sentences)


METHOD = Method(
    key="acoustic_resonance",
    label="acoustic resonance",
    measure=measure,
    corrections=corrections,
)
