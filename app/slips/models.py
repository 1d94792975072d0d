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
