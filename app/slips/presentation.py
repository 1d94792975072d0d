"""What the page shows of a record: figures rounded as they are reported, both unit systems, rows and their heights."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from markupsafe import Markup

from app.intake import show
from app.metrology.assessment import inputs_from_data
from app.metrology.methods.accuracy import bears_out
from app.plots import likelihood, pictured_row, reported
from app.slips import wording
from app.slips.annex import engine_probability, short
from app.slips.figure import Figure, draw

Record = Mapping[str, Any]
# Room for the picture and the table's head (mm), and how many indications fit beside each other.
PLOT_WIDTH_MM, HEAD_MM = 62.0, 13.0
MM_PER_POINT = 25.4 / 72
PER_LINE = 4


@dataclass(frozen=True, slots=True)
class Density:
    """How closely the page is set; with more rows than `most_rows` it is not worth trying."""

    type_pt: float
    line_mm: float
    most_rows: int


DENSITIES = (
    Density(9.0, 8.0, 2),
    Density(8.6, 6.6, 4),
    Density(8.2, 5.6, 6),
    Density(7.9, 5.2, 8),
    Density(7.6, 4.8, 10),
    Density(7.3, 4.4, 12),
    Density(7.0, 3.7, 99),
)


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table: a cylinder, or the mean of all."""

    label: str
    indications: tuple[str, ...]  # one text per line of print
    value: str
    uncertainty: str
    probability: str
    verdict: str  # as it is pictured: what the rule decided, said so that it is true of the value
    taken: str
    reason: str
    set_aside: int
    decides: bool
    height_mm: float


@dataclass(frozen=True, slots=True)
class Drawing:
    """A signature drawn by hand, as one path and the box it fills."""

    path: str
    box: str
    stroke: float


def result_rows(record: Record, density: Density) -> tuple[Row, ...]:
    result = record["result"]
    by_cylinder = {one["cylinder"]: one for one in result["results"]}
    rows = [_row(reading, by_cylinder.get(reading["cylinder"]), record, density) for reading in record["readings"]]
    if result["decided"]["cylinder"] == "0":
        rows.append(_mean_row(record, density))
    return tuple(rows)


def figure(record: Record, rows: Sequence[Row]) -> Figure:
    result = record["result"]
    by_cylinder = {one["cylinder"]: one for one in result["results"]}
    drawn = [by_cylinder.get(reading["cylinder"]) for reading in record["readings"]]
    if result["decided"]["cylinder"] == "0":
        drawn.append(result["decided"])
    # A rule for the mean judges no cylinder by itself: its bars stay open, and its lines are those of the mean.
    rule = {**record["rule"], "tolerance_limit": result["tolerance_limit"]}
    return draw(drawn, rule, [row.height_mm for row in rows], PLOT_WIDTH_MM, HEAD_MM)


def headline(record: Record) -> dict[str, str]:
    """The deciding figure and everything it was held against."""
    decided, result, rule = record["result"]["decided"], record["result"], record["rule"]
    value, uncertainty = reported(decided)
    return {
        "value": value,
        "uncertainty": uncertainty,
        "coverage_factor": f"{float(decided['coverage_factor']):.2f}",
        "coverage": wording.per_cent(decided["coverage_probability"]),
        "probability": likelihood(decided, rule),
        "required": "none" if rule["decision_rule"] == "simple_acceptance" else wording.per_cent(rule["confidence"]),
        "side": wording.said(wording.KINDS, result.get("side") or rule["kind"]),
        "limit": _limit_words(rule),
        "tolerance_limit": f"{float(result['tolerance_limit']):.{_decimals(rule['limit'], rule['tolerance'])}f}",
        "acceptance": _limit(decided["acceptance_limit"], value),
        "rejection": _limit(decided["rejection_limit"], value),
        "clearance": _clearance(decided["clearance_volume_cm3"]),
        "standard_uncertainty": f"{float(decided['standard_uncertainty']):.3f}",
        "factor_words": _factor_words(decided),
        "per_kelvin": _signed(result["temperature_effect_per_kelvin"]),
        "engine_probability": engine_probability(result),
        "covered": wording.COVERED_NOT_CRANK if _has_source(decided, "crank_position") else wording.COVERED,
        "deciding": result["deciding"],
    }


def _limit_words(rule: Record) -> str:
    if rule.get("lower_limit"):
        return f"{rule['lower_limit']} to {rule['limit']}"
    return f"{wording.said(wording.KINDS, rule['kind'])} {rule['limit']}"


