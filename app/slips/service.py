"""A slip in three steps: number and record fixed with the verdict, the file made outside, the file kept."""

import json
from collections.abc import Collection, Mapping
from typing import Any
from uuid import UUID

import rfc8785
from sqlalchemy import func, select
from sqlalchemy.orm import Session, contains_eager, joinedload

from app import audit
from app.database import now, row_of
from app.doubts.sweeping import doubt_where_concerned
from app.entries import service as entries
from app.errors import Conflict, NotFound
from app.inspections import service as inspections
from app.inspections.models import Verdict
from app.inspections.schemas import AcknowledgementIn
from app.metrology.assessment import inputs_to_data
from app.officials.access import STAFF
from app.officials.models import SigningKey
from app.officials.service import CurrentPerson
from app.slips.content import compose, slip_number
from app.slips.findings import SignedSlip
from app.slips.models import Notice, Slip, SlipFile
from app.slips.record import slip_code
from app.slips.schemas import SlipView


def sign_off(
    session: Session,
    me: CurrentPerson,
    inspection_id: UUID,
    slip_id: UUID,
    acknowledgement: AcknowledgementIn,
    key_id: UUID,
    public_url: str,
) -> Slip:
    """Closes the sheet and fixes the slip's number and record, all in one transaction. A replay finds it done."""
    verdict = inspections.close_inspection(session, me, inspection_id, slip_id, acknowledgement)
    kept = session.get(Slip, slip_id)
    if kept is not None:
        return kept
    key = session.get(SigningKey, key_id)
    if key is None:
        raise NotFound("signing key")
    # The verdict's log entry stands, so this transaction holds the log's lock, and so did every cause's until it was
    # committed: a cause is seen here, or it comes later and its looking back finds this verdict. Never neither.
    doubt_where_concerned(session, verdict)
    # the log's lock, taken when the verdict was recorded, makes this the only transaction that numbers slips now
    number = (session.scalar(select(func.max(Slip.number))) or 0) + 1
    if session.scalar(select(Notice.id).where(Notice.code == slip_code(slip_id))) is not None:
        raise Conflict("A notice has this slip's code by chance. Load the page again and sign once more.")
    record = compose(session, verdict, slip_id, number, key, now(session), public_url)
    slip = Slip(
        id=slip_id,
        verdict=verdict,
        number=number,
        code=slip_code(slip_id),
        record=rfc8785.dumps(record).decode(),
        signing_key=key,
        numbered_at=now(session),
    )
    session.add(slip)
    audit.record(
        session, me.full_name, "slip numbered", inspection_id, {"slip": slip_number(number), "code": slip.code}
    )
    return slip


def keep_file(session: Session, who: str, slip_id: UUID, made: SignedSlip) -> Slip:
    """The first file made for a slip is the slip; a second one is dropped unseen."""
    slip = slip_of(session, slip_id)
    if slip.file is None:
        slip.file = SlipFile(slip_id=slip_id, pdf=made.pdf, sha256=made.sha256, signed_at=now(session))
        audit.record(
            session,
            who,
            "slip signed",
            slip.verdict.inspection_id,
            {
                "slip": slip_number(slip.number),
                "sha256": made.sha256,
                "certificate": slip.signing_key.certificate_serial,
            },
        )
    return slip


def slip_of(session: Session, slip_id: UUID) -> Slip:
    return row_of(session, Slip, slip_id, "slip")


def visible_slip(session: Session, me: CurrentPerson, slip_id: UUID) -> Slip:
    """A competitor sees the slips of their own entries; any other one does not exist for them."""
    slip = slip_of(session, slip_id)
    if not me.may(*STAFF):
        competitor = entries.competitor_of_person(session, me.id)
        if competitor is None or slip.verdict.inspection.entry.competitor_id != competitor.id:
            raise NotFound("slip")
    return slip


def slip_file(session: Session, me: CurrentPerson, slip_id: UUID) -> tuple[str, bytes]:
    slip = visible_slip(session, me, slip_id)
    if slip.file is None:
        raise Conflict("This slip is numbered but not yet signed. Its inspector signs it with the PIN.")
    return slip_number(slip.number), slip.file.pdf


def record_of(slip: Slip) -> Mapping[str, Any]:
    record: dict[str, Any] = json.loads(slip.record)
    return record


def slip_view(slip: Slip) -> SlipView:
    return SlipView(
        id=slip.id,
        inspection_id=slip.verdict.inspection_id,
        number=slip_number(slip.number),
        code=slip.code,
        signed=slip.file is not None,
        sha256=slip.file.sha256 if slip.file else "",
        numbered_at=slip.numbered_at,
        verify_url=record_of(slip)["slip"]["verify_url"],
    )


def slips_of_inspections(session: Session, inspection_ids: Collection[UUID]) -> dict[UUID, SlipView]:
    """By inspection; one whose slip is not numbered yet is not among them."""
    found = (
        select(Slip)
        .join(Slip.verdict)
        .where(Verdict.inspection_id.in_(inspection_ids))
        .options(contains_eager(Slip.verdict), joinedload(Slip.file))
    )
    return {slip.verdict.inspection_id: slip_view(slip) for slip in session.scalars(found)}


def frozen_inputs(session: Session, inspection_id: UUID) -> str:
    """What a verdict on the sheet as it stands would be frozen from, in its canonical form."""
    inspection = inspections.inspection_of(session, inspection_id)
    if inspection.verdict is not None:
        return inspection.verdict.inputs
    return rfc8785.dumps(inputs_to_data(inspections.inputs_of(session, inspection))).decode()


def slip_of_inspection(session: Session, inspection_id: UUID) -> SlipView | None:
    return slips_of_inspections(session, [inspection_id]).get(inspection_id)
