"""Static compression ratio by acoustic resonance of the combustion chamber.

The instrument turns a tone into a ratio with the displacement, the cylinder count and the gas temperature dialled on
it. The tone itself fixes the volume only through the speed of sound: at a given tone V ∝ c² ∝ T (ideal gas). So

    Vc,ind = (D_set/N_set)/(r_ind − 1),   Vc = Vc,ind·T/T_set (kelvin),   r = 1 + Vs/Vc,   Vs = π/4·B²·S.

Written as r = 1 + q with q = Vs·(r_ind − 1)·(N_set/D_set)·(T_set/T), every sensitivity is a quotient of q.

The airflow strays by δ from its set-point, and C·δ is what that adds to the indication. Both factors are uncertain:
δ lies anywhere within ±a, so E(δ) = 0 and E(δ²) = a²/3; C was estimated by a flow study as c with u(c). So

    var(C·δ) = E(C²)·E(δ²) = (c² + u²(c))·a²/3,

of which first order sees c²·a²/3 only: where δ is expected to be 0, an error of c changes nothing to first order. The
rest is the term of the second order, u²(c)·u²(δ) (JCGM 100:2008, 5.1.2, NOTE), and here it is exact. It stands in the
budget as a source of its own, for c·δ and (C − c)·δ are uncorrelated, E[c·(C − c)·δ²] = 0, and differently
distributed: the first is rectangular, the second has a peak and tails and goes into the bell. One effective slope
√(c² + u²(c)) has the same variance, but would spread the second part evenly within limits that it does not have.
"""

import math
from typing import NamedTuple

from app.metrology.distributions import INFINITE, standard_uncertainty_rectangular, standard_uncertainty_resolution
from app.metrology.errors import MeasurementError
from app.metrology.geometry import swept_volume_cm3
from app.metrology.indications import read_indication
from app.metrology.inputs import (
    TEMPERATURE_SOURCES,
    AcousticObservations,
    Conditions,
    CylinderReading,
    Engine,
    Instrument,
    Settings,
)
from app.metrology.measurement import COMPRESSION_RATIO, Measured, Measurement, Method, Source
from app.metrology.methods.accuracy import accuracy_of, accuracy_words
from app.metrology.methods.acoustic_checking import check
from app.metrology.phrases import cylinders_in_words, temperature_both, volume_both
from app.metrology.physics.crank import peak_bias
from app.metrology.repeatability import Repeatability, evaluate_repeatability, repeatability_words
from app.metrology.units import kelvin_from_celsius

WORTH_SAYING = 0.005  # a correction too small for the second decimal is made but not spoken of

_REPEATABILITY = Source("repeatability", "repeatability", "1", "t", False)
_RESOLUTION = Source("resolution", "resolution", "1", "rectangular", False)
_TEMPERATURE = Source("gas_temperature", "gas temperature", "K", "normal", True)
_AIRFLOW = Source("airflow", "airflow", "L/min", "rectangular", True)
_AIRFLOW_SENSITIVITY = Source("airflow_sensitivity", "sensitivity to the airflow", "min/L", "normal", True)
_REPRODUCIBILITY = Source("reproducibility", "reproducibility (between inspectors)", "1", "t", True)
_CRANK = Source("crank_position", "crank position", "1", "one-sided", False)
_BORE = Source("bore", "bore (swept volume)", "mm", "normal", True)
_STROKE = Source("stroke", "stroke (swept volume)", "mm", "normal", True)


class Repeats(NamedTuple):
    """The indications of one cylinder in the order taken, in units of ratio, with the resolution they show."""

    cylinder: int
    values: tuple[float, ...]
    resolution: float


def read_repeats(observations: AcousticObservations) -> list[Repeats]:
    """The indications of every measured cylinder as figures, by cylinder. Raises MeasurementError on bad digits.

    The coarser of the instrument's resolution and the one that the typed digits show counts, for the whole cylinder.
    """
    measured = [reading for reading in observations.readings if reading.indications]
    resolution = observations.instrument.resolution
    return sorted([_read(reading, resolution) for reading in measured])


def _read(reading: CylinderReading, resolution: float) -> Repeats:
    values = []
    for place, text in enumerate(reading.indications):
        value, step = read_indication(text, reading.cylinder, place)
        values.append(value)
        resolution = max(resolution, step)
    return Repeats(reading.cylinder, tuple(values), resolution)