def _clearance(stored: str | None) -> Markup:
    return Markup("–") if stored is None else _both(f"{float(stored):.2f}", "volume")


def _signed(stored: str | None) -> str:
    return "" if stored is None else f"{float(stored):+.3f}".replace("-", "−")


def _has_source(result: Record, name: str) -> bool:
    return any(part["name"] == name for part in result["budget"]["components"])


def _factor_words(decided: Record) -> str:
    """Where k comes from; a slip of a core before 2.0 took it from Student's t alone."""
    degrees = wording.degrees(decided["degrees_of_freedom_used"])
    if "half_width" not in decided["budget"]:
        return f"k is Student’s t, {degrees} degrees of freedom."
    if float(decided["budget"]["half_width"]) == 0.0:
        return f"k is that of a bell with {degrees} degrees of freedom."
    return f"k is that of the greatest rectangular source and a bell of the rest (degrees of freedom {degrees})."


def budget_rows(record: Record) -> list[dict[str, str]]:
    rows = []
    for part in record["result"]["decided"]["budget"]["components"]:
        contribution = abs(float(part["sensitivity"])) * float(part["standard_uncertainty"])
        unit = "" if part["unit"] == "1" else f" {part['unit']}"
        rows.append(
            {
                "label": _sentence_case(part["label"]),
                "source": part["source"],
                "distribution": part["distribution"],
                "input": f"{_two_digits(float(part['standard_uncertainty']))}{unit}",
                "contribution": f"{contribution:.4f}",
                "share": f"{float(part['percent_of_variance']):.1f} %",
            }
        )
    return rows


def set_aside_sentences(record: Record) -> list[str]:
    """Readings that were taken and not used stay on the slip, with the reason."""
    said = []
    for reading in record["readings"]:
        for one in reading["set_aside"]:
            figures = ", ".join(one["indications"]) or "no figure"
            said.append(f"cylinder {reading['cylinder']}: {figures} ({one['reason']})")
    return said


def corrected_conditions(record: Record) -> list[str]:
    """Settings and conditions that were noted first and corrected since: they moved every figure, so they stay told."""
    return [
        f"Corrected ({one['reason']}): the sheet first had {one['set_displacement_cm3']} cm³, "
        f"{one['set_cylinders']} cyl., {one['set_gas_temperature_c']} °C set; gas {one['gas_temperature_c']} °C, "
        f"{wording.said(wording.TEMPERATURE_SOURCES, one['temperature_source'])}; "
        f"airflow {one['airflow_l_min']} L/min."
        for one in record["conditions"]["set_aside"]
    ]


def overdue(record: Record) -> str:
    """Where the calibration was past its due date when the sheet was opened; slips from before it was asked say none"""
    calibration = record["instrument"]["calibration"]
    days = int(calibration.get("overdue_days", "0")) if calibration else 0
    if not days:
        return ""
    allowed = int(record["rule"].get("overdue_days_allowed", "0"))
    return (
        f"Overdue by {wording.number_of(days, 'day', 'days')} when measured; the edition allows up to "
        f"{wording.number_of(allowed, 'day', 'days')}."
    )


def accuracy_borne_out(record: Record) -> str:
    """Whether the calibration lies within the stated accuracy, as the frozen inputs were judged."""
    within = bears_out(inputs_from_data(record["inputs"]).observations.instrument)
    return wording.BORNE_OUT if within else wording.NOT_BORNE_OUT


def lower_first(words: str) -> str:
    return words[:1].lower() + words[1:]


def drawing(path: str) -> Drawing | None:
    """Only straight strokes in absolute coordinates are drawn, as our tablet sends them; anything else stays data."""
    strokes = re.sub(r"\s+", " ", path.strip())
    if len(strokes) > 60_000 or not re.fullmatch(
        r"(?:[ML] ?-?\d{1,5}(?:\.\d{1,3})?[ ,]-?\d{1,5}(?:\.\d{1,3})? ?)+", strokes
    ):
        return None
    numbers = [float(text) for text in re.findall(r"-?\d+(?:\.\d+)?", strokes)]
    xs, ys = numbers[::2], numbers[1::2]
    width, height = max(max(xs) - min(xs), 1.0), max(max(ys) - min(ys), 1.0)
    stroke = max(width / 46.0, height / 13.0) * 0.45  # about 0.45 mm once fitted into its box
    box = f"{min(xs) - stroke:.1f} {min(ys) - stroke:.1f} {width + 2 * stroke:.1f} {height + 2 * stroke:.1f}"
    return Drawing(strokes, box, round(stroke, 2))


