from datetime import datetime
from uuid import UUID

from sqlalchemy import ForeignKey, LargeBinary, String, Text, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, UtcDateTime
from app.inspections.models import Verdict
from app.officials.models import SigningKey


class Slip(Base):
    """A number and the canonical record, fixed in the transaction of the sign-off. The file follows."""

    __tablename__ = "slip"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    verdict_id: Mapped[UUID] = mapped_column(ForeignKey("verdict.id"), unique=True)
    number: Mapped[int] = mapped_column(unique=True)
    code: Mapped[str] = mapped_column(String(8), unique=True)
    record: Mapped[str] = mapped_column(Text)  # canonical JSON, attached to the file byte for byte
    signing_key_id: Mapped[UUID] = mapped_column(ForeignKey("signing_key.id"))
    numbered_at: Mapped[datetime] = mapped_column(UtcDateTime)

    verdict: Mapped[Verdict] = relationship()
    signing_key: Mapped[SigningKey] = relationship()
    file: Mapped["SlipFile | None"] = relationship(back_populates="slip")


class SlipFile(Base):
    """The signed bytes: rendered once, kept here, served byte for byte ever after."""

    __tablename__ = "slip_file"

    slip_id: Mapped[UUID] = mapped_column(ForeignKey("slip.id"), primary_key=True)
    pdf: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)  # read only to be handed out
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    signed_at: Mapped[datetime] = mapped_column(UtcDateTime)

    slip: Mapped[Slip] = relationship(back_populates="file")


class Notice(Base):
    """A further signed page about slips that stay as they are: that they are in doubt, or what was decided."""

    __tablename__ = "notice"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    number: Mapped[int] = mapped_column(unique=True)
    code: Mapped[str] = mapped_column(String(8), unique=True)
    kind: Mapped[str] = mapped_column(String(20))  # doubt | decision
    about_id: Mapped[UUID] = mapped_column(Uuid, index=True)  # the doubt's cause, or the act of deciding
    record: Mapped[str] = mapped_column(Text)  # canonical JSON, attached to the file byte for byte
    signing_key_id: Mapped[UUID] = mapped_column(ForeignKey("signing_key.id"))
    numbered_at: Mapped[datetime] = mapped_column(UtcDateTime)

    signing_key: Mapped[SigningKey] = relationship()
    slips: Mapped[list["NoticeSlip"]] = relationship(back_populates="notice")
    file: Mapped["NoticeFile | None"] = relationship(back_populates="notice")


class NoticeSlip(Base):
    """A slip that a notice names; verifying the slip finds the notice by it."""

    __tablename__ = "notice_slip"

    notice_id: Mapped[UUID] = mapped_column(ForeignKey("notice.id"), primary_key=True)
    slip_id: Mapped[UUID] = mapped_column(ForeignKey("slip.id"), primary_key=True, index=True)

    notice: Mapped[Notice] = relationship(back_populates="slips")
    slip: Mapped[Slip] = relationship()


class NoticeFile(Base):
    """The signed bytes, as those of a slip."""

    __tablename__ = "notice_file"

    notice_id: Mapped[UUID] = mapped_column(ForeignKey("notice.id"), primary_key=True)
    pdf: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    signed_at: Mapped[datetime] = mapped_column(UtcDateTime)

    notice: Mapped[Notice] = relationship(back_populates="file")
