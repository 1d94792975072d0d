"""From what was typed to the core's plain values, name by name: the core's `nominal_cm3` is typed as `nominal`."""

import re
import types
from collections.abc import Sequence
from dataclasses import is_dataclass
from functools import cache
from typing import Any, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel

_UNIT = re.compile(r"_(?:mm|cm3|c|k|deg)$")


def typed_name(name: str) -> str:
    """The core's name without its unit: what comes in may carry a unit of its own."""
    return _UNIT.sub("", name)


def to_core(kind: type, typed: BaseModel) -> Any:
    """The core's frozen dataclass from the In type made for it; what that does not ask for keeps its default."""
    return kind(
        **{
            name: _value(hint, getattr(typed, typed_name(name)))
            for name, hint in _hints(kind).items()
            if hasattr(typed, typed_name(name))
        }
    )


def _value(hint: Any, typed: Any) -> Any:
    if get_origin(hint) in (Union, types.UnionType):
        inner = next(arm for arm in get_args(hint) if arm is not types.NoneType)
        return None if typed is None else _value(inner, typed)
    if get_origin(hint) is tuple:
        return tuple(_value(get_args(hint)[0], item) for item in typed)
    if is_dataclass(hint) and isinstance(hint, type):
        return to_core(hint, typed)
    return float(typed) if hint is float else typed


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def place_of(field: str, cylinders: Sequence[int]) -> str:
    """Where the core's field stands in what was typed; "" when it is none of what is observed.

    The core counts as people do, and names a cylinder by its number; lists of what was typed are counted from 0.
    """
    head, *parts = field.split(".")
    if head != "observations":
        return ""
    place = [head]
    for before, part in zip([head, *parts], parts, strict=False):
        if not part.isdigit():
            place.append(typed_name(part))
        elif before == "cylinders":
            place.append(str(cylinders.index(int(part))))
        else:
            place.append(str(int(part) - 1))
    return ".".join(place)
