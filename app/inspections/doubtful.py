"""Which causes put a sheet in doubt: the one rule, for a verdict that is signed and for a sheet that still is not."""

from datetime import datetime
from uuid import UUID

from sqlalchemy import and_, or_, select
from sqlalchemy.orm import Session

from app.inspections.assembly import calibration_of, measured_between
from app.inspections.models import Inspection
from app.instruments.models import DoubtCause


def causes_concerning(
    session: Session,
    instrument_id: UUID,
    calibration_id: UUID | None,
    measured_from: datetime,
    measured_until: datetime,
) -> list[DoubtCause]:
    """Those that name the certificate it rests on, or a stretch of time in which a reading of it was taken.

    Both ends count: a reading at the very moment of the last good verification may have been taken after it.
    """
    measured = and_(
        DoubtCause.calibration_id.is_(None),
        DoubtCause.instrument_id == instrument_id,
        DoubtCause.until >= measured_from,
        or_(DoubtCause.since.is_(None), DoubtCause.since <= measured_until),
    )
    rests = and_(DoubtCause.calibration_id.is_not(None), DoubtCause.calibration_id == calibration_id)
    return list(
        session.scalars(select(DoubtCause).where(or_(measured, rests)).order_by(DoubtCause.raised_at, DoubtCause.id))
    )


def doubtful_if_signed(session: Session, inspection: Inspection) -> list[str]:
    """Why a verdict on this sheet as it stands would be in doubt from its first moment; empty where it would not."""
    if inspection.verdict is not None or not inspection.readings:
        return []
    calibration = calibration_of(inspection)
    causes = causes_concerning(
        session, inspection.instrument_id, calibration.id if calibration else None, *measured_between(inspection)
    )
    return [cause.reason for cause in causes]
