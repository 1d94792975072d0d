"""The migrated schema is the tables' schema, on both engines; and going up twice changes nothing."""

from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext

from app.database import Base
from app.migrating import bring_up_to_date, newest_revision, present_revision
from tests.conftest import Logbook


def test_the_migrated_schema_is_the_tables_schema(logbook: Logbook) -> None:
    with logbook.database.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "render_as_batch": True})
        assert compare_metadata(context, Base.metadata) == []


def test_bringing_up_to_date_twice_changes_nothing(logbook: Logbook) -> None:
    assert present_revision(logbook.database) == newest_revision()
    bring_up_to_date(logbook.database)
    assert present_revision(logbook.database) == newest_revision()
