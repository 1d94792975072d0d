"""The shed's pages: which instruments may measure at which event, and verifying one."""

from collections.abc import Mapping
from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response

from app.errors import Invalid, LogbookError
from app.instruments import api
from app.instruments.looking import LookBack
from app.instruments.procedure import STEP_KEYS, STEPS, not_confirmed, warmth_words
from app.instruments.schemas import MOST_INDICATIONS, STAGES, Stage, VerificationIn
from app.instruments.wording import AIRFLOW_IS_FIXED
from app.officials import api as officials
from app.officials.access import Inspector, Staff
from app.parsing import parse, typed_id
from app.web import Db, Form, PostedForm, page, see_other

router = APIRouter(include_in_schema=False)
NEEDED, FIELDS = 3, MOST_INDICATIONS  # indications that must be there, and fields that are offered
_ON_THE_FORM = (
    "reference_volume_id",
    "step_room_temperature",
    "step_settings_dialled",
    "ambient_temperature",
    "gas_temperature_set",
    "step_hose_straight",
    "airflow",
    "step_airflow_left_alone",
)  # in this order, the indications after them


@router.get("/shed")
def shed(request: Request, db: Db, me: Inspector, everything: bool = False) -> Response:
    view = api.list_sheds(db, me, everything)
    has_pin = officials.read_me(db, me).has_pin
    moved = request.app.state.airflow_moved(db)
    return page(request, "instruments/shed.html", view, everything=everything, has_pin=has_pin, airflow_moved=moved)


@router.get("/events/{event_id}/verification/{stage}")
def verification_form(
    request: Request, event_id: UUID, stage: Stage, db: Db, me: Inspector, instrument: UUID | None = None
) -> Response:
    """First the instrument, then its check: two addresses of one page, so Back goes one step back."""
    return _form(request, event_id, stage, db, me, instrument, uuid4())


@router.post("/events/{event_id}/verification/{stage}/{verification_id}")
def verify_instrument(
    request: Request,
    event_id: UUID,
    stage: Stage,
    verification_id: UUID,
    form: PostedForm,
    db: Db,
    me: Inspector,
    look_back: LookBack,
) -> Response:
    try:
        asked, places = _gathered(form)
        try:
            data = parse(VerificationIn, {**asked, "stage": stage}, me.units)
        except Invalid as invalid:
            raise _at_their_fields(invalid, places, asked) from invalid
        api.put_verification(event_id, verification_id, data, db, me, look_back)
    except LogbookError as invalid:
        chosen = typed_id(form.get("instrument_id"))
        return _form(request, event_id, stage, db, me, chosen, verification_id, invalid=invalid, form=form)
    return see_other(request, "verification_result", event_id=event_id, verification_id=verification_id)


@router.get("/events/{event_id}/verifications/{verification_id}")
def verification_result(request: Request, event_id: UUID, verification_id: UUID, db: Db, me: Staff) -> Response:
    return page(
        request, "instruments/verification_result.html", api.read_verification(event_id, verification_id, db, me)
    )


def _form(
    request: Request,
    event_id: UUID,
    stage: Stage,
    db: Db,
    me: Inspector,
    chosen: UUID | None,
    verification_id: UUID,
    **again: Any,
) -> Response:
    view = api.read_shed(event_id, db, me)
    state = next((state for state in view.instruments if state.instrument.id == chosen), None)
    return page(
        request,
        "instruments/verification_form.html",
        view,
        stage=stage,
        stages=STAGES,
        state=state,
        verification_id=verification_id,
        needed=NEEDED,
        fields=FIELDS,
        airflow_is_fixed=AIRFLOW_IS_FIXED,
        steps={key: words for key, (words, _) in STEPS.items()},
        warmth={volume.id: warmth_words(volume.mark_high) for volume in state.instrument.reference_volumes}
        if state
        else {},
        **again,
    )


def _gathered(form: Form) -> tuple[dict[str, Any], list[int]]:
    """The indication fields to one list without the empty ones, and which field each came from; so with the steps."""
    asked = {name: typed for name, typed in form.items() if not name.startswith(("indication_", "step_"))}
    numbered = [(number, str(form.get(f"indication_{number}", "")).strip()) for number in range(1, FIELDS + 1)]
    given = [(number, typed) for number, typed in numbered if typed]
    confirmed = [key for key in STEP_KEYS if form.get(f"step_{key}")]
    lists = {"indications": [typed for _, typed in given], "steps_confirmed": confirmed}
    return {**asked, **lists}, [number for number, _ in given]


def _at_their_fields(invalid: Invalid, places: list[int], asked: Mapping[str, Any]) -> Invalid:
    """`indications.1` is what the operation says; the page says it at the field it was typed into, in its order."""
    errors: dict[str, str] = {}
    for name, sentence in invalid.errors.items():
        stem, _, index = name.partition(".")
        if name == "reference_volume_id":
            errors[name] = "Choose the reference volume that lies on the bench."
        elif name == "steps_confirmed":
            errors |= {f"step_{key}": STEPS[key][1] for key in not_confirmed(asked[name])}
        elif stem != "indications":
            errors[name] = sentence
        elif index:
            errors[f"indication_{places[int(index)]}"] = sentence
        else:
            empty = next((number for number in range(1, FIELDS + 1) if number not in places), FIELDS)
            errors[f"indication_{empty}"] = sentence
    return Invalid(dict(sorted(errors.items(), key=_place_on_the_form)))


def _place_on_the_form(error: tuple[str, str]) -> int:
    name, _ = error
    if name.startswith("indication_"):
        return len(_ON_THE_FORM) + int(name.removeprefix("indication_"))
    return _ON_THE_FORM.index(name) if name in _ON_THE_FORM else -1
