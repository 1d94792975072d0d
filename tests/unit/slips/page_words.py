"""What the page must say of a record, field by field: written out anew here, from the record alone."""

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Any

from app.metrology.rounding import percent, told
from app.slips import wording


def squeezed(text: str) -> str:
    return re.sub(r"\s+", "", text)


def expected(record: Mapping[str, Any]) -> Iterator[str]:
    """Every field of the record as the page must say it; fails on a field nobody thought of."""
    for part, value in record.items():
        if part in {"format", "inputs"}:
            continue  # the mark of the file's own format, and the same figures once more for repeating the verdict
        yield from EXPECTED[part](value, record)


def whole(value: Any, _: Mapping[str, Any]) -> Iterator[str]:
    """All leaves as they stand."""
    if isinstance(value, Mapping):
        for inner in value.values():
            yield from whole(inner, _)
    elif isinstance(value, list):
        for inner in value:
            yield from whole(inner, _)
    elif value is not None:
        assert isinstance(value, str), value
        yield value


def moment(value: str | None, _: Mapping[str, Any]) -> Iterator[str]:
    if value:
        yield value.replace("T", " ").replace("Z", " UTC")


def of_slip(slip: Mapping[str, str], record: Mapping[str, Any]) -> Iterator[str]:
    assert set(slip) == {"number", "code", "issued_at", "software", "core_version", "verify_url"}
    yield from moment(slip["issued_at"], record)
    yield from (slip[name] for name in ("number", "code", "software", "core_version", "verify_url"))


def of_rule(rule: Mapping[str, str], record: Mapping[str, Any]) -> Iterator[str]:
    words = {
        "applies_to": wording.APPLIES_TO,
        "decision_rule": {rule["decision_rule"]: wording.decision_rule(rule)[0] + wording.decision_rule(rule)[1]},
        "inconclusive_action": {key: text.lower().rstrip(".") for key, text in wording.ACTIONS.items()},
        "confidence": {"0.95": "95 %"},
        "kind": {"maximum": "at most", "minimum": "at least", "range": f"{rule['lower_limit']} to {rule['limit']}"},
        "designated_cylinder": {rule["designated_cylinder"]: f"cylinder {rule['designated_cylinder']}"},
        "tolerance_covers_uncertainty": {True: "its tolerance covers the uncertainty of measurement", False: ""},
    }
    for name, value in rule.items():
        yield (
            words[name][value].replace(".", "")
            if name == "inconclusive_action"
            else words.get(name, {value: value})[value]
        )


def of_instrument(instrument: Mapping[str, Any], record: Mapping[str, Any]) -> Iterator[str]:
    checked = instrument["verification"]
    yield from (instrument[name] for name in ("name", "serial", "resolution", "stated_accuracy"))
    yield wording.METHODS[instrument["method"]]
    yield wording.ACCURACY_MEANINGS[instrument["accuracy_meaning"]]
    yield instrument["airflow_set_point_l_min"] + " L/min"
    yield "± " + instrument["airflow_tolerance_l_min"] + " L/min"
    yield from whole(instrument["calibration"] or "none on record; the stated accuracy stands alone", record)
    if instrument["calibration"]:
        found = abs(float(instrument["calibration"]["deviation"])) + float(
            instrument["calibration"]["expanded_uncertainty"]
        )
        yield "within the accuracy, not corrected for" if found <= 0.1 else "beyond the accuracy, so the budget takes"
        days = int(instrument["calibration"].get("overdue_days", "0"))
        if days:
            most = record["rule"]["overdue_days_allowed"]
            yield f"Overdue by {days} day{'s' if days > 1 else ''} when measured; the edition allows up to {most} days."
    if checked is None:
        yield "Last check none on record"
        return
    yield from moment(checked["at"], record)
    yield wording.STAGES[checked["stage"]]
    yield "accepted" if checked["accepted"] else "refused"
    yield from (
        checked[name] for name in ("reference_volume", "mark_low", "mark_high", "mean", "deviation", "inspector")
    )


def of_settings(settings: Mapping[str, str], _: Mapping[str, Any]) -> Iterator[str]:
    yield settings["displacement_cm3"] + " cm³"
    yield settings["cylinders"] + " cyl."
    yield settings["gas_temperature_c"] + " °C"


def of_conditions(conditions: Mapping[str, Any], _: Mapping[str, Any]) -> Iterator[str]:
    units = {
        "gas_temperature_c": " °C", "gas_temperature_standard_uncertainty_k": " K", "airflow_l_min": " L/min",
        "ambient_temperature_c": " °C", "pressure_kpa": " kPa", "humidity_percent": " % humidity",
    }  # fmt: skip
    yield wording.TEMPERATURE_SOURCES[conditions["temperature_source"]]
    yield from (conditions[name] + unit for name, unit in units.items() if conditions[name])
    assert set(conditions) == {*units, "temperature_source", "set_aside"}
    for one in conditions["set_aside"]:
        yield f"Corrected ({one['reason']}): the sheet first had {one['set_displacement_cm3']} cm³"
        yield f"{one['set_cylinders']} cyl., {one['set_gas_temperature_c']} °C set; gas {one['gas_temperature_c']} °C"
        yield wording.TEMPERATURE_SOURCES[one["temperature_source"]] + f"; airflow {one['airflow_l_min']} L/min"
        assert len(one) == 7


