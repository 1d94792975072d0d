"""A flat form to what the In type asks for, and the fields again: a row or column left blank was not typed.

A field is named as its place, counted as people count: `cylinders.3.fills.2.start` is the second fill of cylinder 3.
"""

from collections.abc import Mapping
from typing import Any

from app.intake import In

_ROWS = "cylinders"
_DEEPEST = 5  # parts of a field's name; no form here goes deeper


class TypedRows:
    """What was typed, nested, and for every place in it the field of the form it was typed into."""

    def __init__(self, form: Mapping[str, Any], asked: type[In]) -> None:
        self._fields: dict[str, str] = {}
        tree: dict[str, Any] = _groups(asked)
        for name, value in form.items():
            parts = name.split(".")
            if parts[0] in asked.model_fields and len(parts) <= _DEEPEST and isinstance(value, str) and value.strip():
                _plant(tree, parts, value)
        self.observations: dict[str, Any] = {name: self._settled(branch, name, name) for name, branch in tree.items()}

    def _settled(self, branch: Any, place: str, field: str) -> Any:
        self._fields[place] = field
        if not isinstance(branch, dict):
            return branch
        if branch and all(name.isascii() and name.isdigit() and len(name) < 4 for name in branch):
            return [
                self._row(branch[number], f"{place}.{index}", f"{field}.{number}", number, field == _ROWS)
                for index, number in enumerate(sorted(branch, key=int))
            ]
        return {name: self._settled(below, f"{place}.{name}", f"{field}.{name}") for name, below in branch.items()}

    def _row(self, branch: Any, place: str, field: str, number: str, is_cylinder: bool) -> Any:
        row = self._settled(branch, place, field)
        return {"cylinder": number, **row} if is_cylinder and isinstance(row, dict) else row

    def field(self, place: str) -> str:
        """The field of the form for a place in what was typed (`observations.cylinders.0.fills.1.start`)."""
        inside = place.removeprefix("observations.")
        if inside == place:
            return place
        above, _, last = inside.rpartition(".")
        return self._fields.get(inside) or (f"{self._fields[above]}.{last}" if above in self._fields else inside)


def _groups(asked: type[In]) -> dict[str, Any]:
    """Every group the In type asks for, empty: then what is missing in it is named field by field."""
    nested = {name: field.annotation for name, field in asked.model_fields.items()}
    return {name: _groups(kind) for name, kind in nested.items() if isinstance(kind, type) and issubclass(kind, In)}


def _plant(tree: dict[str, Any], parts: list[str], value: str) -> None:
    branch = tree
    for part in parts[:-1]:
        branch = branch.setdefault(part, {})
        if not isinstance(branch, dict):
            return  # a name that goes on below a value is none of ours
    branch.setdefault(parts[-1], value)


def flat(observations: Mapping[str, Any]) -> dict[str, str]:
    """What was typed once, as the form's fields hold it: for correcting it."""
    found: dict[str, str] = {}

    def lay(value: Any, field: str) -> None:
        if isinstance(value, Mapping):
            for name, below in value.items():
                if name != "cylinder":
                    lay(below, f"{field}.{name}" if field else name)
        elif isinstance(value, list):
            for index, below in enumerate(value, 1):
                is_row = field == _ROWS and isinstance(below, Mapping)
                lay(below, f"{field}.{below['cylinder'] if is_row else index}")
        elif value is not None:
            found[field] = str(value)

    lay(observations, "")
    return found


def columns(fields: Mapping[str, Any], place: str, usual: int) -> int:
    """How many columns a row needs under this place: as many as usual, or up to the last that was typed."""
    typed = [name.removeprefix(f"{place}.").partition(".")[0] for name in fields if name.startswith(f"{place}.")]
    return max([usual, *(int(number) for number in typed if number.isdigit() and len(number) < 3)])
