"""What the core takes, as people and programs write it: the core's frozen records turned into In types, field by field.

A field loses the unit in its name and takes a number with its unit: `bore_mm` is asked for as `bore`, "4.000 in" or
"101.6 mm". So a new measuring method can be asked for without a line here.
"""

import types
from dataclasses import MISSING, fields, is_dataclass
from decimal import Decimal
from functools import cache
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel, BeforeValidator, Field, ValidationInfo, WithJsonSchema, create_model

from app.intake import Flow, In, Length, Number, Temperature, Volume, read_number
from app.metrology.conformity import DECISION_RULES
from app.metrology.errors import MeasurementError
from app.metrology.inputs import (
    ACCURACY_MEANINGS,
    CHECKS,
    AcousticObservations,
    Conditions,
    CylinderCheck,
    Instrument,
    Rule,
)
from app.metrology.measurement import DISPLACEMENT, QUANTITIES
from app.metrology.rules import APPLIES_TO, INCONCLUSIVE_ACTIONS, RULE_KINDS
from app.metrology.temperature import STANDARD_UNCERTAINTY_K
from app.metrology.units import temperature_difference_to_k

_DEGREES = {"": None, "k": "c", "°c": "c", "c": "c", "°f": "f", "f": "f"}


def _difference(typed: object, info: ValidationInfo) -> Decimal:
    value, spelled = read_number(typed)
    if spelled.lower() not in _DEGREES:
        raise ValueError(f"“{spelled[:20]}” is not a unit of a temperature difference known here. Write K or °F.")
    own = "f" if (info.context or {}).get("units") == "inch" else "c"
    return Decimal(repr(temperature_difference_to_k(float(value), _DEGREES[spelled.lower()] or own)))


def _share(typed: object) -> Decimal:
    """0.95, 95 and "95 %" are the same."""
    value, rest = read_number(typed)
    if rest not in ("", "%"):
        raise ValueError("A probability is written as 95 % or 0.95.")
    return value / 100 if rest == "%" or value > 1 else value


def _limit(typed: object, info: ValidationInfo) -> object:
    """Of a displacement a volume, of a ratio a plain number."""
    if info.data.get("quantity") != DISPLACEMENT:
        return typed
    return _volume_of(typed, info)


def _volume_of(typed: object, info: ValidationInfo) -> Decimal:
    class OneVolume(In):
        volume: Volume

    return OneVolume.model_validate({"volume": typed}, context=info.context).volume


def _not_the_surface(value: object) -> object:
    if value == "infrared_surface":
        raise ValueError(
            "An infrared thermometer reads the metal's surface, not the gas inside. "
            "Measure in the chamber, or take the coolant gauge."
        )
    return value


def _written(what: str, *examples: str) -> WithJsonSchema:
    return WithJsonSchema({"type": ["string", "number"], "description": what, "examples": list(examples)})


Text = Annotated[str, Field(max_length=400)]
PlainNumber = Annotated[Number, _written("a plain number", "0.01")]
Share = Annotated[Number, BeforeValidator(_share), _written("a probability", "95 %", "0.95")]
Difference = Annotated[
    Number, BeforeValidator(_difference), _written("a temperature difference, in K without a unit", "1 K", "1.8 °F")
]
Limit = Annotated[Number, BeforeValidator(_limit), _written("a ratio, or a volume", "10.50", "5733 cm³", "350 in³")]
PerFlow = Annotated[Number, _written("a ratio for each L/min", "0.02")]
Estimate = Annotated[
    list[PlainNumber],
    Field(
        min_length=2,
        max_length=2,
        description="a standard deviation in units of ratio, and its degrees of freedom",
        examples=[["0.02", "8"]],
    ),
]
BY_SUFFIX: dict[str, Any] = {
    "_mm": Annotated[Length, _written("a length, in mm without a unit", "101.6 mm", "4.000 in")],
    "_cm3": Annotated[Volume, _written("a volume, in cm³ without a unit", "5733 cm³", "350 in³")],
    "_l_min": Annotated[Flow, _written("a flow, in L/min without a unit", "4.72 L/min", "10 SCFH")],
    "_c": Annotated[Temperature, _written("a temperature, in °C without a unit", "22.0 °C", "72 °F")],
    "_k": Difference,
    "_degrees": Annotated[Number, _written("degrees of crank", "2")],
    "_deg": Annotated[Number, _written("degrees of crank", "0.5")],
}


def _one_of(table: dict[str, Any]) -> Any:
    return Annotated[Text, Field(json_schema_extra={"enum": list(table)})]


