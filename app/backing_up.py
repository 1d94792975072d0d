"""A consistent copy of an SQLite logbook while it is served, checked before it gets its name."""

import os
import sqlite3
from pathlib import Path

from app import audit
from app.database import Database
from app.errors import Conflict, Unavailable


def back_up(database: Database, target: Path) -> audit.LogCheck:
    """Whole or not at all: written beside, checked, flushed, then put in place. An existing file is never replaced."""
    if target.exists():
        raise Conflict(f"{target} is there already. Choose another name; a backup is never written over.")
    beside = target.with_name(target.name + ".part")
    beside.unlink(missing_ok=True)
    try:
        with database.engine.connect() as connection:
            raw = connection.connection.driver_connection
            if not isinstance(raw, sqlite3.Connection):
                raise Unavailable("This logbook is kept by PostgreSQL. Back it up with pg_dump.")
            # straight to the driver: VACUUM cannot run in a transaction, and this one only reads the logbook
            raw.execute("PRAGMA query_only=OFF")
            raw.execute("VACUUM INTO ?", (str(beside),))
    except OSError as error:
        raise Unavailable(f"{target} cannot be written ({error.strerror}). Choose another place.") from error
    except sqlite3.Error as error:
        raise Unavailable(
            f"The copy could not be made ({error}). Look at the disk's free space and try again."
        ) from error
    found = _checked(beside)
    with beside.open("rb") as file:
        os.fsync(file.fileno())
    beside.rename(target)
    return found


def _checked(copy: Path) -> audit.LogCheck:
    """The copy itself is opened: sound as a database, and every entry of its log holds."""
    with sqlite3.connect(copy) as plain:
        (sound,) = plain.execute("PRAGMA integrity_check").fetchone()
    plain.close()
    if sound != "ok":
        raise Unavailable(f"The copy is damaged ({sound}). It stays as {copy}; make another one on another disk.")
    database = Database(f"sqlite:///{copy}")
    try:
        with database.read() as session:
            return audit.check(session)
    finally:
        database.close()
        for leftover in (copy.with_name(copy.name + "-wal"), copy.with_name(copy.name + "-shm")):
            leftover.unlink(missing_ok=True)
