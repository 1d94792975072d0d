from datetime import date, datetime
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, Date, ForeignKey, LargeBinary, String, Text, Uuid
from sqlalchemy.orm import Mapped, mapped_column, relationship

from app.database import Base, UtcDateTime


class Person(Base):
    __tablename__ = "person"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    sign_in_name: Mapped[str] = mapped_column(String(60), unique=True)
    full_name: Mapped[str] = mapped_column(String(120))
    roles: Mapped[list[str]] = mapped_column(JSON)
    password_hash: Mapped[str] = mapped_column(String(200))
    units: Mapped[str] = mapped_column(String(10))
    pad_side: Mapped[str] = mapped_column(String(10))
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)
    ends_on: Mapped[date | None] = mapped_column(Date)

    keys: Mapped[list["SigningKey"]] = relationship(order_by="SigningKey.issued_at", back_populates="person")


class SigningKey(Base):
    """The key of an inspector or official, sealed under the PIN; a new PIN is a new key and a new certificate."""

    __tablename__ = "signing_key"

    id: Mapped[UUID] = mapped_column(Uuid, primary_key=True)
    person_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"), index=True)
    certificate_pem: Mapped[str] = mapped_column(Text)
    certificate_serial: Mapped[str] = mapped_column(String(60), unique=True)
    sealed: Mapped[dict[str, Any]] = mapped_column(JSON)
    issued_at: Mapped[datetime] = mapped_column(UtcDateTime)

    person: Mapped[Person] = relationship(back_populates="keys")


class SignInSession(Base):
    """Only the digest of the cookie's value is kept, so a copied database opens nothing."""

    __tablename__ = "sign_in_session"

    token_sha256: Mapped[bytes] = mapped_column(LargeBinary(32), primary_key=True)
    person_id: Mapped[UUID] = mapped_column(ForeignKey("person.id"), index=True)
    created_at: Mapped[datetime] = mapped_column(UtcDateTime)
    last_seen_at: Mapped[datetime] = mapped_column(UtcDateTime)


class Throttle(Base):
    """Failed tries per account, address or PIN; in the database, so a restart forgives nothing."""

    __tablename__ = "throttle"

    key: Mapped[str] = mapped_column(String(160), primary_key=True)
    failures: Mapped[int]
    blocked_until: Mapped[datetime] = mapped_column(UtcDateTime)
