from datetime import datetime
from uuid import UUID

from sqlalchemy import ForeignKey, String, Text, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, UtcDateTime
from app.entries.models import Entry
from app.officials.models import Person
from app.regulations.models import Rule


class BenchSheet(Base):
    """One engine opened, poured or gauged by one method, under the rule in force when the sheet was opened."""

    __tablename__ = "bench_sheet"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    entry_id: Mapped[UUID] = mapped_column(ForeignKey("entry.id"), index=True)
    rule_id: Mapped[UUID] = mapped_column(ForeignKey("rule.id"), index=True)
    method: Mapped[str] = mapped_column(String(40))  # key of the core's METHODS
    present_for_series: Mapped[str] = mapped_column(Text)
    present_for_competitor: Mapped[str] = mapped_column(Text)
    reason: Mapped[str] = mapped_column(Text)
    cautions_confirmed: Mapped[bool]
    opened_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    opened_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    digest: Mapped[str] = mapped_column(String(64))

    entry: Mapped[Entry] = relationship()
    rule: Mapped[Rule] = relationship()
    opened_by: Mapped[Person] = relationship()
    observations: Mapped[list["BenchObservation"]] = relationship(
        order_by="BenchObservation.taken_at, BenchObservation.id", back_populates="sheet"
    )
    verdict: Mapped["BenchVerdict | None"] = relationship(back_populates="sheet")


class BenchObservation(Base):
    """All that was observed, as typed and as the core takes it. A correction is a further row that names this one."""

    __tablename__ = "bench_observation"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    sheet_id: Mapped[UUID] = mapped_column(ForeignKey("bench_sheet.id"), index=True)
    units: Mapped[str] = mapped_column(String(10))  # the system that numbers typed without a unit are in
    typed: Mapped[str] = mapped_column(Text)  # canonical JSON, every text as it was typed
    observations: Mapped[str] = mapped_column(Text)  # canonical JSON of the core's plain data
    taken_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    taken_at: Mapped[datetime] = mapped_column(UtcDateTime)
    replaces_id: Mapped[UUID | None] = mapped_column(ForeignKey("bench_observation.id"), unique=True)
    reason: Mapped[str] = mapped_column(Text)
    digest: Mapped[str] = mapped_column(String(64))

    sheet: Mapped[BenchSheet] = relationship(back_populates="observations")
    taken_by: Mapped[Person] = relationship()


class BenchVerdict(Base):
    """Frozen at sign-off: the observations signed, the inputs, what the core made of them, and which core it was."""

    __tablename__ = "bench_verdict"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    sheet_id: Mapped[UUID] = mapped_column(ForeignKey("bench_sheet.id"), unique=True)
    observation_id: Mapped[UUID] = mapped_column(ForeignKey("bench_observation.id"), unique=True)
    verdict: Mapped[str] = mapped_column(String(20), index=True)
    inputs: Mapped[str] = mapped_column(Text)  # canonical JSON, the text that was judged
    result: Mapped[str] = mapped_column(Text)  # canonical JSON
    core_version: Mapped[str] = mapped_column(String(20))
    decided_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"), index=True)
    decided_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    digest: Mapped[str] = mapped_column(String(64))  # SHA-256 of what was signed, as `frozen_text` writes it

    sheet: Mapped[BenchSheet] = relationship(back_populates="verdict")
    decided_by: Mapped[Person] = relationship()
