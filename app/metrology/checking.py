"""What cannot be is refused here, each with its sentence, before anything is computed: the engine and the rule.

What is observed is looked at by the check of its measuring method.
"""

from app.metrology.conformity import DECISION_RULES
from app.metrology.errors import MeasurementError
from app.metrology.inputs import AssessmentInputs, Engine, Rule
from app.metrology.measurement import COMPRESSION_RATIO, QUANTITIES
from app.metrology.methods import METHODS
from app.metrology.plausible import between, check_count, check_key
from app.metrology.rules import APPLIES_TO, DESIGNATED_CYLINDER, INCONCLUSIVE_ACTIONS, RANGE, RULE_KINDS, WHOLE_ENGINE

LEAST_LENGTH_MM, GREATEST_LENGTH_MM = 10.0, 2500.0
LIMITS: dict[str, tuple[float, float]] = {"compression_ratio": (1.0, 100.0), "displacement": (1.0, 1e6)}


def check_inputs(inputs: AssessmentInputs) -> None:
    """Raises MeasurementError at the first input that cannot be."""
    check_key(inputs.method, METHODS, "method", "measuring method")
    method = METHODS[inputs.method]
    check_engine(inputs.engine)
    check_rule(inputs.rule, inputs.engine)
    if inputs.rule.quantity != method.quantity:
        raise MeasurementError(
            "rule.quantity",
            f"The rule limits the {QUANTITIES[inputs.rule.quantity][0]}; the method {method.label} measures the "
            f"{QUANTITIES[method.quantity][0]}. Take the rule or the method that fits.",
        )
    method.check(inputs.engine, inputs.observations)
    between(inputs.coverage_probability, 0.5, 0.9999, "coverage_probability", "The coverage probability", "0.95")


def check_engine(engine: Engine) -> None:
    """Raises MeasurementError where the declared geometry cannot be."""
    _length(engine.bore_mm, engine.bore_standard_uncertainty_mm, "bore")
    _length(engine.stroke_mm, engine.stroke_standard_uncertainty_mm, "stroke")
    check_count(engine.cylinders, "engine.cylinders", "The engine")


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


def check_rule(rule: Rule, engine: Engine) -> None:
    """Raises MeasurementError where the rule cannot be, or cannot be applied to this engine."""
    check_key(rule.quantity, QUANTITIES, "rule.quantity", "quantity limited")
    check_key(rule.kind, RULE_KINDS, "rule.kind", "kind of limit")
    check_key(rule.applies_to, APPLIES_TO, "rule.applies_to", "scope of the limit")
    check_key(rule.decision_rule, DECISION_RULES, "rule.decision_rule", "decision rule")
    check_key(
        rule.inconclusive_action, INCONCLUSIVE_ACTIONS, "rule.inconclusive_action", "action for an inconclusive verdict"
    )
    _check_limits(rule)
    between(rule.confidence, 0.5, 0.9999, "rule.confidence", "The required confidence", "0.95")
    if rule.tolerance_covers_uncertainty and rule.decision_rule != "simple_acceptance":
        raise MeasurementError(
            "rule.decision_rule",
            "A tolerance that covers the uncertainty already leaves none to guard against: the decision rule is simple "
            "acceptance then. Choose that, or let the tolerance not cover the uncertainty.",
        )
    _check_scope(rule, engine)


def _check_limits(rule: Rule) -> None:
    least, greatest = LIMITS[rule.quantity]
    for field, limit in (("rule.limit", rule.limit), ("rule.lower_limit", rule.lower_limit)):
        if limit is not None and not least < limit < greatest:
            raise MeasurementError(
                field,
                f"A limit of {limit:g} is no {_named(rule)}: it lies above {least:g} and below {greatest:g}.",
            )
    if (rule.kind == RANGE) != (rule.lower_limit is not None):
        raise MeasurementError("rule.lower_limit", "A range has a lower limit beside the upper one; no other kind has.")
    lowest = rule.limit if rule.lower_limit is None else rule.lower_limit
    if lowest > rule.limit:
        raise MeasurementError(
            "rule.lower_limit", f"The lower limit {lowest:g} lies above the upper one, {rule.limit:g}. Swap them."
        )
    if not 0.0 <= rule.tolerance < lowest - least:
        usual = "a small part of a ratio, for example 0.10" if rule.quantity == COMPRESSION_RATIO else "a few cm³"
        raise MeasurementError(
            "rule.tolerance",
            f"A tolerance of {rule.tolerance:g} cannot be granted on a limit of {lowest:g}. Enter 0 or {usual}.",
        )


def _named(rule: Rule) -> str:
    return "compression ratio" if rule.quantity == COMPRESSION_RATIO else f"{QUANTITIES[rule.quantity][0]} in cm³"


def _check_scope(rule: Rule, engine: Engine) -> None:
    if (rule.applies_to == WHOLE_ENGINE) != (rule.quantity != COMPRESSION_RATIO):
        raise MeasurementError(
            "rule.applies_to",
            "A displacement is the engine's as a whole; a compression ratio is a cylinder's, or the mean of all.",
        )
    if (rule.applies_to == DESIGNATED_CYLINDER) != (rule.designated_cylinder is not None):
        raise MeasurementError("rule.designated_cylinder", "Name the cylinder when one is designated, and only then.")
    if rule.designated_cylinder is not None and not 1 <= rule.designated_cylinder <= engine.cylinders:
        raise MeasurementError(
            "rule.designated_cylinder",
            f"The rule designates cylinder {rule.designated_cylinder}; this engine has {engine.cylinders}.",
        )
