"""What cannot be on a sheet by acoustic resonance is refused here, each with its sentence."""

from app.metrology.errors import MeasurementError
from app.metrology.geometry import swept_volume_cm3
from app.metrology.inputs import (
    ACCURACY_MEANINGS,
    CHECKS,
    AcousticObservations,
    Calibration,
    Conditions,
    CylinderCheck,
    Engine,
    Instrument,
    Settings,
)
from app.metrology.plausible import between, check_count, check_key, check_temperature
from app.metrology.units import CUBIC_INCH_CM3

SWEPT_VOLUME_FACTOR = 10.0  # settings further off than this are a slip of unit, not a substitute
MOST_INDICATIONS = 99


def check(engine: Engine, observations: AcousticObservations) -> None:
    """Raises MeasurementError at the first observation that cannot be."""
    _check_instrument(observations.instrument)
    _check_settings(observations.settings, engine)
    _check_conditions(observations.conditions)
    _check_readings(engine, observations)
    for one in observations.checks:
        _check_check(one, engine)
    if observations.repeatability is not None:
        deviation, dof = observations.repeatability
        between(deviation, 0.0, 5.0, "repeatability", "The standard deviation of the instrument's history", "a ratio")
        if not dof >= 1.0:  # infinite is meant, not-a-number is not
            raise MeasurementError(
                "repeatability", "The instrument's history needs at least one degree of freedom: two indications."
            )
    if observations.reproducibility is not None:
        deviation, dof = observations.reproducibility
        name = "The standard deviation between inspectors, from the gauge study,"
        between(deviation, 0.0, 5.0, "reproducibility", name, "0.03")
        if not dof >= 1.0:
            raise MeasurementError(
                "reproducibility",
                "The gauge study needs at least one degree of freedom between inspectors: have more of them measure.",
            )


def _check_instrument(instrument: Instrument) -> None:
    _positive(instrument.resolution, 1.0, "instrument.resolution", "resolution", "0.01")
    _positive(instrument.stated_accuracy, 5.0, "instrument.stated_accuracy", "stated accuracy", "0.10")
    check_key(instrument.accuracy_meaning, ACCURACY_MEANINGS, "instrument.accuracy_meaning", "meaning of the accuracy")
    between(
        instrument.airflow_tolerance_l_min,
        0.0,
        100.0,
        "instrument.airflow_tolerance_l_min",
        "The tolerance of the airflow",
        "0.1 L/min",
    )
    if instrument.airflow_sensitivity is not None:
        between(
            instrument.airflow_sensitivity,
            -5.0,
            5.0,
            "instrument.airflow_sensitivity",
            "What a litre per minute more does to the indication",
            "0.02",
        )
    between(
        instrument.airflow_sensitivity_standard_uncertainty,
        0.0,
        5.0,
        "instrument.airflow_sensitivity_standard_uncertainty",
        "The standard uncertainty of what a litre per minute does",
        "0.005",
    )
    if instrument.airflow_sensitivity is None and instrument.airflow_sensitivity_standard_uncertainty:
        raise MeasurementError(
            "instrument.airflow_sensitivity_standard_uncertainty",
            "What a litre per minute does has an uncertainty here but no value. Give both, or leave both out.",
        )
    _check_calibration(instrument.calibration)


def _check_calibration(calibration: Calibration | None) -> None:
    if calibration is None:
        return
    field, whose = "instrument.calibration", "of the instrument's calibration"
    between(calibration.deviation, -5.0, 5.0, f"{field}.deviation", f"The deviation {whose}", "0.02")
    between(
        calibration.expanded_uncertainty, 0.0, 5.0, f"{field}.expanded_uncertainty", f"The uncertainty {whose}", "0.05"
    )
    between(calibration.coverage_factor, 1.0, 10.0, f"{field}.coverage_factor", f"The coverage factor {whose}", "2")


def _positive(value: float, greatest: float, field: str, name: str, example: str) -> None:
    if not 0.0 < value <= greatest:
        raise MeasurementError(
            field,
            f"The {name} of the instrument is given as {value:g}. No instrument is exact: enter it in units of ratio, "
            f"above 0 and at most {greatest:g}, for example {example}.",
        )


def _check_settings(settings: Settings, engine: Engine) -> None:
    check_count(settings.cylinders, "settings.cylinders", "The instrument's setting")
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
    check_temperature(
        settings.gas_temperature_c, "settings.gas_temperature_c", "The gas temperature set on the instrument"
    )


def _check_conditions(conditions: Conditions) -> None:
    check_temperature(
        conditions.gas_temperature_c, "conditions.gas_temperature_c", "The gas temperature in the chamber"
    )
    between(
        conditions.gas_temperature_standard_uncertainty_k,
        0.0,
        50.0,
        "conditions.gas_temperature_standard_uncertainty_k",
        "The standard uncertainty of the gas temperature",
        "1 K",
    )
    between(
        conditions.crank_step_degrees,
        0.0,
        20.0,
        "conditions.crank_step_degrees",
        "The step in which the crank was turned",
        "2 degrees, or 0 when it was turned smoothly",
    )
    between(conditions.rod_ratio, 1.0, 3.0, "conditions.rod_ratio", "The rod ratio, rod length over stroke,", "1.75")
    if not conditions.temperature_source.strip():
        raise MeasurementError(
            "conditions.temperature_source", "Say how the gas temperature was known: thermometer, gauge or ambient."
        )


def _check_readings(engine: Engine, observations: AcousticObservations) -> None:
    seen: set[int] = set()
    for reading in observations.readings:
        field = f"readings.{reading.cylinder}"
        if not 1 <= reading.cylinder <= engine.cylinders:
            raise MeasurementError(
                field, f"This engine has no cylinder {reading.cylinder}; they run from 1 to {engine.cylinders}."
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


def _check_check(one: CylinderCheck, engine: Engine) -> None:
    field = f"checks.{one.cylinder}"
    if not 1 <= one.cylinder <= engine.cylinders:
        raise MeasurementError(
            field, f"This engine has no cylinder {one.cylinder}; they run from 1 to {engine.cylinders}."
        )
    check_key(one.check, CHECKS, field, "check")
    if (one.check == "leak_down") != (one.leak_percent is not None):
        raise MeasurementError(field, "A leak-down test has its percentage, any other check has none.")
    if one.leak_percent is not None:
        between(one.leak_percent, 0.0, 100.0, field, "The leak-down percentage", "8")
