"""One door to the database, for SQLite and PostgreSQL alike: `read()` and `write()` blocks.

The block's end is the commit, any exception rolls back, and the answer leaves after it. Nobody else commits.
"""

import threading
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any, TypeVar
from uuid import UUID

from sqlalchemy import DateTime, Dialect, Engine, MetaData, Numeric, String, create_engine, event, text
from sqlalchemy.engine.interfaces import DBAPIConnection
from sqlalchemy.exc import DBAPIError, IntegrityError, OperationalError
from sqlalchemy.orm import DeclarativeBase, Session
from sqlalchemy.orm.interfaces import ORMOption
from sqlalchemy.pool import ConnectionPoolEntry
from sqlalchemy.types import TypeDecorator

from app.errors import Conflict, NotFound, Unavailable


class Base(DeclarativeBase):
    metadata = MetaData(
        naming_convention={
            "ix": "ix_%(column_0_label)s",
            "uq": "uq_%(table_name)s_%(column_0_N_name)s",
            "ck": "ck_%(table_name)s_%(constraint_name)s",
            "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
            "pk": "pk_%(table_name)s",
        }
    )


Row = TypeVar("Row", bound=Base)


class UtcDateTime(TypeDecorator[datetime]):
    """An aware moment in UTC; SQLite forgets the zone, and PostgreSQL answers in the zone of its session."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is not None and value.tzinfo is None:
            raise ValueError("a moment needs its zone")
        return value.astimezone(UTC) if value is not None else None

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        if value is None:
            return None
        return value.astimezone(UTC) if value.tzinfo else value.replace(tzinfo=UTC)


class ExactDecimal(TypeDecorator[Decimal]):
    """A decimal number kept digit for digit: text on SQLite, unbounded NUMERIC on PostgreSQL."""

    impl = String(64)
    cache_ok = True

    def load_dialect_impl(self, dialect: Dialect) -> Any:
        return dialect.type_descriptor(Numeric() if dialect.name == "postgresql" else String(64))

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> Any:
        if value is None or dialect.name == "postgresql":
            return value
        return format(value, "f")

    def process_result_value(self, value: Any, dialect: Dialect) -> Decimal | None:
        return Decimal(value) if value is not None else None


def now(session: Session) -> datetime:
    """The one moment of this transaction: everything written in it carries the same time."""
    moment: datetime = session.info["now"]
    return moment


def row_of(session: Session, table: type[Row], row_id: UUID, what: str, options: Sequence[ORMOption] = ()) -> Row:
    """The row under this id; NotFound, in the field's word for it, where there is none."""
    row = session.get(table, row_id, options=options)
    if row is None:
        raise NotFound(what)
    return row


def _utc_now() -> datetime:
    return datetime.now(UTC)


class Database:
    """Engine, clock and the two kinds of block."""

    def __init__(self, url: str, clock: Callable[[], datetime] = _utc_now) -> None:
        self.clock = clock
        self.engine = _sqlite_engine(url) if url.startswith("sqlite") else _postgresql_engine(url)
        # SQLite: one writer at a time in this process; known WAL trouble of older versions needs two at once
        self._writing = threading.Lock() if url.startswith("sqlite") else None

    @contextmanager
    def read(self) -> Iterator[Session]:
        with self._session(read_only=True) as session:
            yield session

    @contextmanager
    def write(self) -> Iterator[Session]:
        if self._writing is None:
            with self._session(read_only=False) as session:
                yield session
            return
        with self._writing, self._session(read_only=False) as session:
            yield session

    @contextmanager
    def _session(self, *, read_only: bool) -> Iterator[Session]:
        engine = self.engine.execution_options(shedbook_read_only=read_only)
        try:
            with Session(engine, expire_on_commit=False, info={"now": self.clock()}) as session, session.begin():
                if read_only and self.engine.dialect.name == "postgresql":
                    session.execute(text("SET TRANSACTION READ ONLY"))
                yield session
        except IntegrityError as error:
            raise Conflict("Somebody entered the same thing a moment ago. Load the page again and look.") from error
        except (OperationalError, DBAPIError) as error:
            raise Unavailable(
                "The logbook cannot be reached for the moment. What you typed is kept; try again."
            ) from error

    def close(self) -> None:
        self.engine.dispose()


def _sqlite_engine(url: str) -> Engine:
    engine = create_engine(
        url, hide_parameters=True, connect_args={"isolation_level": None, "timeout": 20, "check_same_thread": False}
    )

    @event.listens_for(engine, "connect")
    def prepare(connection: DBAPIConnection, _entry: ConnectionPoolEntry) -> None:
        cursor = connection.cursor()
        for pragma in ("journal_mode=WAL", "foreign_keys=ON", "synchronous=FULL", "busy_timeout=20000"):
            cursor.execute(f"PRAGMA {pragma}")
        cursor.close()

    @event.listens_for(engine, "begin")
    def begin(connection: Any) -> None:
        """Plain BEGIN for readers; writers take the write lock at once, or a read that turns into a write fails."""
        if connection.get_execution_options().get("shedbook_read_only"):
            connection.exec_driver_sql("PRAGMA query_only=ON")
            connection.exec_driver_sql("BEGIN")
        else:
            connection.exec_driver_sql("PRAGMA query_only=OFF")
            connection.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


def _postgresql_engine(url: str) -> Engine:
    url = url.replace("postgresql://", "postgresql+psycopg://", 1)
    return create_engine(url, hide_parameters=True, pool_pre_ping=True, pool_size=10, max_overflow=10)
