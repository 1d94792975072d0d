from typing import Annotated
from uuid import UUID

from fastapi import APIRouter, Depends, Request, Response

from app.database import Database
from app.errors import Invalid, Unavailable
from app.officials import api as officials
from app.officials.access import Anyone, Inspector, MaybePerson
from app.officials.api import Keys, UnlockedKey
from app.slips import service, standing
from app.slips.content import slip_number
from app.slips.findings import BUT, NOT_RELEASED, STORED, Finding, SlipVerification
from app.slips.opinion import opinion_on
from app.slips.press import Press
from app.slips.record import NOTICE_FORMAT
from app.slips.schemas import FindingView, SignatureIn, SignOffIn, SlipStanding, SlipView, VerificationView
from app.web import Db

router = APIRouter(prefix="/api", tags=["slips"])
LARGEST_UPLOAD = 12 * 1024 * 1024


def _press(request: Request) -> Press:
    press: Press = request.app.state.press
    return press


def _verifier(request: Request) -> Press:
    verifier: Press = request.app.state.verifier
    return verifier


ThePress = Annotated[Press, Depends(_press)]
TheVerifier = Annotated[Press, Depends(_verifier)]


@router.put("/inspections/{inspection_id}/sign-off/{slip_id}")
def put_sign_off(
    request: Request,
    inspection_id: UUID,
    slip_id: UUID,
    data: SignOffIn,
    db: Db,
    me: Inspector,
    keys: Keys,
    press: ThePress,
) -> SlipView:
    """Closes the sheet, numbers its slip and signs it. Cut off half way, the number stands and waits for its file."""
    key = officials.unlock_signing_key(db, me, data.pin, keys)
    with db.read() as session:
        frozen = service.frozen_inputs(session, inspection_id)
    opinion_on(frozen)  # drawn now and remembered: not while the transaction holds the database
    with db.write() as session:
        public_url = request.app.state.settings.public_url
        slip = service.sign_off(session, me, inspection_id, slip_id, data.acknowledgement(), key.id, public_url)
        view = service.slip_view(slip)
    return view if view.signed else _finish(db, me.full_name, slip_id, key, keys, press)


@router.put("/slips/{slip_id}/signature")
def put_signature(slip_id: UUID, data: SignatureIn, db: Db, me: Inspector, keys: Keys, press: ThePress) -> SlipView:
    """Finishes a slip that was numbered but whose signing was cut off."""
    with db.read() as session:
        slip = service.slip_of(session, slip_id)
        view, key_id = service.slip_view(slip), slip.signing_key_id
    if view.signed:
        return view
    key = officials.unlock_signing_key(db, me, data.pin, keys, key_id)
    return _finish(db, me.full_name, slip_id, key, keys, press)


def _finish(db: Database, who: str, slip_id: UUID, key: UnlockedKey, keys: Keys, press: Press) -> SlipView:
    with db.read() as session:
        record = service.record_of(service.slip_of(session, slip_id))
    made = press.press_slip(record, key.private_pem, key.certificate_pem, keys.authority_certificate_pem)
    with db.write() as session:
        slip = service.keep_file(session, who, slip_id, made)
        return service.slip_view(slip)


@router.get("/slips/{slip_id}")
def read_slip(slip_id: UUID, db: Db, me: Anyone) -> SlipView:
    with db.read() as session:
        return service.slip_view(service.visible_slip(session, me, slip_id))


@router.get("/slips/{slip_id}/file", response_class=Response)
def read_slip_file(slip_id: UUID, db: Db, me: Anyone) -> Response:
    with db.read() as session:
        number, pdf = service.slip_file(session, me, slip_id)
    return handed_out(pdf, f"{number}.pdf", "application/pdf")


@router.get("/slips/{slip_id}/record", response_class=Response)
def read_slip_record(slip_id: UUID, db: Db, me: Anyone) -> Response:
    """The canonical record, byte for byte as it is attached to the slip."""
    with db.read() as session:
        slip = service.visible_slip(session, me, slip_id)
        body, number = slip.record, slip_number(slip.number)
    return handed_out(body, f"{number}.json", "application/json")


def handed_out(content: bytes | str, name: str, media_type: str) -> Response:
    """A document of this logbook, to be kept and not shown in the browser."""
    return Response(content, media_type=media_type, headers={"Content-Disposition": f'attachment; filename="{name}"'})


@router.get("/verify/{code}")
def read_standing(code: str, db: Db, _who: MaybePerson) -> SlipStanding:
    with db.read() as session:
        return standing.standing(session, code)


async def _uploaded(request: Request) -> bytes:
    """The body as it comes, counted while it comes."""
    body = bytearray()
    async for part in request.stream():
        body += part
        if len(body) > LARGEST_UPLOAD:
            raise Invalid({"file": "This file is too large to be a slip. Choose the PDF that was handed over."})
    return bytes(body)


@router.post("/verify")
def verify_file(
    body: Annotated[bytes, Depends(_uploaded)], db: Db, keys: Keys, verifier: TheVerifier, _who: MaybePerson
) -> VerificationView:
    """Send the PDF of the slip or notice as the body."""
    return verify_bytes(body, db, keys, verifier)


def verify_bytes(pdf: bytes, db: Database, keys: Keys, verifier: Press) -> VerificationView:
    """Genuine is only a file that this logbook released: it keeps every one, byte for byte."""
    if not pdf:
        raise Invalid({"file": "No file came. Choose the slip's PDF and send it again."})
    if len(pdf) > LARGEST_UPLOAD:
        raise Invalid({"file": "This file is too large to be a slip. Choose the PDF that was handed over."})
    try:
        found: SlipVerification = verifier.verify_slip(pdf, keys.authority_certificate_pem)
    except Unavailable as busy:
        raise Unavailable(
            "The file could not be looked at: too many came at once, or it is not built like a slip. "
            "Try again in a minute."
        ) from busy
    with db.read() as session:
        number, stands = standing.kept_file(session, found.sha256)
    kind = "notice" if found.record is not None and found.record["format"] == NOTICE_FORMAT else "slip"
    findings = list(found.findings)
    if found.genuine:
        words = "Yes, byte for byte." if number else f"No: no {kind} that was handed out here has these bytes."
        findings.append(Finding(STORED, bool(number), words))
    is_strange = found.genuine and not number
    summary = NOT_RELEASED if is_strange else f"{found.sentence} {BUT.get(stands.state, '')}".rstrip()
    return VerificationView(
        genuine=found.genuine and not is_strange,
        summary=summary,
        kind=kind,
        state=stands.state,
        standing=stands.standing,
        notices=stands.notices,
        findings=[FindingView.model_validate(finding) for finding in findings],
        sha256=found.sha256,
        number=number,
        in_this_logbook=number != "",
    )
