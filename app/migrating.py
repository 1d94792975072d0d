"""Brings a database to the newest revision. Alembic is loaded only when there is something to do."""

import re

from sqlalchemy import inspect, text
from sqlalchemy.exc import OperationalError

from app.config import SHARED_ROOT
from app.database import Database
from app.errors import Unavailable


def newest_revision() -> str:
    """The revision no other one builds on, read from the files' own lines."""
    revisions, built_on = set(), set()
    for file in (SHARED_ROOT / "migrations" / "versions").glob("*.py"):
        source = file.read_text()
        found = re.search(r'^revision = ["\'](\w+)["\']', source, re.MULTILINE)
        if found:
            revisions.add(found[1])
        below = re.search(r'^down_revision = ["\'](\w+)["\']', source, re.MULTILINE)
        if below:
            built_on.add(below[1])
    (newest,) = revisions - built_on
    return newest


def present_revision(database: Database) -> str | None:
    try:
        with database.engine.connect() as connection:
            if not inspect(connection).has_table("alembic_version"):
                return None
            revision: str | None = connection.execute(text("SELECT version_num FROM alembic_version")).scalar()
            return revision
    except OperationalError as error:
        place = database.engine.url.render_as_string(hide_password=True)
        why = str(error.orig).splitlines()[0].rstrip(".")
        raise Unavailable(
            f"The database {place} cannot be opened: {why}. Check that it runs and that SHEDBOOK_DATABASE_URL and"
            " SHEDBOOK_DATA_FOLDER name the right one."
        ) from error


def bring_up_to_date(database: Database) -> None:
    """Nothing to do is the usual case at a start, and then costs one query."""
    if present_revision(database) == newest_revision():
        return
    from alembic import command
    from alembic.config import Config

    config = Config()
    config.set_main_option("script_location", str(SHARED_ROOT / "migrations"))
    with database.engine.connect() as connection:
        config.attributes["connection"] = connection
        command.upgrade(config, "head")
        connection.commit()
