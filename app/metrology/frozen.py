"""Dataclasses to plain JSON types and back, so that a verdict can be kept for years and computed again.

Every number becomes decimal text by `repr`, which reads back to the very same float, whatever a JSON writer does.
"""

import re
import types
from collections.abc import Mapping
from dataclasses import fields, is_dataclass
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from app.metrology.errors import MeasurementError

Data = Any  # str, bool, None, list or dict of these
_WRITTEN = {
    int: re.compile(r"-?[0-9]{1,9}"),
    float: re.compile(r"-?(?:[0-9]{1,40}(?:\.[0-9]{1,40})?(?:e[+-]?[0-9]{1,3})?|inf)|nan"),
}


def to_data(value: object) -> Data:
    """Plain data of a dataclass, recursively: numbers as text, tuples as lists."""
    if value is None or isinstance(value, str):
        return value
    if isinstance(value, tuple):
        return [to_data(item) for item in value]
    if is_dataclass(value) and not isinstance(value, type):
        hints = _hints(type(value))
        return {name: _field_to_data(getattr(value, name), hint) for name, hint in hints.items()}
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return repr(value)
    raise TypeError(f"{type(value).__name__} has no plain form")


def _field_to_data(value: object, hint: Any) -> Data:
    return repr(float(value)) if hint is float and isinstance(value, int | float) else to_data(value)


@cache
def _hints(cls: type) -> dict[str, Any]:
    return get_type_hints(cls)


def from_data(hint: Any, data: Data, field: str) -> Any:
    """The value of this type from its plain data; strict about names and types. Raises MeasurementError."""
    origin = get_origin(hint)
    if origin in (Union, types.UnionType):
        inner = next(arm for arm in get_args(hint) if arm is not types.NoneType)
        return None if data is None else from_data(inner, data, field)
    if origin is tuple:
        return _tuple_from_data(get_args(hint), data, field)
    if is_dataclass(hint) and isinstance(hint, type):
        return _record_from_data(hint, data, field)
    if hint is bool:
        if not isinstance(data, bool):
            raise MeasurementError(field, f"{field} has to be true or false; found {type(data).__name__}.")
        return data
    if not isinstance(data, str):
        raise MeasurementError(field, f"{field} has to be text here, numbers too; found {type(data).__name__}.")
    if hint is str:
        return data
    if not _WRITTEN[hint].fullmatch(data):
        raise MeasurementError(field, f"{field} has to be a number written as text; found “{data[:20]}”.")
    return hint(data)


def _tuple_from_data(arms: tuple[Any, ...], data: Data, field: str) -> tuple[Any, ...]:
    if not isinstance(data, list):
        raise MeasurementError(field, f"{field} has to be a list; found {type(data).__name__}.")
    hints = [arms[0]] * len(data) if arms[-1] is Ellipsis else list(arms)
    if len(hints) != len(data):
        raise MeasurementError(field, f"{field} has to hold {len(hints)} entries; found {len(data)}.")
    return tuple(
        from_data(hint, item, f"{field}.{place}") for place, (hint, item) in enumerate(zip(hints, data, strict=True))
    )


def _record_from_data(cls: type, data: Data, field: str) -> Any:
    if not isinstance(data, Mapping):
        raise MeasurementError(field, f"{field} has to be a record; found {type(data).__name__}.")
    names = [item.name for item in fields(cls)]
    odd = sorted(set(data) ^ set(names))
    if odd:
        raise MeasurementError(field, f"{field} has to hold exactly {', '.join(names)}; at odds: {', '.join(odd)}.")
    hints = _hints(cls)
    return cls(**{name: from_data(hints[name], data[name], f"{field}.{name}" if field else name) for name in names})
