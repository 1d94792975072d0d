"""The append-only log: each entry carries the digest of the one before it, so a gap or a change shows.

An entry is written in the same transaction as the fact it records.
"""

import hashlib
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

import rfc8785
from pydantic import BaseModel
from sqlalchemy import LargeBinary, String, Text, Uuid, select, text
from sqlalchemy.orm import Mapped, Session, mapped_column

from app.database import Base, UtcDateTime, now
from app.errors import Conflict

_BEGINNING = b"\0" * 32


class LogEntry(Base):
    __tablename__ = "log_entry"

    seq: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    action: Mapped[str] = mapped_column(String(60))
    actor: Mapped[str] = mapped_column(String(200))
    subject: Mapped[UUID | None] = mapped_column(Uuid, index=True)
    entry: Mapped[str] = mapped_column(Text)  # the canonical text that was hashed, kept as it was
    digest: Mapped[bytes] = mapped_column(LargeBinary(32))


@dataclass(frozen=True, slots=True)
class LogCheck:
    """What reading the whole log found: how far it holds, and the first entry that does not."""

    entries: int
    broken_at: int | None
    head: str


def record(session: Session, actor: str, action: str, subject: UUID | None, body: Mapping[str, Any]) -> LogEntry:
    """Append one entry. `body` is plain data; numbers in it are decimal strings."""
    session.flush()
    wait_for_turn(session)
    last = session.scalars(select(LogEntry).order_by(LogEntry.seq.desc()).limit(1)).first()
    seq, previous = (0, _BEGINNING) if last is None else (last.seq + 1, last.digest)
    at = now(session)
    entry = rfc8785.dumps(
        {
            "v": 1,
            "seq": seq,
            "at": at.isoformat(),
            "actor": actor,
            "action": action,
            "subject": str(subject) if subject else None,
            "body": dict(body),
            "previous": previous.hex(),
        }
    )
    row = LogEntry(
        seq=seq,
        at=at,
        action=action,
        actor=actor,
        subject=subject,
        entry=entry.decode(),
        digest=hashlib.sha256(entry).digest(),
    )
    session.add(row)
    session.flush()
    return row


def wait_for_turn(session: Session) -> None:
    """One appender at a time, without gaps; whoever numbers something waits here first, to number it once."""
    if session.get_bind().dialect.name == "postgresql":
        session.execute(text("SELECT pg_advisory_xact_lock(7433)"))


def entries_about(session: Session, subjects: Collection[UUID]) -> list[LogEntry]:
    """Everything logged about these records, oldest first."""
    return list(session.scalars(select(LogEntry).where(LogEntry.subject.in_(subjects)).order_by(LogEntry.seq)))


def check(session: Session) -> LogCheck:
    """Recompute every digest and link from the first entry on."""
    previous, count = _BEGINNING, 0
    whole = select(LogEntry).order_by(LogEntry.seq).execution_options(yield_per=1000)
    with session.scalars(whole) as rows:  # closed too when the reading stops half way
        for row in rows:
            sound = (
                row.seq == count
                and hashlib.sha256(row.entry.encode()).digest() == row.digest
                and f'"previous":"{previous.hex()}"' in row.entry
            )
            if not sound:
                return LogCheck(count, count, previous.hex())
            previous, count = row.digest, count + 1
    return LogCheck(count, None, previous.hex())


def digest_of(data: BaseModel) -> str:
    """Of what was asked, so that the same call sent twice is told from another one under the same id."""
    return hashlib.sha256(rfc8785.dumps(data.model_dump(mode="json"))).hexdigest()


def same_or_conflict(kept_digest: str, data: BaseModel) -> None:
    """A replay passes; another content under the same id is a conflict, and what is kept stays."""
    if kept_digest != digest_of(data):
        raise Conflict


def same_values_or_conflict(kept: Base, given: Mapping[str, object]) -> None:
    """The same for a row that keeps all it was given in columns, and so needs no digest of it."""
    if any(getattr(kept, name) != value for name, value in given.items()):
        raise Conflict
