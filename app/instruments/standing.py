"""May this instrument be used now, and if not, why not and what then: the one place that answers.

After a miss only a calibration opens it again: made on the day of the miss or later, recorded after it, and not
withdrawn since. So it is with a fault that affects what it shows. What merely is overdue may be used as long as an
edition allows; what was never calibrated, or by withdrawn certificates only, is allowed by none.
"""

from collections.abc import Collection, Iterable, Sequence
from datetime import UTC, date, datetime
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from app.instruments.models import Calibration, Instrument, InstrumentNote, Verification
from app.instruments.schemas import HindranceView
from app.instruments.views import is_off_airflow
from app.instruments.wording import whole_sentence
from app.intake import day
from app.regulations.models import Edition, RaceClass
from app.regulations.service import edition_in_force

_CALIBRATE = "Take another instrument. An official has this one calibrated and records it here."


def may_be_used(hindrance: HindranceView | None, days_allowed: int = 0) -> bool:
    """`days_allowed`: how long after its due date an edition lets an instrument be used."""
    return hindrance is None or (hindrance.kind == "overdue" and hindrance.overdue_days <= days_allowed)


def hindrance_of(session: Session, instrument: Instrument, today: date) -> HindranceView | None:
    return hindrances(session, [instrument], today)[instrument.id]


def hindrances(session: Session, instruments: Sequence[Instrument], today: date) -> dict[UUID, HindranceView | None]:
    """What stands against each of these, None where nothing does; load the calibrations with them. Two queries."""
    ids = [instrument.id for instrument in instruments]
    misses = _misses(session, ids)
    notes = _notes(session, ids)
    return {one.id: _hindrance(one, misses.get(one.id, []), notes.get(one.id, []), today) for one in instruments}


def _misses(session: Session, ids: Collection[UUID]) -> dict[UUID, list[Verification]]:
    """Latest first. A verification off its airflow says nothing about the instrument."""
    query = (
        select(Verification)
        .where(Verification.instrument_id.in_(ids), Verification.accepted.is_(False))
        .options(joinedload(Verification.instrument), joinedload(Verification.event))
        .order_by(Verification.performed_at.desc(), Verification.id)
    )
    found: dict[UUID, list[Verification]] = {}
    for row in session.scalars(query):
        if not is_off_airflow(row):
            found.setdefault(row.instrument_id, []).append(row)
    return found


def _notes(session: Session, ids: Collection[UUID]) -> dict[UUID, list[InstrumentNote]]:
    """Faults and repairs that affect what it shows, latest first."""
    query = (
        select(InstrumentNote)
        .where(
            InstrumentNote.instrument_id.in_(ids),
            InstrumentNote.kind.in_(("fault", "repair")),
            InstrumentNote.affects_indication.is_(True),
        )
        .order_by(InstrumentNote.noted_at.desc(), InstrumentNote.id)
    )
    found: dict[UUID, list[InstrumentNote]] = {}
    for row in session.scalars(query):
        found.setdefault(row.instrument_id, []).append(row)
    return found


def _hindrance(
    instrument: Instrument, misses: Iterable[Verification], notes: Sequence[InstrumentNote], today: date
) -> HindranceView | None:
    valid = [row for row in instrument.calibrations if row.withdrawal is None]
    missed = next((row for row in misses if not _calibrated_after(valid, row.performed_at, row.performed_at)), None)
    if missed is not None:
        return _after_miss(instrument, missed)
    for note in notes:
        # a fault was found some time after it arose: only a calibration of that day or later has seen it mended
        if note.kind == "fault" and not _calibrated_after(valid, note.noted_at, note.noted_at):
            return _after_fault(instrument, note)
        if note.kind == "repair" and not _calibrated_since(valid, note):
            return _after_repair(instrument, note)
    return _by_calibration(instrument, instrument.calibration_on(today), today)


def _calibrated_after(valid: Iterable[Calibration], happened: datetime, recorded: datetime) -> bool:
    """By one made on that day or later, and recorded after it was known."""
    return any(row.calibrated_on >= _day(happened) and row.created_at >= recorded for row in valid)


def _calibrated_since(valid: Iterable[Calibration], repair: InstrumentNote) -> bool:
    """A repair may be written down late: a calibration of a later day follows it however the two were recorded."""
    later = any(row.calibrated_on > _day(repair.happened_at) for row in valid)
    return later or _calibrated_after(valid, repair.happened_at, repair.noted_at)


def _day(moment: datetime) -> date:
    return moment.astimezone(UTC).date()


