"""What an assessment starts from: frozen values, exactly as they are stored with a verdict."""

from dataclasses import dataclass

ACCURACY_MEANINGS: dict[str, str] = {
    "limits": "limits that the error does not exceed (rectangular, ±a)",
    "expanded_k2": "expanded uncertainty with k = 2",
    "standard": "standard uncertainty",
}
TEMPERATURE_SOURCES: dict[str, str] = {
    "thermometer_in_chamber": "thermometer in the chamber",
    "coolant_gauge": "coolant gauge",
    "ambient_on_stand": "ambient air, engine cold on a stand",
}


@dataclass(frozen=True, slots=True)
class Engine:
    """Geometry of the engine measured; lengths and their standard uncertainties in millimetres."""

    bore_mm: float
    stroke_mm: float
    cylinders: int
    bore_standard_uncertainty_mm: float = 0.01
    stroke_standard_uncertainty_mm: float = 0.02


@dataclass(frozen=True, slots=True)
class Calibration:
    """What the calibration in force found, in units of ratio: indication less reference, and its U at this k."""

    certificate: str
    deviation: float
    expanded_uncertainty: float
    coverage_factor: float


@dataclass(frozen=True, slots=True)
class Instrument:
    """What is known of the instrument; resolution and stated accuracy in units of ratio."""

    method: str  # a key of METHODS
    resolution: float
    stated_accuracy: float
    accuracy_meaning: str  # a key of ACCURACY_MEANINGS
    calibration: Calibration | None = None


@dataclass(frozen=True, slots=True)
class Settings:
    """What was dialled on the instrument: whole displacement in cm³, cylinder count, gas temperature in °C."""

    displacement_cm3: float
    cylinders: int
    gas_temperature_c: float


@dataclass(frozen=True, slots=True)
class Conditions:
    """The gas actually in the chamber: temperature in °C, its standard uncertainty in kelvin, and how it was known."""

    gas_temperature_c: float
    gas_temperature_standard_uncertainty_k: float
    temperature_source: str  # a key of TEMPERATURE_SOURCES, or the inspector's own words


@dataclass(frozen=True, slots=True)
class CylinderReading:
    """The indications of one cylinder as typed, in order; none when it was not measured."""

    cylinder: int
    indications: tuple[str, ...]
    not_measured_reason: str = ""


@dataclass(frozen=True, slots=True)
class Rule:
    """One limit of an edition; limit and tolerance in units of ratio, the tolerance granted beyond the limit."""

    kind: str  # a key of RULE_KINDS
    limit: float
    tolerance: float
    applies_to: str  # a key of APPLIES_TO
    decision_rule: str  # a key of DECISION_RULES
    confidence: float  # required, one-sided
    inconclusive_action: str  # a key of INCONCLUSIVE_ACTIONS


@dataclass(frozen=True, slots=True)
class AssessmentInputs:
    """All that a verdict follows from. `repeatability` is a prior: (standard deviation of one indication, its dof)."""

    engine: Engine
    instrument: Instrument
    settings: Settings
    conditions: Conditions
    readings: tuple[CylinderReading, ...]
    rule: Rule
    repeatability: tuple[float, float] | None = None
    coverage_probability: float = 0.95
