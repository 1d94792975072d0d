"""What an assessment starts from: frozen values, exactly as they are stored with a verdict."""

from dataclasses import dataclass
from typing import Any

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
CHECKS: dict[str, str] = {
    "leak_down": "leak-down test",
    "refitted": "adapter taken out, tube and plug hole looked through, refitted and measured again",
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
    """What is known of the instrument; resolution and stated accuracy in units of ratio.

    The airflow is kept within its tolerance of the set-point (L/min); a flow study may have found what a litre per
    minute does to the indication, and how well it knows that (both ratio per L/min). Without one its effect is taken
    as part of the stated accuracy.
    """

    method: str  # a key of METHODS
    resolution: float
    stated_accuracy: float
    accuracy_meaning: str  # a key of ACCURACY_MEANINGS
    calibration: Calibration | None = None
    airflow_tolerance_l_min: float = 0.0
    airflow_sensitivity: float | None = None
    airflow_sensitivity_standard_uncertainty: float = 0.0


@dataclass(frozen=True, slots=True)
class Settings:
    """What was dialled on the instrument: whole displacement in cm³, cylinder count, gas temperature in °C."""

    displacement_cm3: float
    cylinders: int
    gas_temperature_c: float


@dataclass(frozen=True, slots=True)
class Conditions:
    """The gas actually in the chamber: temperature in °C, its standard uncertainty in kelvin, and how it was known.

    `crank_step_degrees` is how far the crank was turned from one reading to the next while the peak was sought; 0 when
    it was turned smoothly through top dead centre. `rod_ratio` is connecting rod length over stroke.
    """

    gas_temperature_c: float
    gas_temperature_standard_uncertainty_k: float
    temperature_source: str  # a key of TEMPERATURE_SOURCES, or the inspector's own words
    crank_step_degrees: float = 0.0
    rod_ratio: float = 1.75


@dataclass(frozen=True, slots=True)
class CylinderReading:
    """The indications of one cylinder as typed, in order; none when it was not measured."""

    cylinder: int
    indications: tuple[str, ...]
    not_measured_reason: str = ""


@dataclass(frozen=True, slots=True)
class CylinderCheck:
    """What was done about a suspicion: a leak-down test with the percentage it showed, or the adapter refitted."""

    cylinder: int
    check: str  # a key of CHECKS
    leak_percent: float | None = None


@dataclass(frozen=True, slots=True)
class AcousticObservations:
    """One sheet by acoustic resonance. `repeatability` is a prior: (standard deviation of one indication, its dof).

    `reproducibility` is what an adopted gauge study found between inspectors: (standard deviation in units of ratio of
    the indication, its dof). One inspector measures all cylinders of an engine.
    """

    instrument: Instrument
    settings: Settings
    conditions: Conditions
    readings: tuple[CylinderReading, ...]
    repeatability: tuple[float, float] | None = None
    checks: tuple[CylinderCheck, ...] = ()
    reproducibility: tuple[float, float] | None = None


@dataclass(frozen=True, slots=True)
class Rule:
    """One limit of an edition; limits and tolerance in the quantity's unit, the tolerance granted beyond the limit.

    A range has `lower_limit` beside `limit`, the upper one. Where the tolerance is meant to cover the uncertainty of
    the measurement already, no guard band comes on top of it: the value alone is held against the tolerance limit.
    """

    kind: str  # a key of RULE_KINDS
    limit: float
    tolerance: float
    applies_to: str  # a key of APPLIES_TO
    decision_rule: str  # a key of DECISION_RULES
    confidence: float  # required, one-sided
    inconclusive_action: str  # a key of INCONCLUSIVE_ACTIONS
    quantity: str = "compression_ratio"  # a key of QUANTITIES
    lower_limit: float | None = None
    designated_cylinder: int | None = None
    tolerance_covers_uncertainty: bool = False


@dataclass(frozen=True, slots=True)
class AssessmentInputs:
    """All that a verdict follows from. `observations` is what the measuring method `method` looks at."""

    method: str  # a key of METHODS
    engine: Engine
    observations: Any
    rule: Rule
    coverage_probability: float = 0.95
