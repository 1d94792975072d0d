"""What comes from outside and how it is shown: the `In` and `View` bases, and numbers as people write them.

Everything is stored in one system (mm, cm³, °C, L/min, kPa). A number may carry its unit ("4.000 in", "72 °F");
without one it is taken in the unit system of the person or of the call. The factors are the core's.
"""

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation
from fractions import Fraction
from functools import partial
from typing import Annotated, Any

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    PlainSerializer,
    ValidationInfo,
    field_validator,
    model_validator,
)

from app.metrology import units

# Neither drawn nor kept: control characters (PostgreSQL cannot keep zero), halves of a character (no UTF-8 for them),
# breaks of line and paragraph that no page lays out, and the marks that turn the text after them round: a slip could
# then read otherwise than its record.
_UNWRITABLE = re.compile(
    "[\0-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028\u2029\u202a-\u202e\u2066-\u2069\ud800-\udfff\ufffe\uffff]"
)
_WRITE_AGAIN = "This holds a character that cannot be written. Type it again."


class In(BaseModel):
    """Comes from outside: nothing unasked for is taken, and text loses the blanks around it."""

    # hidden input: an error that ends up in the server's log must not carry a password or a PIN there
    model_config = ConfigDict(extra="forbid", str_strip_whitespace=True, frozen=True, hide_input_in_errors=True)

    @model_validator(mode="before")
    @classmethod
    def _names_can_be_written(cls, value: object) -> object:
        if isinstance(value, Mapping) and any(_UNWRITABLE.search(name) for name in value if isinstance(name, str)):
            raise ValueError(_WRITE_AGAIN)
        return value

    @field_validator("*", mode="before")
    @classmethod
    def _can_be_kept(cls, value: object) -> object:
        texts = value if isinstance(value, list) else [value]
        if any(_UNWRITABLE.search(text) for text in texts if isinstance(text, str)):
            raise ValueError(_WRITE_AGAIN)
        return value


class View(BaseModel):
    """Goes out: to a template and to the API alike."""

    model_config = ConfigDict(from_attributes=True, frozen=True)


Name = Annotated[str, Field(min_length=1, max_length=120)]
Words = Annotated[str, Field(max_length=4000)]


@dataclass(frozen=True, slots=True)
class Kind:
    """One kind of quantity: its storage unit, the unit an inch person uses, and every way to write either."""

    word: str
    metric: str
    inch: str
    spellings: Mapping[str, str]  # as written, in small letters -> unit
    factors: Mapping[str, Fraction]  # unit -> how many storage units; °F is the one that is no plain factor
    digits: Mapping[str, int]  # how many decimals are worth showing, by unit

    def to_stored(self, value: Decimal, unit: str) -> Decimal:
        if unit == "°F":
            return _decimal((Fraction(value) - 32) * Fraction(5, 9))
        return _decimal(Fraction(value) * self.factors[unit])

    def from_stored(self, value: Decimal, unit: str) -> Decimal:
        if unit == "°F":
            return _decimal(Fraction(value) * Fraction(9, 5) + 32)
        return _decimal(Fraction(value) / self.factors[unit])


def _decimal(value: Fraction) -> Decimal:
    """Exact where the decimal ends (every inch length, every cubic inch), else to a billionth of the unit."""
    quotient = Decimal(value.numerator) / Decimal(value.denominator)
    return quotient if Fraction(quotient) == value else round(quotient, 9)


