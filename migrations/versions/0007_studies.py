"""Gauge and flow studies and what was adopted of them.

Revision ID: 0007
Revises: 0006
"""

import sqlalchemy as sa
from alembic import op

from app import database as types

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "adoption",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=10), nullable=False),
        sa.Column("study_id", sa.Uuid(), nullable=True),
        sa.Column("figures", sa.JSON(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("adopted_by_id", sa.Uuid(), nullable=False),
        sa.Column("adopted_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["adopted_by_id"], ["person.id"], name=op.f("fk_adoption_adopted_by_id_person")),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_adoption_instrument_id_instrument")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_adoption")),
    )
    with op.batch_alter_table("adoption", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_adoption_instrument_id"), ["instrument_id"], unique=False)

    op.create_table(
        "gauge_study",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("title", sa.String(length=120), nullable=False),
        sa.Column("parts", sa.JSON(), nullable=False),
        sa.Column("inspector_ids", sa.JSON(), nullable=False),
        sa.Column("repeats", sa.Integer(), nullable=False),
        sa.Column("seed", sa.String(length=64), nullable=False),
        sa.Column("tolerance", types.ExactDecimal(length=64), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("planned_by_id", sa.Uuid(), nullable=False),
        sa.Column("planned_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_gauge_study_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(["planned_by_id"], ["person.id"], name=op.f("fk_gauge_study_planned_by_id_person")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gauge_study")),
    )
    with op.batch_alter_table("gauge_study", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_gauge_study_instrument_id"), ["instrument_id"], unique=False)

    op.create_table(
        "flow_study",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("instrument_id", sa.Uuid(), nullable=False),
        sa.Column("reference_volume_id", sa.Uuid(), nullable=False),
        sa.Column("points", sa.JSON(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("made_by_id", sa.Uuid(), nullable=False),
        sa.Column("made_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["instrument_id"], ["instrument.id"], name=op.f("fk_flow_study_instrument_id_instrument")
        ),
        sa.ForeignKeyConstraint(["made_by_id"], ["person.id"], name=op.f("fk_flow_study_made_by_id_person")),
        sa.ForeignKeyConstraint(
            ["reference_volume_id"],
            ["reference_volume.id"],
            name=op.f("fk_flow_study_reference_volume_id_reference_volume"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_flow_study")),
    )
    with op.batch_alter_table("flow_study", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_flow_study_instrument_id"), ["instrument_id"], unique=False)

    op.create_table(
        "study_reading",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("study_id", sa.Uuid(), nullable=False),
        sa.Column("part", sa.Integer(), nullable=False),
        sa.Column("inspector_id", sa.Uuid(), nullable=False),
        sa.Column("repeat", sa.Integer(), nullable=False),
        sa.Column("indication", sa.String(length=20), nullable=False),
        sa.Column("taken_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("replaces_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["inspector_id"], ["person.id"], name=op.f("fk_study_reading_inspector_id_person")),
        sa.ForeignKeyConstraint(
            ["replaces_id"], ["study_reading.id"], name=op.f("fk_study_reading_replaces_id_study_reading")
        ),
        sa.ForeignKeyConstraint(["study_id"], ["gauge_study.id"], name=op.f("fk_study_reading_study_id_gauge_study")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_study_reading")),
        sa.UniqueConstraint("replaces_id", name=op.f("uq_study_reading_replaces_id")),
    )
    with op.batch_alter_table("study_reading", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_study_reading_study_id"), ["study_id"], unique=False)


def downgrade() -> None:
    op.drop_table("study_reading")
    op.drop_table("flow_study")
    op.drop_table("gauge_study")
    op.drop_table("adoption")
