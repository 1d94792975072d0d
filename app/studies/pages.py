from typing import Any
from uuid import UUID, uuid4

from fastapi import APIRouter, Request, Response

from app.errors import LogbookError, NotFound
from app.officials.access import Inspector, Official, Staff
from app.parsing import parse, typed_id
from app.studies import api, pictures
from app.studies.api import Planner
from app.studies.schemas import (
    MOST_FLOWS,
    AdoptionIn,
    FlowStudyIn,
    FlowStudyView,
    GaugeStudyIn,
    GaugeStudyView,
    StudyReadingIn,
)
from app.studies.wording import ENGINE_CAUTIONS, FLOW_CAUTIONS, beside, figure
from app.web import Db, Form, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "study-planned": "The study is planned. Each inspector reads their own part of it, on any tablet.",
        "study-reading-kept": "Kept.",
        "study-reading-corrected": "The reading is corrected; the earlier one stays in the record.",
        "study-complete": "That was the last reading. Here is what the study found.",
        "own-part-done": "That was your last reading of this study.",
        "flow-study-kept": "The study is kept. Verify the instrument before anything is measured with it.",
        "study-adopted": "Adopted: every budget of this instrument takes these figures from now on.",
        "adoption-ended": "Ended: budgets of this instrument no longer take that study.",
    }
)
ROWS = MOST_FLOWS


@router.get("/instruments/{instrument_id}/studies")
def studies_list(request: Request, instrument_id: UUID, db: Db, me: Staff) -> Response:
    return page(request, "studies/studies_list.html", api.list_studies(instrument_id, db, me))


# ---- the gauge study ----------------------------------------------------------------------------------------------


@router.get("/instruments/{instrument_id}/gauge-studies/new")
def new_gauge_study(request: Request, instrument_id: UUID, db: Db, me: Planner) -> Response:
    return _new_gauge_study(request, instrument_id, uuid4(), db, me)


def _new_gauge_study(
    request: Request, instrument_id: UUID, study_id: UUID, db: Db, me: Planner, **again: Any
) -> Response:
    view = api.read_study_start(instrument_id, db, me)
    return page(request, "studies/new_gauge_study.html", view, study_id=study_id, **again)


@router.post("/gauge-studies/{study_id}")
def plan_gauge_study(request: Request, study_id: UUID, form: PostedForm, db: Db, me: Planner) -> Response:
    try:
        api.put_gauge_study(study_id, parse(GaugeStudyIn, form), db, me)
    except LogbookError as invalid:
        instrument_id = typed_id(form.get("instrument_id"))
        if instrument_id is None:
            raise
        return _new_gauge_study(request, instrument_id, study_id, db, me, invalid=invalid, form=form)
    return see_other(request, "gauge_study", study_id=study_id, done="study-planned")


@router.get("/gauge-studies/{study_id}")
def gauge_study(request: Request, study_id: UUID, db: Db, me: Staff) -> Response:
    """The plan and how far it is; once complete what it found, and for officials its adoption."""
    return _gauge_study(request, api.read_gauge_study(study_id, db, me), uuid4())


def _gauge_study(request: Request, view: GaugeStudyView, adoption_id: UUID, **again: Any) -> Response:
    found = view.result
    drawn: dict[str, Any] = {}
    if found is not None:
        drawn = {
            "by_part": pictures.readings_by_part(found),
            "means": pictures.means_by_inspector(found),
            "ranges": pictures.ranges_by_inspector(found),
            "beyond": pictures.beyond_limit(found),
        }
    return page(request, "studies/gauge_study.html", view, adoption_id=adoption_id, small=figure, **drawn, **again)


@router.get("/gauge-studies/{study_id}/capture")
def capture_study(request: Request, study_id: UUID, db: Db, me: Inspector) -> Response:
    view = api.read_gauge_study(study_id, db, me)
    if view.next is None:
        return see_other(request, "gauge_study", study_id=study_id)
    return _capture_study(request, view, uuid4())


def _capture_study(request: Request, view: GaugeStudyView, reading_id: UUID, **again: Any) -> Response:
    return page(request, "studies/capture_study.html", view, reading_id=reading_id, cautions=ENGINE_CAUTIONS, **again)


@router.post("/gauge-studies/{study_id}/readings/{reading_id}")
def keep_study_reading(
    request: Request, study_id: UUID, reading_id: UUID, form: PostedForm, db: Db, me: Inspector
) -> Response:
    """One reading, or with `replaces_id` the correction of one; then the next one, or what the study found."""
    corrected = typed_id(form.get("replaces_id"))
    try:
        view = api.put_study_reading(study_id, reading_id, parse(StudyReadingIn, form), db, me)
    except NotFound:
        raise
    except LogbookError as invalid:
        view = api.read_gauge_study(study_id, db, me)
        if corrected is not None:
            return _correct_study_reading(request, view, corrected, reading_id, invalid=invalid, form=form)
        if view.next is None:
            raise
        return _capture_study(request, view, reading_id, invalid=invalid, form=form)
    if view.next is not None:
        done = "study-reading-corrected" if corrected else "study-reading-kept"
        return see_other(request, "capture_study", study_id=study_id, done=done)
    done = "own-part-done" if view.missing_words else "study-complete"
    return see_other(request, "gauge_study", study_id=study_id, done="study-reading-corrected" if corrected else done)


@router.get("/gauge-studies/{study_id}/readings/{reading_id}/correct")
def correct_study_reading(request: Request, study_id: UUID, reading_id: UUID, db: Db, me: Inspector) -> Response:
    return _correct_study_reading(request, api.read_gauge_study(study_id, db, me), reading_id, uuid4())


