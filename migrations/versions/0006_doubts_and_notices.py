"""Verdicts in doubt, decisions about them, and the notices.

Revision ID: 0006
Revises: 0005
"""

import sqlalchemy as sa
from alembic import op

from app import database as types

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "notice",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=8), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("about_id", sa.Uuid(), nullable=False),
        sa.Column("record", sa.Text(), nullable=False),
        sa.Column("signing_key_id", sa.Uuid(), nullable=False),
        sa.Column("numbered_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["signing_key_id"], ["signing_key.id"], name=op.f("fk_notice_signing_key_id_signing_key")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_notice")),
        sa.UniqueConstraint("code", name=op.f("uq_notice_code")),
        sa.UniqueConstraint("number", name=op.f("uq_notice_number")),
    )
    with op.batch_alter_table("notice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_notice_about_id"), ["about_id"], unique=False)

    op.create_table(
        "look_back",
        sa.Column("cause_id", sa.Uuid(), nullable=False),
        sa.Column("found", sa.Integer(), nullable=False),
        sa.Column("finished_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["cause_id"], ["doubt_cause.id"], name=op.f("fk_look_back_cause_id_doubt_cause")),
        sa.PrimaryKeyConstraint("cause_id", name=op.f("pk_look_back")),
    )
    op.create_table(
        "notice_file",
        sa.Column("notice_id", sa.Uuid(), nullable=False),
        sa.Column("pdf", sa.LargeBinary(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("signed_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"], name=op.f("fk_notice_file_notice_id_notice")),
        sa.PrimaryKeyConstraint("notice_id", name=op.f("pk_notice_file")),
    )
    with op.batch_alter_table("notice_file", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_notice_file_sha256"), ["sha256"], unique=False)

    op.create_table(
        "doubt_decision",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("act_id", sa.Uuid(), nullable=False),
        sa.Column("verdict_id", sa.Uuid(), nullable=False),
        sa.Column("decision", sa.String(length=20), nullable=False),
        sa.Column("reasons", sa.Text(), nullable=False),
        sa.Column("measured_again_as_id", sa.Uuid(), nullable=True),
        sa.Column("decided_by_id", sa.Uuid(), nullable=False),
        sa.Column("decided_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.ForeignKeyConstraint(["decided_by_id"], ["person.id"], name=op.f("fk_doubt_decision_decided_by_id_person")),
        sa.ForeignKeyConstraint(
            ["measured_again_as_id"], ["inspection.id"], name=op.f("fk_doubt_decision_measured_again_as_id_inspection")
        ),
        sa.ForeignKeyConstraint(["verdict_id"], ["verdict.id"], name=op.f("fk_doubt_decision_verdict_id_verdict")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_doubt_decision")),
    )
    with op.batch_alter_table("doubt_decision", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_doubt_decision_act_id"), ["act_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_doubt_decision_decided_at"), ["decided_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_doubt_decision_verdict_id"), ["verdict_id"], unique=False)

    op.create_table(
        "doubted_verdict",
        sa.Column("cause_id", sa.Uuid(), nullable=False),
        sa.Column("verdict_id", sa.Uuid(), nullable=False),
        sa.Column("found_at", types.UtcDateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["cause_id"], ["doubt_cause.id"], name=op.f("fk_doubted_verdict_cause_id_doubt_cause")),
        sa.ForeignKeyConstraint(["verdict_id"], ["verdict.id"], name=op.f("fk_doubted_verdict_verdict_id_verdict")),
        sa.PrimaryKeyConstraint("cause_id", "verdict_id", name=op.f("pk_doubted_verdict")),
    )
    with op.batch_alter_table("doubted_verdict", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_doubted_verdict_verdict_id"), ["verdict_id"], unique=False)

    op.create_table(
        "doubt_resolution",
        sa.Column("cause_id", sa.Uuid(), nullable=False),
        sa.Column("verdict_id", sa.Uuid(), nullable=False),
        sa.Column("decision_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(
            ["cause_id", "verdict_id"],
            ["doubted_verdict.cause_id", "doubted_verdict.verdict_id"],
            name=op.f("fk_doubt_resolution_cause_id_doubted_verdict"),
        ),
        sa.ForeignKeyConstraint(
            ["decision_id"], ["doubt_decision.id"], name=op.f("fk_doubt_resolution_decision_id_doubt_decision")
        ),
        sa.PrimaryKeyConstraint("cause_id", "verdict_id", name=op.f("pk_doubt_resolution")),
    )
    with op.batch_alter_table("doubt_resolution", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_doubt_resolution_decision_id"), ["decision_id"], unique=False)

    op.create_table(
        "notice_slip",
        sa.Column("notice_id", sa.Uuid(), nullable=False),
        sa.Column("slip_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["notice_id"], ["notice.id"], name=op.f("fk_notice_slip_notice_id_notice")),
        sa.ForeignKeyConstraint(["slip_id"], ["slip.id"], name=op.f("fk_notice_slip_slip_id_slip")),
        sa.PrimaryKeyConstraint("notice_id", "slip_id", name=op.f("pk_notice_slip")),
    )
    with op.batch_alter_table("notice_slip", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_notice_slip_slip_id"), ["slip_id"], unique=False)

    # which sheets measured this one again: asked for every result in doubt
    with op.batch_alter_table("inspection", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_inspection_repeats_id"), ["repeats_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("inspection", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_inspection_repeats_id"))
    op.drop_table("notice_slip")
    op.drop_table("doubt_resolution")
    op.drop_table("doubted_verdict")
    op.drop_table("doubt_decision")
    op.drop_table("notice_file")
    op.drop_table("look_back")
    op.drop_table("notice")
