"""Runs the migrations on the connection that `shedbook migrate` hands over."""

from alembic import context

from app.database import Base
from app.main import create_app  # noqa: F401  # imports every feature's tables

connection = context.config.attributes["connection"]
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
