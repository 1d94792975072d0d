from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import JSON, Date, ForeignKey, String, Text, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, ExactDecimal, UtcDateTime
from app.officials.models import Person
from app.regulations.models import Event


class Instrument(Base):
    __tablename__ = "instrument"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    name: Mapped[str] = mapped_column(String(60), unique=True)  # what the shed calls it
    serial: Mapped[str] = mapped_column(String(60), unique=True)
    method: Mapped[str] = mapped_column(String(40))  # key of the core's METHODS
    resolution: Mapped[Decimal] = mapped_column(ExactDecimal)
    stated_accuracy: Mapped[Decimal] = mapped_column(ExactDecimal)
    accuracy_meaning: Mapped[str] = mapped_column(String(20))
    airflow_set_point_l_min: Mapped[Decimal] = mapped_column(ExactDecimal)
    airflow_tolerance_l_min: Mapped[Decimal] = mapped_column(ExactDecimal)
    airflow_sensitivity: Mapped[Decimal | None] = mapped_column(ExactDecimal)  # ratio per L/min, from a flow study
    settable_cylinders: Mapped[list[int]] = mapped_column(JSON)
    displacement_min_cm3: Mapped[Decimal] = mapped_column(ExactDecimal)
    displacement_max_cm3: Mapped[Decimal] = mapped_column(ExactDecimal)
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    reference_volumes: Mapped[list["ReferenceVolume"]] = relationship(
        order_by="ReferenceVolume.created_at", back_populates="instrument"
    )
    calibrations: Mapped[list["Calibration"]] = relationship(
        order_by="Calibration.calibrated_on", back_populates="instrument"
    )

    def calibration_on(self, day: date) -> "Calibration | None":
        """The latest made by that day, due or overdue: `due_on` says which."""
        made = (row for row in self.calibrations if row.calibrated_on <= day)
        return max(made, key=lambda row: (row.calibrated_on, row.created_at), default=None)


class ReferenceVolume(Base):
    """A closed volume that belongs to one instrument; its mark is what that instrument should show on it."""

    __tablename__ = "reference_volume"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    serial: Mapped[str] = mapped_column(String(60), unique=True)
    mark_low: Mapped[Decimal] = mapped_column(ExactDecimal)  # equal to mark_high when the mark is one number
    mark_high: Mapped[Decimal] = mapped_column(ExactDecimal)
    permitted_deviation: Mapped[Decimal] = mapped_column(ExactDecimal)  # beyond the mark, in ratio
    mark_displacement_cm3: Mapped[Decimal] = mapped_column(ExactDecimal)  # the settings the mark holds for
    mark_cylinders: Mapped[int]
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    instrument: Mapped[Instrument] = relationship(back_populates="reference_volumes")


class Calibration(Base):
    __tablename__ = "calibration"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    laboratory: Mapped[str] = mapped_column(String(120))
    certificate: Mapped[str] = mapped_column(String(60))
    calibrated_on: Mapped[date] = mapped_column(Date)
    due_on: Mapped[date] = mapped_column(Date)
    deviation: Mapped[Decimal] = mapped_column(ExactDecimal)
    expanded_uncertainty: Mapped[Decimal] = mapped_column(ExactDecimal)
    coverage_factor: Mapped[Decimal] = mapped_column(ExactDecimal)
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    instrument: Mapped[Instrument] = relationship(back_populates="calibrations")


class Verification(Base):
    """The instrument on its reference volume, at one event: opening, during, closing."""

    __tablename__ = "verification"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    event_id: Mapped[UUID] = mapped_column(ForeignKey("event.id"), index=True)
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    reference_volume_id: Mapped[UUID] = mapped_column(ForeignKey("reference_volume.id"))
    stage: Mapped[str] = mapped_column(String(20))
    indications: Mapped[list[str]] = mapped_column(JSON)  # as typed
    airflow_l_min: Mapped[Decimal] = mapped_column(ExactDecimal)
    ambient_temperature_c: Mapped[Decimal] = mapped_column(ExactDecimal)
    mean: Mapped[Decimal] = mapped_column(ExactDecimal)
    standard_deviation: Mapped[Decimal] = mapped_column(ExactDecimal)
    deviation: Mapped[Decimal] = mapped_column(ExactDecimal)
    accepted: Mapped[bool]
    reason: Mapped[str] = mapped_column(Text)  # the judgement's sentence
    performed_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    performed_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    digest: Mapped[str] = mapped_column(String(64))  # of the request body: a replay is told from a conflict

    event: Mapped[Event] = relationship()
    instrument: Mapped[Instrument] = relationship()
    reference_volume: Mapped[ReferenceVolume] = relationship()
    performed_by: Mapped[Person] = relationship()
