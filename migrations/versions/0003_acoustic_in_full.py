"""The acoustic method in full: crank step and rod ratio, a flow study, checks of suspected cylinders.

Revision ID: 0003
Revises: 0002
"""

import sqlalchemy as sa
from alembic import op

from app import database as types

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # sheets from before were read as everybody was told to: the crank turned smoothly through top dead centre
    with op.batch_alter_table("conditions", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("crank_step_degrees", types.ExactDecimal(length=64), nullable=False, server_default="0")
        )
        batch_op.add_column(sa.Column("rod_ratio", types.ExactDecimal(length=64), nullable=True))
    with op.batch_alter_table("instrument", schema=None) as batch_op:
        batch_op.add_column(sa.Column("airflow_sensitivity", types.ExactDecimal(length=64), nullable=True))

    op.create_table(
        "cylinder_check",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("inspection_id", sa.Uuid(), nullable=False),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("cylinder", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("leak_percent", types.ExactDecimal(length=64), nullable=True),
        sa.Column("pressure_kpa", types.ExactDecimal(length=64), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("reading_id", sa.Uuid(), nullable=True),
        sa.Column("made_by_id", sa.Uuid(), nullable=False),
        sa.Column("made_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(
            ["inspection_id"], ["inspection.id"], name=op.f("fk_cylinder_check_inspection_id_inspection")
        ),
        sa.ForeignKeyConstraint(["made_by_id"], ["person.id"], name=op.f("fk_cylinder_check_made_by_id_person")),
        sa.ForeignKeyConstraint(["reading_id"], ["reading.id"], name=op.f("fk_cylinder_check_reading_id_reading")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cylinder_check")),
        sa.UniqueConstraint("inspection_id", "place", name=op.f("uq_cylinder_check_inspection_id_place")),
    )


def downgrade() -> None:
    op.drop_table("cylinder_check")
    with op.batch_alter_table("instrument", schema=None) as batch_op:
        batch_op.drop_column("airflow_sensitivity")
    with op.batch_alter_table("conditions", schema=None) as batch_op:
        batch_op.drop_column("rod_ratio")
        batch_op.drop_column("crank_step_degrees")
