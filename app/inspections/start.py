"""What an inspector needs before the first reading: instrument, what to dial on it, the last conditions."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from app.entries import service as entries
from app.entries.models import Entry
from app.entries.schemas import EntryView
from app.inspections import views
from app.inspections.models import Conditions, Inspection
from app.inspections.rule_today import rule_today
from app.inspections.schemas import ConditionsView, VerdictView
from app.instruments import service as instruments
from app.instruments.schemas import InstrumentView, SettingChoiceView
from app.instruments.standing import allowed_under, may_be_used, why_not_under
from app.intake import View
from app.regulations import service as regulations
from app.regulations.schemas import RuleView


class StartView(View):
    entry: EntryView
    rule: RuleView
    instruments: list[InstrumentView]  # those open at this event that may be used for this entry
    instrument: InstrumentView | None
    warning: str  # what stands against that one, and that the entry's edition allows it; else empty
    not_for_this_entry: list[str]  # why others that are open may not be used for it
    choices: list[SettingChoiceView]  # what to dial, best first
    last_conditions: ConditionsView | None  # at this event, whoever took them
    last_conditions_at: datetime | None
    signed: VerdictView | None  # the sheet that is measured again, if any
    earlier_sheet_id: UUID | None  # the newest sheet of this entry, whatever its state


def start_view(session: Session, entry_id: UUID, instrument_id: UUID | None, repeats_id: UUID | None) -> StartView:
    entry = entries.entry_of(session, entry_id)
    rule = rule_today(session, entry)
    opened = instruments.open_instruments(session, entry.event_id)
    ready = [view for view in opened if may_be_used(view.hindrance, rule.edition.overdue_days_allowed)]
    chosen = next((view for view in ready if view.id == instrument_id), ready[0] if ready else None)
    choices: list[SettingChoiceView] = []
    if chosen is not None:
        instrument = instruments.instrument_of(session, chosen.id)
        choices = instruments.settings_for(instrument, entry.engine.cylinders, entry.engine.declared_displacement_cm3)
    last = session.scalars(
        select(Conditions)
        .join(Conditions.inspection)
        .join(Inspection.entry)
        .where(Entry.event_id == entry.event_id)
        .order_by(Conditions.taken_at.desc())
        .limit(1)
    ).first()
    earlier = session.scalars(
        select(Inspection).where(Inspection.entry_id == entry_id).order_by(Inspection.opened_at.desc()).limit(1)
    ).first()
    repeated = session.get(Inspection, repeats_id) if repeats_id else None
    return StartView(
        entry=entries.entry_view(entry),
        rule=regulations.rule_view(rule),
        instruments=ready,
        instrument=chosen,
        warning=allowed_under(chosen.hindrance, rule.edition) if chosen and chosen.hindrance else "",
        not_for_this_entry=[
            why_not_under(view.hindrance, rule.edition) for view in opened if view not in ready and view.hindrance
        ],
        choices=choices,
        last_conditions=views.conditions_view(last) if last else None,
        last_conditions_at=last.taken_at if last else None,
        signed=views.verdict_view(repeated.verdict) if repeated and repeated.verdict else None,
        earlier_sheet_id=earlier.id if earlier else None,
    )