def _after_miss(instrument: Instrument, miss: Verification) -> HindranceView:
    on = _day(miss.performed_at)
    return HindranceView(
        kind="missed",
        words="Closed until it is calibrated: it missed its mark",
        reason=f"{instrument.name} missed its mark on {day(on)} at {miss.event.name}. It stays closed until a "
        f"calibration made on {day(on)} or later is recorded; until then no further verification of it is taken.",
        what_to_do=f"{_CALIBRATE} The miss stays in its history.",
    )


def _after_fault(instrument: Instrument, note: InstrumentNote) -> HindranceView:
    return HindranceView(
        kind="fault",
        words="Out of use: a fault affects what it shows",
        reason=f"A fault of {instrument.name} that affects what it shows was noted on {day(_day(note.noted_at))}: "
        f"{whole_sentence(note.text)} It is out of use until a calibration made on that day or later is recorded.",
        what_to_do=_CALIBRATE,
    )


def _after_repair(instrument: Instrument, note: InstrumentNote) -> HindranceView:
    return HindranceView(
        kind="repair",
        words="Out of use: repaired and not calibrated since",
        reason=f"{instrument.name} was repaired on {day(_day(note.happened_at))} so that what it shows may have "
        f"changed: {whole_sentence(note.text)} It is out of use until a calibration made after that is recorded.",
        what_to_do=_CALIBRATE,
    )


def _by_calibration(instrument: Instrument, calibration: Calibration | None, today: date) -> HindranceView | None:
    if calibration is None:
        what = "Every certificate of it was withdrawn" if instrument.calibrations else "It was never calibrated"
        return HindranceView(
            kind="uncalibrated",
            words="Not calibrated",
            reason=f"{instrument.name} has no calibration in force. {what}, so nobody can say how truly it reads.",
            what_to_do=_CALIBRATE,
        )
    over = (today - calibration.due_on).days
    if over <= 0:
        return None
    return HindranceView(
        kind="overdue",
        words=f"Calibration overdue by {days_words(over)}",
        reason=f"The calibration of {instrument.name} was due on {day(calibration.due_on)}, {days_words(over)} ago.",
        what_to_do=_CALIBRATE,
        overdue_days=over,
    )


def days_words(count: int) -> str:
    return "1 day" if count == 1 else f"{count} days"


# ---- what the rules allow ---------------------------------------------------------------------------------------


def days_allowed(session: Session, series_ids: Collection[UUID], today: date) -> dict[UUID, int]:
    """How long overdue an instrument may open a shed of each series: what the most lenient of its classes allows.

    The series' classes and not those entered, for entries still come in; a sheet then asks the edition of its own
    entry. Two queries.
    """
    found = dict.fromkeys(series_ids, 0)
    query = select(RaceClass).where(RaceClass.series_id.in_(series_ids)).options(selectinload(RaceClass.editions))
    for race_class in session.scalars(query):
        edition = edition_in_force(race_class, today)
        if edition is not None:
            found[race_class.series_id] = max(found[race_class.series_id], edition.overdue_days_allowed)
    return found


def why_not(hindrance: HindranceView, allowed: int) -> str:
    """The sentence, and where an edition might have allowed it, what those of the series do allow."""
    if hindrance.kind != "overdue":
        return hindrance.reason
    most = f"allow {days_words(allowed)} at most" if allowed else "allow none that is overdue"
    return f"{hindrance.reason} The rules of this series {most}, so it cannot be used."


def why_not_under(hindrance: HindranceView, edition: Edition) -> str:
    """The same for a sheet, which its own edition allows or not."""
    if hindrance.kind != "overdue":
        return f"{hindrance.reason} {hindrance.what_to_do}"
    return f"{hindrance.reason} {_edition_allows(edition)}, so it cannot be used for this entry. {hindrance.what_to_do}"


def allowed_under(hindrance: HindranceView, edition: Edition) -> str:
    """What is said where an overdue instrument measures under an edition that allows it."""
    return f"{hindrance.reason} {_edition_allows(edition)}; the slip says so."


def _edition_allows(edition: Edition) -> str:
    allowed = edition.overdue_days_allowed
    most = f"allows {days_words(allowed)} at most" if allowed else "allows none that is overdue"
    return f"Edition {edition.number} of the rules of class {edition.race_class.code} {most}"


def allowed_all_the_same(hindrance: HindranceView, allowed: int) -> str:
    """What is said where an overdue instrument may be used."""
    return (
        f"{hindrance.reason} The rules allow it up to {days_words(allowed)} after that, in the classes that say so; "
        "every slip says it."
    )
