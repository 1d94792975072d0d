import io
from datetime import datetime
from typing import Any
from uuid import UUID, uuid4

import segno
from fastapi import APIRouter, Request, Response
from fastapi.responses import PlainTextResponse
from starlette.datastructures import UploadFile

from app.doubts import service as doubts
from app.doubts.schemas import StandingView
from app.errors import Invalid, LogbookError
from app.inspections import api as inspections
from app.inspections.schemas import InspectionView
from app.officials import api as officials
from app.officials import authority
from app.officials.access import Anyone, Inspector, MaybePerson, Staff
from app.officials.api import Keys
from app.parsing import parse
from app.slips import api, service, wording
from app.slips.annex import engine_probability
from app.slips.api import ThePress, TheVerifier
from app.slips.opinion import opinion_on
from app.slips.record import normalise_code
from app.slips.schemas import SignatureIn, SignOffIn
from app.slips.standing import standing_of_slip
from app.web import Db, PostedForm, notices, page, see_other

router = APIRouter(include_in_schema=False)
notices(
    {
        "signed": "Signed and kept. Hand over the slip.",
        "not-signed": "The record is safe, the slip still waits for its signature.",
    }
)


@router.get("/inspections/{inspection_id}/verdict")
def verdict_page(request: Request, inspection_id: UUID, db: Db, me: Staff) -> Response:
    """Verdict and sign-off on one page: both sides see what they sign."""
    view = inspections.read_inspection(inspection_id, db, me)
    return _verdict_page(request, view, db, me, uuid4())


def _verdict_page(request: Request, view: InspectionView, db: Db, me: Staff, slip_id: UUID, **again: Any) -> Response:
    has_pin = officials.read_me(db, me).has_pin
    slip = _slip_of(db, view.id)
    return page(
        request,
        "slips/verdict_page.html",
        view,
        slip_id=slip_id,
        slip=slip,
        has_pin=has_pin,
        certainty=_certainty(db, view),
        standing=_standing(db, view),
        **again,
    )


def _standing(db: Db, view: InspectionView) -> StandingView | None:
    """How the signed result stands today."""
    with db.read() as session:
        return doubts.standing_of_sheet(session, view.id)


def _certainty(db: Db, view: InspectionView) -> dict[str, Any]:
    """What stands beside the deciding figure: the engine's probability, whose risk, whether a simulation bears it out.

    Of a signed sheet what its slip keeps; before that the sheet is simulated as it stands, once for each state of it.
    """
    result = view.assessment
    if not result:
        return {}
    frozen, opinion = "", None
    with db.read() as session:
        kept = service.slip_of_inspection(session, view.id)
        if kept is not None:
            opinion = service.record_of(service.slip_of(session, kept.id)).get("second_opinion")
        elif not view.missing:  # a sheet still being filled is simulated once it is whole
            frozen = service.frozen_inputs(session, view.id)
    if frozen:
        opinion = opinion_on(frozen)
    return {
        "engine": engine_probability(result),
        "risk": wording.whose_risk(result, _rule(view)),
        "covering": wording.covering(_rule(view)),
        "validated": wording.validated(opinion) if frozen or opinion is not None else "",
    }


def _rule(view: InspectionView) -> dict[str, Any]:
    rule: dict[str, Any] = view.rule.model_dump()
    return rule


def _slip_of(db: Db, inspection_id: UUID) -> Any:
    with db.read() as session:
        return service.slip_of_inspection(session, inspection_id)


@router.post("/inspections/{inspection_id}/sign-off/{slip_id}")
def sign_off(
    request: Request,
    inspection_id: UUID,
    slip_id: UUID,
    form: PostedForm,
    db: Db,
    me: Inspector,
    keys: Keys,
    press: ThePress,
) -> Response:
    try:
        api.put_sign_off(request, inspection_id, slip_id, parse(SignOffIn, form), db, me, keys, press)
    except LogbookError as invalid:
        form.pop("pin", None)
        slip = _slip_of(db, inspection_id)
        if slip is not None and slip.id == slip_id:  # the verdict stands; only the file is missing
            return see_other(request, "slip_page", slip_id=slip_id, done="not-signed")
        view = inspections.read_inspection(inspection_id, db, me)
        return _verdict_page(request, view, db, me, slip_id, invalid=invalid, form=form)
    return see_other(request, "slip_page", slip_id=slip_id, done="signed")


