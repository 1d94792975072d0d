"""What cannot be is refused here, each with its sentence, before anything is computed."""

from collections.abc import Mapping

from app.metrology.conformity import DECISION_RULES
from app.metrology.errors import MeasurementError
from app.metrology.geometry import swept_volume_cm3
from app.metrology.inputs import (
    ACCURACY_MEANINGS,
    AssessmentInputs,
    Calibration,
    Conditions,
    Engine,
    Instrument,
    Rule,
    Settings,
)
from app.metrology.methods import METHODS
from app.metrology.rules import APPLIES_TO, INCONCLUSIVE_ACTIONS, RULE_KINDS
from app.metrology.units import CUBIC_INCH_CM3, ZERO_CELSIUS_K

LEAST_LENGTH_MM, GREATEST_LENGTH_MM = 10.0, 2500.0
MOST_CYLINDERS = 48
COLDEST_C, HOTTEST_C = -40.0, 200.0
SWEPT_VOLUME_FACTOR = 10.0  # settings further off than this are a slip of unit, not a substitute
MOST_INDICATIONS = 99


def check_inputs(inputs: AssessmentInputs) -> None:
    """Raises MeasurementError at the first input that cannot be."""
    _check_engine(inputs.engine)
    _check_instrument(inputs.instrument)
    _check_settings(inputs.settings, inputs.engine)
    _check_conditions(inputs.conditions)
    _check_rule(inputs.rule)
    _check_readings(inputs)
    if inputs.repeatability is not None:
        deviation, dof = inputs.repeatability
        _between(deviation, 0.0, 5.0, "repeatability", "The standard deviation of the instrument's history", "a ratio")
        if not dof >= 1.0:  # infinite is meant, not-a-number is not
            raise MeasurementError(
                "repeatability", "The instrument's history needs at least one degree of freedom: two indications."
            )
    _between(inputs.coverage_probability, 0.5, 0.9999, "coverage_probability", "The coverage probability", "0.95")


def _check_engine(engine: Engine) -> None:
    _length(engine.bore_mm, engine.bore_standard_uncertainty_mm, "bore")
    _length(engine.stroke_mm, engine.stroke_standard_uncertainty_mm, "stroke")
    _count(engine.cylinders, "engine.cylinders", "The engine")


def _length(length_mm: float, standard_uncertainty_mm: float, name: str) -> None:
    field = f"engine.{name}_mm"
    if not LEAST_LENGTH_MM <= length_mm <= GREATEST_LENGTH_MM:
        hint = (
            f" Was it typed in inches? {length_mm:g} in are {25.4 * length_mm:g} mm." if 1.0 <= length_mm < 10.0 else ""
        )
        raise MeasurementError(
            field,
            f"A {name} of {length_mm:g} mm cannot be: it lies between {LEAST_LENGTH_MM:g} mm and "
            f"{GREATEST_LENGTH_MM:g} mm.{hint}",
        )
    if not 0.0 <= standard_uncertainty_mm <= length_mm / 10.0:
        raise MeasurementError(
            f"engine.{name}_standard_uncertainty_mm",
            f"The standard uncertainty of the {name} is {standard_uncertainty_mm:g} mm. "
            f"It is not negative and at most a tenth of the {name}; 0.01 mm is usual.",
        )


def _count(count: int, field: str, whose: str) -> None:
    if not 1 <= count <= MOST_CYLINDERS:
        raise MeasurementError(field, f"{whose} cannot have {count} cylinders. Enter 1 to {MOST_CYLINDERS}.")


def _check_instrument(instrument: Instrument) -> None:
    _key(instrument.method, METHODS, "instrument.method", "measuring method")
    _positive(instrument.resolution, 1.0, "instrument.resolution", "resolution", "0.01")
    _positive(instrument.stated_accuracy, 5.0, "instrument.stated_accuracy", "stated accuracy", "0.10")
    _key(instrument.accuracy_meaning, ACCURACY_MEANINGS, "instrument.accuracy_meaning", "meaning of the accuracy")
    _check_calibration(instrument.calibration)


def _check_calibration(calibration: Calibration | None) -> None:
    if calibration is None:
        return
    field, whose = "instrument.calibration", "of the instrument's calibration"
    _between(calibration.deviation, -5.0, 5.0, f"{field}.deviation", f"The deviation {whose}", "0.02")
    _between(
        calibration.expanded_uncertainty, 0.0, 5.0, f"{field}.expanded_uncertainty", f"The uncertainty {whose}", "0.05"
    )
    _between(calibration.coverage_factor, 1.0, 10.0, f"{field}.coverage_factor", f"The coverage factor {whose}", "2")


def _positive(value: float, greatest: float, field: str, name: str, example: str) -> None:
    if not 0.0 < value <= greatest:
        raise MeasurementError(
            field,
            f"The {name} of the instrument is given as {value:g}. No instrument is exact: enter it in units of ratio, "
            f"above 0 and at most {greatest:g}, for example {example}.",
        )


