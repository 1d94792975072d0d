"""Bench sheets: engines opened, poured or gauged.

Revision ID: 0004
Revises: 0003
"""

import sqlalchemy as sa
from alembic import op

from app import database as types

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "bench_sheet",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("entry_id", sa.Uuid(), nullable=False),
        sa.Column("rule_id", sa.Uuid(), nullable=False),
        sa.Column("method", sa.String(length=40), nullable=False),
        sa.Column("present_for_series", sa.Text(), nullable=False),
        sa.Column("present_for_competitor", sa.Text(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("cautions_confirmed", sa.Boolean(), nullable=False),
        sa.Column("opened_by_id", sa.Uuid(), nullable=False),
        sa.Column("opened_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["entry_id"], ["entry.id"], name=op.f("fk_bench_sheet_entry_id_entry")),
        sa.ForeignKeyConstraint(["opened_by_id"], ["person.id"], name=op.f("fk_bench_sheet_opened_by_id_person")),
        sa.ForeignKeyConstraint(["rule_id"], ["rule.id"], name=op.f("fk_bench_sheet_rule_id_rule")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_sheet")),
    )
    with op.batch_alter_table("bench_sheet", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bench_sheet_entry_id"), ["entry_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bench_sheet_opened_at"), ["opened_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_bench_sheet_rule_id"), ["rule_id"], unique=False)

    op.create_table(
        "bench_observation",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("sheet_id", sa.Uuid(), nullable=False),
        sa.Column("units", sa.String(length=10), nullable=False),
        sa.Column("typed", sa.Text(), nullable=False),
        sa.Column("observations", sa.Text(), nullable=False),
        sa.Column("taken_by_id", sa.Uuid(), nullable=False),
        sa.Column("taken_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["replaces_id"], ["bench_observation.id"], name=op.f("fk_bench_observation_replaces_id_bench_observation")
        ),
        sa.ForeignKeyConstraint(
            ["sheet_id"], ["bench_sheet.id"], name=op.f("fk_bench_observation_sheet_id_bench_sheet")
        ),
        sa.ForeignKeyConstraint(["taken_by_id"], ["person.id"], name=op.f("fk_bench_observation_taken_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_observation")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_bench_observation_replaces_id")),
    )
    with op.batch_alter_table("bench_observation", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bench_observation_sheet_id"), ["sheet_id"], unique=False)

    op.create_table(
        "bench_verdict",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("sheet_id", sa.Uuid(), nullable=False),
        sa.Column("observation_id", sa.Uuid(), nullable=False),
        sa.Column("verdict", sa.String(length=20), nullable=False),
        sa.Column("inputs", sa.Text(), nullable=False),
        sa.Column("result", sa.Text(), nullable=False),
        sa.Column("core_version", sa.String(length=20), nullable=False),
        sa.Column("decided_by_id", sa.Uuid(), nullable=False),
        sa.Column("decided_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["decided_by_id"], ["person.id"], name=op.f("fk_bench_verdict_decided_by_id_person")),
        sa.ForeignKeyConstraint(
            ["observation_id"], ["bench_observation.id"], name=op.f("fk_bench_verdict_observation_id_bench_observation")
        ),
        sa.ForeignKeyConstraint(["sheet_id"], ["bench_sheet.id"], name=op.f("fk_bench_verdict_sheet_id_bench_sheet")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_verdict")),
        sa.UniqueConstraint("observation_id", name=op.f("uq_bench_verdict_observation_id")),
        sa.UniqueConstraint("sheet_id", name=op.f("uq_bench_verdict_sheet_id")),
    )
    with op.batch_alter_table("bench_verdict", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bench_verdict_decided_at"), ["decided_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_bench_verdict_decided_by_id"), ["decided_by_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bench_verdict_verdict"), ["verdict"], unique=False)


def downgrade() -> None:
    op.drop_table("bench_verdict")
    op.drop_table("bench_observation")
    op.drop_table("bench_sheet")
