"""Calibration certificates: recorded with their values, their file kept byte for byte, withdrawn with a reason."""

import hashlib
from decimal import Decimal
from uuid import UUID

from sqlalchemy import select
from sqlalchemy.orm import Session, undefer

from app import audit
from app.database import now, row_of
from app.errors import Conflict, Invalid, NotFound
from app.instruments import ledger
from app.instruments.bearing_out import greatest_of
from app.instruments.causes import raise_for_withdrawn
from app.instruments.ledger_schemas import WithdrawalIn
from app.instruments.models import Calibration, CertificateFile, Withdrawal
from app.instruments.schemas import CalibrationIn, InstrumentView
from app.intake import day, plain_json
from app.officials.service import CurrentPerson

LARGEST_FILE = 8 * 1024 * 1024
NEEDED = "is needed where the certificate gives no table of values. Fill it in, or copy its values below."
# what a file begins with tells what it is; its name may say anything
_BEGINNINGS = ((b"%PDF-", "application/pdf"), (b"\x89PNG\r\n\x1a\n", "image/png"), (b"\xff\xd8\xff", "image/jpeg"))
FILE_ENDINGS = {"application/pdf": "pdf", "image/png": "png", "image/jpeg": "jpg"}


def calibration_of(session: Session, instrument_id: UUID, calibration_id: UUID) -> Calibration:
    row = row_of(session, Calibration, calibration_id, "calibration")
    if row.instrument_id != instrument_id:
        raise NotFound("calibration")
    return row


def add_calibration(
    session: Session, me: CurrentPerson, instrument_id: UUID, calibration_id: UUID, data: CalibrationIn
) -> InstrumentView:
    instrument = ledger.instrument_of(session, instrument_id)
    figures, errors = _figures(data)
    given = {**data.model_dump(by_alias=True), **figures, "points": plain_json(data.model_dump(mode="json")["points"])}
    kept = session.get(Calibration, calibration_id)
    if kept is not None:
        audit.same_values_or_conflict(kept, {**given, "instrument_id": instrument_id})
        return ledger.view_of(session, instrument)
    today = now(session).date()
    if data.calibrated_on > today:
        errors["calibrated_on"] = f"The calibration date lies in the future; today is {day(today)}. Check the year."
    if data.due_on <= data.calibrated_on:
        errors["due_on"] = "The due date lies before the calibration date. Check both on the certificate."
    if errors:
        raise Invalid(errors)
    row = Calibration(id=calibration_id, instrument=instrument, created_at=now(session), **given)
    session.add(row)
    about = plain_json({**data.model_dump(mode="json"), **figures, "instrument": str(instrument_id)})
    audit.record(session, me.full_name, "calibration recorded", row.id, about)
    return ledger.view_of(session, instrument)


def _figures(data: CalibrationIn) -> tuple[dict[str, Decimal | None], dict[str, str]]:
    """Deviation and U of the whole calibration, and what keeps them from being known."""
    typed = {"deviation": data.deviation, "expanded_uncertainty": data.expanded_uncertainty}
    if data.points:
        found = greatest_of(data.points)
        figures: dict[str, Decimal | None] = {
            "deviation": found.deviation,
            "expanded_uncertainty": found.expanded_uncertainty,
        }
        errors = {
            name: f"The values below say {figures[name]:f}. Leave this empty, or leave the values out."
            for name, value in typed.items()
            if value is not None and value != figures[name]
        }
        return figures, errors
    labels = {"deviation": "Deviation found", "expanded_uncertainty": "Expanded uncertainty"}
    return typed, {name: f"{labels[name]} {NEEDED}" for name, value in typed.items() if value is None}


# ---- the file ---------------------------------------------------------------------------------------------------


def attach_file(
    session: Session, me: CurrentPerson, instrument_id: UUID, calibration_id: UUID, name: str, content: bytes
) -> InstrumentView:
    """The same bytes again are a replay, whatever the name; others are refused."""
    calibration = calibration_of(session, instrument_id, calibration_id)
    media_type, digest = media_type_of(content), hashlib.sha256(content).hexdigest()
    kept = session.get(CertificateFile, calibration_id)
    if kept is not None:
        if kept.sha256 != digest:
            raise Conflict(
                f"Another file is attached to certificate {calibration.certificate} already, and stays. Record a new "
                "calibration where the laboratory issued a new certificate."
            )
        return ledger.view_of(session, calibration.instrument)
    session.add(
        CertificateFile(
            calibration=calibration,
            name=shown_name(name) or f"certificate.{FILE_ENDINGS[media_type]}",
            media_type=media_type,
            content=content,
            sha256=digest,
            attached_by_id=me.id,
            attached_at=now(session),
        )
    )
    about = {"certificate": calibration.certificate, "sha256": digest, "bytes": str(len(content))}
    audit.record(session, me.full_name, "certificate attached", calibration_id, about)
    return ledger.view_of(session, calibration.instrument)


def media_type_of(content: bytes) -> str:
    """By what it begins with; Invalid where that is none of the three kinds."""
    if not content:
        raise Invalid({"file": "No file came. Choose the certificate and send it again."})
    if len(content) > LARGEST_FILE:
        raise Invalid({"file": f"This file is larger than {LARGEST_FILE // 1024 // 1024} MiB. Scan it again smaller."})
    found = next((media_type for start, media_type in _BEGINNINGS if content.startswith(start)), None)
    if found is None:
        raise Invalid({"file": "This file is neither a PDF nor a PNG or JPEG picture. Save the certificate as a PDF."})
    return found


def shown_name(given: str) -> str:
    """The last part of the path a browser may send, without what cannot be written, and not too long."""
    last = given.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(letter for letter in last if letter.isprintable()).strip()[-120:]


def file_of(session: Session, instrument_id: UUID, calibration_id: UUID) -> CertificateFile:
    calibration_of(session, instrument_id, calibration_id)
    query = select(CertificateFile).where(CertificateFile.calibration_id == calibration_id)
    row = session.scalars(query.options(undefer(CertificateFile.content))).first()
    if row is None:
        raise NotFound("certificate file")
    return row


# ---- withdrawn --------------------------------------------------------------------------------------------------


def withdraw(
    session: Session,
    me: CurrentPerson,
    instrument_id: UUID,
    calibration_id: UUID,
    withdrawal_id: UUID,
    data: WithdrawalIn,
) -> InstrumentView:
    """Not in force from here on, and every verdict that rests on it is in doubt."""
    calibration = calibration_of(session, instrument_id, calibration_id)
    kept = session.get(Withdrawal, withdrawal_id)
    if kept is not None:
        if kept.calibration_id != calibration_id:
            raise Conflict
        audit.same_or_conflict(kept.digest, data)
        return ledger.view_of(session, calibration.instrument)
    if calibration.withdrawal is not None:
        raise Conflict(f"Certificate {calibration.certificate} is withdrawn already. The first reason stays.")
    row = Withdrawal(
        id=withdrawal_id,
        calibration=calibration,
        reason=data.reason,
        withdrawn_by_id=me.id,
        withdrawn_at=now(session),
        digest=audit.digest_of(data),
    )
    session.add(row)
    about = {"certificate": calibration.certificate, "calibration": str(calibration_id), "reason": data.reason}
    audit.record(session, me.full_name, "certificate withdrawn", withdrawal_id, about)
    raise_for_withdrawn(session, me, row)
    return ledger.view_of(session, calibration.instrument)
