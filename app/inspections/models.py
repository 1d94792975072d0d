import json
from datetime import datetime, timedelta
from decimal import Decimal
from uuid import UUID

from sqlalchemy import JSON, ForeignKey, Index, String, Text, UniqueConstraint, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, ExactDecimal, UtcDateTime
from app.entries.models import Entry
from app.instruments.models import Instrument
from app.officials.models import Person
from app.plots import pictured
from app.regulations.models import Rule


class Inspection(Base):
    """One engine, one visit, under the rule in force when the sheet was opened."""

    __tablename__ = "inspection"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    entry_id: Mapped[UUID] = mapped_column(ForeignKey("entry.id"), index=True)
    rule_id: Mapped[UUID] = mapped_column(ForeignKey("rule.id"), index=True)
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    opened_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    opened_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    cautions_confirmed: Mapped[bool]
    repeats_id: Mapped[UUID | None] = mapped_column(ForeignKey("inspection.id"), index=True)  # the sheet measured again
    repeat_reason: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))

    entry: Mapped[Entry] = relationship()
    rule: Mapped[Rule] = relationship()
    instrument: Mapped[Instrument] = relationship()
    opened_by: Mapped[Person] = relationship()
    conditions: Mapped[list["Conditions"]] = relationship(order_by="Conditions.taken_at", back_populates="inspection")
    readings: Mapped[list["Reading"]] = relationship(order_by="Reading.received_at", back_populates="inspection")
    checks: Mapped[list["CylinderCheck"]] = relationship(order_by="CylinderCheck.place", back_populates="inspection")
    verdict: Mapped["Verdict | None"] = relationship(back_populates="inspection")


class Conditions(Base):
    """What was dialled on the instrument and what the gas and air were; corrected by a further row."""

    __tablename__ = "conditions"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    inspection_id: Mapped[UUID] = mapped_column(ForeignKey("inspection.id"), index=True)
    set_displacement_cm3: Mapped[Decimal] = mapped_column(ExactDecimal)
    set_cylinders: Mapped[int]
    set_gas_temperature_c: Mapped[Decimal] = mapped_column(ExactDecimal)
    gas_temperature_c: Mapped[Decimal] = mapped_column(ExactDecimal)
    temperature_source: Mapped[str] = mapped_column(String(40))
    airflow_l_min: Mapped[Decimal] = mapped_column(ExactDecimal)
    ambient_temperature_c: Mapped[Decimal | None] = mapped_column(ExactDecimal)
    pressure_kpa: Mapped[Decimal | None] = mapped_column(ExactDecimal)
    humidity_percent: Mapped[Decimal | None] = mapped_column(ExactDecimal)
    crank_step_degrees: Mapped[Decimal] = mapped_column(ExactDecimal)  # 0: turned smoothly
    rod_ratio: Mapped[Decimal | None] = mapped_column(ExactDecimal)  # rod length over stroke, where it is known
    taken_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    taken_at: Mapped[datetime] = mapped_column(UtcDateTime)
    replaces_id: Mapped[UUID | None] = mapped_column(ForeignKey("conditions.id"), unique=True)
    reason: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))

    inspection: Mapped[Inspection] = relationship(back_populates="conditions")
    taken_by: Mapped[Person] = relationship()


class Reading(Base):
    """The indications of one cylinder, as typed. A correction is a further reading that names this one, and why."""

    __tablename__ = "reading"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    inspection_id: Mapped[UUID] = mapped_column(ForeignKey("inspection.id"), index=True)
    cylinder: Mapped[int]
    indications: Mapped[list[str]] = mapped_column(JSON)  # empty: not measured, and the reason says why
    not_measured_reason: Mapped[str] = mapped_column(Text)
    taken_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    taken_at: Mapped[datetime] = mapped_column(UtcDateTime)  # the tablet's claim
    received_at: Mapped[datetime] = mapped_column(UtcDateTime)  # the logbook's clock
    replaces_id: Mapped[UUID | None] = mapped_column(ForeignKey("reading.id"), unique=True)
    reason: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))

    inspection: Mapped[Inspection] = relationship(back_populates="readings")
    taken_by: Mapped[Person] = relationship()


class CylinderCheck(Base):
    """What was done about a suspicion, and found. The latest of a kind counts; the earlier ones stay."""

    __tablename__ = "cylinder_check"
    __table_args__ = (UniqueConstraint("inspection_id", "place"),)

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    inspection_id: Mapped[UUID] = mapped_column(ForeignKey("inspection.id"))
    place: Mapped[int]  # 1, 2, 3 … on this sheet: moments may be equal
    cylinder: Mapped[int]
    kind: Mapped[str] = mapped_column(String(20))  # a key of the core's CHECKS
    leak_percent: Mapped[Decimal | None] = mapped_column(ExactDecimal)
    pressure_kpa: Mapped[Decimal | None] = mapped_column(ExactDecimal)  # as the tester's gauge showed it
    note: Mapped[str] = mapped_column(Text)
    reading_id: Mapped[UUID | None] = mapped_column(ForeignKey("reading.id"))  # what stood for the cylinder then
    made_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    made_at: Mapped[datetime] = mapped_column(UtcDateTime)
    digest: Mapped[str] = mapped_column(String(64))

    inspection: Mapped[Inspection] = relationship(back_populates="checks")
    made_by: Mapped[Person] = relationship()


class Verdict(Base):
    """Frozen at sign-off: the inputs, what the core made of them, and which core it was."""

    __tablename__ = "verdict"
    # looking back asks for one instrument and a stretch of time, or for one certificate, among all verdicts ever; it
    # reads these two from end to end and nothing else, a piece at a time in their own order
    __table_args__ = (
        Index("ix_verdict_measured", "instrument_id", "measured_until", "id", "measured_from"),
        Index("ix_verdict_calibration", "calibration_id", "id"),
    )

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    inspection_id: Mapped[UUID] = mapped_column(ForeignKey("inspection.id"), unique=True)
    verdict: Mapped[str] = mapped_column(String(20), index=True)
    inputs: Mapped[str] = mapped_column(Text)  # canonical JSON, the text that was judged
    result: Mapped[str] = mapped_column(Text)  # canonical JSON
    core_version: Mapped[str] = mapped_column(String(20))
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"))  # as the sheet has it
    calibration_id: Mapped[UUID | None] = mapped_column(ForeignKey("calibration.id"))  # it rests on
    measured_from: Mapped[datetime] = mapped_column(UtcDateTime)  # the first and the last of its standing readings
    measured_until: Mapped[datetime] = mapped_column(UtcDateTime)
    decided_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"), index=True)
    decided_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    acknowledgement_kind: Mapped[str] = mapped_column(String(20))
    acknowledgement_name: Mapped[str] = mapped_column(String(120))
    acknowledgement_path: Mapped[str] = mapped_column(Text)
    acknowledgement_note: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))

    inspection: Mapped[Inspection] = relationship(back_populates="verdict")
    decided_by: Mapped[Person] = relationship()

    @property
    def picture(self) -> str:
        """As it is drawn: empty where a leak or a gap keeps it open."""
        return pictured(json.loads(self.result))

    @property
    def side(self) -> str:
        """Which side of the rule decided: that of a range, or the rule's only one."""
        side: str = json.loads(self.result).get("side") or self.inspection.rule.kind
        return side

    @property
    def protest_until(self) -> datetime:
        """As long as the edition gives that was in force for the sheet."""
        return self.decided_at + timedelta(minutes=self.inspection.rule.edition.protest_minutes)
