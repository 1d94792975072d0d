"""The second page of a slip: the uncertainty in full, from the record alone."""

import math
from collections.abc import Mapping
from typing import Any

from app.metrology.assessment import inputs_from_data
from app.metrology.geometry import swept_volume_cm3
from app.metrology.inputs import AcousticObservations
from app.metrology.rounding import percent
from app.plots import likelihood
from app.slips import wording

Record = Mapping[str, Any]
_MINUS = "−"


def annex(record: Record) -> dict[str, Any]:
    """All that the second page shows."""
    result = record["result"]
    decided = result["decided"]
    method = result.get("method", record["instrument"]["method"])
    unit = "" if result.get("unit", "1") == "1" else result["unit"]
    rows = [_cylinder(one, record) for one in result["results"]]
    if decided["cylinder"] == "0" and result["results"]:
        rows.append(_cylinder(decided, record) | {"label": "Mean"})
    return {
        "formula": wording.FORMULA.get(method, ()),
        "formula_words": wording.FORMULA_WORDS.get(method, ""),
        "figures": _figures(record),
        "unit": unit,
        "budget": [_source(part, unit) for part in decided["budget"]["components"]],
        "together": _together(decided),
        "cylinders": rows,
        "risk": _risk(record),
        "validated": wording.validated(record["second_opinion"]) if "second_opinion" in record else "",
        "simulation": _simulation(record.get("second_opinion"), decided),
    }


def _source(part: Record, result_unit: str) -> dict[str, Any]:
    contribution = abs(float(part["sensitivity"])) * float(part["standard_uncertainty"])
    unit = "" if part["unit"] == "1" else part["unit"]
    of_result = result_unit or ("1" if unit else "")
    per = f"{of_result}/{unit}" if unit and unit != result_unit else ""
    share = float(part["percent_of_variance"])
    return {
        "label": part["label"][:1].upper() + part["label"][1:],
        "source": part["source"],
        "distribution": wording.DISTRIBUTIONS.get(part["distribution"], part["distribution"]),
        "input": f"{_telling(float(part['standard_uncertainty']))} {unit}".strip(),
        "sensitivity": f"{_telling(float(part['sensitivity']), 3)} {per}".strip(),
        "contribution": f"{contribution:.4f}",
        "degrees": degrees(part["degrees_of_freedom"]),
        "shared": part["shared"],
        "share": f"{share:.1f}",
        "width": f"{min(100.0, max(share, 0.4)):.1f}",
    }


def _together(decided: Record) -> dict[str, str]:
    budget = decided["budget"]
    half_width = float(budget.get("half_width", "0"))
    u = float(decided["standard_uncertainty"])
    bell = math.sqrt(max(0.0, u * u - half_width * half_width / 3.0))
    return {
        "u": f"{u:.4f}",
        "half_width": f"{half_width:.4f}" if half_width else "",
        "bell": f"{bell:.4f}",
        "degrees": degrees(decided["degrees_of_freedom_used"]),
        "effective": degrees(decided["effective_degrees_of_freedom"]),
        "factor": f"{float(decided['coverage_factor']):.3f}",
        "expanded": f"{float(decided['expanded_uncertainty']):.4f}",
        "coverage": wording.per_cent(decided["coverage_probability"]),
    }


def _cylinder(one: Record, record: Record) -> dict[str, Any]:
    parts = {True: 0.0, False: 0.0}
    for part in one["budget"]["components"]:
        parts[part["shared"]] += (float(part["sensitivity"]) * float(part["standard_uncertainty"])) ** 2
    return {
        "label": one["cylinder"],
        "value": f"{float(one['value']):.4f}",
        "u": f"{float(one['standard_uncertainty']):.4f}",
        "own": f"{math.sqrt(parts[False]):.4f}",
        "shared": f"{math.sqrt(parts[True]):.4f}",
        "degrees": degrees(one["degrees_of_freedom_used"]),
        "factor": f"{float(one['coverage_factor']):.3f}",
        "expanded": f"{float(one['expanded_uncertainty']):.4f}",
        "acceptance": _limit(one["acceptance_limit"]),
        "rejection": _limit(one["rejection_limit"]),
        "probability": short(likelihood(one, record["rule"])) if one["verdict"] else "–",
        "decides": one["cylinder"] == record["result"]["decided"]["cylinder"],
    }


def engine_probability(result: Record) -> str:
    """That every judged result conforms; empty on a slip of a core that did not know it."""
    kept = result.get("engine_conformance_probability")
    return percent(float(kept)) if kept is not None else ""


def _risk(record: Record) -> list[str]:
    said = [wording.whose_risk(record["result"], record["rule"]), wording.covering(record["rule"])]
    if engine := engine_probability(record["result"]):
        said.append(f"Probability that the whole engine conforms, every error shared or own as budgeted: {engine}.")
    return [one for one in said if one]


def _figures(record: Record) -> str:
    """The observed figures that stand in the formula."""
    inputs = inputs_from_data(record["inputs"])
    seen = inputs.observations
    if not isinstance(seen, AcousticObservations):
        return ""
    engine, settings, met = inputs.engine, seen.settings, seen.conditions
    crank = (
        f"crank turned in steps of {met.crank_step_degrees:g}°, rod ratio {met.rod_ratio:g}"
        if met.crank_step_degrees
        else "crank turned smoothly, s = 0"
    )
    return (
        f"Here B = {engine.bore_mm:g} mm and S = {engine.stroke_mm:g} mm, so Vs = "
        f"{swept_volume_cm3(engine.bore_mm, engine.stroke_mm):.2f} cm³; D = {settings.displacement_cm3:g} cm³, "
        f"N = {settings.cylinders}, Ti = {settings.gas_temperature_c + 273.15:.2f} K, "
        f"T = {met.gas_temperature_c + 273.15:.2f} K; {crank}."
    )


def _simulation(opinion: Record | None, decided: Record) -> list[tuple[str, str, str]]:
    """(what, by the budget, by simulation)."""
    if opinion is None:
        return []
    value, expanded = float(decided["value"]), float(decided["expanded_uncertainty"])
    covered = wording.per_cent(opinion["coverage_probability"])
    return [
        ("Value; mean of the draws", f"{value:.4f}", _drawn(opinion["mean"])),
        (
            "Standard uncertainty",
            f"{float(decided['standard_uncertainty']):.4f}",
            _drawn(opinion["standard_uncertainty"]),
        ),
        (
            f"{covered}, symmetric",
            f"{value - expanded:.4f} to {value + expanded:.4f}",
            _span(opinion["symmetric_low"], opinion["symmetric_high"]),
        ),
        (f"{covered}, shortest", "–", _span(opinion["shortest_low"], opinion["shortest_high"])),
        ("Engine conforms", "as above", percent(float(opinion["engine_conformance_probability"]))),
        ("Trials; seed", "–", f"{int(opinion['trials']):,}; {opinion['seed']}"),
    ]


def _drawn(stored: str | None) -> str:
    return "none: the repeats are too few" if stored is None else f"{float(stored):.4f}"


def _span(low: str, high: str) -> str:
    return f"{float(low):.4f} to {float(high):.4f}"


def short(words: str) -> str:
    return words.replace("more than ", "> ").replace("less than ", "< ")


def _limit(stored: str | None) -> str:
    return "–" if stored is None else f"{float(stored):.4f}"


def degrees(text: str) -> str:
    number = float(text)
    return "∞" if number > 999 else f"{number:.0f}"


def _telling(number: float, digits: int = 2) -> str:
    """So many telling digits, never an exponent."""
    if number == 0.0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(number))))
    return f"{number:.{places}f}".replace("-", _MINUS)
