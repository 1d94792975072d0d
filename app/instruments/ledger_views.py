"""Rows of what became of an instrument to the views that leave the book."""

from typing import cast

from app.instruments.ledger_schemas import (
    DOUBT_KINDS,
    NOTE_KINDS,
    CertificateFileView,
    CondemnationView,
    NoteKind,
    NoteView,
    RaisedDoubtView,
    WithdrawalView,
)
from app.instruments.models import CertificateFile, Condemnation, DoubtCause, Instrument, InstrumentNote, Withdrawal


def file_view(row: CertificateFile | None) -> CertificateFileView | None:
    if row is None:
        return None
    return CertificateFileView(
        name=row.name,
        media_type=row.media_type,
        sha256=row.sha256,
        attached_by=row.attached_by.full_name,
        attached_at=row.attached_at,
    )


def withdrawal_view(row: Withdrawal | None) -> WithdrawalView | None:
    if row is None:
        return None
    return WithdrawalView(reason=row.reason, withdrawn_by=row.withdrawn_by.full_name, withdrawn_at=row.withdrawn_at)


def condemnation_view(row: Condemnation | None) -> CondemnationView | None:
    if row is None:
        return None
    return CondemnationView(
        reason=row.reason,
        last_sound_at=row.last_sound_at,
        condemned_by=row.condemned_by.full_name,
        condemned_at=row.condemned_at,
    )


def note_view(row: InstrumentNote) -> NoteView:
    kind = cast(NoteKind, row.kind)
    return NoteView(
        id=row.id,
        kind=kind,
        kind_words=NOTE_KINDS[kind],
        happened_at=row.happened_at,
        text=row.text,
        place=row.place,
        affects_indication=row.affects_indication,
        noted_by=row.noted_by.full_name,
        noted_at=row.noted_at,
    )


def raised_doubt_view(row: DoubtCause) -> RaisedDoubtView:
    return RaisedDoubtView(
        id=row.id, kind_words=DOUBT_KINDS[row.kind], since=row.since, until=row.until, reason=row.reason
    )


def as_it_happened(instrument: Instrument) -> list[InstrumentNote]:
    """Latest first; of one moment the one noted later."""
    return sorted(instrument.notes, key=lambda row: (row.happened_at, row.noted_at, row.id), reverse=True)


def place_of(instrument: Instrument) -> str:
    """Where it was last moved to, by when that happened and not by when it was noted."""
    return next((row.place for row in as_it_happened(instrument) if row.kind == "moved"), "")