def gain(engine: Engine, settings: Settings, gas_temperature_c: float) -> float:
    """(r − 1)/(r_ind − 1): what was dialled against what the engine and the gas are."""
    per_cylinder_cm3 = settings.displacement_cm3 / settings.cylinders
    temperature_ratio = kelvin_from_celsius(settings.gas_temperature_c) / kelvin_from_celsius(gas_temperature_c)
    return swept_volume_cm3(engine.bore_mm, engine.stroke_mm) / per_cylinder_cm3 * temperature_ratio


def corrected_ratio(engine: Engine, settings: Settings, gas_temperature_c: float, indication: float) -> float:
    """The measured ratio that an indication stands for, given what was dialled and what was in the chamber."""
    return 1.0 + gain(engine, settings, gas_temperature_c) * (indication - 1.0)


def sources_of(observations: AcousticObservations) -> tuple[Source, ...]:
    """Inspectors, airflow and crank position are sources of their own only where something is known of them."""
    accuracy, _ = accuracy_of(observations.instrument)
    return (
        _REPEATABILITY,
        _RESOLUTION,
        accuracy,
        *((_REPRODUCIBILITY,) if observations.reproducibility is not None else ()),
        _TEMPERATURE,
        *_airflow_sources(observations.instrument),
        *((_CRANK,) if observations.conditions.crank_step_degrees else ()),
        _BORE,
        _STROKE,
    )


def _airflow_sources(instrument: Instrument) -> tuple[Source, ...]:
    if instrument.airflow_sensitivity is None:
        return ()
    return (_AIRFLOW, _AIRFLOW_SENSITIVITY) if instrument.airflow_sensitivity_standard_uncertainty else (_AIRFLOW,)


def measure(engine: Engine, observations: AcousticObservations) -> Measurement:
    """The ratio of every measured cylinder from the mean of its indications, with every source."""
    repeats = read_repeats(observations)
    if not repeats:
        raise MeasurementError("readings", "No cylinder has an indication yet. Enter those of at least one.")
    found = _repeatabilities(observations, repeats)
    instrument, conditions = observations.instrument, observations.conditions
    per_indication = gain(engine, observations.settings, conditions.gas_temperature_c)
    kelvin = kelvin_from_celsius(conditions.gas_temperature_c)
    _, accuracy_u = accuracy_of(instrument)
    step = conditions.crank_step_degrees
    flow_u, flow_sensitivities = _airflow(instrument, per_indication)
    of_study = observations.reproducibility or ()
    between_u, between_dof = of_study[:1], of_study[1:]
    temperature_u = conditions.gas_temperature_standard_uncertainty_k
    sources = sources_of(observations)
    further_dof = (INFINITE, INFINITE, *between_dof, *(INFINITE,) * (len(sources) - 3 - len(between_dof)))
    none_in_common = (0.0,) * (len(sources) - 1)
    results = []
    for one, repeatability in zip(repeats, found, strict=True):
        mean = math.fsum(one.values) / len(one.values)
        above_one = per_indication * (mean - 1.0)
        crank_u = 0.0
        if step:
            low_by, crank_u = peak_bias(engine.bore_mm, engine.stroke_mm, conditions.rod_ratio, step, 1.0 + above_one)
            above_one += low_by
        _, deviation_of_mean, dof, in_common, _ = repeatability
        results.append(
            Measured(
                one.cylinder,
                1.0 + above_one,
                (
                    deviation_of_mean,
                    standard_uncertainty_resolution(one.resolution),
                    accuracy_u,
                    *between_u,
                    temperature_u,
                    *flow_u,
                    *((crank_u,) if step else ()),
                    engine.bore_standard_uncertainty_mm,
                    engine.stroke_standard_uncertainty_mm,
                ),
                (
                    per_indication,
                    per_indication,
                    per_indication,
                    *(per_indication,) * len(between_u),
                    -above_one / kelvin,
                    *flow_sensitivities,
                    *((1.0,) if step else ()),
                    2.0 * above_one / engine.bore_mm,
                    above_one / engine.stroke_mm,
                ),
                (dof, *further_dof),
                (in_common, *none_in_common),
                mean,
            )
        )
    return Measurement(sources, tuple(results))


def _airflow(instrument: Instrument, per_indication: float) -> tuple[tuple[float, ...], tuple[float, ...]]:
    """(standard uncertainties, sensitivities) of the airflow and of its slope, as far as a flow study knows them."""
    if instrument.airflow_sensitivity is None:
        return (), ()
    flow_u = standard_uncertainty_rectangular(instrument.airflow_tolerance_l_min)
    slope, slope_u = instrument.airflow_sensitivity, instrument.airflow_sensitivity_standard_uncertainty
    if not slope_u:
        return (flow_u,), (per_indication * slope,)
    # of the second order: u(c)·u(δ), so what the slope is uncertain by counts with the airflow's own uncertainty
    return (flow_u, slope_u), (per_indication * slope, per_indication * flow_u)


