from datetime import datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import JSON, ForeignKey, String, UniqueConstraint, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, ExactDecimal, UtcDateTime
from app.officials.models import Person
from app.regulations.models import Event, RaceClass


class Competitor(Base):
    __tablename__ = "competitor"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    licence: Mapped[str] = mapped_column(String(40), unique=True)
    name: Mapped[str] = mapped_column(String(120))
    person_id: Mapped[UUID | None] = mapped_column(ForeignKey("person.id"), unique=True)  # their account, if any
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    person: Mapped[Person | None] = relationship()


class Engine(Base):
    """The geometry as declared. A changed engine (rebored, say) is a new row that names the one it replaces."""

    __tablename__ = "engine"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    serial: Mapped[str] = mapped_column(String(60), index=True)
    cylinders: Mapped[int]
    bore_mm: Mapped[Decimal] = mapped_column(ExactDecimal)
    stroke_mm: Mapped[Decimal] = mapped_column(ExactDecimal)
    declared_displacement_cm3: Mapped[Decimal] = mapped_column(ExactDecimal)
    seals: Mapped[list[str]] = mapped_column(JSON)
    replaces_id: Mapped[UUID | None] = mapped_column(ForeignKey("engine.id"))
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    replaces: Mapped["Engine | None"] = relationship(remote_side=[id])


class Entry(Base):
    __tablename__ = "entry"
    __table_args__ = (UniqueConstraint("event_id", "car_number"),)

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    event_id: Mapped[UUID] = mapped_column(ForeignKey("event.id"), index=True)
    class_id: Mapped[UUID] = mapped_column(ForeignKey("race_class.id"), index=True)
    competitor_id: Mapped[UUID] = mapped_column(ForeignKey("competitor.id"), index=True)
    engine_id: Mapped[UUID] = mapped_column(ForeignKey("engine.id"), index=True)
    car_number: Mapped[str] = mapped_column(String(10))
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    event: Mapped[Event] = relationship()
    race_class: Mapped[RaceClass] = relationship()
    competitor: Mapped[Competitor] = relationship()
    engine: Mapped[Engine] = relationship()
