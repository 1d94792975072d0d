"""Evaluate without storing: one way to ask for the command line, the API and the officials' page."""

import json
from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import TYPE_CHECKING, Annotated, Any, Union

from pydantic import ConfigDict, Field, ValidationError, ValidationInfo, ValidatorFunctionWrapHandler, field_validator

from app.errors import Invalid
from app.inspections.asked import Share, Text, asked_name, asked_of, core_of
from app.intake import In, View
from app.metrology.assessment import AssessmentInputs, assess, assessment_to_data, inputs_to_data
from app.metrology.errors import MeasurementError
from app.metrology.inputs import Engine, Rule
from app.metrology.methods import METHODS
from app.parsing import sentences

OBSERVED: dict[str, type[In]] = {key: asked_of(method.observations) for key, method in METHODS.items()}
if TYPE_CHECKING:
    Observed = In
    AskedEngine = In
    AskedRule = In
else:
    Observed = Union[tuple(OBSERVED.values())]  # noqa: UP007  # one for each method of the table
    AskedEngine, AskedRule = asked_of(Engine), asked_of(Rule)

EXAMPLES: dict[str, dict[str, Any]] = {
    "metric": {
        "method": "acoustic_resonance",
        "engine": {"bore": "101.60 mm", "stroke": "88.39 mm", "cylinders": 4},
        "observations": {
            "instrument": {"resolution": "0.01", "stated_accuracy": "0.10", "accuracy_meaning": "limits"},
            "settings": {"displacement": "2866 cm³", "cylinders": 4, "gas_temperature": "22.0 °C"},
            "conditions": {"gas_temperature": "24.5 °C", "temperature_source": "thermometer_in_chamber"},
            "readings": [
                {"cylinder": 1, "indications": ["10.31", "10.32"]},
                {"cylinder": 2, "indications": ["10.28", "10.30"]},
                {"cylinder": 3, "indications": ["10.35", "10.34"]},
                {"cylinder": 4, "indications": ["10.30", "10.29"]},
            ],
        },
        "rule": {
            "kind": "maximum", "limit": "10.50", "tolerance": "0.10", "applies_to": "every_cylinder",
            "decision_rule": "three_zones", "confidence": "95 %", "inconclusive_action": "measure_again",
        },
    },
    "inch": {
        "method": "acoustic_resonance",
        "engine": {"bore": "4.000 in", "stroke": "3.480 in", "cylinders": 4},
        "observations": {
            "instrument": {"resolution": "0.01", "stated_accuracy": "0.10", "accuracy_meaning": "limits"},
            "settings": {"displacement": "174.9 in³", "cylinders": 4, "gas_temperature": "72 °F"},
            "conditions": {
                "gas_temperature": "76 °F", "gas_temperature_standard_uncertainty": "2 °F",
                "temperature_source": "probe through the plug hole",
            },
            "readings": [
                {"cylinder": 1, "indications": ["10.31", "10.32"]},
                {"cylinder": 2, "indications": ["10.28", "10.30"]},
                {"cylinder": 3, "indications": ["10.35", "10.34"]},
                {"cylinder": 4, "indications": [], "not_measured_reason": "plug seized"},
            ],
        },
        "rule": {
            "kind": "maximum", "limit": "10.50", "tolerance": "0.10", "applies_to": "mean_of_cylinders",
            "decision_rule": "guarded_rejection", "confidence": "0.95", "inconclusive_action": "teardown",
        },
    },
}  # fmt: skip
MOST_BYTES = 1_000_000
_PARTS = ("method", "engine", "observations", "rule", "coverage_probability")
_LISTS = ("readings", "cylinders", "checks")  # the core names their entries by cylinder


