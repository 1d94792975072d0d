"""What if: the page that evaluates without storing."""

import json
from collections.abc import Mapping
from typing import Any

from fastapi import APIRouter, Request, Response

from app.errors import Invalid, LogbookError
from app.inspections import whatif, whatif_api
from app.inspections.asked import ACOUSTIC_RESONANCE
from app.inspections.whatif import EvaluatedView
from app.metrology.conformity import DECISION_RULES
from app.metrology.inputs import ACCURACY_MEANINGS
from app.metrology.rules import APPLIES_TO, INCONCLUSIVE_ACTIONS
from app.officials.access import Staff
from app.web import Form, PostedForm, page

READINGS = "observations.readings"
_BY_RATIO = ("every_cylinder", "mean_of_cylinders")
_START: Form = {
    "observations.instrument.resolution": "0.01",
    "observations.instrument.stated_accuracy": "0.10",
    "observations.instrument.accuracy_meaning": "limits",
    "observations.conditions.temperature_source": "thermometer_in_chamber",
    "rule.kind": "maximum",
    "rule.tolerance": "0",
    "rule.applies_to": "every_cylinder",
    "rule.decision_rule": "three_zones",
    "rule.confidence": "95",
    "rule.inconclusive_action": "measure_again",
}
_ASKED = (
    *_START, "engine.bore", "engine.stroke", "engine.cylinders", "observations.settings.displacement",
    "observations.settings.cylinders", "observations.settings.gas_temperature",
    "observations.conditions.gas_temperature", READINGS, "rule.limit",
)  # fmt: skip


router = APIRouter(include_in_schema=False)


@router.get("/what-if")
def what_if(request: Request, me: Staff) -> Response:
    return _page(request, {})


@router.post("/what-if")
def look_what_if(request: Request, form: PostedForm, me: Staff) -> Response:
    """From the fields, or from the text area where that was sent; both ask the operation."""
    try:
        if "json" in form:
            return _page(request, form, whatif_api.evaluate(whatif.asked(whatif.read_json(str(form["json"]))), me))
        return _page(request, form, whatif_api.evaluate(whatif.asked(_from_fields(form), me.units), me))
    except LogbookError as invalid:
        if "json" in form:
            said = [f"{place}: {sentence}" if place else sentence for place, sentence in invalid.errors.items()]
            invalid.errors = {"json": " ".join(said)}
        else:
            invalid.errors = _beside_fields(invalid.errors)
        return _page(request, form, invalid=invalid)


def _page(
    request: Request, form: Form, found: EvaluatedView | None = None, invalid: LogbookError | None = None
) -> Response:
    result = found.result if found else None
    return page(
        request,
        "inspections/what_if.html",
        result,
        invalid=invalid,
        form=form,
        values=_START,
        drawn_against=_drawn_against(found) if found else None,
        accuracies=_choices(ACCURACY_MEANINGS),
        scopes=_choices({key: APPLIES_TO[key] for key in _BY_RATIO}),
        decision_rules=_choices(DECISION_RULES),
        actions_when_open=_choices(INCONCLUSIVE_ACTIONS),
        example=json.dumps(whatif.EXAMPLES["metric"], indent=2, ensure_ascii=False),
    )


def _choices(table: Mapping[str, str]) -> list[tuple[str, str]]:
    return [(key, words[:1].upper() + words[1:]) for key, words in table.items()]


def _drawn_against(found: EvaluatedView) -> Mapping[str, Any]:
    """The limits of the side that decided, as the pictures want them."""
    result, rule = found.result, found.inputs["rule"]
    lines = ("limit", "tolerance_limit", "acceptance_limit", "rejection_limit")
    return {"kind": result["side"], **{name: result[name] for name in lines}, **{
        name: rule[name] for name in ("decision_rule", "confidence")
    }}  # fmt: skip


def _from_fields(form: Form) -> dict[str, Any]:
    flat = {name: value for name, value in form.items() if name in _ASKED and name != READINGS}
    asked = whatif.nested(flat)
    asked["method"] = ACOUSTIC_RESONANCE
    asked.setdefault("observations", {})["readings"] = _read_lines(str(form.get(READINGS, "")))
    return asked


def _read_lines(text: str) -> list[dict[str, Any]]:
    """`1: 10.50 10.52`, a cylinder a line."""
    found = []
    for number, line in enumerate(text.splitlines(), 1):
        cylinder, colon, shown = line.partition(":")
        if not line.strip():
            continue
        if not colon:
            raise Invalid({READINGS: f"Line {number} does not say its cylinder. Write it as 1: 10.50 10.52."})
        found.append({"cylinder": cylinder.strip(), "indications": shown.split()})
    return found


def _beside_fields(errors: Mapping[str, str]) -> dict[str, str]:
    """What concerns one reading stands beside the readings; what has no field of its own stands above all."""
    placed: dict[str, str] = {}
    for place, sentence in errors.items():
        name = READINGS if place.startswith(READINGS) else place
        placed.setdefault(name if name in _ASKED else "", sentence)
    return placed
