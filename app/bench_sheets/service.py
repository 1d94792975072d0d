"""The bench sheet: opened, filled, corrected, signed. Whatever was accepted is added to, never changed."""

import hashlib
import json
from typing import Any
from uuid import UUID

import rfc8785
from sqlalchemy import Select, select
from sqlalchemy.orm import Session, joinedload, selectinload

from app import audit
from app.bench_sheets import views
from app.bench_sheets.assembly import assemble, judge_typed, read_typed, standing_observation
from app.bench_sheets.forms import FORMS
from app.bench_sheets.models import BenchObservation, BenchSheet, BenchVerdict
from app.bench_sheets.schemas import (
    BenchLine,
    BenchListView,
    BenchMethodView,
    BenchObservationIn,
    BenchSheetIn,
    BenchSheetView,
    BenchStartView,
)
from app.database import now
from app.entries import service as entries
from app.entries.models import Entry
from app.errors import Conflict, Invalid, NotFound, Refused
from app.inspections.rule_today import rule_today
from app.metrology.assessment import Assessment, MeasurementError, assess, assessment_to_data, inputs_to_data
from app.metrology.frozen import to_data
from app.metrology.methods import METHODS
from app.officials.service import CurrentPerson
from app.regulations import service as regulations
from app.regulations.models import Rule


def sheet_of(session: Session, sheet_id: UUID, *, lock: bool = False) -> BenchSheet:
    """Whoever adds to a sheet locks it first: nothing may slip in beside a signature."""
    sheet = session.get(
        BenchSheet,
        sheet_id,
        options=[selectinload(BenchSheet.observations).joinedload(BenchObservation.taken_by)],
        with_for_update=True if lock else None,
    )
    if sheet is None:
        raise NotFound("bench sheet")
    return sheet


def _must_be_open(sheet: BenchSheet) -> None:
    if sheet.verdict is not None:
        raise Conflict("This sheet is signed and stays as it is. Open a second one; both stay.")


# ---- opening -----------------------------------------------------------------------------------------------------


def open_sheet(session: Session, me: CurrentPerson, sheet_id: UUID, data: BenchSheetIn) -> BenchSheet:
    kept = session.get(BenchSheet, sheet_id)
    if kept is not None:
        audit.same_or_conflict(kept.digest, data)
        return kept
    entry = entries.entry_of(session, data.entry_id)
    if data.method not in FORMS:
        raise Invalid({"method": f"This method is not known here. Known are {', '.join(FORMS)}."})
    rule = rule_today(session, entry, METHODS[data.method].quantity)
    sheet = BenchSheet(
        id=sheet_id,
        entry=entry,
        rule=rule,
        method=data.method,
        present_for_series=data.present_for_series,
        present_for_competitor=data.present_for_competitor,
        reason=data.reason,
        cautions_confirmed=data.cautions_confirmed,
        opened_by_id=me.id,
        opened_at=now(session),
        digest=audit.digest_of(data),
    )
    session.add(sheet)
    audit.record(
        session,
        me.full_name,
        "bench sheet opened",
        sheet_id,
        {
            "car": entry.car_number,
            "engine": entry.engine.serial,
            "rule": str(rule.id),
            "asked": data.model_dump(mode="json"),
        },
    )
    return sheet


def start_view(session: Session, entry_id: UUID) -> BenchStartView:
    entry = entries.entry_of(session, entry_id)
    return BenchStartView(
        entry=entries.entry_view(entry), methods=[_offered(session, entry, method) for method in FORMS]
    )


def _offered(session: Session, entry: Entry, method: str) -> BenchMethodView:
    said: dict[str, Any] = {"key": method, "label": METHODS[method].label, "done": FORMS[method].done}
    try:
        rule = rule_today(session, entry, METHODS[method].quantity)
    except Refused as refused:
        return BenchMethodView(rule=None, refusal=refused.message, **said)
    return BenchMethodView(rule=regulations.rule_view(rule), refusal="", **said)


# ---- observing ---------------------------------------------------------------------------------------------------


def keep_observations(
    session: Session, me: CurrentPerson, sheet_id: UUID, observation_id: UUID, data: BenchObservationIn
) -> BenchSheet:
    """All of the sheet at once; a later row names the one it replaces, and why."""
    sheet = sheet_of(session, sheet_id, lock=True)
    typed = read_typed(sheet.method, data)
    kept = session.get(BenchObservation, observation_id)
    if kept is not None:
        if kept.sheet_id != sheet_id:
            raise Conflict
        audit.same_or_conflict(kept.digest, data)
        return sheet
    _must_be_open(sheet)
    standing = standing_observation(sheet)
    if data.replaces_id != (standing.id if standing else None):
        raise Conflict("Somebody wrote on this sheet a moment ago. Load it again and look.")
    if standing is not None and not data.reason:
        raise Invalid({"reason": "Say why this replaces what was kept before; that stays in the record."})
    observations, _assessment = judge_typed(sheet, typed)
    row = BenchObservation(
        id=observation_id,
        sheet=sheet,
        units=data.units,
        typed=rfc8785.dumps(data.observations).decode(),
        observations=rfc8785.dumps(to_data(observations)).decode(),
        taken_by_id=me.id,
        taken_at=now(session),
        replaces_id=data.replaces_id,
        reason=data.reason,
        digest=audit.digest_of(data),
    )
    session.add(row)
    audit.record(
        session,
        me.full_name,
        "bench sheet corrected" if standing is not None else "bench sheet filled",
        sheet_id,
        {
            "observations": str(observation_id),
            "typed": row.typed,
            "units": data.units,
            "taken as": json.loads(row.observations),
            "replaces": str(data.replaces_id) if data.replaces_id else None,
            "because": data.reason,
        },
    )
    return sheet