class EvaluateIn(In):
    """One engine, what was observed of it by one method, and one rule. Numbers carry their unit, or are metric."""

    model_config = ConfigDict(json_schema_extra={"examples": list(EXAMPLES.values())})

    method: Annotated[Text, Field(title="Measuring method", json_schema_extra={"enum": list(METHODS)})]
    engine: AskedEngine
    observations: Observed
    rule: AskedRule
    coverage_probability: Annotated[Share, Field(title="Coverage probability")] = Decimal("0.95")

    @field_validator("method")
    @classmethod
    def _known(cls, value: str) -> str:
        if value not in METHODS:
            raise ValueError(f"The measuring method “{value[:40]}” is not known here. Known are {', '.join(METHODS)}.")
        return value

    @field_validator("observations", mode="wrap")
    @classmethod
    def _as_the_method_has_them(
        cls, value: object, _handler: ValidatorFunctionWrapHandler, info: ValidationInfo
    ) -> object:
        """Held against the one method's shape, so that its sentences speak of that one only."""
        model = OBSERVED.get(str(info.data.get("method")))
        return value if model is None else model.model_validate(value, context=info.context)


class EvaluatedView(View):
    """The inputs as they were taken, in stored units, and the whole result: both as a verdict would keep them."""

    inputs: dict[str, Any]
    result: dict[str, Any]


def read_json(text: str | bytes) -> Any:
    """JSON with every number as the text that was written, digit for digit. Raises Invalid."""
    if len(text) > MOST_BYTES:
        raise Invalid({"": f"This is longer than {MOST_BYTES // 1_000_000} MB. One engine takes far less; check it."})
    try:
        return json.loads(text, parse_int=str, parse_float=str, parse_constant=str)
    except json.JSONDecodeError as error:
        raise Invalid(
            {
                "": f"This is not readable as JSON: look at line {error.lineno}, column {error.colno}, for a missing "
                "comma, quote or bracket."
            }
        ) from error
    except (UnicodeDecodeError, RecursionError) as error:
        raise Invalid({"": "This is not readable as JSON. Write it as UTF-8 text, like the example."}) from error


def asked(data: object, units: str = "metric") -> EvaluateIn:
    """Raises Invalid with a sentence for each field, under its dotted place."""
    try:
        return EvaluateIn.model_validate(data, context={"units": units})
    except ValidationError as error:
        raise Invalid(sentences(error.errors())) from error


def evaluated(data: EvaluateIn) -> EvaluatedView:
    """The verdict with its full budget; nothing is stored. Raises Invalid under the place in what was asked."""
    try:
        inputs = AssessmentInputs(
            data.method,
            core_of(Engine, data.engine),
            core_of(METHODS[data.method].observations, data.observations),
            core_of(Rule, data.rule),
            float(data.coverage_probability),
        )
        return EvaluatedView(inputs=inputs_to_data(inputs), result=assessment_to_data(assess(inputs)))
    except MeasurementError as error:
        raise Invalid({asked_place(error.field, data.observations): error.sentence}) from error


def asked_place(field: str, observations: object) -> str:
    """The core's name of a field as it was asked for: without units, lists by place instead of cylinder."""
    parts = field.split(".")
    if parts[0] not in _PARTS:
        parts.insert(0, "observations")
    found: list[str] = []
    for before, part in zip(["", *parts], parts, strict=False):
        entries = getattr(observations, before, None) if before in _LISTS else None
        found.append(_index(entries, part) if isinstance(entries, Sequence) else asked_name(part))
    return ".".join(found)


def _index(entries: Sequence[Any], cylinder: str) -> str:
    return next((str(at) for at, one in enumerate(entries) if str(one.cylinder) == cylinder), cylinder)


def nested(flat: Mapping[str, Any]) -> dict[str, Any]:
    """A form's dotted names as records inside each other; what was left blank was not typed."""
    whole: dict[str, Any] = {}
    for name, value in flat.items():
        if isinstance(value, str) and not value.strip():
            continue
        *outer, last = name.split(".")
        inner = whole
        for part in outer:
            inner = inner.setdefault(part, {})
        inner[last] = value
    return whole
