"""One record with everything around it, for the staff whole, for a competitor their own."""

import json
from collections.abc import Mapping
from uuid import UUID

from sqlalchemy import Select, select
from sqlalchemy.orm import Session, joinedload

from app import audit
from app.bench_sheets import service as bench_sheets
from app.bench_sheets.comparing import results_of_entry
from app.database import now, row_of
from app.doubts import service as doubts
from app.doubts.schemas import StandingView
from app.entries import service as entries
from app.entries.models import Entry
from app.errors import NotFound
from app.history.log_reading import detailed
from app.history.schemas import (
    InstrumentThatDay,
    LinkedSheet,
    OwnProtest,
    OwnRecordsView,
    OwnRecordView,
    OwnRow,
    RecordView,
)
from app.inspections import service as inspections
from app.inspections.comparing import comparisons_of_entry
from app.inspections.models import Inspection, Verdict
from app.inspections.signed_result import limit_in_words, reported_figures, signed_result
from app.instruments import service as instruments
from app.instruments.ledger import verifications_of, view_of
from app.instruments.views import calibration_view, verification_view
from app.officials.service import CurrentPerson
from app.protests import service as protests
from app.protests.models import Protest
from app.protests.schemas import STATES
from app.regulations.models import Rule
from app.slips import service as slips
from app.slips.notices import notices_of_slips
from app.slips.schemas import NoticeMark, SlipView

RECORD = "record"


def record_view(session: Session, inspection_id: UUID) -> RecordView:
    inspection = _inspection(session, inspection_id)
    sheet = inspections.inspection_view(session, inspection_id)
    against = protests.protests_against(session, inspection_id)
    standing = doubts.standing_of_sheet(session, inspection_id)
    causes = [cause.cause_id for cause in standing.causes] if standing else []
    subjects = [inspection_id, *(protest.id for protest in against), *causes]
    slip = slips.slip_of_inspection(session, inspection_id)
    return RecordView(
        id=inspection_id,
        is_signed=inspection.verdict is not None,
        protest_is_open=inspection.verdict is not None and _may_still_be_protested(session, inspection.verdict),
        sheet=sheet,
        result=signed_result(inspection, inspection.verdict, sheet) if inspection.verdict else None,
        standing=standing,
        notices=_notices(session, slip),
        instrument=_instrument_that_day(session, inspection),
        linked=_linked(session, inspection),
        comparisons=comparisons_of_entry(session, inspection.entry_id, results_of_entry(session, inspection.entry_id)),
        bench=bench_sheets.lines_of_entry(session, inspection.entry_id),
        protests=[protests.protest_line(protest) for protest in against],
        slip=slip,
        happened=[detailed(row) for row in audit.entries_about(session, subjects)],
    )


def _inspection(session: Session, inspection_id: UUID) -> Inspection:
    return row_of(session, Inspection, inspection_id, RECORD)


def _notices(session: Session, slip: SlipView | None) -> list[NoticeMark]:
    return notices_of_slips(session, [slip.id]).get(slip.id, []) if slip else []


def _may_still_be_protested(session: Session, verdict: Verdict) -> bool:
    return now(session) <= verdict.protest_until


def _instrument_that_day(session: Session, inspection: Inspection) -> InstrumentThatDay:
    event_id, instrument_id = inspection.entry.event_id, inspection.instrument_id
    calibration = instruments.calibration_in_force(session, instrument_id, inspection.opened_at.date())
    checks = verifications_of(session, instrument_id, event_id)
    return InstrumentThatDay(
        instrument=view_of(session, inspection.instrument),
        calibration=calibration_view(calibration) if calibration else None,
        verifications=[verification_view(check, None) for check in reversed(checks)],
    )


def _linked(session: Session, inspection: Inspection) -> list[LinkedSheet]:
    found: list[LinkedSheet] = []
    if inspection.repeats_id is not None:
        earlier = _inspection(session, inspection.repeats_id)
        found.append(_link(earlier, "measured again from", inspection.repeat_reason))
    later = session.scalars(
        select(Inspection).where(Inspection.repeats_id == inspection.id).order_by(Inspection.opened_at, Inspection.id)
    )
    found += [_link(row, "measured again as", row.repeat_reason) for row in later]
    return found


def _link(row: Inspection, relation: str, reason: str) -> LinkedSheet:
    return LinkedSheet.model_validate(
        {
            "inspection_id": row.id,
            "relation": relation,
            "reason": reason,
            "opened_at": row.opened_at,
            "verdict": row.verdict.verdict if row.verdict else "",
            "picture": row.verdict.picture if row.verdict else "",
            "kind": row.rule.kind,
        }
    )


