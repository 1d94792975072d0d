"""Which causes put a sheet in doubt: the one rule, for a verdict that is signed and for a sheet that still is not."""

from collections.abc import Collection
from datetime import datetime
from uuid import UUID

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session

from app.inspections.assembly import calibrations_behind, measured_between
from app.inspections.models import Inspection
from app.instruments.models import DoubtCause, Verification


def causes_concerning(
    session: Session,
    instrument_id: UUID,
    calibration_ids: Collection[UUID],
    measured_from: datetime,
    measured_until: datetime,
) -> list[DoubtCause]:
    """Those that name the certificate it rests on, or a stretch of time in which a reading of it was taken.

    Both ends count: a reading at the very moment of the last good verification may have been taken after it. A stretch
    ends with what put it in doubt only for what was signed by then: a sheet that was open goes on being read on an
    instrument that is closed, and is in doubt until that was seen to read right again.
    """
    seen_right_since = (
        select(Verification.id)
        .where(
            Verification.instrument_id == instrument_id,
            Verification.accepted.is_(True),
            Verification.performed_at >= DoubtCause.until,
            Verification.performed_at <= measured_from,
        )
        .exists()
    )
    measured = and_(
        DoubtCause.calibration_id.is_(None),
        DoubtCause.instrument_id == instrument_id,
        or_(DoubtCause.until >= measured_from, ~seen_right_since),
        or_(DoubtCause.since.is_(None), DoubtCause.since <= measured_until),
    )
    rests = DoubtCause.calibration_id.in_(calibration_ids)
    return list(
        session.scalars(select(DoubtCause).where(or_(measured, rests)).order_by(DoubtCause.raised_at, DoubtCause.id))
    )


def doubtful_if_signed(session: Session, inspection: Inspection) -> list[str]:
    """Why a verdict on this sheet as it stands would be in doubt from its first moment; empty where it would not."""
    if inspection.verdict is not None or not inspection.readings:
        return []
    causes = causes_concerning(
        session, inspection.instrument_id, calibrations_behind(inspection), *measured_between(inspection)
    )
    return [cause.reason for cause in causes]
