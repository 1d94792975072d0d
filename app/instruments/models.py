from datetime import date, datetime
from decimal import Decimal
from uuid import UUID

from sqlalchemy import JSON, Date, ForeignKey, LargeBinary, String, Text, Uuid
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
    notes: Mapped[list["InstrumentNote"]] = relationship(
        order_by="InstrumentNote.noted_at", back_populates="instrument"
    )

    def calibration_on(self, day: date) -> "Calibration | None":
        """The latest made by that day and not withdrawn since, due or overdue: `due_on` says which."""
        made = (row for row in self.calibrations if row.calibrated_on <= day and row.withdrawal is None)
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
    mark_expanded_uncertainty: Mapped[Decimal | None] = mapped_column(ExactDecimal)  # k = 2; an interval has its width
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    instrument: Mapped[Instrument] = relationship(back_populates="reference_volumes")
    condemnation: Mapped["Condemnation | None"] = relationship(back_populates="reference_volume")


class Condemnation(Base):
    """A reference volume found damaged or changed: it verifies nothing from here on, nor since it was last sound."""

    __tablename__ = "condemnation"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    reference_volume_id: Mapped[UUID] = mapped_column(ForeignKey("reference_volume.id"), unique=True)
    reason: Mapped[str] = mapped_column(Text)
    last_sound_at: Mapped[datetime | None] = mapped_column(UtcDateTime)  # None: nobody can say
    condemned_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    condemned_at: Mapped[datetime] = mapped_column(UtcDateTime)
    digest: Mapped[str] = mapped_column(String(64))

    reference_volume: Mapped[ReferenceVolume] = relationship(back_populates="condemnation")
    condemned_by: Mapped[Person] = relationship()


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
    points: Mapped[list[dict[str, str]]] = mapped_column(JSON)  # the certificate's values: reference, deviation, U
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)

    instrument: Mapped[Instrument] = relationship(back_populates="calibrations")
    withdrawal: Mapped["Withdrawal | None"] = relationship(back_populates="calibration")
    file: Mapped["CertificateFile | None"] = relationship(back_populates="calibration")


class CertificateFile(Base):
    """The certificate as it came from the laboratory, byte for byte."""

    __tablename__ = "certificate_file"

    calibration_id: Mapped[UUID] = mapped_column(ForeignKey("calibration.id"), primary_key=True)
    name: Mapped[str] = mapped_column(String(120))
    media_type: Mapped[str] = mapped_column(String(40))
    content: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)  # read only to be handed out
    sha256: Mapped[str] = mapped_column(String(64))
    attached_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    attached_at: Mapped[datetime] = mapped_column(UtcDateTime)

    calibration: Mapped[Calibration] = relationship(back_populates="file")
    attached_by: Mapped[Person] = relationship()


class Withdrawal(Base):
    """A certificate the laboratory, or the series, no longer stands by."""

    __tablename__ = "withdrawal"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    calibration_id: Mapped[UUID] = mapped_column(ForeignKey("calibration.id"), unique=True)
    reason: Mapped[str] = mapped_column(Text)
    withdrawn_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime] = mapped_column(UtcDateTime)
    digest: Mapped[str] = mapped_column(String(64))

    calibration: Mapped[Calibration] = relationship(back_populates="withdrawal")
    withdrawn_by: Mapped[Person] = relationship()


class InstrumentNote(Base):
    """What became of the instrument between its verifications: a fault, a repair, a move from one place to another."""

    __tablename__ = "instrument_note"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    kind: Mapped[str] = mapped_column(String(20))  # fault | repair | moved
    happened_at: Mapped[datetime] = mapped_column(UtcDateTime)  # as told; never after `noted_at`
    text: Mapped[str] = mapped_column(Text)
    place: Mapped[str] = mapped_column(String(120))  # of a move: where it is now
    affects_indication: Mapped[bool]  # of a fault or repair: what it shows may have changed by it
    noted_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    noted_at: Mapped[datetime] = mapped_column(UtcDateTime)
    digest: Mapped[str] = mapped_column(String(64))

    instrument: Mapped[Instrument] = relationship(back_populates="notes")
    noted_by: Mapped[Person] = relationship()


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
    set_gas_temperature_c: Mapped[Decimal | None] = mapped_column(ExactDecimal)  # None: from before it was asked
    steps_confirmed: Mapped[list[str]] = mapped_column(JSON)  # keys of the procedure's steps
    mean: Mapped[Decimal] = mapped_column(ExactDecimal)
    standard_deviation: Mapped[Decimal] = mapped_column(ExactDecimal)
    deviation: Mapped[Decimal] = mapped_column(ExactDecimal)
    e_n: Mapped[Decimal | None] = mapped_column(ExactDecimal)  # None: from before it was worked out
    accepted: Mapped[bool]
    reason: Mapped[str] = mapped_column(Text)  # the judgement's sentence
    performed_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    performed_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    digest: Mapped[str] = mapped_column(String(64))  # of the request body: a replay is told from a conflict

    event: Mapped[Event] = relationship()
    instrument: Mapped[Instrument] = relationship()
    reference_volume: Mapped[ReferenceVolume] = relationship()
    performed_by: Mapped[Person] = relationship()


class DoubtCause(Base):
    """A fact that takes the ground from under verdicts: written in the transaction of that fact, under its id.

    Every verdict measured with this instrument from `since` to `until`, or resting on this calibration where one is
    named, is in doubt. Which those are is found out afterwards, and can be found out again: app.doubts does.
    """

    __tablename__ = "doubt_cause"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)  # of the verification, withdrawal, condemnation or note
    kind: Mapped[str] = mapped_column(String(30))  # a key of DOUBT_KINDS
    instrument_id: Mapped[UUID] = mapped_column(ForeignKey("instrument.id"), index=True)
    calibration_id: Mapped[UUID | None] = mapped_column(ForeignKey("calibration.id"))
    since: Mapped[datetime | None] = mapped_column(UtcDateTime)  # the last good verification; None: there was none
    until: Mapped[datetime] = mapped_column(UtcDateTime)
    reason: Mapped[str] = mapped_column(Text)  # a whole sentence, as it stands on notices
    raised_by_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"))
    raised_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)

    instrument: Mapped[Instrument] = relationship()
    calibration: Mapped[Calibration | None] = relationship()
    raised_by: Mapped[Person] = relationship()
