"""From the rows of a bench sheet to the core's inputs, and from what was typed to what the core takes."""

import json
from typing import Any

from pydantic import ValidationError

from app.bench_sheets.forms import FORMS
from app.bench_sheets.forms.plain import place_of, to_core
from app.bench_sheets.models import BenchObservation, BenchSheet
from app.bench_sheets.schemas import BenchObservationIn
from app.errors import Invalid
from app.intake import In
from app.metrology import assessment as core
from app.metrology.frozen import from_data
from app.metrology.methods import METHODS
from app.parsing import sentences
from app.regulations.ruled import core_rule


def standing_observation(sheet: BenchSheet) -> BenchObservation | None:
    """The one that no later row replaces."""
    replaced = {row.replaces_id for row in sheet.observations}
    return next((row for row in sheet.observations if row.id not in replaced), None)


def read_typed(method: str, data: BenchObservationIn) -> In:
    """What was typed as the In type of its method. Raises Invalid with the place of each thing that cannot be taken."""
    asked = FORMS[method].asked
    try:
        return asked.model_validate(data.observations, context={"units": data.units})
    except ValidationError as error:
        found = sentences(error.errors(), asked)
        raise Invalid({f"observations.{place}" if place else "": said for place, said in found.items()}) from error


def judge_typed(sheet: BenchSheet, typed: In) -> tuple[Any, core.Assessment]:
    """The core's observations and its view of them. Raises Invalid at the place that the core cannot take."""
    observations = to_core(METHODS[sheet.method].observations, typed)
    try:
        return observations, core.assess(_inputs(sheet, observations))
    except core.MeasurementError as error:
        place = place_of(error.field, [one.cylinder for one in observations.cylinders])
        raise Invalid({place: error.sentence}) from error


def assemble(sheet: BenchSheet, row: BenchObservation) -> core.AssessmentInputs:
    data = json.loads(row.observations)
    return _inputs(sheet, from_data(METHODS[sheet.method].observations, data, "inputs.observations"))


def _inputs(sheet: BenchSheet, observations: Any) -> core.AssessmentInputs:
    engine = sheet.entry.engine
    return core.AssessmentInputs(
        method=sheet.method,
        engine=core.Engine(float(engine.bore_mm), float(engine.stroke_mm), engine.cylinders),
        observations=observations,
        rule=core_rule(sheet.rule),
    )