def _check_settings(settings: Settings, engine: Engine) -> None:
    _count(settings.cylinders, "settings.cylinders", "The instrument's setting")
    if not 1.0 <= settings.displacement_cm3 <= 1e6:
        raise MeasurementError(
            "settings.displacement_cm3",
            f"The instrument cannot have been set to {settings.displacement_cm3:g} cm³. "
            "Enter the whole displacement that was dialled.",
        )
    swept_cm3 = swept_volume_cm3(engine.bore_mm, engine.stroke_mm)
    set_cm3 = settings.displacement_cm3 / settings.cylinders
    if not 1.0 / SWEPT_VOLUME_FACTOR <= set_cm3 / swept_cm3 <= SWEPT_VOLUME_FACTOR:
        raise MeasurementError(
            "settings.displacement_cm3",
            f"The instrument was set to {set_cm3:.1f} cm³ a cylinder, but each cylinder of this engine sweeps "
            f"{swept_cm3:.1f} cm³. Were cubic inches and cm³ mixed up? "
            f"{settings.displacement_cm3:g} in³ are {settings.displacement_cm3 * CUBIC_INCH_CM3:.1f} cm³.",
        )
    _temperature(settings.gas_temperature_c, "settings.gas_temperature_c", "The gas temperature set on the instrument")


def _check_conditions(conditions: Conditions) -> None:
    _temperature(conditions.gas_temperature_c, "conditions.gas_temperature_c", "The gas temperature in the chamber")
    _between(
        conditions.gas_temperature_standard_uncertainty_k,
        0.0,
        50.0,
        "conditions.gas_temperature_standard_uncertainty_k",
        "The standard uncertainty of the gas temperature",
        "1 K",
    )
    if not conditions.temperature_source.strip():
        raise MeasurementError(
            "conditions.temperature_source", "Say how the gas temperature was known: thermometer, gauge or ambient."
        )


def _temperature(temperature_c: float, field: str, name: str) -> None:
    if COLDEST_C <= temperature_c <= HOTTEST_C:
        return
    in_celsius = temperature_c - ZERO_CELSIUS_K
    hint = (
        f" Was it typed in kelvin? {temperature_c:g} K are {in_celsius:.1f} °C."
        if COLDEST_C <= in_celsius <= HOTTEST_C
        else ""
    )
    raise MeasurementError(
        field,
        f"{name} is given as {temperature_c:g} °C; it lies between {COLDEST_C:g} °C and {HOTTEST_C:g} °C.{hint}",
    )


def _check_rule(rule: Rule) -> None:
    _key(rule.kind, RULE_KINDS, "rule.kind", "kind of limit")
    _key(rule.applies_to, APPLIES_TO, "rule.applies_to", "scope of the limit")
    _key(rule.decision_rule, DECISION_RULES, "rule.decision_rule", "decision rule")
    _key(
        rule.inconclusive_action, INCONCLUSIVE_ACTIONS, "rule.inconclusive_action", "action for an inconclusive verdict"
    )
    if not 1.0 < rule.limit < 100.0:
        raise MeasurementError(
            "rule.limit", f"A limit of {rule.limit:g} is no compression ratio: it lies above 1 and below 100."
        )
    if not 0.0 <= rule.tolerance < rule.limit - 1.0:
        raise MeasurementError(
            "rule.tolerance",
            f"A tolerance of {rule.tolerance:g} cannot be granted on a limit of {rule.limit:g}. "
            "Enter 0 or a small part of a ratio, for example 0.10.",
        )
    _between(rule.confidence, 0.5, 0.9999, "rule.confidence", "The required confidence", "0.95")


def _check_readings(inputs: AssessmentInputs) -> None:
    seen: set[int] = set()
    for reading in inputs.readings:
        field = f"readings.{reading.cylinder}"
        if not 1 <= reading.cylinder <= inputs.engine.cylinders:
            raise MeasurementError(
                field, f"This engine has no cylinder {reading.cylinder}; they run from 1 to {inputs.engine.cylinders}."
            )
        if reading.cylinder in seen:
            raise MeasurementError(field, f"Cylinder {reading.cylinder} appears twice. Put its indications together.")
        seen.add(reading.cylinder)
        if len(reading.indications) > MOST_INDICATIONS:
            raise MeasurementError(
                field,
                f"Cylinder {reading.cylinder} has {len(reading.indications)} indications; "
                f"at most {MOST_INDICATIONS} are taken.",
            )


def _between(value: float, least: float, greatest: float, field: str, name: str, example: str) -> None:
    if not least <= value <= greatest:
        raise MeasurementError(
            field, f"{name} is given as {value:g}; it lies between {least:g} and {greatest:g}, for example {example}."
        )


def _key(key: str, table: Mapping[str, object], field: str, name: str) -> None:
    if key not in table:
        raise MeasurementError(field, f"The {name} “{key[:40]}” is not known here. Known are {', '.join(table)}.")
