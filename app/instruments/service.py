"""The instrument book: what it holds and what others may ask of it. Verifying has its own module beside this one."""

import math
from decimal import Decimal
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session

from app import audit
from app.database import now
from app.errors import Invalid
from app.happenings import happened
from app.instruments import ledger
from app.instruments.causes import causes_of
from app.instruments.certificates import add_calibration
from app.instruments.ledger import (
    calibration_in_force,
    instrument_of,
    latest_verification,
    open_instruments,
    repeatability_of,
    view_of,
)
from app.instruments.ledger_views import as_it_happened, note_view, raised_doubt_view
from app.instruments.models import Instrument, ReferenceVolume
from app.instruments.schemas import (
    InstrumentIn,
    InstrumentPageView,
    InstrumentView,
    ReferenceVolumeIn,
    SettingChoiceView,
    SettingsFoundView,
)
from app.instruments.views import calibration_view
from app.intake import plain_json, show
from app.metrology.settings import explain_no_settings, find_settings
from app.officials.service import CurrentPerson

__all__ = [
    "add_calibration",
    "add_instrument",
    "add_reference_volume",
    "calibration_in_force",
    "instrument_of",
    "instrument_page",
    "instruments",
    "latest_verification",
    "open_instruments",
    "repeatability_of",
    "settings_for",
    "settings_found",
]
SHOWN_IN_HISTORY = 30


def instruments(session: Session) -> list[InstrumentView]:
    return ledger.instrument_views(session, ledger.all_instruments(session))


def instrument_page(session: Session, instrument_id: UUID) -> InstrumentPageView:
    row = instrument_of(session, instrument_id)
    checks = ledger.verifications_of(session, instrument_id)
    pooled = repeatability_of(session, instrument_id)
    about = [row.id, *(item.id for item in row.calibrations), *(item.id for item in row.reference_volumes)]
    about += [check.id for check in checks[:SHOWN_IN_HISTORY]]
    about += [item.id for item in row.notes]
    about += [item.withdrawal.id for item in row.calibrations if item.withdrawal is not None]
    about += [item.condemnation.id for item in row.reference_volumes if item.condemnation is not None]
    return InstrumentPageView(
        instrument=view_of(session, row),
        calibrations=[calibration_view(item) for item in reversed(row.calibrations)],
        verifications=ledger.verification_views(session, checks),
        notes=[note_view(item) for item in as_it_happened(row)],
        doubts=[raised_doubt_view(item) for item in causes_of(session, row.id)],
        repeatability=round(Decimal(repr(pooled[0])), 6) if pooled else None,
        repeatability_degrees_of_freedom=int(pooled[1]) if pooled else 0,
        happened=happened(session, about),
    )


# ---- what is entered --------------------------------------------------------------------------------------------


def add_instrument(session: Session, me: CurrentPerson, instrument_id: UUID, data: InstrumentIn) -> InstrumentView:
    kept = session.get(Instrument, instrument_id)
    if kept is not None:
        audit.same_values_or_conflict(kept, data.model_dump(by_alias=True))
        return view_of(session, kept)
    errors: dict[str, str] = {}
    if data.displacement_max <= data.displacement_min:
        errors["displacement_max"] = (
            f"The largest displacement must lie above the smallest, {show(data.displacement_min, 'volume')}."
        )
    if data.airflow_tolerance >= data.airflow_set_point:
        errors["airflow_tolerance"] = (
            "The tolerance is as large as the set-point itself. Write how far the flow may stray, such as 0.05 L/min."
        )
    for field, column in (("name", Instrument.name), ("serial", Instrument.serial)):
        if session.scalar(select(Instrument.id).where(column == getattr(data, field))) is not None:
            errors[field] = (
                f"“{getattr(data, field)}” is in the instrument book already. Open it there, or write another."
            )
    if errors:
        raise Invalid(errors)
    row = Instrument(id=instrument_id, created_at=now(session), **data.model_dump(by_alias=True))
    session.add(row)
    audit.record(session, me.full_name, "instrument registered", row.id, plain_json(data.model_dump(by_alias=True)))
    return view_of(session, row)


def add_reference_volume(
    session: Session, me: CurrentPerson, instrument_id: UUID, volume_id: UUID, data: ReferenceVolumeIn
) -> InstrumentView:
    instrument = instrument_of(session, instrument_id)
    given = {
        **data.model_dump(by_alias=True),
        "mark_high": data.mark_high if data.mark_high is not None else data.mark_low,
    }
    kept = session.get(ReferenceVolume, volume_id)
    if kept is not None:
        audit.same_values_or_conflict(kept, {**given, "instrument_id": instrument_id})
        return view_of(session, instrument)
    errors: dict[str, str] = {}
    if not data.mark_low <= given["mark_high"] <= data.mark_low + 2:
        errors["mark_high"] = (
            "The upper end of the mark must lie above the lower end, and close to it. Leave it empty for one number."
        )
    other = session.scalar(select(ReferenceVolume).where(ReferenceVolume.serial == data.serial))
    if other is not None:
        errors["serial"] = (
            f"Reference volume {data.serial} belongs to {other.instrument.name} already, and to that one only."
        )
    if data.mark_cylinders not in instrument.settable_cylinders:
        counts = ", ".join(str(count) for count in instrument.settable_cylinders)
        errors["mark_cylinders"] = (
            f"{instrument.name} cannot be set to {data.mark_cylinders} cylinders, only to {counts}."
        )
    low, high = instrument.displacement_min_cm3, instrument.displacement_max_cm3
    if not low <= data.mark_displacement <= high:
        errors["mark_displacement"] = (
            f"{instrument.name} can be set from {show(low, 'volume', me.units)} to {show(high, 'volume', me.units)}. "
            "Check the displacement written beside the mark."
        )
    if errors:
        raise Invalid(errors)
    row = ReferenceVolume(id=volume_id, instrument=instrument, created_at=now(session), **given)
    session.add(row)
    about = {**plain_json(given), "instrument": str(instrument_id)}
    audit.record(session, me.full_name, "reference volume added", row.id, about)
    return view_of(session, instrument)


# ---- what can be dialled ----------------------------------------------------------------------------------------


def settings_for(
    instrument: Instrument | InstrumentView, cylinders: int, displacement_cm3: Decimal | float
) -> list[SettingChoiceView]:
    """Best first; empty where this instrument can take none."""
    found = find_settings(*_asked_and_settable(instrument, cylinders, displacement_cm3))
    return [
        SettingChoiceView(
            cylinders=choice.cylinders, displacement_cm3=_exact(choice.displacement_cm3), sentence=choice.sentence
        )
        for choice in found
    ]


def settings_found(instrument: Instrument, cylinders: int, displacement_cm3: Decimal) -> SettingsFoundView:
    choices = settings_for(instrument, cylinders, displacement_cm3)
    asked = _asked_and_settable(instrument, cylinders, displacement_cm3)
    return SettingsFoundView(
        cylinders=cylinders,
        displacement_cm3=displacement_cm3,
        choices=choices,
        reason="" if choices else explain_no_settings(*asked),
    )


def _asked_and_settable(
    instrument: Instrument | InstrumentView, cylinders: int, displacement_cm3: Decimal | float
) -> tuple[int, float, list[int], float, float]:
    low, high = float(instrument.displacement_min_cm3), float(instrument.displacement_max_cm3)
    return cylinders, float(displacement_cm3), instrument.settable_cylinders, low, high


def _exact(value: float) -> Decimal:
    if not math.isfinite(value):
        raise ValueError("a setting must be finite")
    return round(Decimal(repr(value)), 6).normalize()
