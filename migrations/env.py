"""Runs the migrations: on the connection the application hands over, or on the configured database for `alembic`."""

from alembic import context

from app.config import Settings
from app.database import Base, Database
from app.main import create_app  # noqa: F401  # imports every feature's tables


def run(connection: object) -> None:
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        compare_type=True,
        user_module_prefix="types.",
        transaction_per_migration=True,
    )
    with context.begin_transaction():
        context.run_migrations()


handed_over = context.config.attributes.get("connection")
if handed_over is not None:
    run(handed_over)
else:
    database = Database(Settings().resolved_database_url)
    with database.engine.connect() as own:
        run(own)
        own.commit()
    database.close()