_OWN_TYPES: dict[tuple[type, str], Any] = {
    (Rule, "limit"): Limit,
    (Rule, "lower_limit"): Limit | None,
    (Rule, "tolerance"): Limit,
    (Rule, "confidence"): Share,
    (Rule, "kind"): _one_of(RULE_KINDS),
    (Rule, "quantity"): _one_of(QUANTITIES),
    (Rule, "applies_to"): _one_of(APPLIES_TO),
    (Rule, "decision_rule"): _one_of(DECISION_RULES),
    (Rule, "inconclusive_action"): _one_of(INCONCLUSIVE_ACTIONS),
    (Instrument, "accuracy_meaning"): _one_of(ACCURACY_MEANINGS),
    (Instrument, "airflow_sensitivity"): PerFlow | None,
    (Instrument, "airflow_sensitivity_standard_uncertainty"): PerFlow,
    (AcousticObservations, "repeatability"): Estimate | None,
    (AcousticObservations, "reproducibility"): Estimate | None,
    (CylinderCheck, "check"): _one_of(CHECKS),
    (Conditions, "temperature_source"): Annotated[
        Text, BeforeValidator(_not_the_surface), Field(json_schema_extra={"examples": list(STANDARD_UNCERTAINTY_K)})
    ],
    (Conditions, "gas_temperature_standard_uncertainty_k"): Difference | None,
}
_NOT_ASKED = {(Instrument, "method")}  # said once, for the whole
ACOUSTIC_RESONANCE = "acoustic_resonance"
_FIRST = ("quantity",)  # what says how the fields after it are read


def asked_name(name: str) -> str:
    """The core's name of a field without its unit."""
    suffix = _suffix(name)
    return name.removesuffix(suffix) if suffix else name


def _suffix(name: str) -> str:
    return next((one for one in BY_SUFFIX if name.endswith(one) and not name.endswith("_per_k")), "")


@cache
def asked_of(record: type) -> type[In]:
    """The In type for one of the core's frozen dataclasses."""
    hints = get_type_hints(record)
    given: dict[str, Any] = {}
    for one in sorted(fields(record), key=lambda one: one.name not in _FIRST):
        if (record, one.name) in _NOT_ASKED:
            continue
        asked = _OWN_TYPES.get((record, one.name)) or _type_of(hints[one.name], one.name)
        needed = one.default is MISSING and not _may_be_none(asked)
        default = ... if needed else None if one.default is MISSING else _default(one.default)
        given[asked_name(one.name)] = (asked, Field(default, title=asked_name(one.name).replace("_", " ").capitalize()))
    name = f"Asked{record.__name__}"
    return create_model(name, __base__=In, __module__=__name__, __doc__=record.__doc__, **given)


def _default(value: object) -> object:
    if isinstance(value, tuple):
        return list(value)
    return Decimal(repr(value)) if isinstance(value, float) else value


def _type_of(hint: Any, name: str) -> Any:
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        inner = next(arm for arm in get_args(hint) if arm is not types.NoneType)
        return _type_of(inner, name) | None
    if origin is tuple:
        arms = get_args(hint)
        if arms[-1] is Ellipsis:
            return Annotated[list[_type_of(arms[0], name)], Field(max_length=100)]  # type: ignore[misc]
        return Annotated[list[PlainNumber], Field(min_length=len(arms), max_length=len(arms))]
    if is_dataclass(hint):
        return asked_of(hint)  # type: ignore[arg-type]
    if hint is float:
        return BY_SUFFIX.get(_suffix(name), PlainNumber)
    return Text if hint is str else hint


def _may_be_none(asked: Any) -> bool:
    return types.NoneType in get_args(asked)


def core_of(record: type, asked: BaseModel) -> Any:
    """The core's record from what was asked. Raises MeasurementError where something cannot be filled in."""
    hints = get_type_hints(record)
    values = {
        one.name: ACOUSTIC_RESONANCE
        if (record, one.name) in _NOT_ASKED
        else _plain(hints[one.name], getattr(asked, asked_name(one.name)))
        for one in fields(record)
    }
    if record is Conditions and values["gas_temperature_standard_uncertainty_k"] is None:
        values["gas_temperature_standard_uncertainty_k"] = _known_to(values["temperature_source"])
    return record(**values)


def _known_to(source: str) -> float:
    if source not in STANDARD_UNCERTAINTY_K:
        raise MeasurementError(
            "conditions.gas_temperature_standard_uncertainty_k",
            f"How well the gas temperature is known does not follow from “{source[:40]}”. Give its standard "
            f"uncertainty, for example 2 K, or take one of {', '.join(STANDARD_UNCERTAINTY_K)}.",
        )
    return STANDARD_UNCERTAINTY_K[source]


def _plain(hint: Any, value: Any) -> Any:
    if isinstance(value, BaseModel):
        arms = (hint, *get_args(hint))
        return core_of(next(arm for arm in arms if isinstance(arm, type) and is_dataclass(arm)), value)
    if isinstance(value, list):
        arm = get_args(hint)[0] if get_origin(hint) is tuple else get_args(get_args(hint)[0])[0]
        return tuple(_plain(arm, one) for one in value)
    return float(value) if isinstance(value, Decimal) else value