@router.get("/slips/{slip_id}.pdf")
def slip_pdf(slip_id: UUID, db: Db, me: Anyone) -> Response:
    return api.read_slip_file(slip_id, db, me)


@router.get("/slips/{slip_id}")
def slip_page(request: Request, slip_id: UUID, db: Db, me: Anyone) -> Response:
    return _slip_page(request, slip_id, db, me)


def _slip_page(request: Request, slip_id: UUID, db: Db, me: Anyone, invalid: LogbookError | None = None) -> Response:
    view = api.read_slip(slip_id, db, me)
    with db.read() as session:
        slip = service.slip_of(session, slip_id)
        record, event_id = service.record_of(slip), slip.verdict.inspection.entry.event_id
        stands = standing_of_slip(session, slip)
    protest_until = datetime.fromisoformat(record["protest_until"]) if record["protest_until"] else None
    waiting = inspections.read_waiting_list(event_id, db, me).entries if me.may("inspector") else []
    return page(
        request,
        "slips/slip_page.html",
        view,
        record=record,
        stands=stands,
        invalid=invalid,
        protest_until=protest_until,
        event_id=event_id,
        next_car=next((line.entry for line in waiting if line.state == "waiting"), None),
    )


@router.post("/slips/{slip_id}/signature")
def finish_slip(
    request: Request, slip_id: UUID, form: PostedForm, db: Db, me: Inspector, keys: Keys, press: ThePress
) -> Response:
    try:
        api.put_signature(slip_id, parse(SignatureIn, form), db, me, keys, press)
    except LogbookError as invalid:
        return _slip_page(request, slip_id, db, me, invalid)
    return see_other(request, "slip_page", slip_id=slip_id, done="signed")


@router.get("/slips/{slip_id}/code.svg")
def slip_qr(slip_id: UUID, db: Db, me: Anyone) -> Response:
    view = api.read_slip(slip_id, db, me)
    drawn = io.BytesIO()
    segno.make(view.verify_url, error="m").save(drawn, kind="svg", scale=6, border=2, xmldecl=False, svgns=True)
    return Response(drawn.getvalue(), media_type="image/svg+xml")


@router.get("/verify")
def verify_page(request: Request, _who: MaybePerson, keys: Keys) -> Response:
    return page(request, "slips/verify_page.html", fingerprint=authority.fingerprint(keys.authority_certificate_pem))


@router.post("/verify")
def verify_upload(
    request: Request, form: PostedForm, db: Db, keys: Keys, verifier: TheVerifier, _who: MaybePerson
) -> Response:
    """A file is looked at; with a code alone the logbook says whether it knows the slip."""
    fingerprint = authority.fingerprint(keys.authority_certificate_pem)
    code = form.get("code", "")
    upload = form.get("file")
    try:
        if isinstance(upload, UploadFile) and upload.size:
            found = api.verify_bytes(upload.file.read(), db, keys, verifier)
            return page(request, "slips/verified_page.html", found, fingerprint=fingerprint, file_name=upload.filename)
        if isinstance(code, str) and normalise_code(code):
            return see_other(request, "standing_page", code=normalise_code(code)[:40])
        raise Invalid({"file": "Choose the slip's PDF, or type the code printed on it."})
    except LogbookError as invalid:
        return page(request, "slips/verify_page.html", invalid=invalid, form={"code": code}, fingerprint=fingerprint)


@router.get("/verify/{code}")
def standing_page(request: Request, code: str, db: Db, who: MaybePerson) -> Response:
    view = api.read_standing(code, db, who)
    return page(request, "slips/standing_page.html", view, status=200 if view.known else 404)


@router.get("/series-authority.pem")
def series_authority(keys: Keys, _who: MaybePerson) -> Response:
    return PlainTextResponse(
        keys.authority_certificate_pem,
        media_type="application/x-pem-file",
        headers={"Content-Disposition": 'attachment; filename="series-authority.pem"'},
    )