def _correct_study_reading(
    request: Request, view: GaugeStudyView, corrected: UUID, reading_id: UUID, **again: Any
) -> Response:
    row = next((one for one in view.own_readings if one.id == corrected), None)
    if row is None:
        if "invalid" in again:
            raise again["invalid"]
        raise NotFound("reading of yours that can be corrected")
    return page(request, "studies/correct_study_reading.html", view, row=row, reading_id=reading_id, **again)


# ---- the flow study -----------------------------------------------------------------------------------------------


@router.get("/instruments/{instrument_id}/flow-studies/new")
def new_flow_study(request: Request, instrument_id: UUID, db: Db, me: Planner) -> Response:
    return _new_flow_study(request, instrument_id, uuid4(), db, me)


def _new_flow_study(
    request: Request, instrument_id: UUID, study_id: UUID, db: Db, me: Planner, **again: Any
) -> Response:
    view = api.read_study_start(instrument_id, db, me)
    return page(
        request, "studies/new_flow_study.html", view, study_id=study_id, cautions=FLOW_CAUTIONS, rows=ROWS, **again
    )


@router.post("/flow-studies/{study_id}")
def keep_flow_study(request: Request, study_id: UUID, form: PostedForm, db: Db, me: Planner) -> Response:
    typed, rows = _points(form)
    try:
        api.put_flow_study(study_id, parse(FlowStudyIn, typed, me.units), db, me)
    except LogbookError as invalid:
        instrument_id = typed_id(form.get("instrument_id"))
        if instrument_id is None:
            raise
        invalid.errors = {_field_of(place, rows): sentence for place, sentence in invalid.errors.items()}
        return _new_flow_study(request, instrument_id, study_id, db, me, invalid=invalid, form=form)
    return see_other(request, "flow_study", study_id=study_id, done="flow-study-kept")


def _points(form: Form) -> tuple[Form, list[int]]:
    """The form's rows as points, and which row each of them is; a row left empty is none."""
    typed = {name: value for name, value in form.items() if not name.startswith(("airflow-", "shown-"))}
    points, rows = [], []
    for row in range(1, ROWS + 1):
        airflow, shown = (str(form.get(f"{name}-{row}", "")).strip() for name in ("airflow", "shown"))
        if airflow or shown:
            points.append({"airflow": airflow, "indications": shown})
            rows.append(row)
    return {**typed, "points": points}, rows


def _field_of(place: str, rows: list[int]) -> str:
    """`points.0.airflow` is `airflow-1` where the first row is filled; what all of them share is said at the first."""
    parts = place.split(".")
    if parts[0] != "points":
        return place
    if len(parts) < 3 or not parts[1].isdigit():
        return "airflow-1"
    return f"{'airflow' if parts[2] == 'airflow' else 'shown'}-{rows[int(parts[1])]}"


@router.get("/flow-studies/{study_id}")
def flow_study(request: Request, study_id: UUID, db: Db, me: Staff) -> Response:
    return _flow_study(request, api.read_flow_study(study_id, db, me), uuid4())


def _flow_study(request: Request, view: FlowStudyView, adoption_id: UUID, **again: Any) -> Response:
    return page(
        request,
        "studies/flow_study.html",
        view,
        adoption_id=adoption_id,
        slopes=pictures.slope(view),
        small=figure,
        beside=beside,
        **again,
    )


# ---- adopting and ending ------------------------------------------------------------------------------------------


@router.post("/instruments/{instrument_id}/adoptions/{adoption_id}")
def adopt_study(
    request: Request, instrument_id: UUID, adoption_id: UUID, form: PostedForm, db: Db, me: Official
) -> Response:
    kind, study_id = form.get("kind"), typed_id(form.get("study_id"))
    try:
        api.put_adoption(instrument_id, adoption_id, parse(AdoptionIn, form), db, me)
    except NotFound:
        raise
    except LogbookError as invalid:
        again: dict[str, Any] = {"invalid": invalid, "form": form}
        if study_id is None:
            return _end_adoption(request, instrument_id, str(kind), adoption_id, db, me, **again)
        if kind == "gauge":
            return _gauge_study(request, api.read_gauge_study(study_id, db, me), adoption_id, **again)
        return _flow_study(request, api.read_flow_study(study_id, db, me), adoption_id, **again)
    if study_id is None:
        return see_other(request, "studies_list", instrument_id=instrument_id, done="adoption-ended")
    return see_other(
        request, "gauge_study" if kind == "gauge" else "flow_study", study_id=study_id, done="study-adopted"
    )


@router.get("/instruments/{instrument_id}/adoptions/{kind}/end")
def end_adoption(request: Request, instrument_id: UUID, kind: str, db: Db, me: Official) -> Response:
    return _end_adoption(request, instrument_id, kind, uuid4(), db, me)


def _end_adoption(
    request: Request, instrument_id: UUID, kind: str, adoption_id: UUID, db: Db, me: Official, **again: Any
) -> Response:
    view = api.list_studies(instrument_id, db, me)
    standing = next((one for one in view.adopted if one.kind == kind), None)
    if standing is None:
        if "invalid" in again:
            raise again["invalid"]
        raise NotFound("adopted study")
    return page(request, "studies/end_adoption.html", view, adopted=standing, adoption_id=adoption_id, **again)


# ---- inspectors in the history ------------------------------------------------------------------------------------


@router.get("/instruments/{instrument_id}/inspectors")
def instrument_inspectors(request: Request, instrument_id: UUID, db: Db, me: Official) -> Response:
    view = api.read_inspectors(instrument_id, db, me)
    drawn = [pictures.differences(one) for one in view.volumes]
    return page(request, "studies/instrument_inspectors.html", view, drawn=drawn, small=figure)
