from datetime import datetime
from uuid import UUID

from sqlalchemy import ForeignKey, ForeignKeyConstraint, String, Text, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, UtcDateTime
from app.inspections.models import Inspection, Verdict
from app.instruments.models import DoubtCause
from app.officials.models import Person


class DoubtedVerdict(Base):
    """One verdict that one cause puts in doubt; the two are the key. The verdict and its slip stay as they are."""

    __tablename__ = "doubted_verdict"

    cause_id: Mapped[UUID] = mapped_column(ForeignKey("doubt_cause.id"), primary_key=True)
    verdict_id: Mapped[UUID] = mapped_column(ForeignKey("verdict.id"), primary_key=True, index=True)
    found_at: Mapped[datetime] = mapped_column(UtcDateTime)

    cause: Mapped[DoubtCause] = relationship()
    verdict: Mapped[Verdict] = relationship()
    resolution: Mapped["DoubtResolution | None"] = relationship(back_populates="doubted")


class LookBack(Base):
    """Written when all verdicts of a cause that stood then were found; until then the looking back goes on."""

    __tablename__ = "look_back"

    cause_id: Mapped[UUID] = mapped_column(ForeignKey("doubt_cause.id"), primary_key=True)
    found: Mapped[int]
    finished_at: Mapped[datetime] = mapped_column(UtcDateTime)

    cause: Mapped[DoubtCause] = relationship()


class DoubtDecision(Base):
    """What a named official decided about one verdict, for every doubt about it that was open then."""

    __tablename__ = "doubt_decision"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    act_id: Mapped[UUID] = mapped_column(Uuid, index=True)  # decided together, told in one notice
    verdict_id: Mapped[UUID] = mapped_column(ForeignKey("verdict.id"), index=True)
    decision: Mapped[str] = mapped_column(String(20))  # upheld | measured_again | withdrawn
    reasons: Mapped[str] = mapped_column(Text)
    measured_again_as_id: Mapped[UUID | None] = mapped_column(ForeignKey("inspection.id"))
    decided_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    decided_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    digest: Mapped[str] = mapped_column(String(64))

    verdict: Mapped[Verdict] = relationship()
    measured_again_as: Mapped[Inspection | None] = relationship()
    decided_by: Mapped[Person] = relationship()


class DoubtResolution(Base):
    """Ties a doubt to the decision that ended it; a doubt without one is open."""

    __tablename__ = "doubt_resolution"
    __table_args__ = (
        ForeignKeyConstraint(["cause_id", "verdict_id"], ["doubted_verdict.cause_id", "doubted_verdict.verdict_id"]),
    )

    cause_id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    verdict_id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    decision_id: Mapped[UUID] = mapped_column(ForeignKey("doubt_decision.id"), index=True)

    doubted: Mapped[DoubtedVerdict] = relationship(back_populates="resolution")
    decision: Mapped[DoubtDecision] = relationship()