def both_units(stored: str, kind_name: str) -> Markup:
    """The record's own figure in its own unit, and in brackets the other system's."""
    return _both(stored, kind_name)


def moment(text: str | None) -> str:
    """2026-05-02T13:48:21Z as people read it; the logbook keeps one time, UTC."""
    if not text:
        return "–"
    day, _, rest = text.partition("T")
    return f"{day} {rest.removesuffix('Z').partition('.')[0]} UTC" if rest else day


def spaced_code(code: str) -> str:
    return f"{code[:4]} {code[4:]}"


def quarter_groups(text: str) -> str:
    """A long hexadecimal number that may break between lines only where it may be read in pieces."""
    return " ".join(text[at : at + 4] for at in range(0, len(text), 4))


def _row(reading: Record, found: Record | None, record: Record, density: Density) -> Row:
    result, rule = record["result"], record["rule"]
    texts = tuple(reading["indications"])
    lines = [" · ".join(texts[at : at + PER_LINE]) for at in range(0, len(texts), PER_LINE)]
    decides = result["decided"]["cylinder"] == reading["cylinder"]
    height = max(density.line_mm, round(len(lines) * density.type_pt * MM_PER_POINT * 1.08 + 0.9, 2))
    taken = moment(reading["taken_at"]).split(" ")[1] if "T" in reading["taken_at"] else reading["taken_at"]
    if found is None:
        reason = reading["not_measured_reason"] or "not measured"
        return Row(reading["cylinder"], (), "", "", "", "", taken, reason, len(reading["set_aside"]), False, height)
    value, uncertainty = reported(found)
    return Row(
        label=reading["cylinder"],
        indications=tuple(f"{line} ·" for line in lines[:-1]) + tuple(lines[-1:]),
        value=value,
        uncertainty=uncertainty,
        probability=_short_percent(found, rule),
        verdict=pictured_row(found, rule),
        taken=taken,
        reason="",
        set_aside=len(reading["set_aside"]),
        decides=decides,
        height_mm=height,
    )


def _mean_row(record: Record, density: Density) -> Row:
    mean, rule = record["result"]["decided"], record["rule"]
    value, uncertainty = reported(mean)
    return Row(
        label="Mean",
        indications=(),
        value=value,
        uncertainty=uncertainty,
        probability=_short_percent(mean, rule),
        verdict=pictured_row(mean, rule),
        taken="",
        reason="",
        set_aside=0,
        decides=True,
        height_mm=density.line_mm,
    )


def _short_percent(found: Record, rule: Record) -> str:
    return short(likelihood(found, rule))


def _limit(stored: str | None, value: str) -> str:
    # One digit more than the value, so that rounding seldom seems to put it on the other side.
    return "none" if stored is None else f"{float(stored):.{_decimals(value) + 1}f}"


def _decimals(*texts: str) -> int:
    return max(len(text.partition(".")[2]) for text in texts)


def _two_digits(number: float) -> str:
    return f"{number:.2g}" if abs(number) < 10 else f"{number:.1f}"


def _sentence_case(text: str) -> str:
    return text[:1].upper() + text[1:]


# decimals; a size that came in inches has more of them than any measurement could tell
_MOST_DECIMALS = {"length": 4, "volume": 2, "temperature": 2, "flow": 3, "pressure": 2}


def _worth_reading(stored: str, kind_name: str) -> str:
    most, value = _MOST_DECIMALS[kind_name], Decimal(stored)
    return stored if round(value, most) == value else format(round(value, most).normalize(), "f")


def _both(stored: str, kind_name: str) -> Markup:
    if not stored:
        return Markup("–")
    metric = {"length": "mm", "volume": "cm³", "temperature": "°C", "flow": "L/min", "pressure": "kPa"}[kind_name]
    own, other = (
        f"{_worth_reading(stored, kind_name)} {metric}".replace("-", "−"),
        show(stored, kind_name, "inch").replace("-", "−"),
    )
    return Markup('<span class="one">{}</span> <span class="one">({})</span>').format(
        own.replace("-", "−"), other.replace("-", "−")
    )
