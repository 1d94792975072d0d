from datetime import datetime
from uuid import UUID

from sqlalchemy import ForeignKey, String, Text, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, UtcDateTime
from app.entries.models import Competitor
from app.inspections.models import Inspection
from app.officials.models import Person


class Protest(Base):
    __tablename__ = "protest"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    inspection_id: Mapped[UUID] = mapped_column(ForeignKey("inspection.id"), index=True)
    lodged_by_id: Mapped[UUID] = mapped_column(ForeignKey("competitor.id"), index=True)
    grounds: Mapped[str] = mapped_column(Text)
    fee: Mapped[str] = mapped_column(String(60))  # what was received, in words
    late_reason: Mapped[str] = mapped_column(Text)  # empty when lodged in time
    taken_in_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    lodged_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    digest: Mapped[str] = mapped_column(String(64))

    inspection: Mapped[Inspection] = relationship()
    lodged_by: Mapped[Competitor] = relationship()
    taken_in_by: Mapped[Person] = relationship()
    steps: Mapped[list["ProtestStep"]] = relationship(order_by="ProtestStep.at", back_populates="protest")


class ProtestStep(Base):
    """Whatever follows is added, never edited; the state of a protest is read from its steps."""

    __tablename__ = "protest_step"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    protest_id: Mapped[UUID] = mapped_column(ForeignKey("protest.id"), index=True)
    kind: Mapped[str] = mapped_column(String(20))  # note | upheld | not_upheld | withdrawn | inadmissible
    text: Mapped[str] = mapped_column(Text)
    by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    digest: Mapped[str] = mapped_column(String(64))

    protest: Mapped[Protest] = relationship(back_populates="steps")
    by: Mapped[Person] = relationship()
