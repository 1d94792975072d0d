"""What an assessment yields: frozen values, in the quantity's unit unless the name says otherwise."""

from dataclasses import dataclass

from app.metrology.measurement import WHOLE_ENGINE
from app.metrology.uncertainty import Budget

MEAN = WHOLE_ENGINE  # the "cylinder" of a mean


@dataclass(frozen=True, slots=True)
class CylinderResult:
    """The measurement result of one cylinder, of the mean of all, or of the engine (`cylinder` 0), and its verdict.

    A cylinder that the rule does not judge by itself (a rule for the mean) has an empty `verdict` and no limits.
    """

    cylinder: int
    label: str  # in words, to begin a sentence
    indications: tuple[str, ...]  # as typed; none for the mean, or where no instrument shows the ratio
    mean_indication: float | None
    value: float
    standard_uncertainty: float
    effective_degrees_of_freedom: float  # Welch–Satterthwaite as computed; may be infinite
    degrees_of_freedom_used: float  # of the bell, truncated; behind every factor and probability here
    coverage_factor: float
    coverage_probability: float
    expanded_uncertainty: float
    conformance_probability: float
    verdict: str
    side: str  # a key of SIDES: which side of the rule decided
    acceptance_limit: float | None
    rejection_limit: float | None
    clearance_volume_cm3: float | None
    temperature_effect_per_kelvin: float | None  # dr/dT: negative, each kelvin more lowers the true ratio
    budget: Budget


@dataclass(frozen=True, slots=True)
class Suspicion:
    """Something about one cylinder's readings that the figures alone do not settle."""

    kind: str
    cylinder: int
    seen: str
    look_for: str
    do: str
    settled_by: str = ""  # what was done about it and found; empty while it is open


@dataclass(frozen=True, slots=True)
class Assessment:
    """The verdict on one engine under one rule, and all that it followed from."""

    core_version: str
    method: str
    quantity: str
    unit: str
    verdict: str
    action: str  # what follows from an inconclusive verdict, a key of INCONCLUSIVE_ACTIONS; empty otherwise
    reason: str
    deciding: str  # label of the result that decided
    side: str  # a key of SIDES: the side of the rule that decided
    limit: float  # the rule book's on that side
    tolerance_limit: float
    acceptance_limit: float | None
    rejection_limit: float | None
    acceptance_factor: float  # of one result, in standard uncertainties
    rejection_factor: float  # of the engine: the greatest of the errors of all judged cylinders stays below it
    judged: int  # how many results the rule judged
    engine_conformance_probability: float  # that every judged result's true value conforms
    results: tuple[CylinderResult, ...]  # the measured cylinders, in order
    not_measured: tuple[int, ...]
    decided: CylinderResult  # what the rule judged: the deciding cylinder, or the mean
    suspicions: tuple[Suspicion, ...]
    corrections: tuple[str, ...]
    temperature_effect_per_kelvin: float | None  # of the deciding result
