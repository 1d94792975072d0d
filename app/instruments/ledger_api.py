"""Operations on what becomes of an instrument: certificates and their files, damage, faults, repairs, moves."""

import re
from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Query, Request, Response

from app.instruments import certificates, upkeep
from app.instruments.ledger_schemas import CondemnationIn, NoteIn, WithdrawalIn
from app.instruments.looking import LookBack
from app.instruments.schemas import InstrumentView
from app.officials.access import Official, Staff, requires
from app.officials.service import CurrentPerson
from app.web import Db

router = APIRouter(prefix="/api", tags=["instruments"])
AtTheBench = Annotated[CurrentPerson, Depends(requires("official", "inspector"))]
_CALIBRATION = "/instruments/{instrument_id}/calibrations/{calibration_id}"
_BINARY = {
    "requestBody": {
        "required": True,
        "content": {kind: {"schema": {"type": "string", "format": "binary"}} for kind in certificates.FILE_ENDINGS},
    }
}


async def _sent(request: Request) -> bytes:
    """The body as it comes, counted while it comes."""
    body = bytearray()
    async for part in request.stream():
        body += part
        if len(body) > certificates.LARGEST_FILE:
            break  # what it is told is the same as for one byte too many
    return bytes(body)


@router.put(f"{_CALIBRATION}/file", openapi_extra=_BINARY)
def put_certificate_file(
    instrument_id: UUID,
    calibration_id: UUID,
    db: Db,
    me: Official,
    body: Annotated[bytes, Depends(_sent)],
    name: Annotated[str, Query(max_length=400, description="as it was called where it came from")] = "",
) -> InstrumentView:
    """A PDF, PNG or JPEG, kept byte for byte. The same bytes again are the same call; others are refused."""
    return attach(instrument_id, calibration_id, name, body, db, me)


def attach(
    instrument_id: UUID, calibration_id: UUID, name: str, content: bytes, db: Db, me: CurrentPerson
) -> InstrumentView:
    with db.write() as session:
        return certificates.attach_file(session, me, instrument_id, calibration_id, name, content)


@router.get(f"{_CALIBRATION}/file")
def read_certificate_file(instrument_id: UUID, calibration_id: UUID, db: Db, me: Staff) -> Response:
    with db.read() as session:
        row = certificates.file_of(session, instrument_id, calibration_id)
        number = re.sub(r"[^A-Za-z0-9-]+", "-", row.calibration.certificate).strip("-") or "certificate"
        content, media_type, digest = row.content, row.media_type, row.sha256
    name = f"{number}.{certificates.FILE_ENDINGS[media_type]}"
    headers = {"Content-Disposition": f'attachment; filename="{name}"', "ETag": f'"{digest}"'}
    return Response(content, media_type=media_type, headers=headers)


@router.put(f"{_CALIBRATION}/withdrawal/{{withdrawal_id}}")
def put_withdrawal(
    instrument_id: UUID,
    calibration_id: UUID,
    withdrawal_id: UUID,
    data: WithdrawalIn,
    db: Db,
    me: Official,
    look_back: LookBack,
) -> InstrumentView:
    with db.write() as session:
        view = certificates.withdraw(session, me, instrument_id, calibration_id, withdrawal_id, data)
    look_back()
    return view


@router.put("/instruments/{instrument_id}/reference-volumes/{volume_id}/condemnation/{condemnation_id}")
def put_condemnation(
    instrument_id: UUID,
    volume_id: UUID,
    condemnation_id: UUID,
    data: CondemnationIn,
    db: Db,
    me: AtTheBench,
    look_back: LookBack,
) -> InstrumentView:
    with db.write() as session:
        view = upkeep.condemn(session, me, instrument_id, volume_id, condemnation_id, data)
    look_back()
    return view


@router.put("/instruments/{instrument_id}/notes/{note_id}")
def put_note(
    instrument_id: UUID, note_id: UUID, data: NoteIn, db: Db, me: AtTheBench, look_back: LookBack
) -> InstrumentView:
    with db.write() as session:
        view = upkeep.add_note(session, me, instrument_id, note_id, data)
    look_back()
    return view