KINDS: dict[str, Kind] = {
    "length": Kind(
        "length",
        "mm",
        "in",
        {"mm": "mm", "in": "in", "in.": "in", "inch": "in", "inches": "in", '"': "in", "”": "in", "″": "in"},
        {"mm": Fraction(1), "in": Fraction(units.LENGTHS_MM["in"])},
        {"mm": 3, "in": 4},
    ),
    "volume": Kind(
        "volume",
        "cm³",
        "in³",
        {
            **dict.fromkeys(("cm³", "cm3", "cc", "ccm", "ml"), "cm³"),
            **dict.fromkeys(("in³", "in3", "cu in", "cu. in.", "ci", "cid"), "in³"),
        },
        {"cm³": Fraction(1), "in³": Fraction(units.VOLUMES_CM3["in3"])},
        {"cm³": 1, "in³": 2},
    ),
    "temperature": Kind(
        "temperature",
        "°C",
        "°F",
        {**dict.fromkeys(("°c", "c", "° c"), "°C"), **dict.fromkeys(("°f", "f", "° f"), "°F")},
        {"°C": Fraction(1)},
        {"°C": 1, "°F": 1},
    ),
    "flow": Kind(
        "flow",
        "L/min",
        "SCFH",
        {"l/min": "L/min", "lpm": "L/min", **dict.fromkeys(("scfh", "ft³/h", "ft3/h", "cfh"), "SCFH")},
        {"L/min": Fraction(1), "SCFH": units.FLOWS_L_MIN["ft3_h"]},
        {"L/min": 2, "SCFH": 2},
    ),
    "pressure": Kind(
        "pressure",
        "kPa",
        "inHg",
        {"kpa": "kPa", "hpa": "hPa", "mbar": "hPa", "inhg": "inHg"},
        {"kPa": Fraction(1), "hPa": Fraction(1, 10), "inHg": Fraction(units.PRESSURES_KPA["inhg"])},
        {"kPa": 2, "inHg": 2},
    ),
    "gauge_pressure": Kind(  # of air let into a cylinder, as the gauge on the tester shows it
        "pressure",
        "bar",
        "psi",
        {"bar": "bar", "kpa": "kPa", "psi": "psi", "psig": "psi"},
        {"kPa": Fraction(1), "bar": Fraction(100), "psi": Fraction(units.PRESSURES_KPA["psi"])},
        {"bar": 2, "psi": 1},
    ),
}

_NUMBER = re.compile(r"^([+-]?\d{1,3}(?:[ \u00a0\u202f]\d{3})+|[+-]?\d+)?([.,]\d*)?\s*(.*)$", re.DOTALL)

_EXPONENT = re.compile(r"[eE][+-]?\d")


def read_number(typed: object, largest: Decimal = Decimal("1e9")) -> tuple[Decimal, str]:
    """A number as people write it, comma or point, and whatever unit follows it. ValueError holds the sentence."""
    if isinstance(typed, bool) or not isinstance(typed, str | int | float | Decimal):
        raise ValueError("This must be a number, such as 12.5.")
    written = format(typed, "f") if isinstance(typed, Decimal) else str(typed)
    written = written.strip().replace("−", "-")
    match = _NUMBER.match(written)
    if match is None or not (match[1] or (match[2] and len(match[2]) > 1)) or _EXPONENT.match(match[3]):
        raise ValueError(f"“{written[:40]}” is not a number. Use digits and one point or comma, such as 12.5.")
    digits = re.sub(r"\s", "", match[1] or "0") + (match[2] or "").replace(",", ".")
    if len(digits) > 24:
        raise ValueError("This number has far too many digits. Check it and write it again.")
    try:
        value = Decimal(digits.rstrip(".") or "0")
    except InvalidOperation:
        raise ValueError(f"“{written[:40]}” is not a number. Use digits and one point, such as 12.5.") from None
    if abs(value) > largest:
        raise ValueError(f"“{written[:40]}” is larger than anything measured here. Check the point.")
    return value, match[3].strip()


def read_plain(typed: object) -> Decimal:
    value, rest = read_number(typed)
    if rest:
        raise ValueError(f"“{str(typed)[:40]}” is not a number. Use digits and one point or comma, such as 12.5.")
    return value


def read_quantity(kind_name: str, typed: object, info: ValidationInfo) -> Decimal:
    """In the stored unit; without a unit of its own it is in the caller's system. ValueError holds the sentence."""
    kind = KINDS[kind_name]
    value, spelled = read_number(typed)
    if spelled:
        unit = kind.spellings.get(spelled.lower())
        if unit is None:
            raise ValueError(
                f"“{spelled[:20]}” is not a unit of {kind.word} known here. Write {kind.metric} or {kind.inch}."
            )
    else:
        unit = unit_of(kind_name, _system(info))
    return kind.to_stored(value, unit)


def _system(info: ValidationInfo) -> str:
    system: str = (info.context or {}).get("units", "metric")
    return system


def _quantity(kind_name: str) -> Callable[[object, ValidationInfo], Decimal]:
    return partial(read_quantity, kind_name)