# ---- the competitor's own ----------------------------------------------------------------------------------------


def own_records(session: Session, me: CurrentPerson) -> OwnRecordsView:
    competitor = entries.competitor_of_person(session, me.id)
    if competitor is None:
        return OwnRecordsView(competitor=me.full_name, licence="", is_linked=False, results=[], bench=[], protests=[])
    signed = session.scalars(_signed_of(competitor.id)).all()
    slips_by_sheet = slips.slips_of_inspections(session, [verdict.inspection_id for verdict in signed])
    standing = doubts.standing_of(session, [verdict.id for verdict in signed])
    named = notices_of_slips(session, [slip.id for slip in slips_by_sheet.values()])
    return OwnRecordsView(
        competitor=competitor.name,
        licence=competitor.licence,
        is_linked=True,
        results=[
            _own_row(session, verdict, standing[verdict.id], slips_by_sheet.get(verdict.inspection_id), named)
            for verdict in signed
        ],
        bench=bench_sheets.signed_lines_of_competitor(session, competitor.id),
        protests=[_own_protest(protest) for protest in protests.protests_lodged_by(session, competitor.id)],
    )


def _signed_of(competitor_id: UUID) -> Select[Verdict]:
    """With all that a line of the list says, so that it takes one query however long the list."""
    inspection = joinedload(Verdict.inspection)
    return (
        select(Verdict)
        .join(Verdict.inspection)
        .join(Inspection.entry)
        .where(Entry.competitor_id == competitor_id)
        .order_by(Verdict.decided_at.desc(), Verdict.id)
        .options(
            inspection.joinedload(Inspection.rule).joinedload(Rule.edition),
            inspection.joinedload(Inspection.entry).options(joinedload(Entry.event), joinedload(Entry.race_class)),
        )
    )


def own_record(session: Session, me: CurrentPerson, inspection_id: UUID) -> OwnRecordView:
    """Somebody else's record, an unsigned one and none at all are the same to whoever asks."""
    inspection, verdict = _own_signed(session, me, inspection_id)
    sheet = inspections.inspection_view(session, inspection_id)
    slip = slips.slip_of_inspection(session, inspection_id)
    return OwnRecordView(
        id=inspection_id,
        sheet=sheet,
        result=signed_result(inspection, verdict, sheet),
        standing=doubts.standing_of(session, [verdict.id])[verdict.id],
        notices=_notices(session, slip),
        slip=slip,
        protest_until=verdict.protest_until,
        protest_is_open=_may_still_be_protested(session, verdict),
        protests=[_own_protest(protest) for protest in protests.protests_against(session, inspection_id)],
    )


def _own_signed(session: Session, me: CurrentPerson, inspection_id: UUID) -> tuple[Inspection, Verdict]:
    competitor = entries.competitor_of_person(session, me.id)
    inspection = session.get(Inspection, inspection_id)
    if (
        competitor is None
        or inspection is None
        or inspection.verdict is None
        or inspection.entry.competitor_id != competitor.id
    ):
        raise NotFound(RECORD)
    return inspection, inspection.verdict


def _own_row(
    session: Session,
    verdict: Verdict,
    standing: StandingView,
    slip: SlipView | None,
    named: Mapping[UUID, list[NoticeMark]],
) -> OwnRow:
    inspection, result = verdict.inspection, json.loads(verdict.result)
    entry, rule = inspection.entry, inspection.rule
    value, expanded = reported_figures(result)
    return OwnRow(
        inspection_id=inspection.id,
        car_number=entry.car_number,
        class_code=entry.race_class.code,
        event_name=entry.event.name,
        decided_at=verdict.decided_at,
        verdict=verdict.verdict,
        picture=verdict.picture,
        kind=verdict.side,
        value=value,
        expanded_uncertainty=expanded,
        limit_text=limit_in_words(result, rule),
        rule_sentence=rule.text,
        protest_until=verdict.protest_until,
        protest_is_open=_may_still_be_protested(session, verdict),
        standing=standing,
        notices=named.get(slip.id, []) if slip else [],
        slip=slip,
    )


def _own_protest(protest: Protest) -> OwnProtest:
    decision = protests.decision_of(protest.steps)
    line = protests.protest_line(protest)
    return OwnProtest(
        reference=line.reference,
        against=f"car {line.car_number}",
        event_name=line.event_name,
        lodged_by=line.lodged_by,
        lodged_at=line.lodged_at,
        state=line.state,
        state_words=STATES[line.state],
        decided_at=line.decided_at,
        reasons=decision.text if decision else "",
    )