def of_earlier(earlier: Mapping[str, str] | None, record: Mapping[str, Any]) -> Iterator[str]:
    if earlier:
        yield f"Measured again after slip {earlier['slip']} ({earlier['verdict']}"
        yield from moment(earlier["decided_at"], record)
        yield f"because: {earlier['reason']}."


def of_readings(readings: list[Mapping[str, Any]], _: Mapping[str, Any]) -> Iterator[str]:
    for reading in readings:
        if reading["indications"]:
            yield reading["cylinder"] + " · ".join(reading["indications"])
            yield reading["taken_at"][11:19]
        else:
            yield reading["cylinder"] + " Not measured: " + reading["not_measured_reason"]
        for aside in reading["set_aside"]:
            figures = ", ".join(aside["indications"]) or "no figure"
            yield f"cylinder {reading['cylinder']}: {figures} ({aside['reason']})"
    dropped = sum(len(reading["set_aside"]) for reading in readings)
    yield f"Set aside and not used, {dropped} reading" if dropped else "No reading was set aside."


def figures(one: Mapping[str, Any]) -> tuple[str, str]:
    bounds = tuple(float(one[name]) if one[name] else None for name in ("acceptance_limit", "rejection_limit"))
    return told(float(one["value"]), float(one["expanded_uncertainty"]), bounds)


def pictured_words(one: Mapping[str, Any], record: Mapping[str, Any]) -> str:
    """True of the value as well as of the verdict."""
    rule, sign = record["rule"], -1.0 if one["side"] == "minimum" else 1.0
    written = rule["lower_limit"] if rule["kind"] == "range" and sign < 0 else rule["limit"]
    is_past = sign * float(one["value"]) > sign * float(written) + float(rule["tolerance"])
    if one["verdict"] == "conforming":
        return "NOT PROVEN PAST" if is_past else "INSIDE THE LIMIT"
    if one["verdict"] == "nonconforming":
        return "PAST THE LIMIT" if is_past else "NOT PROVEN INSIDE"
    return "ACROSS THE LIMIT"


def of_result(result: Mapping[str, Any], record: Mapping[str, Any]) -> Iterator[str]:
    decided = result["decided"]
    value, uncertainty = figures(decided)
    kept_open = result["verdict"] == "inconclusive" and decided["verdict"] != "inconclusive"  # by a leak or a gap
    yield "NOT DECIDED" if kept_open else pictured_words(decided, record)
    yield f"Verdict: {result['verdict']}"
    yield result["reason"]
    yield wording.ACTIONS[result["action"]] if result["action"] else "Verdict"
    yield f"r = {value} ± {uncertainty}"
    yield f"(k = {float(decided['coverage_factor']):.2f}, 95 %)"
    yield percent(float(decided["conformance_probability"]))
    yield f"{float(result['tolerance_limit']):.2f}"
    for limit in ("acceptance_limit", "rejection_limit"):
        yield f"{float(decided[limit]):.3f}" if decided[limit] else "none"
    yield percent(float(result["engine_conformance_probability"]))
    if result["judged"] != "1" and decided["rejection_limit"]:
        factor = f"{float(result['rejection_factor']):.2f}"
        yield f"k = {factor} is the factor of the greatest of {result['judged']} errors"
    for one in result["results"]:
        yield f"{float(one['value']):.4f}{float(one['standard_uncertainty']):.4f}"
        yield "{} ± {}".format(*figures(one))
        yield pictured_words(one, record).lower() if one["verdict"] else "not by itself"
    for part in decided["budget"]["components"]:
        yield part["label"][:1].upper() + part["label"][1:]
        yield part["distribution"]
        yield part["source"]
        yield "shared" if part["shared"] else "own"
        yield f"{abs(float(part['sensitivity'])) * float(part['standard_uncertainty']):.4f}"
        yield f"{float(part['percent_of_variance']):.1f} %"
    yield from result["corrections"]
    for suspicion in result["suspicions"]:
        yield suspicion["seen"]
        yield f"Settled: {suspicion['settled_by']}" if suspicion["settled_by"] else suspicion["look_for"]


def of_second_opinion(opinion: Mapping[str, Any], _: Mapping[str, Any]) -> Iterator[str]:
    for kind in ("symmetric", "shortest"):
        yield f"{float(opinion[kind + '_low']):.4f} to {float(opinion[kind + '_high']):.4f}"
    yield f"{int(opinion['trials']):,}; {opinion['seed']}"
    yield f"{'Validated' if opinion['validated'] else 'Not validated'} by simulation"
    yield percent(float(opinion["engine_conformance_probability"]))


def of_acknowledgement(seen: Mapping[str, str], _: Mapping[str, Any]) -> Iterator[str]:
    yield wording.ACKNOWLEDGEMENTS[seen["kind"]]
    yield seen["name"]
    yield seen["note"]


EXPECTED: dict[str, Callable[[Any, Mapping[str, Any]], Iterator[str]]] = {
    "slip": of_slip, "series": whole, "event": whole, "inspector": whole, "competitor": whole, "entry": whole,
    "engine": whole, "rule": of_rule, "instrument": of_instrument, "settings": of_settings,
    "conditions": of_conditions, "earlier": of_earlier, "measured_at": moment, "decided_at": moment,
    "readings": of_readings, "result": of_result, "second_opinion": of_second_opinion,
    "acknowledgement": of_acknowledgement,
    "protest_until": moment,
}  # fmt: skip