# ---- closing -----------------------------------------------------------------------------------------------------


def sign(session: Session, me: CurrentPerson, sheet_id: UUID, verdict_id: UUID, observation_id: UUID) -> BenchSheet:
    """Freezes inputs, result and core version, and their digest. From here on the sheet is evidence."""
    sheet = sheet_of(session, sheet_id, lock=True)
    if sheet.verdict is not None:
        if (sheet.verdict.id, sheet.verdict.observation_id) != (verdict_id, observation_id):
            raise Conflict("This sheet is already signed. Look at its result, or open a second sheet.")
        return sheet
    standing = standing_observation(sheet)
    if standing is None:
        raise Refused("Nothing was measured on this sheet yet. Enter it first.")
    if standing.id != observation_id:
        raise Conflict("The sheet was corrected since this page was made. Look at the result again, then sign.")
    inputs = assemble(sheet, standing)
    try:
        assessment = assess(inputs)
    except MeasurementError as error:
        raise Refused(error.sentence) from error
    verdict = BenchVerdict(
        id=verdict_id,
        sheet=sheet,
        observation_id=observation_id,
        verdict=assessment.verdict,
        inputs=rfc8785.dumps(inputs_to_data(inputs)).decode(),
        result=rfc8785.dumps(assessment_to_data(assessment)).decode(),
        core_version=assessment.core_version,
        decided_by_id=me.id,
        decided_at=now(session),
    )
    verdict.digest = hashlib.sha256(frozen_text(sheet, verdict).encode()).hexdigest()
    session.add(verdict)
    audit.record(
        session,
        me.full_name,
        "bench verdict signed",
        sheet_id,
        {
            "verdict": verdict.verdict,
            "observations": str(observation_id),
            "inputs": json.loads(verdict.inputs),
            "result": json.loads(verdict.result),
            "digest": verdict.digest,
        },
    )
    return sheet


def frozen_text(sheet: BenchSheet, verdict: BenchVerdict) -> str:
    """What the digest is of: canonical JSON of the sheet's head, the inputs, the result, who signed and when."""
    return rfc8785.dumps(
        {
            "sheet": str(sheet.id),
            "entry": str(sheet.entry_id),
            "rule": str(sheet.rule_id),
            "present": {"series": sheet.present_for_series, "competitor": sheet.present_for_competitor},
            "observations": str(verdict.observation_id),
            "inputs": json.loads(verdict.inputs),
            "result": json.loads(verdict.result),
            "decided_by": str(verdict.decided_by_id),
            "decided_at": verdict.decided_at.isoformat(),
        }
    ).decode()


# ---- looking -----------------------------------------------------------------------------------------------------


def sheet_view(session: Session, sheet_id: UUID) -> BenchSheetView:
    sheet = sheet_of(session, sheet_id)
    result, problem = _result(sheet)
    return views.sheet_view(sheet, result, problem)


def _result(sheet: BenchSheet) -> tuple[dict[str, Any] | None, str]:
    """The frozen result, or how the sheet stands now; or why it has none."""
    if sheet.verdict is not None:
        frozen: dict[str, Any] = json.loads(sheet.verdict.result)
        return frozen, ""
    standing = standing_observation(sheet)
    if standing is None:
        return None, ""
    try:
        assessment: Assessment = assess(assemble(sheet, standing))
    except MeasurementError as error:
        return None, error.sentence
    return assessment_to_data(assessment), ""


def sheets_of_entry(session: Session, entry_id: UUID) -> BenchListView:
    entry = entries.entry_of(session, entry_id)
    return BenchListView(entry=entries.entry_view(entry), sheets=lines_of_entry(session, entry_id))


def lines_of_entry(session: Session, entry_id: UUID) -> list[BenchLine]:
    return [views.line(sheet) for sheet in session.scalars(_lines().where(BenchSheet.entry_id == entry_id))]


def signed_lines_of_competitor(session: Session, competitor_id: UUID) -> list[BenchLine]:
    """The competitor's own, the newest first."""
    found = _lines().join(BenchSheet.verdict).join(BenchSheet.entry).where(Entry.competitor_id == competitor_id)
    return [views.line(sheet) for sheet in session.scalars(found)]


def _lines() -> Select[BenchSheet]:
    """With all that a line says, so that a list takes one query however long it is."""
    entry = joinedload(BenchSheet.entry)
    return (
        select(BenchSheet)
        .order_by(BenchSheet.opened_at.desc(), BenchSheet.id)
        .options(
            entry.joinedload(Entry.race_class),
            entry.joinedload(Entry.event),
            joinedload(BenchSheet.rule).joinedload(Rule.edition),
            joinedload(BenchSheet.opened_by),
            joinedload(BenchSheet.verdict).defer(BenchVerdict.inputs),
        )
    )