_as_text = PlainSerializer(lambda value: format(value, "f"), return_type=str, when_used="json")
Exact = Annotated[Decimal, _as_text]  # what goes out, digit for digit
Number = Annotated[Decimal, BeforeValidator(read_plain), _as_text]
Length = Annotated[Decimal, BeforeValidator(_quantity("length")), _as_text]  # mm
Volume = Annotated[Decimal, BeforeValidator(_quantity("volume")), _as_text]  # cm³
Temperature = Annotated[Decimal, BeforeValidator(_quantity("temperature")), _as_text]  # °C
Flow = Annotated[Decimal, BeforeValidator(_quantity("flow")), _as_text]  # L/min
Pressure = Annotated[Decimal, BeforeValidator(_quantity("pressure")), _as_text]  # kPa
GaugePressure = Annotated[Decimal, BeforeValidator(_quantity("gauge_pressure")), _as_text]  # kPa above the air's


def within(low: str, high: str, what: str, kind_name: str = "") -> AfterValidator:
    """Plausibility with a sentence that names the bounds, in the units the number was written in."""

    def check(value: Decimal, info: ValidationInfo) -> Decimal:
        return kept_within(value, info, low, high, what, kind_name)

    return AfterValidator(check)


def kept_within(value: Decimal, info: ValidationInfo, low: str, high: str, what: str, kind_name: str = "") -> Decimal:
    """The value itself; ValueError with a sentence where it lies outside."""
    lowest, highest = Decimal(low), Decimal(high)
    if lowest <= value <= highest:
        return value
    if kind_name:
        shown, least, most = (show(number, kind_name, _system(info)) for number in (value, lowest, highest))
    else:
        shown, least, most = (format(number.normalize(), "f") for number in (value, lowest, highest))
    raise ValueError(f"{what} {shown} is outside {least} to {most}. Check the point and the unit.")


# ---- showing ----------------------------------------------------------------------------------------------------


def unit_of(kind_name: str, system: str) -> str:
    kind = KINDS[kind_name]
    return kind.inch if system == "inch" else kind.metric


def show(stored: Decimal | str | float | None, kind_name: str, system: str = "metric", *, unit: bool = True) -> str:
    """A stored value in the reader's units, with no more digits than are worth reading."""
    if stored is None or stored == "":
        return "–"
    kind = KINDS[kind_name]
    chosen = unit_of(kind_name, system)
    value = kind.from_stored(Decimal(str(stored)), chosen)
    rounded = round(value, kind.digits[chosen])
    text = format(rounded.normalize() if rounded else Decimal(0), "f")
    return f"{text} {chosen}" if unit else text


def show_both(stored: Decimal | str | float | None, kind_name: str) -> str:
    """Both systems, for papers that travel: "101.6 mm (4 in)"."""
    if stored is None or stored == "":
        return "–"
    return f"{show(stored, kind_name)} ({show(stored, kind_name, 'inch')})"


def typed_back(stored: Decimal | None, kind_name: str, system: str) -> str:
    """For a form field: the number alone, in the reader's unit."""
    return "" if stored is None else show(stored, kind_name, system, unit=False)


def day(on: date) -> str:
    return f"{on.day} {on:%B %Y}"


def utc_moment(at: datetime) -> str:
    """For sentences that are kept, and read wherever they go: the day and minute in UTC."""
    there = at.astimezone(UTC)
    return f"{day(there)}, {there:%H:%M} UTC"


def days(first: date, last: date) -> str:
    """From the first to the last, saying month and year once where they are the same."""
    if first == last:
        return day(first)
    if (first.year, first.month) == (last.year, last.month):
        return f"{first.day}–{day(last)}"
    if first.year == last.year:
        return f"{first.day} {first:%B} – {day(last)}"
    return f"{day(first)} – {day(last)}"


def plain_json(data: Any) -> Any:
    """Numbers to decimal strings, so that canonical JSON never rewrites them."""
    if isinstance(data, Mapping):
        return {str(key): plain_json(value) for key, value in data.items()}
    if isinstance(data, list | tuple):
        return [plain_json(value) for value in data]
    if isinstance(data, Decimal):
        return format(data, "f")
    return data
