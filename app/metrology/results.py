"""What an assessment yields: frozen values, in units of ratio unless the name says otherwise."""

from dataclasses import dataclass

from app.metrology.uncertainty import Budget

MEAN = 0  # the "cylinder" of a mean


@dataclass(frozen=True, slots=True)
class CylinderResult:
    """The measurement result of one cylinder, or of the mean of all (`cylinder` 0), and the verdict on it.

    A cylinder that the rule does not judge by itself (a rule for the mean) has an empty `verdict` and no limits.
    """

    cylinder: int
    indications: tuple[str, ...]  # as typed; none for the mean
    mean_indication: float
    value: float
    standard_uncertainty: float
    effective_degrees_of_freedom: float  # Welch–Satterthwaite as computed; may be infinite
    degrees_of_freedom_used: float  # truncated; behind every factor and probability here
    coverage_factor: float
    coverage_probability: float
    expanded_uncertainty: float
    conformance_probability: float
    verdict: str
    acceptance_limit: float | None
    rejection_limit: float | None
    clearance_volume_cm3: float
    temperature_effect_per_kelvin: float  # dr/dT: negative, each kelvin more in the chamber lowers the true ratio
    budget: Budget

    @property
    def label(self) -> str:
        """The result in words, to begin a sentence."""
        return "The mean of the cylinders" if self.is_mean else f"Cylinder {self.cylinder}"

    @property
    def is_mean(self) -> bool:
        """Whether this is the mean of the cylinders and not one of them."""
        return self.cylinder == MEAN


@dataclass(frozen=True, slots=True)
class Suspicion:
    """Something about one cylinder's readings that the figures alone do not settle."""

    kind: str
    cylinder: int
    seen: str
    look_for: str
    do: str


@dataclass(frozen=True, slots=True)
class Assessment:
    """The verdict on one engine under one rule, and all that it followed from."""

    core_version: str
    verdict: str
    action: str  # what follows from an inconclusive verdict, a key of INCONCLUSIVE_ACTIONS; empty otherwise
    reason: str
    deciding: str  # label of the result that decided
    limit: float
    tolerance_limit: float
    acceptance_limit: float | None
    rejection_limit: float | None
    results: tuple[CylinderResult, ...]  # the measured cylinders, in order
    not_measured: tuple[int, ...]
    decided: CylinderResult  # what the rule judged: the deciding cylinder, or the mean
    suspicions: tuple[Suspicion, ...]
    corrections: tuple[str, ...]
    temperature_effect_per_kelvin: float  # of the deciding result