def _repeatabilities(observations: AcousticObservations, repeats: list[Repeats]) -> list[Repeatability]:
    return evaluate_repeatability(
        [one.values for one in repeats], [one.resolution for one in repeats], observations.repeatability
    )


def source_words(engine: Engine, observations: AcousticObservations, measured: Measured) -> tuple[str, ...]:
    """Where each source's figure comes from, in the order of the sources; for the mean, of all cylinders."""
    repeats = read_repeats(observations)
    found = _repeatabilities(observations, repeats)
    together = ""
    place = next((place for place, one in enumerate(repeats) if one.cylinder == measured.cylinder), 0)
    if measured.cylinder == 0:
        together = f"; {len(repeats)} cylinders, root sum of squares divided by {len(repeats)}"
    instrument, conditions = observations.instrument, observations.conditions
    said = {
        "repeatability": repeatability_words(
            found[place],
            len(repeats[place].values),
            observations.repeatability,
            is_studied=observations.reproducibility is not None,  # a gauge study gives both
        )
        + together,
        "resolution": f"last step of the indication, {repeats[place].resolution:g}; half a step either way{together}",
        "stated_accuracy": accuracy_words(instrument),
        "gas_temperature": (
            f"{TEMPERATURE_SOURCES.get(conditions.temperature_source, conditions.temperature_source)}, "
            f"known to {conditions.gas_temperature_standard_uncertainty_k:g} K by common practice"
        ),
        "reproducibility": _between_words(observations.reproducibility),
        "airflow": (
            f"kept within ±{instrument.airflow_tolerance_l_min:g} L/min of its set-point; the flow study found "
            f"{instrument.airflow_sensitivity or 0.0:g} for each L/min"
        ),
        "airflow_sensitivity": (
            f"the flow study's figure for a litre per minute has a standard uncertainty of "
            f"{instrument.airflow_sensitivity_standard_uncertainty:g}; it counts as far as the airflow may stray, "
            f"±{instrument.airflow_tolerance_l_min:g} L/min (second order: JCGM 100, 5.1.2, note)"
        ),
        "crank_position": _crank_words(conditions) + together,
        "bore": _declared("bore", engine.bore_mm, engine.bore_standard_uncertainty_mm),
        "stroke": _declared("stroke", engine.stroke_mm, engine.stroke_standard_uncertainty_mm),
    }
    return tuple(said[source.name] for source in sources_of(observations))


def _between_words(reproducibility: tuple[float, float] | None) -> str:
    """A difference between inspectors is nobody's fault: it is said of all of them, and of no one."""
    deviation, dof = reproducibility or (0.0, INFINITE)
    known = "" if math.isinf(dof) else f", from {dof:.3g} degrees of freedom"
    return (
        f"the gauge study adopted for this instrument: inspectors differ by a standard deviation of {deviation:.2g}"
        f"{known}; one inspector measured all cylinders"
    )


def _crank_words(conditions: Conditions) -> str:
    return (
        f"the peak was sought in steps of {conditions.crank_step_degrees:g}° of crank, so top dead centre lies up to "
        f"{conditions.crank_step_degrees / 2.0:g}° from the best of them: slider-crank with rod ratio "
        f"{conditions.rod_ratio:g}, the mean shortfall corrected for"
    )


def _declared(name: str, length_mm: float, standard_uncertainty_mm: float) -> str:
    return (
        f"the {name} of {length_mm:g} mm is the competitor's and was not measured here; "
        f"{standard_uncertainty_mm:g} mm is common practice for parts made to it"
    )


def corrections(engine: Engine, observations: AcousticObservations, measured: Measured) -> tuple[str, ...]:
    """What was corrected, in sentences with both unit systems; the example figure is this result's indication."""
    sentences = []
    settings, conditions = observations.settings, observations.conditions
    indication = measured.mean_indication or measured.value
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
    if abs(measured.value - value) >= WORTH_SAYING:
        sentences.append(
            f"The crank was turned in steps of {conditions.crank_step_degrees:g}°, so the peak was missed a little on "
            f"the low side. The mean shortfall was added: {value:.3f} becomes {measured.value:.3f}."
        )
    return tuple(sentences)


METHOD = Method(
    key="acoustic_resonance",
    label="acoustic resonance",
    quantity=COMPRESSION_RATIO,
    observations=AcousticObservations,
    check=check,
    measure=measure,
    source_words=source_words,
    corrections=corrections,
    chamber_closed=True,
)
