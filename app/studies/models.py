from datetime import datetime
from decimal import Decimal
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, ForeignKey, String, Text, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, ExactDecimal, UtcDateTime
from app.instruments.models import Instrument, ReferenceVolume
from app.officials.models import Person


class GaugeStudy(Base):
    """A plan: these parts, measured by these inspectors, so many times each, in an order drawn beforehand."""

    __tablename__ = "gauge_study"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    title: Mapped[str] = mapped_column(String(120))
    parts: Mapped[list[str]] = mapped_column(JSON)  # what is measured, named so that anyone finds it again
    inspector_ids: Mapped[list[str]] = mapped_column(JSON)
    repeats: Mapped[int]
    seed: Mapped[str] = mapped_column(String(64))  # of the run order
    tolerance: Mapped[Decimal | None] = mapped_column(ExactDecimal)  # of the class it is held against, in ratio
    note: Mapped[str] = mapped_column(Text)
    planned_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    planned_at: Mapped[datetime] = mapped_column(UtcDateTime)
    digest: Mapped[str] = mapped_column(String(64))

    instrument: Mapped[Instrument] = relationship()
    planned_by: Mapped[Person] = relationship()
    readings: Mapped[list["StudyReading"]] = relationship(order_by="StudyReading.taken_at", back_populates="study")


class StudyReading(Base):
    """One indication of one part by one inspector. A correction is a further row that names this one, and why."""

    __tablename__ = "study_reading"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    study_id: Mapped[UUID] = mapped_column(ForeignKey("gauge_study.id"), index=True)
    part: Mapped[int]  # from 1, as in the plan
    inspector_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    repeat: Mapped[int]  # from 1
    indication: Mapped[str] = mapped_column(String(20))  # as typed
    taken_at: Mapped[datetime] = mapped_column(UtcDateTime)
    replaces_id: Mapped[UUID | None] = mapped_column(ForeignKey("study_reading.id"), unique=True)
    reason: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))

    study: Mapped[GaugeStudy] = relationship(back_populates="readings")
    inspector: Mapped[Person] = relationship()


class FlowStudy(Base):
    """The reference volume at several airflows around the set-point: a study, never a verification."""

    __tablename__ = "flow_study"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    reference_volume_id: Mapped[UUID] = mapped_column(ForeignKey("reference_volume.id"))
    points: Mapped[list[dict[str, Any]]] = mapped_column(JSON)  # {"airflow_l_min": "4.72", "indications": ["11.24"]}
    note: Mapped[str] = mapped_column(Text)
    made_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    digest: Mapped[str] = mapped_column(String(64))

    instrument: Mapped[Instrument] = relationship()
    reference_volume: Mapped[ReferenceVolume] = relationship()
    made_by: Mapped[Person] = relationship()


class Adoption(Base):
    """An official puts a study's figures into every budget of this instrument from here on, or ends that.

    The latest of a kind counts. The figures are frozen here as they were worked out that day.
    """

    __tablename__ = "adoption"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    kind: Mapped[str] = mapped_column(String(10))  # gauge | flow
    study_id: Mapped[UUID | None] = mapped_column(Uuid)  # None: no study of this kind counts any more
    figures: Mapped[dict[str, str]] = mapped_column(JSON)
    reason: Mapped[str] = mapped_column(Text)
    adopted_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    adopted_at: Mapped[datetime] = mapped_column(UtcDateTime)
    digest: Mapped[str] = mapped_column(String(64))

    instrument: Mapped[Instrument] = relationship()
    adopted_by: Mapped[Person] = relationship()
