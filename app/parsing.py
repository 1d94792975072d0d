"""Typed text to an In type, and the sentences for what cannot be taken. Forms, lists and the command line alike."""

from collections.abc import Mapping, Sequence
from typing import Any, TypeVar, get_args
from uuid import UUID

from pydantic import BaseModel, ValidationError

from app.errors import Invalid

Data = TypeVar("Data", bound=BaseModel)


def parse(model: type[Data], typed: Mapping[str, Any], units: str = "metric") -> Data:
    """Raises Invalid with a sentence for each field that cannot be taken; what was left blank was not typed."""
    try:
        return model.model_validate(_gathered(model, typed), context={"units": units})
    except ValidationError as error:
        raise Invalid(sentences(error.errors(), model)) from error


def typed_id(typed: object) -> UUID | None:
    """For an id that only says what to show again; one that has to be right goes through `parse`."""
    try:
        return UUID(str(typed))
    except ValueError:
        return None


def _gathered(model: type[BaseModel], typed: Mapping[str, Any]) -> dict[str, Any]:
    """Forms are flat: `rule.limit` and its like, as they name the fields of a group, come together under `rule`."""
    groups: dict[str, dict[str, Any]] = {
        name: {} for name, field in model.model_fields.items() if _nested(field.annotation) is not None
    }
    given: dict[str, Any] = {}
    for name, value in typed.items():
        group, _, inner = name.partition(".")
        if isinstance(value, str) and value.strip() == "":
            continue
        if inner and group in groups:
            groups[group][inner] = value
        else:
            given[name] = value
    return {**given, **groups}


def _nested(annotation: Any) -> type[BaseModel] | None:
    return annotation if isinstance(annotation, type) and issubclass(annotation, BaseModel) else None


# ---- sentences -------------------------------------------------------------------------------------------------

_SENTENCES = {
    "missing": "{label} is needed. Fill it in.",
    "string_too_short": "{label} is needed. Fill it in.",
    "too_short": "{label} needs at least {min_length}. Add what is missing.",
    "too_long": "{label} takes at most {max_length}. Leave some out.",
    "string_too_long": "{label} takes at most {max_length} characters. Shorten it.",
    "string_pattern_mismatch": "{label} has characters that do not belong there. Write it like the example.",
    "string_type": "{label} must be text.",
    "int_parsing": "{label} must be a whole number, such as 8.",
    "int_type": "{label} must be a whole number, such as 8.",
    "int_from_float": "{label} must be a whole number, such as 8.",
    "bool_parsing": "{label} must be yes or no.",
    "bool_type": "{label} must be yes or no.",
    "greater_than": "{label} must be more than {gt}.",
    "greater_than_equal": "{label} must be at least {ge}.",
    "less_than": "{label} must be less than {lt}.",
    "less_than_equal": "{label} must be at most {le}.",
    "literal_error": "{label} must be one of {expected}. Choose one.",
    "extra_forbidden": "{label} is not asked for here. Leave it out.",
    "uuid_parsing": "{label} is not an id of this logbook. Go back and choose again.",
    "uuid_type": "{label} is not an id of this logbook. Go back and choose again.",
    "date_from_datetime_parsing": "{label} is not a date. Write it as 2026-05-31.",
    "date_parsing": "{label} is not a date. Write it as 2026-05-31.",
    "date_type": "{label} is not a date. Write it as 2026-05-31.",
    "datetime_from_date_parsing": "{label} is not a time. Write it as 2026-05-31T14:05:00Z.",
    "datetime_parsing": "{label} is not a time. Write it as 2026-05-31T14:05:00Z.",
    "timezone_aware": "{label} needs its time zone, such as 2026-05-31T14:05:00Z.",
    "json_invalid": "The message is not readable as JSON. Send it again whole.",
    "list_type": "{label} must be a list.",
    "model_attributes_type": "{label} must be a set of named values.",
    "model_type": "{label} must be a set of named values.",
}


def _label(model: type[BaseModel] | None, place: Sequence[str]) -> str:
    """The field's title, found through nested models and lists of them too; else its name, read as words."""
    label = ""
    for name in place:
        if name.isdigit() and label:
            continue  # which of a list
        field = model.model_fields.get(name) if model is not None else None
        label = field.title if field and field.title else name.replace("_", " ")
        inside = (field.annotation, *get_args(field.annotation)) if field else ()
        model = next(filter(None, map(_nested, inside)), None)
    return label[:1].upper() + label[1:]


def sentences(errors: Sequence[Any], model: type[BaseModel] | None = None) -> dict[str, str]:
    """One sentence for each field concerned, under the field's name (nested: `rule.limit`, `readings.2.cylinder`)."""
    found: dict[str, str] = {}
    for error in errors:
        place = [str(part) for part in error["loc"] if part not in ("body", "query", "path")]
        name = ".".join(place)
        label = _label(model, place) if place else "What was sent"
        context = error.get("ctx", {})
        if error["type"] == "value_error":
            sentence = str(context.get("error", error["msg"]))
        else:
            template = _SENTENCES.get(
                error["type"], "{label} cannot be taken as it stands. Check it and write it again."
            )
            sentence = template.format(label=label, **{key: value for key, value in context.items() if key != "label"})
        found.setdefault(name, sentence)
    return found
